"""Find where eyes are, what a click struck, and whether a file has changed.

Computes: eye points over the places; from where a whole cockpit is seen; the nearest surface a ray meets.
Units: metres, boat frame.
Source: eyes over a seat by canvas/geometry/crew.py; standing eyes 0.936 of stature (Drillis and Contini), from memory.
Limits: eyes look forward and a little down.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from canvas.cloth.rigging import Rigging
from canvas.geometry.crew import sitting_height
from canvas.geometry.rays import tracer_of
from canvas.geometry.scene import Scene
from canvas.geometry.surface import Floats

EYES_UNDER_CROWN, STANDING_EYES = 0.064, 0.936  # of stature
LIFT = 0.02  # headroom is looked for from this much above what was picked [m]
SEATS = ("port seat", "starboard seat", "helm")
QUARTER = np.array([-7.3, -5.2, -3.7])  # the way one looks from the quarter
VIEW_ANGLE_DEG = 25.0  # of the picture's height, there
WIDE = 1.6  # width of a picture over its height, at least; one that is narrower sees as much sideways (drawing.js)
FILLED = 0.9  # of the picture, at most, by what must be seen in it


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sight:
    """An eye and what it looks at [m]."""

    eye: Floats
    at: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Struck:
    """What a click met."""

    name: str
    point: Floats


def names(rigging: Rigging) -> list[str]:
    """Return the places one can look from."""
    known = [place.name for place in rigging.model.places]
    return [place for place in SEATS if place in known]


def place_of(rigging: Rigging, place: str, *, standing: bool) -> Sight | None:
    """Return the eye of someone at a place; None for a name that is no place."""
    found = next((one for one in rigging.model.places if one.name == place), None)
    if found is None or not rigging.model.design.crew:
        return None
    crew = rigging.model.design.crew
    tall = float(np.mean([one.stature for one in crew]))
    above = float(np.mean([sitting_height(one) for one in crew])) - EYES_UNDER_CROWN * tall
    eye = np.array(found.points.mean(axis=0))
    if standing:
        eye[1] = np.clip(eye[1], -0.25, 0.25)  # on the sole
        eye[2] = STANDING_EYES * tall
    else:
        eye[2] += above
    return Sight(eye=eye, at=eye + np.array([-4.0, -0.2 * eye[1], -0.35]))


def quarter(rigging: Rigging) -> Sight:
    """Return from where on the quarter cockpit, blade and the canvas of every set are all in the picture."""
    model = rigging.model
    edges = [edge.line for outline in model.outlines.values() for edge in outline.edges]
    points = np.vstack([model.blade.points, *(place.points for place in model.places), *edges])
    ahead = QUARTER / np.linalg.norm(QUARTER)
    right = np.cross(ahead, [0.0, 0.0, 1.0])
    right /= np.linalg.norm(right)
    up = np.cross(right, ahead)
    steep = FILLED * np.tan(np.radians(VIEW_ANGLE_DEG / 2))
    far = points @ ahead
    across, most_across = _between(points @ right, far, steep * WIDE)
    height, most_height = _between(points @ up, far, steep)
    eye = across * right + height * up + min(most_across, most_height) * ahead
    return Sight(eye=eye, at=eye + ((points.mean(axis=0) - eye) @ ahead) * ahead)


def _between(sideways: Floats, far: Floats, steep: float) -> tuple[float, float]:
    """Return the eye's own place sideways, and how far ahead it may be so that no point is seen steeper than that."""
    one, other = np.max(sideways - steep * far), np.max(-sideways - steep * far)
    return float(one - other) / 2, float(-(one + other) / (2 * steep))


def struck(event: dict[str, Any] | None, scene: Scene | None) -> Struck | None:
    """Return the first surface on the ray of a click that the browser sent, seats and water left out."""
    if not event or scene is None or not event.get("ray"):
        return None
    start, towards = (np.asarray(one, dtype=float) for one in event["ray"][:2])
    ray = towards - start
    best: Struck | None = None
    nearest = np.inf
    for surface in scene.surfaces:
        face, distance = tracer_of(surface).first_hit(start[None], ray[None])
        if face[0] >= 0 and distance[0] < nearest:
            nearest = float(distance[0])
            best = Struck(name=surface.name, point=start + ray / np.linalg.norm(ray) * nearest)
    return best


def room_over(scene: Scene, point: Floats) -> float | None:
    """Return the height of the first canvas, tube or spar over a point [m]; None for open sky."""
    up = np.array([[0.0, 0.0, 1.0]])
    start = np.asarray(point, dtype=float)[None] + LIFT * up
    heights = [
        float(tracer_of(surface).first_hit(start, up)[1][0])
        for surface in scene.surfaces
        if surface.kind not in ("crew", "sail")
    ]
    nearest = min(heights, default=np.inf)
    return nearest + LIFT if np.isfinite(nearest) else None


def points_of(rigging: Rigging, key: str) -> Floats:
    """Return the points of a mark or tube, whether it is shown or not; none for others."""
    kind, _, which = key.partition(":")
    if kind == "marks" and which in rigging.model.marks.names:
        return np.array([rigging.model.marks.at(which)])
    if kind == "tube" and int(which) < len(rigging.model.design.tube):
        return np.array(rigging.model.tubes[rigging.model.design.tube[int(which)].name].line)
    return np.zeros((0, 3))


def stamp(path: Path) -> tuple[int, int] | None:
    """Return when a file was last written and its size; None where it is gone."""
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_mtime_ns, found.st_size
