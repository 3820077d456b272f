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
from trame.app import get_server
from trame.ui.html import DivLayout
from trame.widgets import client
from trame_pyvista.widgets import PyVistaLocalView

from canvas.brief.cautions import AID, LINE_OF_SIGHT
from canvas.sky.sun import directions
from viewer import handles, light, sights
from viewer.boat import Boat
from viewer.showing import Showing
from viewer.stage import SCHEMES, Stage
from viewer.worker import Worker

HERE = Path(__file__).parent
YEAR = 2026  # the sun's place on a day differs by less than half a degree from year to year
TABS = ("Sun", "Wind", "Shape", "Checks", "Parts", "More")
SUN_KEYS = ("lat", "day_n", "hour", "heading", "heel", "swings")


class Viewer:
    """The running viewer.

    Parameters
    ----------
    boat : Boat
    """

    def __init__(self, boat: Boat) -> None:
        self.boat = boat
        self.server = get_server("boat", client_type="vue3")
        self.state = self.server.state
        self.stage = Stage([panel.name for panel in boat.rigging.model.design.panel])
        self.worker = Worker()
        self.follower: light.Follower | None = None
        self.showing = Showing(self)
        self._moved = False
        self._moving = False
        self._fill_state()
        self._build_page()
        self._listen()

    def _fill_state(self) -> None:
        design = self.boat.rigging.model.design
        names = list(design.set_names())
        first = next((name for name in names if name != "bare"), names[0])
        self.state.update(
            {
                "trame__title": f"{design.name}: cockpit canvas",
                "boat_name": design.name, "sets": names, "set_name": first, "scheme": "day", "tab": "Sun",
                "tabs": list(TABS), "cells": [], "said": "", "busy": "", "wrong": False, "asks_over": False,
                "visitors": 0, "unsaved": False, "can_undo": False, "can_redo": False,
                "lat": -17.0, "day_n": 355, "hour": 15.0, "heading": 90, "heel": 0, "swings": False, "playing": False,
                "lat_text": "", "day_text": "", "hour_text": "", "sun_text": "", "chart": {}, "roses": [],
                "part": "", "parts": [], "part_kinds": [], "handles": [], "set_panels": [], "checks": [], "flat": [],
                "flat_name": "", "flat_svg": "", "flat_note": "", "flat_said": "Cutting the flat parts …",
                "measuring": False, "measure_text": "Pick two marks, or two points of the picture.",
                "measure_from": "", "measure_to": "", "mark_names": [], "versus": "", "versus_rows": [],
                "flow_said": "", "eyes": [], "standing": False, "caution": f"{AID} {LINE_OF_SIGHT}",
            }
        )  # fmt: skip

    def _build_page(self) -> None:
        page = (HERE / "page.html").read_text(encoding="utf-8")
        before, after = page.split("%VIEW%")
        with DivLayout(self.server, classes="v-root") as layout:
            client.Style((HERE / "style.css").read_text(encoding="utf-8"))
            self.view = PyVistaLocalView(
                self.stage.plotter, namespace="boat", picking_modes=("['click']",), click=(self._clicked, "[$event]")
            )
            made = layout.root.children
            made.remove(self.view)
            layout.root.add_child(before + self.view.html + after)

    def _listen(self) -> None:
        on = self.state.change
        on(*SUN_KEYS)(lambda **_: self._sun_moved())
        on("set_name")(lambda **_: self.show_set())
        on("scheme")(lambda scheme, **_: self._dress(scheme))
        on("part", "tab")(lambda **_: self.show_handles())
        on("measure_from", "measure_to")(lambda **_: self._measure_marks())
        on("flat_name")(lambda flat_name, **_: self.showing.flat(flat_name))
        on("versus")(lambda **_: self.showing.compare())
        controller = self.server.controller
        for name, call in {
            "undo": lambda: self.change(self.boat.undo, "Taken back."),
            "redo": lambda: self.change(self.boat.redo, "Made again."),
            "save": self.save,
            "save_over": lambda: self.save(over=True),
            "reload": lambda: self.change(self.boat.reload, "Read again from disk."),
            "shape": self._shape,
            "up": self._put_up,
            "go": self._go,
            "look": self._look,
            "turn": self._turn,
            "play": self._play,
            "flow": self.showing.blow,
            "measure": self._measure,
            "picture": self.view.capture_image,
        }.items():
            controller.trigger(name)(call)

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
        self.loop.create_task(self._watch_file())
        self._boat_changed()

    def visited(self, more: int) -> None:
        """Count a screen that came or went."""
        with self.state as state:
            state.visitors = max(0, state.visitors + more)

    def say(self, text: str, *, wrong: bool = False) -> None:
        """Say something in the line under the answers."""
        with self.state as state:
            state.said, state.wrong = text, wrong

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
        self.showing.settle()
        await asyncio.sleep(0.4)
        if not self._moving:
            self.view.update()

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
        self._push()
        with self.state:
            self.showing.sun_said(asked, sun, found, names=[place.name for place in self.follower.rig.scene.places])

    def _push(self) -> None:
        """Send the browsers what changed in the picture; the whole of it, for those still to come, when it rests."""
        if self.server.protocol is not None:
            changed = self.view.module.scene(self.stage.plotter.render_window, new_state=False, widgets=[])
            self.server.protocol.publish("trame.vtk.delta", changed)

    def show_set(self) -> None:
        """Put the chosen set up, then answer for it."""
        self.worker.next_turn()
        name, rigging = self.state.set_name, self.boat.rigging
        self.boat.shown = name
        with self.state as s:
            s.flow_said = ""
            s.busy = f"putting “{name}” up …"
            self.showing.forget()

        def done(outcome: Any) -> None:
            if isinstance(outcome, Exception):
                self.say(str(outcome), wrong=True)
                return
            self.follower = outcome
            self.stage.show(outcome.rig.scene)
            self.recolour()
            self.view.update()
            self.showing.answer_all()

        self.worker.ask(lambda: light.Follower(rigging.rig(name)), done, pace="quick")

    def _boat_changed(self) -> None:
        design = self.boat.rigging.model.design
        with self.state as s:
            s.boat_name, s.sets = design.name, list(design.set_names())
            if s.set_name not in s.sets:
                s.set_name = s.sets[0]
            s.can_undo, s.can_redo, s.unsaved = self.boat.can_undo, self.boat.can_redo, self.boat.unsaved
            s.parts = handles.parts_of(self.boat.rigging)
            s.part_kinds = list(dict.fromkeys(part["kind"] for part in s.parts))
            if s.part not in [part["key"] for part in s.parts]:
                fresh = next((n for n, panel in enumerate(design.panel) if not panel.existing), 0)
                s.part = f"panel:{fresh}" if design.panel else s.parts[0]["key"]
            s.mark_names = list(design.marks)
            s.eyes = ["the quarter", *sights.names(self.boat.rigging)]
        self.stage.panels = [panel.name for panel in design.panel]
        self.show_handles()
        self.show_set()

    def show_handles(self) -> None:
        """Offer the handles of the part that is picked."""
        if self.state.tab == "Shape":
            found = handles.handles_of(self.boat.draft, self.boat.rigging, self.state.part)
            with self.state as s:
                s.handles = [one.as_dict() for one in found]
                bare = s.set_name == "bare"
                s.set_panels = [] if bare else handles.sets_of(self.boat.draft, self.boat.rigging, s.set_name)

    def change(self, step: Callable[[], bool], told: str) -> None:
        """Change the boat in the background, then show it; what cannot be built is said and not kept."""
        self.worker.next_turn()
        self.say("")
        with self.state as s:
            s.busy, s.asks_over = "solving the cloth …", False

        def done(outcome: Any) -> None:
            self.state.busy = ""
            if outcome is True:
                self.say(told)
                self._boat_changed()
                return
            problems = self.boat.problems
            said = str(outcome) if isinstance(outcome, Exception) else " · ".join(str(one) for one in problems[:3])
            self.say(f"Not done, the last good shape is shown: {said}", wrong=True)
            with self.state:
                self.show_handles()
            self.showing.answer_all()

        self.worker.ask(step, done, pace="quick")

    def _shape(self, part: str, number: int, value: float | str) -> None:
        found = handles.handles_of(self.boat.draft, self.boat.rigging, part)
        if not 0 <= number < len(found) or value in ("", None):
            return
        handle = found[number]
        told = f"{handle.label}: {handle.value} → {value} {handle.unit}"
        self.change(lambda: self.boat.change(lambda draft: handles.put(draft, handle, value)), told)

    def _put_up(self, panel: str, up: bool, rolled: bool) -> None:  # noqa: FBT001 - called from the page
        name, rigging = self.state.set_name, self.boat.rigging
        told = f"“{panel}” {'up' if up else 'down'} in “{name}”"
        self.change(
            lambda: self.boat.change(lambda d: handles.put_up(d, rigging, name, panel, up=up, rolled=rolled)), told
        )

    def save(self, *, over: bool = False) -> None:
        """Save to the same file; where it changed outside, ask."""
        if not over and self.boat.changed_outside():
            with self.state as s:
                s.asks_over = True
            self.say(f"{self.boat.path.name} changed on disk since it was read. What shall stand?", wrong=True)
            return
        try:
            kept = self.boat.save(over=over)
        except Exception as refused:  # noqa: BLE001 - said on the screen; nothing was written
            self.say(f"Not saved: {refused}", wrong=True)
            return
        with self.state as s:
            s.unsaved, s.asks_over = False, False
        self.say(f"Saved {self.boat.path.name}." + (f" What stood there is in {kept.name}." if kept else ""))

    async def _watch_file(self) -> None:
        """Read the file again when it changes outside and nothing here is unsaved; a broken one is said."""
        last = sights.stamp(self.boat.path)
        while True:
            await asyncio.sleep(1.0)
            now = sights.stamp(self.boat.path)
            if now == last:
                continue
            last = now
            if not self.boat.changed_outside():
                continue
            if self.boat.unsaved:
                with self.state as s:
                    s.asks_over = True
                self.say(
                    f"{self.boat.path.name} changed on disk, and there are changes here. What shall stand?", wrong=True
                )
            else:
                self.change(self.boat.reload, "The file changed on disk; read again.")

    def _dress(self, scheme: str) -> None:
        self.stage.dress(SCHEMES[scheme])
        self.view.update()
        self.showing.chart_again()

    def _go(self, latitude: float, hour: float) -> None:
        self.state.lat, self.state.hour = float(latitude), float(hour)

    def _look(self, eye: str) -> None:
        place = sights.place_of(self.boat.rigging, eye, standing=bool(self.state.standing))
        if place is None:
            self.stage.home()
        else:
            self.stage.home(eye=place.eye, at=place.at)
            self.stage.plotter.camera.view_angle = 60.0
        self.view.push_camera()

    def _turn(self, around: float, up: float) -> None:
        camera = self.stage.plotter.camera
        camera.Azimuth(around)
        camera.Elevation(up)
        camera.up = (0.0, 0.0, 1.0)
        self.view.push_camera()

    def _play(self) -> None:
        self.state.playing = not self.state.playing
        if self.state.playing:
            asyncio.get_running_loop().create_task(self._play_on())

    async def _play_on(self) -> None:
        while self.state.playing:
            with self.state as s:
                s.hour = s.hour + 0.25 if s.hour < 20 else 4.0
            await asyncio.sleep(0.2)

    def _clicked(self, event: dict[str, Any] | None) -> None:
        found = sights.struck(event, self.follower.rig.scene if self.follower else None)
        if found is None:
            return
        if self.state.measuring:
            self.state.measure_text = self.showing.measured(found.point)
            return
        key = handles.part_named(self.boat.rigging, found.name)
        if key is not None:
            self.stage.pick(found.name)
            self.state.part, self.state.tab = key, "Shape"
            self.view.update()

    def _measure(self) -> None:
        self.state.measuring = not self.state.measuring
        self.showing.measure_from(None)

    def _measure_marks(self) -> None:
        s = self.state
        if s.measure_from and s.measure_to:
            marks = self.boat.rigging.model.marks
            s.measure_text = self.showing.between(marks.at(s.measure_from), marks.at(s.measure_to))
