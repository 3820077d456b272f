"""Show the wind: a dial round the boat, what reaches the blade, saved flow, and runs of it.

Computes: which points of the blade see upwind at one angle; words of the wake estimate.
Units: degrees on the page; radians and metres inside.
Source: canvas/wind; the bodies' trees kept, so that an angle takes milliseconds.
Limits: sight is a fact and no verdict; the wake estimate is rough and has words only; flow is as coarse as it says.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from canvas import verbs
from canvas.air.attitude import to_boat
from canvas.air.wind import wind_from
from canvas.brief.answer import Answer
from canvas.brief.records import Record
from canvas.cloth.rigging import Rigging
from canvas.geometry.rays import START, tracer_of
from canvas.geometry.scene import Scene
from canvas.geometry.surface import Bools, Floats
from canvas.jobs.progress import Progress
from canvas.verbs.wind import vane_kept
from canvas.wind.flow.outcome import Outcome
from canvas.wind.flow.run import COARSE
from canvas.wind.sector import sector as sector_of
from viewer import answers, charts
from viewer.drawn import alike

if TYPE_CHECKING:
    from viewer.app import Viewer

RIM_STEP_DEG = 15


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Reaching:
    """What reaches the blade at one angle.

    Attributes
    ----------
    upwind : (3,) ndarray
        Unit vector to where the wind comes from, boat frame.
    clear : (n,) ndarray of bool
        Whether each point of the blade sees upwind.
    """

    upwind: Floats
    clear: Bools


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Flow:
    """What the flow tells of a set.

    Attributes
    ----------
    record : dict
        Of `canvas vane --method flow`.
    outcomes : mapping of float to Outcome
        By apparent wind angle [rad].
    """

    record: Record
    outcomes: Mapping[float, Outcome]

    @property
    def angles(self) -> list[Record]:
        """What the record says of each angle."""
        (one,) = self.record["sets"]
        return list(one["angles"])

    def row(self, awa: float) -> Record:
        """Return what the record says of an angle that was run [rad]."""
        return min(self.angles, key=lambda one: abs(one["awa_deg"] - np.degrees(awa)))


class BladeSight:
    """The blade's sight of the wind in one scene, ready to be asked for angle after angle.

    Parameters
    ----------
    scene : Scene
    """

    def __init__(self, scene: Scene) -> None:
        self.scene = scene
        self._tracers = [tracer_of(one) for one in scene.surfaces if one.kind != "vane"]

    def at(self, awa: float, *, heel: float) -> Reaching:
        """Return what reaches the blade at an apparent wind angle [rad]."""
        upwind = np.asarray(to_boat(wind_from(np.array([awa])), heel=heel, trim=0.0)[0])
        points = self.scene.blade.points
        open_to = np.arange(len(points))
        for tracer in self._tracers:
            met = tracer.occluded(points[open_to] - START * upwind, np.broadcast_to(upwind, (len(open_to), 3)))
            open_to = open_to[~met]
        clear = np.zeros(len(points), dtype=bool)
        clear[open_to] = True
        return Reaching(upwind=upwind, clear=clear)


class Blowing:
    """The wind on the page.

    Parameters
    ----------
    viewer : Viewer
    """

    def __init__(self, viewer: Viewer) -> None:
        self.v = viewer
        self._sight: BladeSight | None = None
        self._stop = threading.Event()
        self._flow: Flow | None = None
        self._bare: tuple[Scene, float, str] | None = None

    def triggers(self) -> dict[str, Callable[..., Any]]:
        """Return what the page may call, by name."""
        return {"flow": self.blow}

    def forget(self) -> None:
        """Take the flow of the shape before away."""
        self._flow = None
        self.show_streams()

    def show_streams(self) -> None:
        """Draw the paths of the air at the angle run that is nearest to the dial, where they are asked for."""
        v = self.v
        flow = self._flow if v.state.streams else None
        awa = None if flow is None else nearest(list(flow.outcomes), float(np.radians(v.state.awa)))
        v.stage.streams(() if flow is None or awa is None else paths(flow.outcomes[awa].streamlines))
        with v.state as s:
            if flow is not None and awa is not None:
                s.streams_said = f"Mean flow at {np.degrees(awa):.0f}°, {answers.cells_said([flow.row(awa)])}."
            else:
                s.streams_said = "No run is at hand for this shape: let the air flow; saved runs are used again."
        v.push()

    def dial(self) -> None:
        """Turn the wind to the angle of the dial: arrow, colours of the blade, words."""
        v = self.v
        if v.follower is None:
            return
        scene = v.follower.rig.scene
        if self._sight is None or self._sight.scene is not scene:
            self._sight = BladeSight(scene)
        angle = int(v.state.awa)
        found = self._sight.at(float(np.radians(angle)), heel=v.asked().heel)
        v.stage.wind(found.upwind, scene.blade.points, found.clear)
        side = "ahead" if angle == 0 else "astern" if abs(angle) == 180 else "starboard" if angle > 0 else "port"
        share = 100 * float(np.mean(found.clear))
        with v.state as s:
            s.wind_said = f"{abs(angle)}° {side}: {share:.0f} % of the blade sees the wind (line of sight)."
        v.push()

    def roses(self, rigging: Rigging, rose: Answer, heel: float) -> list[dict[str, Any]]:
        """Return the vane's rose of a set, dashed that of the bare boat."""
        (name, sector), *_ = rose.results.items()
        scene = rigging.rig(name).scene
        said = charts.spans_text(sector.awa, sector.clear_share, under=0.5)
        return [
            {
                "name": "Vane: share of the blade that sees the wind (line of sight)", "key": "vane",
                "points": charts.rose_points(sector.awa, sector.clear_share), "bare": self._bare_rose(rigging, heel),
                "band": "", "rim": [], "said": f"{said}; dashed: bare boat", "water": scene.water_z,
            }
        ]  # fmt: skip

    def _bare_rose(self, rigging: Rigging, heel: float) -> str:
        """Return the bare boat's rose, kept until the boat herself changes."""
        scene = rigging.rig("bare").scene
        if self._bare is not None and self._bare[1] == heel and alike(scene.surfaces, self._bare[0].surfaces):
            return self._bare[2]
        bare = sector_of(scene, heel=heel)
        self._bare = (scene, heel, charts.rose_points(bare.awa, bare.clear_share))
        return self._bare[2]

    def rim(self, rigging: Rigging, name: str, heel: float) -> Callable[[], list[dict[str, str]]]:
        """Return the work that finds the words of the wake estimate round the rose, as arcs of its rim."""

        def work() -> list[dict[str, str]]:
            degrees = np.arange(-180 + RIM_STEP_DEG, 181, RIM_STEP_DEG)
            answer = verbs.vane(rigging, sets=[name], method="wake", awa=list(np.radians(degrees)), heel=heel)
            listed = answer.record()["sets"][0]["angles"]
            return charts.rim([row["awa_deg"] for row in listed], [row["wake_word"] for row in listed], RIM_STEP_DEG)

        return work

    def rim_done(self, outcome: Any) -> None:
        """Put the rim on the vane's rose."""
        if isinstance(outcome, Exception) or not self.v.state.roses:
            return
        with self.v.state as s:
            first = {**s.roses[0], "rim": outcome}
            first["said"] += "; rim: wake estimate, rough, cannot show gains (solid in wake, dashed at its edge)"
            s.roses = [first, *s.roses[1:]]

    def blow(self) -> None:
        """Run the air flow for the set that is up, beside the screen; saved runs are used again. Again: stop."""
        v, rigging, name = self.v, self.v.boat.rigging, self.v.state.set_name
        if v.state.flow_said:
            self._stop.set()
            v.state.flow_said = ""
            v.say("The flow run was stopped.", wrong=True)
            return
        self._stop = stop = threading.Event()
        turn, heel = v.worker.turn, v.asked().heel

        def told(what: str, done: int, total: int) -> None:
            v.post(lambda: None if stop.is_set() else v.state.update({"flow_said": f"{what}: {done} of {total}"}))

        progress = Progress(told, stopping=lambda: stop.is_set() or v.worker.turn != turn)

        def done(outcome: Any) -> None:
            if stop.is_set():
                return
            with v.state as s:
                s.flow_said = ""
            if isinstance(outcome, Exception):
                v.say(str(outcome), wrong=True)
            else:
                self._blown(name, outcome)

        v.state.flow_said = "beginning …"
        v.worker.ask(lambda: flow_of(rigging, name, heel, progress), done, pace="long")

    def saved_done(self, outcome: Any) -> None:
        """Show what saved runs tell of the set that is up; where not all are there, nothing."""
        if outcome is not None and not isinstance(outcome, Exception):
            self._blown(self.v.state.set_name, outcome)

    def _blown(self, name: str, flow: Flow) -> None:
        v = self.v
        self._flow = flow
        with v.state as s:
            v.showing.put(answers.flow_cell(flow.record, name))
            s.roses = [self._with_flow(s.roses[0], flow), *s.roses[1:]] if s.roses else s.roses
        self.show_streams()

    def _with_flow(self, rose: dict[str, Any], flow: Flow) -> dict[str, Any]:
        """Return the vane's rose with the band of the flow's speed ratio, set over bare."""
        listed = [one for one in flow.angles if one["speed_ratio_low"] is not None]
        if len(listed) < 3:
            return rose
        awa = np.radians([one["awa_deg"] for one in listed])
        low, high = (np.clip([one[f"speed_ratio_{end}"] for one in listed], 0.0, 1.15) for end in ("low", "high"))
        said = rose["said"] + f"; band: air speed over the bare boat's, flow in {answers.cells_said(listed)}"
        return {**rose, "band": charts.rose_band(awa, low, high), "said": said}


