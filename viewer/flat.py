"""Show the flat parts beside the picture, and which part belongs to what is picked there.

Computes: nothing; draws through `canvas.brief` and `canvas.cutting`.
Units: the design's own on the drawing.
Source: the result of cutting.
Limits: a shaped part lights up its own place on the panel as that is cut, a patch or window the panel that it belongs
    to; what is cut from is written by `canvas cut`.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pyvista as pv

from canvas.brief.palette import tint
from canvas.brief.partviews import part_drawing
from canvas.brief.svg import svg_text
from canvas.cloth.rigging import panel_surfaces
from canvas.cutting.result import CutResult
from canvas.cutting.strain import strain_svg
from canvas.design.schema.rig import PanelUp
from canvas.geometry.surface import Surface

if TYPE_CHECKING:
    from viewer.app import Viewer

PAPER = 0.10  # width that a part is drawn for: its letters are then about 10 pixels high beside the picture [m]


class Flat:
    """Flat parts on the page.

    Parameters
    ----------
    viewer : Viewer
    """

    def __init__(self, viewer: Viewer) -> None:
        self.v = viewer
        self._cut: CutResult | None = None

    def forget(self) -> None:
        """Take the parts of the shape before away."""
        self._cut = None
        with self.v.state as s:
            s.flat, s.flat_name, s.flat_svg, s.flat_note = [], "", "", ""
            s.flat_said = "Cutting the flat parts …"

    def done(self, outcome: Any) -> None:
        """Take the cut parts, or say why there are none."""
        with self.v.state as s:
            s.busy = ""
            if isinstance(outcome, Exception):
                s.flat_said = f"No flat parts: {outcome}"
                return
            self._cut = outcome
            s.flat = [{"name": part.name} for part in outcome.parts]
            s.flat_said = "Nothing new to cut."
        self.opened()

    def opened(self) -> None:
        """Choose a part where parts are looked at and none is chosen: that of the panel picked, or the first."""
        s, cut = self.v.state, self._cut
        if s.tab == "Parts" and not s.flat_name and cut is not None and cut.parts:
            with s:
                s.flat_name = self.part_of(self.v.stage.picked or "") or cut.parts[0].name

    def part_of(self, name: str) -> str | None:
        """Return the first flat part of the panel that a surface of the picture belongs to."""
        panel = name.partition(": ")[0]
        parts = self._cut.parts if self._cut is not None else ()
        return next((part.name for part in parts if part.panel == panel), None)

    def show(self) -> None:
        """Show the chosen part, as drawn or coloured by the strain left in it, and light its panel up."""
        name, cut = self.v.state.flat_name, self._cut
        part = None if cut is None else next((one for one in cut.parts if one.name == name), None)
        if cut is None or part is None:
            return
        strains = tuple(one for one in cut.strains if one.part == name)
        with self.v.state as s:
            if s.strains and strains:
                s.flat_svg = strain_svg(replace(cut, strains=strains))
            else:
                names = [panel.name for panel in self.v.boat.rigging.model.design.panel]
                units = str(self.v.boat.draft.value(("units",)))
                colours = tint(part.panel, names=names)
                s.flat_svg = svg_text(part_drawing(part, colours=colours, paper=PAPER, units=units))
            lit = "its place" if strains else "which is"
            left = "" if strains else " No strain map: it is not shaped." if s.strains else ""
            s.flat_note = (
                f"Part of “{part.panel}”, {lit} lit up in the picture; most strain "
                f"{100 * part.strain_inside_max:.2f} % inside, {100 * part.strain_edge_max:.2f} % along edges.{left} "
                f"Cut from what canvas cut writes, not from this screen."
            )
        here = None if not strains else pv.PolyData.from_regular_faces(strains[0].vertices, strains[0].faces)
        self.v.stage.pick(part.panel, down=self._as_cut(part.panel), only=here)
        self.v.push()

    def _as_cut(self, panel: str) -> tuple[Surface, ...]:
        """Return a panel as it is cut, to be lit up where it is not up in the set shown."""
        rigging = self.v.boat.rigging
        design = rigging.model.design
        return panel_surfaces(
            rigging.cut_shape(panel), design.panel_named(panel), PanelUp(panel=panel), known=design.cloths()
        )
