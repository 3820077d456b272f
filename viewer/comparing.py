"""Put another set, or another design's, beside the one that is up or over it, cameras tied.

Computes: the other's answers; nothing of its own.
Units: as the cells say.
Source: the verbs of canvas.
Limits: laid over, the other's canvas is drawn as a net.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from canvas import verbs
from canvas.air.attitude import up_in_boat
from canvas.cloth.rigging import Rigging
from canvas.design.problems import DesignError
from canvas.sky.dome import place_tables
from canvas.verbs.maps import known_map
from viewer import answers, light
from viewer.stage import SCHEMES, Stage

if TYPE_CHECKING:
    from viewer.app import Viewer

HERE = "this boat"


class Comparing:
    """The other set.

    Parameters
    ----------
    viewer : Viewer
    stage : Stage
        Where it is drawn beside.
    """

    def __init__(self, viewer: Viewer, stage: Stage) -> None:
        self.v = viewer
        self.stage = stage
        self.follower: light.Follower | None = None
        self._theirs: dict[str, answers.Cell] = {}
        self._other: tuple[str, Rigging] | None = None

    def offer(self) -> None:
        """List the designs that stand beside this one, and the sets of the one chosen."""
        v = self.v
        beside = sorted(one.name for one in v.boat.path.parent.glob("*.toml") if one != v.boat.path)
        with v.state as s:
            s.designs = [HERE, *beside]
            s.versus_design = s.versus_design if s.versus_design in s.designs else HERE
        self.design_chosen()

    def design_chosen(self) -> None:
        """Read the other design and offer its sets."""
        v = self.v
        try:
            rigging = self.rigging()
        except DesignError as wrong:
            v.say(f"{v.state.versus_design}: {wrong.problems[0]}", wrong=True)
            with v.state as s:
                s.versus_design, s.versus = HERE, ""
            rigging = v.boat.rigging
        with v.state as s:
            s.versus_sets = list(rigging.model.design.set_names())
            if s.versus not in s.versus_sets:
                s.versus = ""

    def rigging(self) -> Rigging:
        """Return the boat that is compared with: this one, or the other design's, read once."""
        v = self.v
        name = v.state.versus_design
        if name in ("", HERE) or Path(name).name != name:
            return v.boat.rigging
        if self._other is None or self._other[0] != name:
            self._other = (name, verbs.rigging_of(v.boat.path.parent / name))
        return self._other[1]

    def show(self) -> None:
        """Show the chosen set beside or over, and its answers in a table."""
        v, other = self.v, self.v.state.versus
        self.follower, self._theirs = None, {}
        v.stage.lay_over(None)
        if not other:
            with v.state as s:
                s.versus_rows, s.beside, s.versus_name = [], False, ""
            v.push()
            return
        rigging, asked = self.rigging(), v.asked()
        v.worker.ask(lambda: light.Follower(rigging.rig(other)), self._shaped, pace="quick")
        v.worker.ask(lambda: self._quick_cells(rigging, other, asked), self._answered, pace="quick")
        v.worker.ask(lambda: self._slow_cells(rigging, other, asked), self._answered)
        name = other if rigging is v.boat.rigging else f"{rigging.model.design.name}: {other}"
        with v.state as s:
            s.versus_rows, s.versus_name = [["computing …", "", ""]], name

    def _shaped(self, outcome: Any) -> None:
        v = self.v
        if isinstance(outcome, Exception):
            v.say(str(outcome), wrong=True)
            return
        self.follower = outcome
        if v.state.layout == "over":
            v.stage.lay_over(outcome.rig.scene)
            with v.state as s:
                s.beside = False
            v.push()
            return
        self.stage.panels = [panel.name for panel in self.rigging().model.design.panel]
        self.stage.dress(SCHEMES[v.state.scheme])
        self.stage.show(outcome.rig.scene)
        self.stage.copy_camera(v.stage)
        self.recolour(v.asked())
        with v.state as s:
            s.beside = True
        v.push()
        v.push_camera()

    def recolour(self, asked: light.Asked) -> None:
        """Colour the seats of the other one for the time asked about."""
        if self.follower is not None and self.v.state.layout == "beside":
            self.stage.light(self.follower.at(asked).points)

    def _quick_cells(self, rigging: Rigging, other: str, asked: light.Asked) -> list[answers.Cell]:
        follower = light.Follower(rigging.rig(other))
        names = [place.name for place in follower.rig.scene.places]
        up = bool(asked.sun().apparent_altitude[0] > 0)
        return [
            answers.vane_cell(rigging, other, heel=asked.heel),
            answers.shade_cell(names, list(follower.at(asked).share), sun_up=up),
        ]

    def _slow_cells(self, rigging: Rigging, other: str, asked: light.Asked) -> list[answers.Cell]:
        mine = rigging is not (self._other[1] if self._other else None)
        known = self.v.boat.map_of(rigging, other) if mine else known_map(rigging, other)
        day = light.day_of(place_tables(known, up=up_in_boat(heel=asked.heel)), asked)
        records = self.v.showing.records_of(rigging, other)
        return [answers.day_cell(day.names, list(day.share)), *answers.record_cells(records, other)]

    def _answered(self, outcome: Any) -> None:
        if isinstance(outcome, Exception):
            self.v.say(str(outcome), wrong=True)
            return
        self._theirs.update({cell.key: cell for cell in outcome})
        self.rows()

    def rows(self) -> None:
        """Put both answers to each question side by side, as far as they are known."""
        if not self._theirs:
            return
        mine = self.v.showing.cells()
        with self.v.state as s:
            s.versus_rows = [answers.side_by_side(mine.get(key), cell) for key, cell in self._theirs.items()]
