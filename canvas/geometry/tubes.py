"""Build hoops, rails, struts and wires: their middle lines, and thin closed meshes of them.

Computes: the line of a bent hoop from rake, crown, top width and corner radius; a smooth line through measured points.
Units: metres, radians, boat frame.
Source: geometry; smooth lines by modified Akima interpolation (scipy), which hardly overshoots.
Limits: a hoop lies in one plane; corners are rounded to the bending radius by opening its outline with a disk.

Definitions
-----------
foot : where a hoop stands; its line starts at the port foot.
rake : the hoop's plane leans aft of vertical by this.
crown : greatest height above the line of the feet, in the hoop's plane.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np
from scipy.interpolate import Akima1DInterpolator
from shapely import LineString, Polygon, box

from canvas.design.schema.rig import Tube
from canvas.design.tables import default
from canvas.geometry.marks import Locate
from canvas.geometry.surface import Floats, Surface, locked

SPACING = 0.02  # between points of a line [m]; a 150 mm bend then stands within 0.4 mm of its chords
APART = 0.001  # least distance between two points that a tube is given by [m]
SIDES = 8  # of the mesh's section; a 25 mm tube's flats lie within 1 mm of its round


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TubeLine:
    """A tube by its middle line.

    Attributes
    ----------
    name : str
    kind : str
        ``hoop``, ``rail``, ``strut`` or ``wire``.
    line : (k, 3) ndarray
        Middle line from end to end; a hoop's from its port foot [m].
    diameter, wall : float
        [m]
    play : float
        How far the top can be moved by hand either way [m].
    """

    name: str
    kind: Literal["hoop", "rail", "strut", "wire"]
    line: Floats
    diameter: float
    wall: float
    play: float

    def __post_init__(self) -> None:
        object.__setattr__(self, "line", locked(self.line))

    @property
    def length(self) -> float:
        """Length of the middle line [m]."""
        return float(np.linalg.norm(np.diff(self.line, axis=0), axis=1).sum())


def tube_line(tube: Tube, *, at: Locate) -> TubeLine:
    """Return the middle line of a tube.

    Parameters
    ----------
    tube : Tube
        As in the design.
    at : callable
        From spot to point.

    Raises
    ------
    ValueError
        When the shape cannot be bent, such as a corner radius too large for it, or both feet in one place. The text
        says what would do.
    """
    spots = tube.through if tube.through is not None else [spot for spot in (tube.start, tube.end) if spot is not None]
    points = np.array([at(spot) for spot in spots])
    if np.linalg.norm(np.diff(points, axis=0), axis=1).min(initial=np.inf) < APART:
        what = "its measured points" if tube.through is not None else "its ends"
        raise ValueError(f"Set {what} apart: two of them are the same place.")
    if tube.through is not None and tube.kind != "wire" and len(points) > 2:
        line = smooth_line(points)
    elif tube.through is None and tube.kind == "hoop":
        line = _hoop(tube, port=points[0], starboard=points[1])
    else:
        line = points
    diameter = tube.diameter or default("wire_diameter" if tube.kind == "wire" else "tube_diameter")
    wall = diameter / 2 if tube.kind == "wire" else tube.wall or default("tube_wall")
    return TubeLine(name=tube.name, kind=tube.kind, line=line, diameter=diameter, wall=wall, play=tube.play)


def smooth_line(points: Floats) -> Floats:
    """Return a smooth line through points, by chord length.

    Parameters
    ----------
    points : (k, 3) ndarray
        k >= 3 [m].

    Returns
    -------
    (m, 3) ndarray
        With every given point among them [m].
    """
    steps = np.linalg.norm(np.diff(points, axis=0), axis=1)
    along = np.concatenate([[0.0], np.cumsum(steps)])
    counts = np.maximum(1, np.ceil(steps / SPACING).astype(int))
    spots = [np.linspace(a, b, n, endpoint=False) for a, b, n in zip(along[:-1], along[1:], counts, strict=True)]
    where = np.concatenate([*spots, [along[-1]]])
    line: Floats = Akima1DInterpolator(along, points, method="makima")(where)
    line[np.concatenate([[0], np.cumsum(counts)])] = points
    return line


def tube_surface(tube: TubeLine) -> Surface:
    """Return the tube as a closed mesh with an eight-sided section of equal area, its ends capped."""
    return _swept(tube.name, tube.diameter, tube.line.tobytes())


@lru_cache(maxsize=256)  # most tubes are as they were before a change of the design
def _swept(name: str, diameter: float, line: bytes) -> Surface:
    return sweep(np.frombuffer(line).reshape(-1, 3), name=name, diameter=diameter)


def sweep(line: Floats, *, name: str, diameter: float) -> Surface:
    """Return a closed round bar along a polyline.

    Parameters
    ----------
    line : (k, 3) ndarray
        No two points in a row alike [m].
    name : str
        Of the surface.
    diameter : float
        [m]
    """
    line = _thinned(line)
    chords = np.diff(line, axis=0)
    chords /= np.linalg.norm(chords, axis=1, keepdims=True)
    tangents = np.vstack([chords[:1], chords[:-1] + chords[1:], chords[-1:]])
    tangents /= np.linalg.norm(tangents, axis=1, keepdims=True)
    start = np.cross(tangents[0], np.eye(3)[np.argmin(np.abs(tangents[0]))])
    across = [start / np.linalg.norm(start)]
    for tangent in tangents[1:]:  # carried along without twist
        carried = across[-1] - tangent * (tangent @ across[-1])
        across.append(carried / np.linalg.norm(carried))
    first = np.array(across)
    second = np.cross(tangents, first)
    turn = 2 * np.pi * np.arange(SIDES) / SIDES
    radius = diameter / 2 * np.sqrt(2 * np.pi / (SIDES * np.sin(2 * np.pi / SIDES)))  # equal area
    ring = np.cos(turn)[:, None, None] * first + np.sin(turn)[:, None, None] * second
    vertices = (line + radius * ring).transpose(1, 0, 2).reshape(-1, 3)
    vertices = np.vstack([vertices, line[[0, -1]]])
    here = (np.arange(len(line) - 1)[:, None] * SIDES + np.arange(SIDES)).ravel()
    beside = (np.arange(len(line) - 1)[:, None] * SIDES + (np.arange(SIDES) + 1) % SIDES).ravel()
    walls = np.vstack([np.c_[here, beside, beside + SIDES], np.c_[here, beside + SIDES, here + SIDES]])
    rim, following = np.arange(SIDES), (np.arange(SIDES) + 1) % SIDES
    last = (len(line) - 1) * SIDES
    caps = np.vstack(
        [
            np.c_[np.full(SIDES, len(vertices) - 2), following, rim],
            np.c_[np.full(SIDES, len(vertices) - 1), last + rim, last + following],
        ]
    )
    return Surface(name=name, kind="tube", vertices=vertices, faces=np.vstack([walls, caps]), closed=True)


def _thinned(line: Floats, *, tolerance: float = 0.001) -> Floats:
    """Return the line with points left out that lie within `tolerance` of the run without them (Douglas-Peucker)."""
    kept = np.zeros(len(line), dtype=bool)
    kept[[0, -1]] = True
    runs = [(0, len(line) - 1)]
    while runs:
        first, last = runs.pop()
        chord = line[last] - line[first]
        between = line[first + 1 : last] - line[first]
        if len(between) == 0:
            continue
        share = np.clip(between @ chord / max(float(chord @ chord), 1e-18), 0, 1)
        off = np.linalg.norm(between - share[:, None] * chord, axis=1)
        worst = int(np.argmax(off))
        if off[worst] > tolerance:
            middle = first + 1 + worst
            kept[middle] = True
            runs += [(first, middle), (middle, last)]
    return line[kept]


def _hoop(tube: Tube, *, port: Floats, starboard: Floats) -> Floats:
    span = float(np.linalg.norm(starboard - port))
    crown = float(tube.crown or 0.0)
    profile = _profile(
        span=span,
        crown=crown,
        top=tube.top_width or span,
        camber=tube.camber,
        radius=tube.corner_radius,
    )
    athwart = (starboard - port) / span
    up = np.array([0.0, 0.0, 1.0]) - athwart[2] * athwart
    up /= np.linalg.norm(up)
    aft = np.cross(athwart, up)  # starboard x up = aft in these axes
    leaning = np.cos(tube.rake) * up + np.sin(tube.rake) * aft
    line: Floats = (port + starboard) / 2 + profile[:, :1] * athwart + profile[:, 1:] * leaning
    line[0], line[-1] = port, starboard
    return line


def _profile(*, span: float, crown: float, top: float, camber: float, radius: float) -> Floats:
    """Return a hoop in its own plane, (k, 2): across and up from the middle of its feet [m]."""
    shoulder = crown - camber
    if shoulder <= 0:
        raise ValueError(f"Make the crown higher than the camber of {camber:.3f} m.")
    across = np.linspace(-top / 2, top / 2, 41)
    arch = np.c_[across, shoulder + camber * (1 - (2 * across / top) ** 2)]
    lean = (span - top) / 2 / shoulder  # the legs' inward lean, carried below the feet so that only corners are rounded
    deep = 4 * radius
    below = np.array([[-span / 2 - lean * deep, -deep], [span / 2 + lean * deep, -deep]])
    raw = Polygon(np.vstack([below[:1], arch, below[1:]]))
    rounded = raw.buffer(-radius, quad_segs=24).buffer(radius, quad_segs=24)
    if rounded.is_empty or not isinstance(rounded, Polygon) or rounded.bounds[3] < crown - 0.25 * radius:
        raise ValueError(f"Make the corner radius smaller than {radius:.3f} m, or the hoop wider or higher.")
    wide = span + top + 4 * abs(lean) * deep
    upper = rounded.exterior.intersection(box(-wide, 0.0, wide, crown + 1.0))
    line = upper if isinstance(upper, LineString) else _joined(upper.geoms)
    count = max(8, int(np.ceil(line.length / SPACING)))
    points = np.array([line.interpolate(share, normalized=True).coords[0] for share in np.linspace(0, 1, count + 1)])
    return points if points[0, 0] < 0 else points[::-1]


def _joined(parts: object) -> LineString:
    """Return the pieces of a ring that was cut at its own start as one line."""
    from shapely.ops import linemerge

    merged = linemerge(list(parts))  # type: ignore[call-overload]
    if not isinstance(merged, LineString):
        raise ValueError("Make the hoop's corner radius smaller.")
    return merged