def flow_of(rigging: Rigging, name: str, heel: float, progress: Progress) -> Flow:
    """Return what the flow in coarse cells tells of a set; saved runs are used again."""
    return _told(verbs.vane(rigging, method="flow", sets=[name], heel=heel, cell=COARSE, progress=progress), name)


def saved_flow(rigging: Rigging, name: str, heel: float) -> Flow | None:
    """Return what saved runs tell of a set, fine ones before coarse; None where not all are there. Nothing is run."""
    kept = (vane_kept(rigging, sets=[name], heel=heel, cell=cell) for cell in (None, COARSE))
    found = next((one for one in kept if one is not None), None)
    return None if found is None else _told(found, name)


def _told(answer: Answer, name: str) -> Flow:
    return Flow(record=answer.record(), outcomes=dict(answer.results[name].outcomes))


def nearest(angles: Sequence[float], awa: float) -> float | None:
    """Return the angle of those run that is nearest to one asked for, round the circle; None where none was run."""
    return min(angles, key=lambda one: abs(np.angle(np.exp(1j * (one - awa)))), default=None)


def paths(lines: Floats) -> tuple[Floats, ...]:
    """Return (lines, steps, 3) paths without what is past the end of each."""
    return tuple(line[np.isfinite(line).all(axis=1)] for line in lines)
