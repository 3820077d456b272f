"""Look at the boat: turn her, see from a seat, pick, measure, be led to a place, play a day.

Computes: camera places; what a click struck.
Units: metres, boat frame.
Source: none.
Limits: a click goes by what is on the screen; seats and water are not picked.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import numpy as np

from canvas.design.units import length_text
from canvas.geometry.surface import Floats
from viewer import handles, sights

if TYPE_CHECKING:
    from viewer.app import Viewer

NEAREST = 1.8  # the camera comes no nearer to what it frames [m]
STEEPEST_DEG = 88.0  # that the camera looks down or up, so that up stays up


class Looking:
    """What is looked at from the page.

    Parameters
    ----------
    viewer : Viewer
    """

    def __init__(self, viewer: Viewer) -> None:
        self.v = viewer
        self._from: Floats | None = None

    def triggers(self) -> dict[str, Callable[..., Any]]:
        """Return what the page may call, by name."""
        return {
            "go": self.go,
            "look": self.look,
            "turn": self.turn,
            "play": self.play,
            "measure": self.measure,
            "lead": self.lead,
            "find": self.find,
        }

    def go(self, latitude: float, hour: float) -> None:
        """Go to a square of the chart."""
        self.v.state.lat, self.v.state.hour = float(latitude), float(hour)

    def look(self, eye: str) -> None:
        """Look from a place, or from the quarter."""
        v = self.v
        place = sights.place_of(v.boat.rigging, eye, standing=bool(v.state.standing))
        if place is None:
            self.home()
        else:
            v.stage.home(eye=place.eye, at=place.at)
            v.stage.plotter.camera.view_angle = 60.0
        v.push_camera()

    def home(self) -> None:
        """Put the camera on the quarter, where cockpit, canvas and blade are all in the picture."""
        seen = sights.quarter(self.v.boat.rigging)
        self.v.stage.home(eye=seen.eye, at=seen.at)

    def turn(self, around: float, up: float) -> None:
        """Turn the camera about what it looks at, not past straight above or below [deg]."""
        camera = self.v.stage.plotter.camera
        dip = -np.degrees(np.arcsin(camera.direction[2]))
        camera.Azimuth(around)
        camera.Elevation(np.clip(dip + up, -STEEPEST_DEG, STEEPEST_DEG) - dip)
        camera.up = (0.0, 0.0, 1.0)
        self.v.push_camera()

    def frame(self, points: Floats) -> None:
        """Bring points into the middle of the picture, seen from the side the camera is on."""
        camera = self.v.stage.plotter.camera
        middle = (points.min(axis=0) + points.max(axis=0)) / 2
        away = np.array(camera.position) - np.array(camera.focal_point)
        far = max(NEAREST, 2.6 * float(np.linalg.norm(np.ptp(points, axis=0))))
        self.v.stage.home(eye=middle + far * away / np.linalg.norm(away), at=middle)
        self.v.push_camera()

    def lead(self, number: int) -> None:
        """Lead to the place of a finding or check of the list."""
        found = self.v.showing.place_of(number)
        if found is None:
            return
        with self.v.state as s:
            s.led = found.said
            if found.part:
                s.part = found.part
        self.v.stage.pick(found.name)
        self.v.stage.pin(found.points)
        points = found.points if len(found.points) else self.v.stage.points_of(found.name)
        if len(points):
            self.frame(points)
        self.v.push()

    def find(self) -> None:
        """Bring the part that is picked in the list into the picture."""
        v, key = self.v, self.v.state.part
        points = sights.points_of(v.boat.rigging, key)
        name = handles.name_of(v.boat.rigging, key)
        v.stage.pick(name)
        v.stage.pin(points if key.startswith("marks:") else np.zeros((0, 3)))
        shown = v.stage.points_of(name) if not len(points) else points
        if len(shown):
            self.frame(shown)
        v.push()

    def play(self) -> None:
        """Play the day, or stop it."""
        self.v.state.playing = not self.v.state.playing
        if self.v.state.playing:
            asyncio.get_running_loop().create_task(self._play_on())

    async def _play_on(self) -> None:
        while self.v.state.playing:
            with self.v.state as s:
                s.hour = s.hour + 0.25 if s.hour < 20 else 4.0
            await asyncio.sleep(0.2)

    def clicked(self, event: dict[str, Any] | None) -> None:
        """Take a click in the picture: measure, pick tubes to build between, pick a part."""
        v = self.v
        found = sights.struck(event, v.follower.rig.scene if v.follower else None)
        if found is None:
            return
        if v.state.measuring:
            v.state.measure_text = self.measured(found.point)
            return
        key = handles.part_named(v.boat.rigging, found.name)
        if key is None:
            return
        v.stage.pick(found.name)
        with v.state as s:
            s.part = key
            if s.tab == "Build" and key.startswith("tube:"):
                s.between = [s.between[1], found.name]
            elif s.tab == "Parts":
                s.flat_name = v.flat.part_of(found.name) or s.flat_name
            else:
                s.tab = "Shape"
        v.push()

    def measure(self) -> None:
        """Begin measuring, or stop."""
        s = self.v.state
        s.measuring = not s.measuring
        self._from = None
        s.measure_text = "Pick the first point in the picture." if s.measuring else "Pick two marks."

    def measured(self, point: Floats) -> str:
        """Return what is said after a point is picked."""
        room = self._room_over(point)
        if self._from is None:
            self._from = point
            return f"First point taken; pick the second.{room}"
        start, self._from = self._from, None
        return self.between(start, point) + room

    def _room_over(self, point: Floats) -> str:
        """Return the headroom over a point in words."""
        scene = self.v.follower.rig.scene if self.v.follower else None
        over = None if scene is None else sights.room_over(scene, point)
        unit = str(self.v.boat.draft.value(("units",)))
        return " Open sky over it." if over is None else f" {length_text(over, unit)} of room over it."

    def measure_marks(self) -> None:
        """Say how far the two marks chosen are apart."""
        s = self.v.state
        if s.measure_from and s.measure_to:
            marks = self.v.boat.rigging.model.marks
            s.measure_text = self.between(marks.at(s.measure_from), marks.at(s.measure_to))

    def between(self, start: Floats, end: Floats) -> str:
        """Return the distance between two points in the design's unit, with its parts."""
        unit = str(self.v.boat.draft.value(("units",)))
        apart = np.asarray(end) - np.asarray(start)
        aft, across, up = (length_text(abs(float(one)), unit) for one in apart)
        whole = length_text(float(np.linalg.norm(apart)), unit)
        return f"{whole} apart: {aft} fore and aft, {across} athwart, {up} in height."
