"""Define the boat in the design file: hull, cabin, cockpit, spars, steering, vane, crew and what stands about.

Computes: nothing; records as read.
Units: metres, radians, metres a second; boat frame (x aft, y starboard, z up from the cockpit sole at the bulkhead).
Source: defaults in tables/defaults.toml.
Limits: shapes a tape can take; not a hull form for naval architecture.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from canvas.design.schema.base import (
    Angle,
    Length,
    LengthOrZero,
    Mass,
    Name,
    Point,
    PositiveLength,
    Record,
    Share,
    Speed,
    Spot,
    defaulted,
    descriptive,
)
from canvas.design.tables import default


class Hull(Record):
    """Deck edge, waterline and transom."""

    deck_edge: Annotated[list[Point], Field(min_length=3)]  # starboard, from the stem to the transom; y >= 0
    deck_edge_port: Annotated[list[Point], Field(min_length=3)] | None = None  # where port differs; y <= 0
    waterline: Length  # z of the water at rest
    flare: Angle = defaulted("topsides_flare")
    transom_rake: Angle = defaulted("transom_rake")  # positive: foot of the transom further aft


class Companionway(Record):
    """The way below: offset of its middle from the centreline, width, sill and top."""

    offset: Length = 0.0
    width: PositiveLength
    sill: Length
    top: Length


class BridgeDeck(Record):
    """The deck between companionway and cockpit well."""

    length: PositiveLength
    height: PositiveLength


class Cabin(Record):
    """The deckhouse, whose aft face is x = 0, and what lies before the cockpit."""

    front: Length  # x of its front, negative
    front_width: PositiveLength
    front_height: Length  # z of its roof at the front
    aft_width: PositiveLength
    aft_height: Length  # z of its roof at the bulkhead
    camber: LengthOrZero = defaulted("cabin_camber")
    companionway: Companionway
    bridge_deck: BridgeDeck | None = None


class Side(Record):
    """Seat and coaming on one side; y is given as distance from the centreline."""

    seat_from: LengthOrZero
    seat_to: PositiveLength
    seat_inner: LengthOrZero
    seat_outer: PositiveLength
    seat_height: PositiveLength
    coaming_from: LengthOrZero
    coaming_to: PositiveLength
    coaming_top: PositiveLength
    coaming_width: PositiveLength = defaulted("coaming_width")


class Cockpit(Record):
    """The well and its two sides."""

    length: PositiveLength  # x of the well's aft end
    sole_width: PositiveLength
    sole_slope: Angle = 0.0  # positive: falls aft
    aft_deck: Length  # z of the deck behind the well
    port: Side
    starboard: Side
    helm_seat: PositiveLength | None = None  # fore-and-aft depth of a seat across the well's aft end
    helm_seat_height: PositiveLength | None = None


class Boom(Record):
    """A boom as it hangs when sheeted: where its inner end is, how long, and its lowest height at the outer end."""

    length: PositiveLength
    height: Length  # z of its underside at the mast
    end_height: Length  # z of its underside at the outer end, at its lowest
    diameter: PositiveLength = defaulted("boom_diameter")
    angle: Angle = 0.0  # sheeted off the centreline, positive: outer end to starboard
    sheet_at: Spot | None = None  # where the mainsheet meets the boat


class Mast(Record):
    """A mast: foot at deck or cabin, top, radius, and its boom."""

    x: Length
    top: PositiveLength  # z of the masthead
    radius: PositiveLength = defaulted("mast_radius")
    boom: Boom | None = None


class Spars(Record):
    """Masts with their booms; stays are tubes of kind wire."""

    mast: Mast
    mizzen: Mast | None = None


class Wheel(Record):
    """A steering wheel, athwartships."""

    at: Point  # its hub
    diameter: PositiveLength
    rim: PositiveLength = defaulted("wheel_tube")


class Binnacle(Record):
    """The pedestal before the wheel: middle of its foot, size, height."""

    at: Point
    width: PositiveLength
    depth: PositiveLength
    height: PositiveLength


class Tiller(Record):
    """A tiller: rudder head, its length forward, its height at the free end, how far it sweeps either side."""

    head: Point
    length: PositiveLength
    end_height: Length
    sweep: Angle = defaulted("tiller_sweep")


class Steering(Record):
    """Wheels with a binnacle, or a tiller."""

    wheels: list[Wheel] = []
    binnacle: Binnacle | None = None
    tiller: Tiller | None = None


class Vane(Record):
    """The wind vane's air blade and what is known of how it steers."""

    kind: Literal["servo pendulum", "trim tab"]
    foot: Point  # middle of the blade's lower edge, blade upright
    height: PositiveLength
    width: PositiveLength
    axis: Literal["tilted", "upright"]
    axis_tilt: Angle = defaulted("vane_axis_tilt")  # from the horizontal; tilted axes only
    swing: Angle = defaulted("vane_swing")  # either side
    steers_from: Speed  # lowest apparent wind at the instrument in which it steers, close-hauled
    steers_from_with: str = "bare"  # the set it was sailed with when that was seen
    must_steer_from: Speed | None = None  # what the crew needs; 1.3 times steers_from where absent
    lines: list[Spot] = []  # run of the steering lines, from the gear to the wheel or tiller

    @property
    def needed_from(self) -> float:
        """Apparent wind from which the crew needs it to steer [m/s]."""
        return self.must_steer_from or default("vane_must_steer_factor") * self.steers_from


