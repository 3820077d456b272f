"""Answer for the set that is up, quick things first, and put the answers on the page.

Computes: nothing itself; orders the work so that the vane is answered first and the slow verbs last.
Units: degrees, per cent and design units on the page.
Source: the verbs of canvas.
Limits: what belongs to a set or a boat no longer shown is dropped.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING, Any
from weakref import WeakKeyDictionary

import numpy as np

from canvas import verbs
from canvas.air.attitude import up_in_boat
from canvas.brief.answer import Answer
from canvas.cloth.rigging import Rigging
from canvas.cutting.ordered import cut_result
from canvas.sky.dome import DomeMap, place_tables
from canvas.sky.sun import Sun
from viewer import answers, charts, findings, light
from viewer.blowing import saved_flow
from viewer.findings import Found
from viewer.worker import Done

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
        self._fits: WeakKeyDictionary[Rigging, dict[str, tuple[Found, ...]]] = WeakKeyDictionary()
        self._known: DomeMap | None = None
        self._heel: float | None = None  # that the vane was answered for
        self._settled = 0
        self._chart: light.Chart | None = None
        self._day_of: light.Asked | None = None  # what day and chart on the page are for
        self._chart_of: light.Asked | None = None
        self._found: dict[str, tuple[Found, ...]] = {}

    def put(self, *cells: answers.Cell) -> None:
        """Put answers on the page in their order."""
        for cell in cells:
            self._cells[cell.key] = cell
        self.v.state.cells = [self._cells[key].as_dict() for key in ORDER if key in self._cells]
        self.v.comparing.rows()

    def sun_said(self, asked: light.Asked, sun: Sun, found: light.Lit, *, names: list[str]) -> None:
        """Put the shade now and the words of time and place on the page."""
        s = self.v.state
        up = bool(sun.apparent_altitude[0] > 0)
        s.lat_text = charts.latitude_text(s.lat)
        s.day_text = f"{asked.day.day} {MONTHS[asked.day.month - 1]}"
        s.hour_text = light.clock(asked.hour).strftime("%H:%M")
        s.chart_here = charts.here_of(asked)
        height, bearing = np.degrees(sun.apparent_altitude[0]), np.degrees(sun.azimuth[0])
        s.sun_text = (
            f"Sun {height:.0f}° high, bearing {bearing:03.0f}°, {asked.headings().words}." if up else "Sun down."
        )
        self.put(answers.shade_cell(names, found.share, sun_up=up))

    def preview(self, follower: light.Follower, lit: light.Lit, *, sun_up: bool) -> None:
        """Show a shape that is tried out: its cloth, and the shade by few points, with their error."""
        v = self.v
        names = [place.name for place in follower.rig.scene.places]
        cell = answers.shade_cell(names, lit.share, sun_up=sun_up)
        v.stage.show(follower.rig.scene)
        with v.state:
            self.put(replace(cell, note=f"preview by {len(lit.points)} points, ± {100 * follower.error:.0f} %"))
        v.push()

    def forget(self) -> tuple[answers.Cell, ...]:
        """Take down every answer of the set or shape shown before, and return what stood."""
        self._heel = None
        stood = tuple(self._cells.values())
        self.put(*(answers.Cell(key=cell.key, ask=cell.ask, word=answers.WAITING) for cell in stood))
        return stood

    def answer_all(self, *, vane: answers.Cell | None = None) -> None:
        """Answer everything for the set that is up, in the order in which it is asked.

        Parameters
        ----------
        vane : Cell, optional
            The vane's words, where they are known already.
        """
        v, rigging, name = self.v, self.v.boat.rigging, self.v.state.set_name
        self._known = self._chart = self._day_of = self._chart_of = None
        heel = v.asked().heel
        kept = self._records.get(rigging, {})
        waiting = {verb: kept.get((verb, name)) for verb in SLOW}
        with v.state as s:
            s.checks, s.roses, s.led = [], [], ""
            s.busy = "looking at the vane …" if vane is None else "mapping the sky …"
            self.put(answers.day_cell(), *answers.record_cells(waiting, name))
        v.flat.forget()
        self._ask_vane(rigging, name, heel, said=self._vane_done if vane is None else None)
        v.worker.ask(lambda: verbs.check(rigging, sets=[name]), self._checked)
        v.worker.ask(lambda: self._mapped(rigging, name, heel), self._map_done)
        v.worker.ask(lambda: saved_flow(rigging, name, heel), v.blowing.saved_done)
        for verb in SLOW:
            v.worker.ask(self._telling(verb, rigging, name), self._record_done(verb))
        v.worker.ask(v.blowing.rim(rigging, name, heel), v.blowing.rim_done)
        v.worker.ask(lambda: cut_result(rigging), v.flat.done)

    def _heeled(self, heel: float) -> None:
        """Answer for the vane again where the boat heels otherwise than when it was answered."""
        if self._heel in (None, heel):
            return
        v, rigging, name = self.v, self.v.boat.rigging, self.v.state.set_name
        v.blowing.forget()
        self._ask_vane(rigging, name, heel, said=self._vane_moved)
        v.worker.ask(lambda: saved_flow(rigging, name, heel), v.blowing.saved_done)

    def _ask_vane(self, rigging: Rigging, name: str, heel: float, *, said: Done | None) -> None:
        """Ask what the vane sees at a heel: its words, where they are not known yet, and the rose."""
        self._heel = heel
        if said is not None:
            self.v.worker.ask(lambda: answers.vane_words(rigging, name, heel=heel), said, pace="quick")
        self.v.worker.ask(lambda: self._all_round(rigging, name, heel), self._roses_done, pace="quick")

    def _mapped(self, rigging: Rigging, name: str, heel: float) -> DomeMap:
        """Return the map of a set, its tables for the heel shown made beforehand."""
        known = self.v.boat.map_of(rigging, name)
        place_tables(known, up=up_in_boat(heel=heel))
        return known

    def _telling(self, verb: str, rigging: Rigging, name: str) -> Callable[[], Record]:
        def work() -> Record:
            kept = self._records.setdefault(rigging, {})
            if (verb, name) not in kept:
                sets = [name] if name != "bare" or verb != "buy" else None
                answer = getattr(verbs, verb)(rigging, sets=sets)
                kept[verb, name] = answer.record()
                if verb == "fit":
                    self._fits.setdefault(rigging, {})[name] = findings.of_fit(rigging, answer, name)
            return kept[verb, name]

        return work

    def _vane_done(self, outcome: Any) -> None:
        self._vane_moved(outcome)
        if not isinstance(outcome, Exception):
            with self.v.state as s:
                s.busy = "mapping the sky …"

    def _vane_moved(self, outcome: Any) -> None:
        if isinstance(outcome, Exception):
            self.v.say(str(outcome), wrong=True)
            return
        with self.v.state:
            self.put(outcome)

    def _all_round(self, rigging: Rigging, name: str, heel: float) -> tuple[Answer, list[dict[str, Any]]]:
        rose = answers.all_round(rigging, name, heel=heel)
        return rose, self.v.blowing.roses(rigging, rose, heel)

    def _roses_done(self, outcome: Any) -> None:
        if not isinstance(outcome, Exception):
            rose, drawn = outcome
            with self.v.state as s:
                if not self._cells["vane"].note:  # the flow's word stands
                    self.put(answers.with_sentence(self._cells["vane"], rose))
                s.roses = [*drawn, *s.roses[1:]]

    def _checked(self, outcome: Any) -> None:
        found = () if isinstance(outcome, Exception) else findings.of_design(self.v.boat.rigging, outcome.problems)
        self._list("design", found)

    def _list(self, kind: str, found: tuple[Found, ...]) -> None:
        self._found = {"design": (), "fit": (), **self._found, kind: found}
        with self.v.state as s:
            s.checks = findings.rows(self._found)

    def place_of(self, number: int) -> Found | None:
        """Return the finding of a row of the list."""
        listed = [one for found in self._found.values() for one in found]
        return listed[number] if 0 <= number < len(listed) else None

    def cells(self) -> dict[str, answers.Cell]:
        """Return the answers that stand on the page, by their short names."""
        return dict(self._cells)

    def records_of(self, rigging: Rigging, name: str) -> dict[str, Record]:
        """Return the records of a set, from those kept or made now."""
        return {verb: self._telling(verb, rigging, name)() for verb in SLOW}

    def _map_done(self, outcome: Any) -> None:
        if isinstance(outcome, Exception):
            self.v.say(str(outcome), wrong=True)
            return
        self._known = outcome
        self.settle()
        with self.v.state as s:
            s.busy = SLOW["fit"][1]

    def settle(self) -> None:
        """Bring day, chart and vane up to what is asked about, beside the screen; the last asked counts."""
        self._heeled(self.v.asked().heel)
        if self._known is None:
            self.v.sending.knobs()
            return
        self._settled += 1
        mine, known, asked = self._settled, self._known, self.v.asked()
        day_of, chart_of = replace(asked, hour=0.0), replace(asked, hour=0.0, latitude=0.0)
        if self._day_of == day_of:  # whoever moved the hour alone has both already
            self.v.sending.knobs()
            return

        def work() -> tuple[light.DayShade, light.Chart] | None:
            if mine != self._settled:
                return None
            tables = place_tables(known, up=up_in_boat(heel=asked.heel))
            kept = self._chart if self._chart_of == chart_of else None
            return light.day_of(tables, asked), kept or light.chart_of(tables, asked, places=answers.SEATS)

        def done(outcome: Any) -> None:
            if mine != self._settled or outcome is None or isinstance(outcome, Exception):
                return
            day, chart = outcome
            self._day_of, self._chart_of = day_of, chart_of
            with self.v.state:
                self.put(answers.day_cell(day.names, list(day.share)))
                if chart is not self._chart:
                    self._chart = chart
                    self.chart_again()
            self.v.sending.knobs()

        self.v.worker.ask(work, done, pace="quick")

    def chart_again(self) -> None:
        """Draw the chart with the colours of the scheme."""
        if self._chart is not None:
            with self.v.state as s:
                s.chart = charts.squares(self._chart, scheme=s.scheme)

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
                    self.put(
                        answers.Cell(
                            key=key, ask=old.ask, word="could not be done", note=str(outcome)[:160], tone="unknown"
                        )
                    )
                    return
                self.put(*answers.record_cells({verb: outcome}, name))
                if verb == "fit":
                    self._list("fit", self._fits[self.v.boat.rigging][name])
                if verb == "rain":
                    s.roses = [*s.roses[:1], charts.rain_rose(outcome)]

        return done
