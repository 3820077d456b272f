"""Answer for the set that is up, quick things first, and put the answers on the page.

Computes: nothing itself; orders the work so that the vane is answered first and the slow verbs last.
Units: degrees, per cent and design units on the page.
Source: the verbs of canvas.
Limits: what belongs to a set or a boat no longer shown is dropped.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import TYPE_CHECKING, Any
from weakref import WeakKeyDictionary

import numpy as np

from canvas import verbs
from canvas.air.attitude import up_in_boat
from canvas.brief.palette import tint
from canvas.brief.partviews import part_drawing
from canvas.brief.svg import svg_text
from canvas.cloth.rigging import Rigging
from canvas.design.units import length_text
from canvas.geometry.surface import Floats
from canvas.jobs.failure import Stopped
from canvas.jobs.progress import Progress
from canvas.sky.dome import DomeMap, PlaceTables, place_tables
from canvas.sky.sun import Sun
from canvas.verbs.making import cut_result
from canvas.verbs.sky import known_map
from canvas.wind.flow.run import COARSE
from viewer import answers, charts, light

if TYPE_CHECKING:
    from viewer.app import Viewer

ORDER = ("vane", "shade", "day", "rain", "room", "strike", "cloth")
STEPS: dict[str, tuple[str, str]] = {
    "fit": ("room", "checking room and sight …"),
    "rain": ("rain", "letting it rain …"),
    "loads": ("strike", "loading the cloth …"),
    "buy": ("cloth", "cutting and counting …"),
}
SLOW = {verb: step for verb, step in STEPS.items() if verb in verbs.__all__}
MONTHS = ("January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
          "December")  # fmt: skip
Record = dict[str, Any]


class Showing:
    """What the page says of the set that is up.

    Parameters
    ----------
    viewer : Viewer
    """

    def __init__(self, viewer: Viewer) -> None:
        self.v = viewer
        self._cells: dict[str, answers.Cell] = {}
        self._records: WeakKeyDictionary[Rigging, dict[tuple[str, str], Record]] = WeakKeyDictionary()
        self._tables: PlaceTables | None = None
        self._tables_of = (0, 0.0)
        self._known: DomeMap | None = None
        self._settled = 0
        self._stop_flow = threading.Event()
        self._chart: light.Chart | None = None
        self._from: Floats | None = None
        self._parts: dict[str, Any] = {}

    def _put(self, *cells: answers.Cell) -> None:
        for cell in cells:
            self._cells[cell.key] = cell
        self.v.state.cells = [self._cells[key].as_dict() for key in ORDER if key in self._cells]

    def sun_said(self, asked: light.Asked, sun: Sun, found: light.Lit, *, names: list[str]) -> None:
        """Put the shade now and the words of time and place on the page."""
        s = self.v.state
        up = bool(sun.apparent_altitude[0] > 0)
        s.lat_text = charts.latitude_text(s.lat)
        s.day_text = f"{asked.day.day} {MONTHS[asked.day.month - 1]}"
        s.hour_text = light.clock(asked.hour).strftime("%H:%M")
        height, bearing = np.degrees(sun.apparent_altitude[0]), np.degrees(sun.azimuth[0])
        s.sun_text = (
            f"Sun {height:.0f}° high, bearing {bearing:03.0f}°, {asked.headings().words}." if up else "Sun down."
        )
        self._put(answers.shade_cell(names, found.share, sun_up=up))

    def forget(self) -> None:
        """Take down every answer of the set or shape shown before."""
        for key, cell in self._cells.items():
            self._cells[key] = answers.Cell(key=key, ask=cell.ask, word=answers.WAITING)
        self._put()

    def answer_all(self) -> None:
        """Answer everything for the set that is up, in the order in which it is asked."""
        v, rigging, name = self.v, self.v.boat.rigging, self.v.state.set_name
        self._known = self._chart = None
        heel = v.asked().heel
        kept = self._records.get(rigging, {})
        waiting = {verb: kept.get((verb, name)) for verb in SLOW}
        with v.state as s:
            s.checks, s.flat, s.flat_svg, s.flat_note, s.roses = [], [], "", "", []
            s.busy = "looking at the vane …"
            self._put(answers.day_cell(), *answers.record_cells(waiting, name))
        v.worker.ask(
            lambda: (answers.vane_cell(rigging, name, heel=heel), self._roses(rigging, name, heel)),
            self._vane_done,
            pace="quick",
        )
        v.worker.ask(lambda: known_map(rigging, name), self._map_done)
        for verb in SLOW:
            v.worker.ask(self._telling(verb, rigging, name), self._record_done(verb))
        v.worker.ask(lambda: cut_result(rigging).parts, self._flat_done)

    def _telling(self, verb: str, rigging: Rigging, name: str) -> Callable[[], Record]:
        def work() -> Record:
            kept = self._records.setdefault(rigging, {})
            if (verb, name) not in kept:
                sets = [name] if name != "bare" or verb != "buy" else None
                kept[verb, name] = getattr(verbs, verb)(rigging, sets=sets).record()
            return kept[verb, name]

        return work

    def _vane_done(self, outcome: Any) -> None:
        with self.v.state as s:
            if isinstance(outcome, Exception):
                self.v.say(str(outcome), wrong=True)
                return
            cell, roses = outcome
            self._put(cell)
            s.roses = [*roses, *s.roses[1:]]
            s.busy = "mapping the sky …"

    def _roses(self, rigging: Rigging, name: str, heel: float) -> list[Record]:
        found, bare = (answers.rose_of(rigging, one, heel=heel) for one in (name, "bare"))
        return [
            {
                "name": "Vane: share of the blade that sees the wind (line of sight)",
                "points": charts.rose_points(found.awa, found.clear_share),
                "bare": charts.rose_points(bare.awa, bare.clear_share), "band": "",
                "said": charts.spans_text(found.awa, found.clear_share, under=0.5) + "; dashed: bare boat",
            }
        ]  # fmt: skip

    def _map_done(self, outcome: Any) -> None:
        if isinstance(outcome, Exception):
            self.v.say(str(outcome), wrong=True)
            return
        self._known = outcome
        self.settle()
        with self.v.state as s:
            s.busy = SLOW["fit"][1]

    def settle(self) -> None:
        """Bring day and chart up to the time and place asked about, beside the screen; the last asked counts."""
        if self._known is None:
            return
        self._settled += 1
        mine, known, asked = self._settled, self._known, self.v.asked()

        def work() -> tuple[light.DayShade, light.Chart] | None:
            if mine != self._settled:
                return None
            return light.day_of(known, asked), light.chart_of(
                self._lit_tables(known, asked.heel), asked, places=answers.SEATS
            )

        def done(outcome: Any) -> None:
            if outcome is None or isinstance(outcome, Exception):
                return
            day, self._chart = outcome
            with self.v.state:
                self._put(answers.day_cell(day.names, list(day.share)))
                self.chart_again()

        self.v.worker.ask(work, done, pace="quick")

    def _lit_tables(self, known: DomeMap, heel: float) -> PlaceTables:
        """Return the look-up table of a map, kept until set or heel change."""
        if self._tables is None or self._tables_of != (id(known), heel):
            self._tables, self._tables_of = place_tables(known, up=up_in_boat(heel=heel)), (id(known), heel)
        return self._tables

    def chart_again(self) -> None:
        """Draw the chart with the colours of the scheme."""
        if self._chart is not None:
            with self.v.state as s:
                s.chart = charts.squares(self._chart, self.v.asked(), scheme=s.scheme)

    def _record_done(self, verb: str) -> Callable[[Any], None]:
        rest = [*SLOW][[*SLOW].index(verb) + 1 :]
        after = SLOW[rest[0]][1] if rest else "flattening …"

        def done(outcome: Any) -> None:
            name = self.v.state.set_name
            with self.v.state as s:
                s.busy = after
                if isinstance(outcome, Exception):
                    key = SLOW[verb][0]
                    old = self._cells[key]
                    self._put(
                        answers.Cell(
                            key=key, ask=old.ask, word="could not be done", note=str(outcome)[:160], tone="unknown"
                        )
                    )
                    return
                self._put(*answers.record_cells({verb: outcome}, name))
                if verb == "fit":
                    s.checks = answers.check_rows(outcome)
                if verb == "rain":
                    s.roses = [*s.roses[:1], charts.rain_rose(outcome)]

        return done

    def _flat_done(self, outcome: Any) -> None:
        with self.v.state as s:
            s.busy = ""
            if isinstance(outcome, Exception):
                s.flat_said = f"No flat parts: {outcome}"
                return
            self._parts = {part.name: part for part in outcome}
            s.flat = [{"name": part.name} for part in outcome]
            s.flat_said = "Nothing new to cut."

    def flat(self, name: str) -> None:
        """Show one flat part, and light up its panel in the picture."""
        part = self._parts.get(name)
        if part is None:
            return
        names = [panel.name for panel in self.v.boat.rigging.model.design.panel]
        units = str(self.v.boat.draft.value(("units",)))
        drawing = part_drawing(part, colours=tint(part.panel, names=names), paper=0.16, units=units)
        with self.v.state as s:
            s.flat_svg = svg_text(drawing)
            s.flat_note = (
                f"Part of “{part.panel}”, lit up in the picture. Cut from the files of `canvas cut`, not from here."
            )
        self.v.stage.pick(part.panel)
        self.v.view.update()

    def blow(self) -> None:
        """Run the air flow for the set that is up, beside the screen; saved runs are used again. Again: stop."""
        v, rigging, name = self.v, self.v.boat.rigging, self.v.state.set_name
        if v.state.flow_said:
            self._stop_flow.set()
            return
        self._stop_flow = stop = threading.Event()
        turn, heel = v.worker.turn, v.asked().heel

        def told(what: str, done: int, total: int) -> None:
            v.post(lambda: v.state.update({"flow_said": f"{what}: {done} of {total}"}))

        progress = Progress(told, stopping=lambda: stop.is_set() or v.worker.turn != turn)

        def work() -> Record:
            answer = verbs.vane(rigging, method="flow", sets=[name], heel=heel, cell=COARSE, progress=progress)
            return answer.record()

        def done(outcome: Any) -> None:
            with v.state as s:
                s.flow_said = ""
                if isinstance(outcome, Exception):
                    v.say("The flow run was stopped." if isinstance(outcome, Stopped) else str(outcome), wrong=True)
                    return
                self._put(answers.flow_cell(outcome, name, cell=COARSE))

        v.state.flow_said = "beginning …"
        v.worker.ask(work, done, pace="long")

    def compare(self) -> None:
        """Put the answers of another set beside those of the one that is up."""
        v, other = self.v, self.v.state.versus
        if not other:
            v.state.versus_rows = []
            return
        rigging, asked = v.boat.rigging, v.asked()

        def work() -> list[answers.Cell]:
            follower = light.Follower(rigging.rig(other))
            names = [place.name for place in follower.rig.scene.places]
            lit = follower.at(asked)
            up = bool(asked.sun().apparent_altitude[0] > 0)
            records = {verb: self._telling(verb, rigging, other)() for verb in SLOW}
            day = light.day_of(known_map(rigging, other), asked)
            return [
                answers.vane_cell(rigging, other, heel=asked.heel),
                answers.shade_cell(names, list(lit.share), sun_up=up),
                answers.day_cell(day.names, list(day.share)), *answers.record_cells(records, other),
            ]  # fmt: skip

        def done(outcome: Any) -> None:
            if isinstance(outcome, Exception):
                v.say(str(outcome), wrong=True)
                return
            mine = self._cells
            with v.state as s:
                s.versus_rows = [
                    [cell.ask, mine[cell.key].word if cell.key in mine else "", cell.word] for cell in outcome
                ]

        v.state.versus_rows = [["computing …", "", ""]]
        v.worker.ask(work, done)

    def measure_from(self, point: Floats | None) -> None:
        """Begin at a point, or afresh."""
        self._from = point
        self.v.state.measure_text = (
            "Pick the first point in the picture." if self.v.state.measuring else "Pick two marks."
        )

    def measured(self, point: Floats) -> str:
        """Return what is said after a point is picked."""
        if self._from is None:
            self._from = point
            return "First point taken; pick the second."
        start, self._from = self._from, None
        return self.between(start, point)

    def between(self, start: Floats, end: Floats) -> str:
        """Return the distance between two points in the design's unit, with its parts."""
        unit = str(self.v.boat.draft.value(("units",)))
        apart = np.asarray(end) - np.asarray(start)
        aft, across, up = (length_text(abs(float(one)), unit) for one in apart)
        whole = length_text(float(np.linalg.norm(apart)), unit)
        return f"{whole} apart: {aft} fore and aft, {across} athwart, {up} in height."
