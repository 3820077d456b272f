"""Define readings taken on board, the passage, prices and the log of decisions.

Computes: nothing; records as read.
Units: metres, radians, metres a second.
Source: defaults in tables/defaults.toml.
Limits: names are checked against one another in `canvas.design.reading`, not here.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from canvas.design.schema.base import (
    Angle,
    Day,
    Latitude,
    Length,
    LengthOrZero,
    Longitude,
    Name,
    Point,
    PositiveLength,
    Record,
    Share,
    Speed,
    defaulted,
    descriptive,
)
from canvas.design.schema.rig import MOST_PRICE

Price = Annotated[float, Field(ge=0, le=MOST_PRICE)]


class TapeReading(Record):
    """A distance between two marks."""

    kind: Literal["tape"]
    start: str = Field(alias="from")
    to: str
    length: PositiveLength
    sd: PositiveLength | None = None
    via: list[str] = []  # marks it bends over, in order
    slack: bool = False  # a bent or slack path: the true distance is at most this
    panel: str | None = None  # taken on a mock-up or finished canvas of this panel


class LevelReading(Record):
    """Height of a mark above the session's own level plane, which may be tilted."""

    kind: Literal["level"]
    at: str
    height: Length
    session: str
    ashore: bool = False  # level plane is horizontal in the boat's own frame: no tilt to find
    sd: PositiveLength = defaulted("level_sd")
    panel: str | None = None


class OffsetReading(Record):
    """One coordinate of a mark, taken square off a line of the boat."""

    kind: Literal["offset"]
    at: str
    axis: Literal["aft", "starboard", "up"]
    length: Length
    start: str | None = Field(default=None, alias="from")  # another mark; the datum where absent
    sd: PositiveLength = defaulted("offset_sd")
    panel: str | None = None


class PlaceReading(Record):
    """Where a mark is in the boat's axes, as a scan or photographs found it."""

    kind: Literal["place"]
    at: str
    point: Point
    sd: PositiveLength = defaulted("offset_sd")  # each way


class PlumbReading(Record):
    """Level distance from a plumb line hung at one mark to another."""

    kind: Literal["plumb"]
    start: str = Field(alias="from")  # where the line hangs
    to: str
    session: str  # levelling session whose vertical it shares
    length: LengthOrZero = 0.0  # 0: the bob touches the mark
    toward: Literal["aft", "forward", "starboard", "port"] | None = None  # measured that way only
    sd: PositiveLength = defaulted("offset_sd")
    panel: str | None = None


class OnStraightReading(Record):
    """Marks known to lie on one straight tube or taut wire."""

    kind: Literal["on straight"]
    marks: Annotated[list[str], Field(min_length=3)]
    sd: PositiveLength = defaulted("offset_sd")


class OnTubeReading(Record):
    """Marks known to lie in one plane, such as a hoop's or a bulkhead's."""

    kind: Literal["in plane"]
    marks: Annotated[list[str], Field(min_length=4)]
    sd: PositiveLength = defaulted("offset_sd")


class AboveReading(Record):
    """One mark is above another: settles which of two mirror images is the boat."""

    kind: Literal["above"]
    at: str
    below: str


class MeterReading(Record):
    """A pair of wind speeds taken in turn: at the blade and in clear air."""

    kind: Literal["meter"]
    set: str
    awa: Angle
    at_blade: Speed
    clear: Speed


class RibbonReading(Record):
    """Direction of a ribbon at the blade against the free wind, positive to starboard."""

    kind: Literal["ribbon"]
    set: str
    awa: Angle
    turn: Angle
    sd: Angle = defaulted("ribbon_sd")


Reading = Annotated[
    TapeReading
    | LevelReading
    | OffsetReading
    | PlaceReading
    | PlumbReading
    | OnTubeReading
    | OnStraightReading
    | AboveReading
    | MeterReading
    | RibbonReading,
    Field(discriminator="kind"),
]


class SurveySpec(Record):
    """How survey marks are laid into the boat's axes."""

    held: list[str] = []  # marks with coordinates that are held fixed; free network where fewer than needed
    tape_sd: PositiveLength = defaulted("tape_sd")
    tape_sd_share: Annotated[float, Field(ge=0, le=0.01)] = defaulted("tape_sd_share")


class WindCell(Record):
    """True wind of one leg: speed, angle off the course or compass direction, share of the time."""

    speed: Speed
    angle: Angle  # TWA from the bow, positive to starboard
    share: Share


class Leg(Record):
    """One leg of a passage."""

    name: Name = descriptive()
    start_latitude: Latitude
    start_longitude: Longitude
    end_latitude: Latitude
    end_longitude: Longitude
    month: Annotated[int, Field(ge=1, le=12)]
    along: Literal["rhumb line", "great circle"] = "rhumb line"
    wind: list[WindCell] = []
    wind_source: str = descriptive("invented")
    set: str | None = None


class Passage(Record):
    """The passage the canvas is for."""

    name: Name = descriptive()
    legs: Annotated[list[Leg], Field(min_length=1)]


class Prices(Record):
    """What the crew was quoted, in one currency."""

    currency: Name = descriptive("EUR")
    cloth: dict[str, Price] = {}  # a square metre, by cloth
    fastening: dict[str, Price] = {}  # a metre or a piece, by fastening
    labour_hour: Annotated[float, Field(gt=0, le=MOST_PRICE)] | None = None
    fitting_visit: Price | None = None  # each
    tube_metre: Price | None = None  # bent and fitted


class Decision(Record):
    """What was decided and why."""

    date: Day = descriptive()
    what: Name = descriptive()
    why: str = descriptive()


class Shop(Record):
    """A maker's own allowances, by finish, roll width preferred, and paper; documents take A4 or Letter only."""

    allowance: dict[str, PositiveLength] = {}
    roll_width: PositiveLength | None = None
    paper: Literal["A4", "Letter", "A3", "A1", "roll"] = "A4"