class Instrument(Record):
    """The wind instrument."""

    height: PositiveLength | None = None  # above the water; the mast top where absent


class BoatSpeed(Record):
    """Boat speed at one true wind, on three courses."""

    true_wind: Speed
    close_hauled: Speed
    reach: Speed
    run: Speed


class Sailing(Record):
    """How the boat sails."""

    close_hauled_awa: Angle = defaulted("close_hauled_awa")
    heel_close_hauled: Angle = defaulted("heel_close_hauled")
    roll: Angle = defaulted("roll_angle")
    boat_speed: list[BoatSpeed] = []


class Crew(Record):
    """One person's own measures."""

    name: Name = descriptive()
    stature: PositiveLength
    sitting_height: PositiveLength | None = None  # seat to crown; from published relations where absent
    eye_height: PositiveLength | None = None  # standing, without shoes
    sitting_eye_height: PositiveLength | None = None
    reach: PositiveLength | None = None  # shoulder to grip
    mass: Mass | None = None
    at: Spot | None = None  # where drawn and put in the wind: a place's name or a point between the feet or on the seat
    posture: Literal["sitting", "standing"] = "sitting"


class Winch(Record):
    """A winch by the top of its drum."""

    name: Name = descriptive()
    at: Spot
    handle: PositiveLength = defaulted("winch_handle")


class Solid(Record):
    """Anything solid that stands about: solar panel, dinghy, raft, windscreen, locker."""

    name: Name = descriptive()
    kind: Literal["box", "cylinder", "plate", "mesh"]
    at: Spot | None = None  # middle of a box or plate, one end of a cylinder
    size: Point | None = None  # box: length, width, height; plate: length, width, thickness
    to: Spot | None = None  # other end of a cylinder
    diameter: PositiveLength | None = None
    turn: Angle = 0.0  # about the vertical, clockwise seen from above
    pitch: Angle = 0.0  # nose (forward end) up
    tilt: Angle = 0.0  # starboard side down
    file: str | None = None  # of a mesh, beside the design
    scale: PositiveLength | None = None  # length of one unit of the mesh's file
    in_place_of_boat: bool = False  # a mesh that stands for hull, cabin and cockpit within its own box: a scan
    clear: bool = False  # one can see and light can pass: a windscreen
    sets: list[str] | None = None  # only in these sets; in all where absent
    power: Annotated[float, Field(gt=0)] | None = None  # rated watts of a solar panel


class Sail(Record):
    """A sail as sheeted, by three or four corners, luff first from tack to head."""

    name: Name = descriptive()
    corners: Annotated[list[Spot], Field(min_length=3, max_length=4)]
    camber: Share = defaulted("sail_camber")
    to_leeward: Literal["port", "starboard"] = "starboard"
    state: Literal["sheeted", "down"] = "sheeted"
    sets: list[str] | None = None  # only in these sets; in every set used under way where absent


class Fitting(Record):
    """What must be reached, seen or kept free under or beside canvas."""

    name: Name = descriptive()
    kind: Literal[
        "cleat", "drain", "fire extinguisher", "harness point", "locker", "man-overboard gear", "navigation light",
        "stern ladder",
    ]  # fmt: skip
    at: Spot
    clear: LengthOrZero = defaulted("fitting_clear")  # room around it that must stay free


class Outlet(Record):
    """Where exhaust gas or hot air leaves."""

    name: Name = descriptive()
    kind: Literal["exhaust", "heater", "stove"]
    at: Spot


class Filler(Record):
    """A tank's filler that could take rain."""

    name: Name = descriptive()
    at: Spot
