"""Define what canvas hangs on and the canvas itself: tubes, panels, sets, places, readings.

Computes: nothing; records as read.
Units: metres, radians, newtons; boat frame.
Source: defaults in tables/defaults.toml, finishes in tables/finishes.toml.
Limits: names are checked against one another in `canvas.design.reading`, not here.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Discriminator, Field, Tag

from canvas.design.schema.base import (
    Angle,
    AreaMass,
    Force,
    Hollow,
    Inset,
    Length,
    LengthOrZero,
    LineForce,
    Name,
    Opening,
    PositiveLength,
    Record,
    Share,
    Spot,
    Stiffness,
    defaulted,
    descriptive,
)

MOST_PRICE = 1e7  # in any currency


class Tube(Record):
    """A bent hoop, a straight rail or strut, or a wire."""

    name: Name = descriptive()
    kind: Literal["hoop", "rail", "strut", "wire"]
    start: Spot | None = None  # hoop: port foot
    end: Spot | None = None  # hoop: starboard foot
    rake: Angle = 0.0  # hoop: its plane leans aft of vertical by this, about the line of its feet
    crown: PositiveLength | None = None  # hoop: greatest height above the line of its feet, in its plane
    top_width: PositiveLength | None = None  # hoop: between its corners; as its feet where absent
    camber: LengthOrZero = 0.0  # hoop: how much the top rises between its corners
    corner_radius: PositiveLength = defaulted("hoop_corner_radius")
    through: Annotated[list[Spot], Field(min_length=2)] | None = None  # measured points instead, end to end
    diameter: PositiveLength | None = None
    wall: PositiveLength | None = None
    metal: Literal["stainless", "aluminium"] = "stainless"
    new: bool = False  # to be bent and fitted, and so bought; what is aboard already where absent
    feet: Literal["hinged", "fixed"] = "hinged"
    play: LengthOrZero = 0.0  # how far its top can be moved by hand, either way
    strength: Force | None = None  # declared: a wire's working load; the pull at which a tube's metal yields
    strap_strength: Force | None = None  # declared: of each strap, strut or its fitting that keeps it from swaying


class ZipHalf(Record):
    """A zip half that is sewn to existing canvas, or is to be."""

    half: Literal["left", "right"] | None = None  # seen from outside, forward up
    gauge: Annotated[int, Field(ge=3, le=12)] | None = None
    tooth: Literal["moulded", "coil", "metal"] | None = None
    length: PositiveLength | None = None
    slider_end: Literal["start", "end"] | None = None


class Edge(Record):
    """One edge of a panel, from where the last one ended."""

    along: str | None = None  # a tube, or another panel's name
    edge: str | None = None  # which edge of that panel
    start: str | None = Field(default=None, alias="from")  # part of a tube or edge only: mark where it begins
    to: str | None = None  # mark where it ends
    name: Name | None = descriptive(None)
    finish: str | None = None
    hollow: Hollow | None = None
    batten: Stiffness | None = None  # of a batten pocket
    batten_bow: LengthOrZero | None = None  # how far the batten stands outside its chord
    wire: bool = False  # a wire or cord set up in the hem keeps it straight
    through: list[Spot] = []  # points between, for a curved line between marks
    zip: ZipHalf | None = None
    tolerance: PositiveLength | None = None
    strength: LineForce | None = None  # declared, of the zip, studs or track that hold it


class Insert(Record):
    """A window or mesh let into a panel: inset from its edges, or by its own outline."""

    name: Name = descriptive()
    cloth: str
    inset: Inset  # one for all edges, or one an edge
    corner_radius: PositiveLength = defaulted("insert_corner_radius")
    rolls_up: bool = False


class Pierced(Record):
    """A wire that passes through a panel, and the edge its slit opens to."""

    by: str
    slit_to: str | None = None
    collar: PositiveLength | None = None


class Tie(Record):
    """Where a panel is tied down to a mark inside its edge or at a corner."""

    at: Spot
    kind: str
    strength: Force | None = None
    length: PositiveLength | None = None


class Dart(Record):
    """A dart cut into a panel, square in from one of its edges and sewn shut."""

    edge: str
    at: PositiveLength  # along the edge from where it starts
    depth: PositiveLength
    width: PositiveLength | None = None  # taken out at the edge; as the cloth opens by itself where absent


def _word_or_list(found: Any) -> str:
    return "word" if isinstance(found, str) else "list"


Darts = Annotated[
    Annotated[Literal["proposed"], Tag("word")] | Annotated[list[Dart], Tag("list")], Discriminator(_word_or_list)
]


class SeamLine(Record):
    """A seam between the pieces of a panel: through one place with the warp, or from edge to edge."""

    at: Spot | None = None
    start: Spot | None = Field(default=None, alias="from")
    to: Spot | None = None
    through: list[Spot] = []  # between from and to


def _by_place(found: Any) -> Any:
    return found if isinstance(found, dict) else {"at": found}


Seams = Annotated[
    Annotated[Literal["proposed"], Tag("word")]
    | Annotated[list[Annotated[SeamLine, BeforeValidator(_by_place)]], Tag("list")],
    Discriminator(_word_or_list),
]


class Panel(Record):
    """One piece of canvas."""

    name: Name = descriptive()
    existing: bool = False
    cloth: str | None = None
    cut_in: str | None = None
    edges: Annotated[list[Edge], Field(min_length=3, max_length=8)]
    over: list[str] = []
    pierced: list[Pierced] = []
    ties: list[Tie] = []
    inserts: list[Insert] = []
    flat: bool = False  # to be cut from flat cloth without shaping: developable
    warp: Literal["fore and aft", "athwart", "along first edge"] = "fore and aft"
    warp_tension: LineForce = defaulted("cloth_warp_tension")
    weft_tension: LineForce = defaulted("cloth_weft_tension")
    side_out: Literal["either", "face"] = "face"
    seams: Seams = "proposed"  # where it is joined of pieces; an empty list keeps it whole
    seam_kind: Literal["plain", "felled", "overlapped"] = "plain"
    darts: Darts = []  # those the program proposes, or one's own


class PanelUp(Record):
    """A panel in a set, with its state."""

    panel: str
    window: Literal["closed", "rolled up"] = "closed"
    zip: Opening = 0.0  # "closed", "open" or "open 40 %"; the share that is open
    zip_edge: str | None = None  # the edge whose zip it is; its only zip where absent


def _by_name(found: Any) -> Any:
    return {"panel": found} if isinstance(found, str) else found


class PanelSet(Record):
    """What is up in one mode."""

    name: Name = descriptive()
    used: Annotated[list[Literal["under way", "at anchor"]], Field(min_length=1)]
    up: list[Annotated[PanelUp, BeforeValidator(_by_name)]] = []  # a panel by its name, or with its state


class PlaceSpec(Record):
    """A place to ask about beside those that come by default: a level polygon at a height."""

    name: Name = descriptive()
    corners: Annotated[list[Spot], Field(min_length=3)]
    raised: Length = 0.0  # lifted by this above its corners


class ClothSpec(Record):
    """A cloth of one's own."""

    name: Name = descriptive()
    kind: Literal["cloth", "mesh", "sheet"]
    like: str  # a cloth of the program's table that gives what is not said here
    mass: AreaMass | None = None
    roll_widths: list[PositiveLength] | None = None
    light_through: Share | None = None
    uv_through: Share | None = None
    rain_through: Share | None = None
    wind_loss: Annotated[float, Field(gt=0)] | None = None
    warp_stiffness: LineForce | None = None
    weft_stiffness: LineForce | None = None
    shear_stiffness: LineForce | None = None
    warp_strength: LineForce | None = None
    weft_strength: LineForce | None = None
    warp_compensation: Share | None = None
    weft_compensation: Share | None = None
    strain_limit: Share | None = None
    price_per_m2: Annotated[float, Field(ge=0, le=MOST_PRICE)] | None = None
