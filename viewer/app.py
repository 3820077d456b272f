"""Serve the boat to a browser: the page, its state, and what happens when something on it is moved.

Computes: nothing; asks `canvas` and shows.
Units: degrees and hours on the page; SI and radians inside.
Source: trame and pyvista, drawing in the browser.
Limits: one boat a server; several screens share it and are told so.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pyvista as pv
from trame.app import get_server
from trame.ui.html import DivLayout
from trame.widgets import client
from trame_pyvista.widgets import PyVistaLocalView

from canvas.sky.sun import directions
from viewer import handles, light, sights
from viewer.answers import Cell
from viewer.blowing import Blowing
from viewer.boat import Boat
from viewer.comparing import Comparing
from viewer.flat import Flat
from viewer.looking import Looking
from viewer.sending import Sending
from viewer.shaping import Ready, Shaping
from viewer.showing import Showing
from viewer.stage import SCHEMES, Stage
from viewer.state import first_state
from viewer.worker import Worker

HERE = Path(__file__).parent
YEAR = 2026  # the sun's place on a day differs by less than half a degree from year to year
WORDS_FIRST = 0.003  # the vane's words after an edit are sent, then the picture is made [s]
RESTS = 0.3  # a slider that has not moved for this long is at rest [s]
SUN_KEYS = ("lat", "day_n", "hour", "heading", "heel", "swings")


class Viewer:
    """The running viewer.

    Parameters
    ----------
    boat : Boat
    starting : bool
        Whether a new boat is asked for first.
    """

    def __init__(self, boat: Boat, *, starting: bool = False) -> None:
        self.boat = boat
        self.server = get_server("boat", client_type="vue3")
        self.state = self.server.state
        self.stage = Stage([panel.name for panel in boat.rigging.model.design.panel])
        self.worker = Worker()
        self.follower: light.Follower | None = None
        self.ready: Ready | None = None
        self.showing = Showing(self)
        self.flat = Flat(self)
        self.blowing = Blowing(self)
        self.shaping = Shaping(self)
        self.looking = Looking(self)
        self.comparing = Comparing(self, Stage(self.stage.panels))
        self.sending = Sending(self)
        self._moved = False
        self._moving = False
        self._moves = 0
        self.looking.home()
        self.state.update(first_state(boat.rigging.model.design, starting=starting))
        self._build_page()
        self._listen()

    def _build_page(self) -> None:
        page = (HERE / "page.html").read_text(encoding="utf-8")
        first, second = self.stage.plotter, self.comparing.stage.plotter
        with DivLayout(self.server, classes="v-root") as layout:
            client.Style((HERE / "style.css").read_text(encoding="utf-8"))
            for script in ("drawing.js", "upright.js", "touch.js", "hands.js", "chart.js"):
                client.Script((HERE / script).read_text(encoding="utf-8"))
            self.view = PyVistaLocalView(
                first, namespace="boat",
                on_image_capture="utils.download(boat_name + '.png', $event, 'image/png')",
                picking_modes=("['click']",), click=(self.looking.clicked, "[$event]"),
                interactor_events=("['Animation', 'EndAnimation']",), **_tied(first, second),
            )  # fmt: skip
            self.other_view = PyVistaLocalView(
                second, namespace="other", interactor_events=("['Animation', 'EndAnimation']",),
                **_tied(second, first),
            )  # fmt: skip
            for name, view in (("%VIEW%", self.view), ("%OTHER%", self.other_view)):
                layout.root.children.remove(view)
                page = page.replace(name, view.html)
            layout.root.add_child(page.replace("%NAME%", f"view_{first._id_name}"))

    def _listen(self) -> None:
        on = self.state.change
        on(*SUN_KEYS)(lambda **_: self._sun_moved())
        on("scheme")(lambda scheme, **_: self._dress(scheme))
        on("part", "tab")(lambda **_: self.show_handles())
        on("part", "tab", "set_name")(lambda **_: self.hush())
        on("tab")(lambda **_: self.flat.opened())
        on("awa")(lambda **_: self.blowing.dial())
        on("streams")(lambda **_: self.blowing.show_streams())
        on("measure_from", "measure_to")(lambda **_: self.looking.measure_marks())
        on("flat_name", "strains")(lambda **_: self.flat.show())
        on("versus_design")(lambda **_: self.comparing.design_chosen())
        on("versus", "layout")(lambda **_: self.comparing.show())
        on("begin_with")(lambda **_: self.shaping.begun_otherwise())
        self.server.controller.trigger("drawn")(self.sending.again)
        calls = {**self.shaping.triggers(), **self.looking.triggers(), **self.blowing.triggers()}
        for name, call in calls.items():
            self.server.controller.trigger(name)(call)

    def post(self, what: Callable[[], None]) -> None:
        """Do something to the page from another thread."""

        def now() -> None:
            with self.state:
                what()

        self.loop.call_soon_threadsafe(now)

    def begin(self) -> None:
        """Start what runs beside the page; called on the server's loop."""
        self.loop = asyncio.get_running_loop()
        self.worker.start(self.loop)
        self.loop.create_task(self.shaping.watch_file())
        self.shaping.show_form()
        self.boat_changed()
        self.state.change("set_name")(lambda **_: self.show_set())  # not before: the page's first words are no choice

    def visited(self, more: int) -> None:
        """Count a screen that came or went."""
        with self.state as state:
            state.visitors = max(0, state.visitors + more)
        if more > 0:
            self.sending.came()

    def say(self, text: str, *, wrong: bool = False) -> None:
        """Say something in the line under the answers."""
        with self.state as state:
            state.said, state.wrong = text, wrong

    def hush(self) -> None:
        """Take a complaint down once one goes on to something else; a question stays until it is answered."""
        if self.state.wrong and not self.state.asks_over:
            self.say("")

    def asked(self) -> light.Asked:
        """Return when and where the page asks about."""
        s = self.state
        return light.Asked(
            latitude=float(np.radians(s.lat)), day=light.day_of_year(YEAR, int(s.day_n)), hour=float(s.hour),
            heading=float(np.radians(s.heading)), heel=float(np.radians(s.heel)), swings=bool(s.swings),
        )  # fmt: skip

    def _sun_moved(self) -> None:
        """Recolour soon, once for all that came in meanwhile."""
        self._moved = True
        self._moves += 1
        self.worker.hurry()
        if not self._moving:
            self._moving = True
            asyncio.get_running_loop().create_task(self._follow())

    async def _follow(self) -> None:
        try:
            while self._moved:
                self._moved = False
                self.recolour()
                await asyncio.sleep(0)
        finally:
            self._moving = False
        moves = self._moves
        await asyncio.sleep(RESTS)
        if self._moves == moves:  # whoever drags on is not held up by day and chart
            self.showing.settle()

    def recolour(self) -> None:
        """Colour the seats for the time asked about, and say the share in shade."""
        if self.follower is None:
            return
        asked = self.asked()
        sun = asked.sun()
        up = bool(sun.apparent_altitude[0] > 0)
        found = self.follower.at(asked)
        self.stage.light(found.points)
        day = light.path_of(asked.day, asked.latitude)
        ways = directions(
            np.append(day.azimuth[day.up], sun.azimuth),
            np.append(day.apparent_altitude[day.up], sun.apparent_altitude),
            heading=float(asked.heading), heel=asked.heel,
        )  # fmt: skip
        self.stage.sun(ways[-1], up=up, path=ways[:-1])
        self.comparing.recolour(asked)
        with self.state:
            self.showing.sun_said(asked, sun, found, names=[place.name for place in self.follower.rig.scene.places])
        self.push()  # after the words, so that the browser draws both in one frame

    def show_again(self) -> None:
        """Show the shape that stands, after another one was tried."""
        if self.follower is not None:
            self.stage.show(self.follower.rig.scene)
        self.recolour()

    def pictures(self) -> list[tuple[PyVistaLocalView, Stage]]:
        """Return both pictures with what is drawn in them."""
        return [(self.view, self.stage), (self.other_view, self.comparing.stage)]

    def push(self) -> None:
        """Send the browsers what changed in the pictures."""
        self.sending.changes()

    def push_camera(self) -> None:
        """Send the camera to the browsers, to both pictures."""
        self.view.push_camera()
        if self.state.beside:
            self.other_view.push_camera(self.stage.plotter.camera)

    def show_set(self) -> None:
        """Put the chosen set up, then answer for it."""
        self.worker.next_turn()
        self.loop.call_later(RESTS, self.sending.knobs)
        name, rigging = self.state.set_name, self.boat.rigging
        self.boat.shown = name
        with self.state as s:
            s.flow_said = ""
            self.blowing.forget()
            s.busy = f"putting “{name}” up …"
            self.showing.forget()

        ready, self.ready = self.ready, None
        if ready is not None and ready.rigging is rigging and ready.name == name:
            self._show_ready(ready)
        else:
            self.worker.ask(lambda: light.Follower(rigging.rig(name)), self._set_up, pace="quick")

    def _show_ready(self, ready: Ready) -> None:
        """Send the vane's words, then make the picture; whatever was asked for meanwhile goes before it."""
        turn, vane = self.worker.turn, ready.vane if ready.heel == self.asked().heel else None
        if vane is not None:
            with self.state:
                self.showing.put(vane)

        def then() -> None:
            if turn == self.worker.turn:
                with self.state:
                    self._set_up(ready.follower, vane=vane)

        self.loop.call_later(WORDS_FIRST, then)

    def _set_up(self, outcome: Any, *, vane: Cell | None = None) -> None:
        """Show the set that was put up, and answer for it."""
        if isinstance(outcome, Exception):
            self.say(str(outcome), wrong=True)
            return
        self.follower = outcome
        self.stage.show(outcome.rig.scene)
        self.recolour()
        self.blowing.dial()
        self.showing.answer_all(vane=vane)
        if self.state.versus:
            self.comparing.show()

    def boat_changed(self) -> None:
        """Show the boat afresh after a change."""
        design = self.boat.rigging.model.design
        with self.state as s:
            s.boat_name, s.sets = design.name, list(design.set_names())
            if s.set_name not in s.sets:
                s.set_name = s.sets[0]
            s.can_undo, s.can_redo, s.unsaved = self.boat.can_undo, self.boat.can_redo, self.boat.unsaved
            s.parts = handles.parts_of(self.boat.rigging)
            s.part_kinds = list(dict.fromkeys(part["kind"] for part in s.parts))
            if s.part not in [part["key"] for part in s.parts]:
                s.part = handles.first_part(self.boat.rigging, s.set_name)
            s.mark_names, s.units = list(design.marks), str(self.boat.draft.value(("units",)))
            s.tube_names = [tube.name for tube in design.tube]
            s.trame__title = f"{design.name}: cockpit canvas"
            s.eyes = ["the quarter", *sights.names(self.boat.rigging)]
        self.stage.panels = [panel.name for panel in design.panel]
        self.show_handles()
        self.comparing.offer()
        self.show_set()

    def show_handles(self) -> None:
        """Offer the handles of the part that is picked."""
        if self.state.tab == "Shape":
            found = handles.handles_of(self.boat.draft, self.boat.rigging, self.state.part)
            with self.state as s:
                s.handles = [one.as_dict() for one in found]
                bare = s.set_name == "bare"
                s.set_panels = [] if bare else handles.sets_of(self.boat.rigging, s.set_name)

    def _dress(self, scheme: str) -> None:
        self.stage.dress(SCHEMES[scheme])
        self.comparing.stage.dress(SCHEMES[scheme])
        self.push()
        self.showing.chart_again()


def _tied(mine: pv.Plotter, other: pv.Plotter) -> dict[str, str]:
    """Return what keeps another picture's camera where this one's is, done in the browser while it is turned."""
    here, there = (f"trame.refs['view_{one._id_name}']" for one in (mine, other))
    tie = f"beside && {there} && {there}.setCamera({here}.getCamera())"
    return {"Animation": tie, "EndAnimation": tie}
