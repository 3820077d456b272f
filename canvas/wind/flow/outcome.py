"""Read from a mean flow what else it tells: air speed over places, pressure on panels, slices, streamlines, drift.

Computes: interpolation in the finest grid that holds a point; net pressure coefficient of each panel; speed on planes
through the blade; paths of mean flow.
Units: metres, boat frame; speeds over the undisturbed wind at the blade; pressure over its dynamic pressure.
Source: none; paths by the midpoint rule.
Limits: mean flow only: smoke also spreads by turbulence, so that a path that misses the seats clears nothing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.ndimage import map_coordinates
from scipy.spatial import cKDTree

from canvas.geometry.scene import Scene
from canvas.wind.flow.domain import Pose
from canvas.wind.flow.march import Record

Floats = npt.NDArray[np.float64]
NEAR = 0.35  # a path that comes this near a seat point counts as reaching it [m]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Slice:
    """Air speed on a plane.

    Attributes
    ----------
    points : (m, n, 3) ndarray
        Boat frame [m].
    speed : (m, n) ndarray
        Mean speed; not a number outside the grids.
    """

    points: Floats
    speed: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outcome:
    """What the mean flow of one set at one angle tells.

    Attributes
    ----------
    places : tuple of str
    place_speed : (places,) ndarray
        Mean air speed over each; not a number where the cells are too coarse to say.
    panels : tuple of str
    panel_pressure : (panels,) ndarray
        Net force along the panel's mean normal over its area, as a pressure coefficient.
    outlets : tuple of str
    drift : (outlets, places) ndarray of bool
        Whether mean flow from an outlet reaches a place; a place it does not reach is not cleared by that.
    along, across : Slice
        Through the blade, with the wind and across it.
    streamlines : (lines, steps, 3) ndarray
        Boat frame [m]; not a number past the end of each.
    """

    places: tuple[str, ...]
    place_speed: Floats
    panels: tuple[str, ...]
    panel_pressure: Floats
    outlets: tuple[str, ...]
    drift: npt.NDArray[np.bool_]
    along: Slice
    across: Slice
    streamlines: Floats


class MeanFlow:
    """Mean flow that can be read anywhere in the boat frame.

    Parameters
    ----------
    record : Record
        Run with its means kept.
    pose : Pose
    """

    def __init__(self, record: Record, pose: Pose) -> None:
        if not record.fields:
            raise ValueError("the run kept no means")
        self._fields, self.pose = record.fields, pose

    def _read(self, points: Floats, *, what: str) -> Floats:
        place = self.pose.place(points)
        found = np.full((len(points), 3 if what == "velocity" else 1), np.nan)
        for field in self._fields:
            index = ((place - field.origin) / field.cell).T[::-1]
            values = field.velocity if what == "velocity" else field.speed[None]
            low = (index[0] >= 0.5) & (index[0] < 1.0)
            index[0, low] = 1.0  # between the sea and the middles of the lowest cells
            last = np.array(field.speed.shape)[:, None] - 1
            held = ((index >= 0) & (index <= last)).all(axis=0)
            for column, one in enumerate(values):
                read = map_coordinates(one, index[:, held], order=1)
                found[held, column] = np.where(np.isnan(read), found[held, column], read)
        return found

    def speed(self, points: Floats) -> Floats:
        """Return mean air speed at (n, 3) points."""
        return np.asarray(self._read(points, what="speed")[:, 0])

    def velocity(self, points: Floats) -> Floats:
        """Return mean velocity at (n, 3) points, boat frame."""
        return self.pose.boat(self._read(points, what="velocity"))

    def paths(self, seeds: Floats, *, steps: int = 400, step: float = 0.05) -> Floats:
        """Return the paths of mean flow from (n, 3) seeds, (n, steps + 1, 3)."""
        out = np.full((len(seeds), steps + 1, 3), np.nan)
        out[:, 0] = seeds
        for number in range(steps):
            here = out[:, number]
            half = here + 0.5 * step * _unit(self.velocity(here))
            out[:, number + 1] = here + step * _unit(self.velocity(half))
        return out


def _unit(vectors: Floats) -> Floats:
    size = np.linalg.norm(vectors, axis=1, keepdims=True)
    return np.asarray(np.where(size > 1e-3, vectors / np.maximum(size, 1e-9), np.nan))


def panel_pressure(scene: Scene, record: Record) -> tuple[tuple[str, ...], Floats]:
    """Return the panels of a scene and the net pressure coefficient on each."""
    force = dict(zip(record.surfaces, record.force, strict=True))
    panels = tuple(dict.fromkeys(s.panel for s in scene.surfaces if s.panel is not None))
    found = []
    for panel in panels:
        total, normal, area = np.zeros(3), np.zeros(3), 0.0
        for surface in scene.surfaces:
            if surface.panel == panel and surface.name in force:
                corners = surface.vertices[surface.faces]
                part = 0.5 * np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
                total += force[surface.name]
                normal += part.sum(axis=0)
                area += float(np.linalg.norm(part, axis=1).sum())
        found.append(float(total @ normal) / max(float(np.linalg.norm(normal)) * area, 1e-9))
    return panels, np.array(found)


def _plane(flow: MeanFlow, middle: Floats, first: Floats, *, wide: float, spacing: float = 0.05) -> Slice:
    a = np.arange(-wide, wide + spacing / 2, spacing)
    b = np.arange(-1.6, 1.6 + spacing / 2, spacing)
    points = middle + a[None, :, None] * first + b[:, None, None] * np.array([0.0, 0.0, 1.0])
    return Slice(points=points, speed=flow.speed(points.reshape(-1, 3)).reshape(points.shape[:2]))


def outcome(
    scene: Scene,
    record: Record,
    pose: Pose,
    *,
    seeds: Floats | None = None,
    outlets: Mapping[str, npt.ArrayLike] | None = None,
) -> Outcome:
    """Return what the mean flow tells.

    Parameters
    ----------
    scene : Scene
    record : Record
        Run with its means kept.
    pose : Pose
    seeds : (n, 3) ndarray, optional
        Where streamlines start [m]; a fan ahead of the cockpit and blade where absent.
    outlets : mapping of str to (3,) array_like, optional
        Exhaust and heater outlets [m].
    """
    flow = MeanFlow(record, pose)
    middle = scene.blade.points.mean(axis=0)
    wind = pose.boat(np.array([[1.0, 0.0, 0.0]]))[0]
    side = pose.boat(np.array([[0.0, 1.0, 0.0]]))[0]
    if seeds is None:
        fan = np.stack(np.meshgrid(np.linspace(-1.2, 1.2, 7), np.linspace(-1.0, 0.8, 5)), axis=-1).reshape(-1, 2)
        seeds = middle - 4.0 * wind + fan[:, :1] * side + fan[:, 1:] * np.array([0.0, 0.0, 1.0])
    panels, pressure = panel_pressure(scene, record)
    names = tuple(place.name for place in scene.places)
    drift = np.zeros((len(outlets or {}), len(names)), dtype=bool)
    for row, spot in enumerate((outlets or {}).values()):
        drift[row] = np.isin(names, reached(flow, spot, scene))
    return Outcome(
        places=names,
        outlets=tuple(outlets or {}),
        drift=drift,
        place_speed=np.array([_mean(flow.speed(place.points)) for place in scene.places]),
        panels=panels,
        panel_pressure=pressure,
        along=_plane(flow, middle, wind, wide=4.0),
        across=_plane(flow, middle, side, wide=2.5),
        streamlines=flow.paths(seeds),
    )


def _mean(values: Floats) -> float:
    """Return the mean of the values that are known; not a number where none is."""
    known = values[np.isfinite(values)]
    return float(known.mean()) if len(known) else float("nan")


def reached(flow: MeanFlow, outlet: npt.ArrayLike, scene: Scene) -> tuple[str, ...]:
    """Return the places that mean flow from an outlet reaches; an empty answer clears nothing.

    Parameters
    ----------
    flow : MeanFlow
    outlet : (3,) array_like
        Exhaust or heater outlet [m].
    scene : Scene
    """
    start = np.asarray(outlet, dtype=float)
    cloud = start + 0.1 * np.array([[0, 0, 0], [0, 1, 0], [0, -1, 0], [0, 0, 1], [0, 0, -1], [1, 0, 0]], dtype=float)
    path = flow.paths(cloud).reshape(-1, 3)
    path = path[np.isfinite(path).all(axis=1)]
    return tuple(place.name for place in scene.places if _touches(path, place.points))


def _touches(path: Floats, points: Sequence[Floats] | Floats) -> bool:
    if not len(path):
        return False
    nearest = np.asarray(cKDTree(path).query(np.asarray(points))[0])
    return bool((nearest < NEAR).any())


def packed(one: Outcome) -> dict[str, Any]:
    """Return an outcome as plain arrays, to be saved."""
    held: dict[str, Any] = {name: np.array(getattr(one, name), dtype=str) for name in ("places", "panels", "outlets")}
    held |= {name: getattr(one, name) for name in ("place_speed", "panel_pressure", "drift", "streamlines")}
    for name in ("along", "across"):
        part: Slice = getattr(one, name)
        held |= {f"{name}_points": part.points, f"{name}_speed": part.speed}
    return held


def unpacked(held: Mapping[str, Any]) -> Outcome:
    """Return the outcome that was saved as plain arrays."""
    along, across = (Slice(points=held[f"{n}_points"], speed=held[f"{n}_speed"]) for n in ("along", "across"))
    places, panels, outlets = (tuple(str(name) for name in held[key]) for key in ("places", "panels", "outlets"))
    return Outcome(
        places=places, panels=panels, outlets=outlets, place_speed=held["place_speed"], drift=held["drift"],
        panel_pressure=held["panel_pressure"], along=along, across=across, streamlines=held["streamlines"],
    )  # fmt: skip
