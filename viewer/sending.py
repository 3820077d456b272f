"""Send the browsers what changed in the pictures: made anew as parts of the scene, or only moved, hidden and coloured.

Computes: nothing.
Units: none.
Source: trame's own way of sending scenes; `viewer/touch.js` takes the rest.
Limits: the whole scene is kept for screens still to come; it is made anew when one comes, and for a while after.
"""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

from trame_vtk.modules.vtk.serializers.utils import reference_id

if TYPE_CHECKING:
    from viewer.app import Viewer

TOPIC = "boat.touch"
STATE_TOPIC = "trame.state.topic"  # what trame itself tells of the state by
KNOBS = ("lat", "day_n", "hour", "heading", "heel", "swings", "awa", "set_name")
FOUND = ("cells", "chart", "chart_here", "roses", "checks", "led", "findings", "flat", "flat_svg", "busy")
COMING = 20.0  # a screen that came takes no longer than this to draw its first scene [s]


class Sending:
    """What goes to the browsers of the pictures.

    Parameters
    ----------
    viewer : Viewer
    """

    def __init__(self, viewer: Viewer) -> None:
        self.v = viewer
        self._came = 0.0

    def came(self) -> None:
        """Make the whole scene ready for a screen that comes."""
        self._came = time.monotonic()
        self.changes()
        self._keep_whole()

    def changes(self) -> None:
        """Send what changed since it was sent last; a picture that is not on the screen waits."""
        v = self.v
        if v.server.protocol is None:
            return
        coming = time.monotonic() - self._came < COMING
        touched, made = {}, False
        for view, stage in v.pictures():
            if stage is not v.stage and not v.state.beside and not coming:
                continue
            if stage.made:
                scene = view.module.scene(stage.plotter.render_window, new_state=False, widgets=[])
                v.server.protocol.publish("trame.vtk.delta", scene)
                made = True
            else:
                touched.update({reference_id(stage.plotter.actors[name]): one for name, one in stage.moved.items()})
            stage.sent()
        if touched:
            v.server.protocol.publish(TOPIC, touched)
        if coming and (touched or made):
            self._keep_whole()

    def again(self) -> None:
        """Send what stands and what is found: a screen that has its first scene may have missed moves and answers."""
        self.changes()
        self._tell(FOUND)
        standing = {
            reference_id(stage.plotter.actors[name]): one
            for _, stage in self.v.pictures()
            for name, one in stage.standing().items()
        }
        if standing and self.v.server.protocol is not None:
            self.v.server.protocol.publish(TOPIC, standing)

    def knobs(self) -> None:
        """Tell every screen where the knobs stand: one that moved a knob may still be told where it stood before.

        A knob that was moved on a screen and not sent yet stays as it was moved there: `touch.js` sees to that.
        """
        self._tell(KNOBS)

    def _tell(self, names: tuple[str, ...]) -> None:
        """Tell every screen how parts of the state stand, whether they changed or not."""
        if self.v.server.protocol is not None:
            self.v.server.protocol.publish(STATE_TOPIC, {name: self.v.state[name] for name in names})

    def _keep_whole(self) -> None:
        """Put the whole scene where a screen that comes finds it; all changes must have been sent to the others."""
        v = self.v
        if v.server.protocol is None:
            return
        with v.state as state:
            for view, stage in v.pictures():
                whole = view.module.scene(stage.plotter.render_window, new_state=True, widgets=[])
                state[f"scene_{view.ref_name}"] = whole
