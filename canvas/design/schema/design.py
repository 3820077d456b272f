"""Define the whole design file: one boat, its canvas, its sets.

Computes: look-ups by name; nothing else.
Units: SI and radians after reading.
Source: none.
Limits: made by `canvas.design.reading.read_design`, which checks names against one another.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Literal

from pydantic import Field

from canvas.design import tables
from canvas.design.schema.base import MarkPlace, Name, Record, descriptive
from canvas.design.schema.boat import (
    Cabin,
    Cockpit,
    Crew,
    Filler,
    Fitting,
    Hull,
    Instrument,
    Outlet,
    Sail,
    Sailing,
    Solid,
    Spars,
    Steering,
    Vane,
    Winch,
)
from canvas.design.schema.rig import ClothSpec, Panel, PanelSet, PanelUp, PlaceSpec, Tube
from canvas.design.schema.voyage import Decision, Passage, Prices, Reading, Shop, SurveySpec

BARE = "bare"
AT_ANCHOR = "at anchor"  # one of the courses asked about, told apart from those under way


class Design(Record):
    """One boat as its crew wrote it down."""

    name: Name = descriptive()
    units: Literal["m", "mm", "ft", "in"]
    words: Literal["international", "american"] = descriptive("international")
    revision: Name = descriptive("A")
    assumed: list[str] = descriptive([])  # parts of this file that were guessed, not measured: "hull", "cabin.camber"
    hull: Hull
    cabin: Cabin
    cockpit: Cockpit
    spars: Spars
    steering: Steering
    vane: Vane
    instrument: Instrument = Instrument()
    sailing: Sailing = Sailing()
    crew: Annotated[list[Crew], Field(min_length=1)]
    winch: list[Winch] = []
    solid: list[Solid] = []
    sail: list[Sail] = []
    outlet: list[Outlet] = []
    filler: list[Filler] = []
    fitting: list[Fitting] = []
    cloth: list[ClothSpec] = []
    marks: dict[Name, MarkPlace] = {}
    survey: SurveySpec = SurveySpec()
    reading: list[Reading] = []
    tube: list[Tube] = []
    panel: list[Panel] = []
    set: list[PanelSet] = []
    place: list[PlaceSpec] = []
    passage: Passage | None = None
    prices: Prices = Prices()
    shop: Shop = Shop()
    decision: list[Decision] = []

    def panel_named(self, name: str) -> Panel:
        """Return the panel of that name."""
        return next(panel for panel in self.panel if panel.name == name)

    def tube_named(self, name: str) -> Tube | None:
        """Return the tube of that name, or None."""
        return next((tube for tube in self.tube if tube.name == name), None)

    def set_named(self, name: str) -> PanelSet:
        """Return the set of that name; ``bare`` always exists."""
        if name == BARE:
            return PanelSet(name=BARE, used=["under way", "at anchor"])
        return next(panel_set for panel_set in self.set if panel_set.name == name)

    def set_names(self) -> tuple[str, ...]:
        """Return the names of all sets, bare first, then in the order of the file."""
        return (BARE, *(panel_set.name for panel_set in self.set if panel_set.name != BARE))

    def panels_up(self, set_name: str) -> tuple[PanelUp, ...]:
        """Return the panels that are up in a set, with their states, in the order of the file's panels."""
        up = {entry.panel: entry for entry in self.set_named(set_name).up}
        return tuple(up[panel.name] for panel in self.panel if panel.name in up)

    def home_set(self, panel: Panel) -> str | None:
        """Return the set in whose shape a panel is cut: `cut_in`, or the first set it is up in; None if in none."""
        if panel.cut_in is not None:
            return panel.cut_in
        ups = (name for name in self.set_names() if any(up.panel == panel.name for up in self.panels_up(name)))
        return next(ups, None)

    def cloths(self) -> Mapping[str, tables.Cloth]:
        """Return the program's cloths and the design's own, by name."""
        own = {spec.name: _own_cloth(spec, tables.cloths()[spec.like]) for spec in self.cloth}
        return {**tables.cloths(), **own}


def _own_cloth(spec: ClothSpec, like: tables.Cloth) -> tables.Cloth:
    said = {
        key: value
        for key, value in spec.model_dump(exclude={"name", "kind", "like", "roll_widths"}).items()
        if value is not None
    }
    widths = tuple(sorted(spec.roll_widths)) if spec.roll_widths else like.roll_widths
    base = {key: getattr(like, key) for key in like.__slots__}
    return tables.Cloth(
        **{
            **base, **said, "name": spec.name, "kind": spec.kind, "roll_widths": widths,
            "source": f"this design, else as {like.name}",
        }
    )  # fmt: skip
