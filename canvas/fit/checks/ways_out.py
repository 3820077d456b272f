"""Check that the companionway and two ways out of the cockpit let a body in an inflated lifejacket through.

Computes: the width of the widest ball that gets from the cockpit out over each side, aft and forward, and from the
    companionway into the cockpit; which of them are wide enough, and the second widest.
Units: metres.
Source: shoulders and chest at the 95th percentile (bodies.toml), jacket and tether by
    canvas/design/tables/defaults.toml.
Limits: a ball for a body: a gap that is wide but lower than it counts as too narrow, on the safe side. Zips are
    taken as shut where the set has them shut. Cells of 50 mm: a width is known to about half of that.

Definitions
-----------
way : one side of the cockpit's plan, within the coamings, over which a body leaves without crossing another side.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import distance_transform_edt, find_objects, label

from canvas.design.tables import default
from canvas.fit.ask import Ask
from canvas.fit.near import spread
from canvas.fit.people import body_width
from canvas.fit.result import CheckResult, Picture, judged
from canvas.geometry.surface import Bools, Floats, Ints

KIND = "ways out"
CELL = 0.05  # [m]
OUT = 0.75  # how far outside the coamings a body is out [m]
TOP = 1.9  # over the sole; no middle of a body climbs higher [m]
WIDTHS = np.arange(0.20, 0.901, 0.02)  # tried [m]
TORSO = 0.55  # lowest middle of a body over the sole [m]
STANDS = np.array([0.5, 0.15, 0.15])  # half the room in which a body's middle begins [m]
SOURCE = "ANSUR II (2012), 95th percentile of shoulder breadth, or of chest depth with an inflated lifejacket"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Room:
    """Space round the cockpit in cells: corner of the first, clear width in each, where a body starts."""

    corner: Floats
    width: Floats
    start: Bools

    def cells(self, low: Floats, high: Floats) -> Bools:
        """Return which cells have their middles between two corners."""
        axes = [self.corner[k] + CELL * (np.arange(n) + 0.5) for k, n in enumerate(self.width.shape)]
        inside = [(axis >= low[k]) & (axis <= high[k]) for k, axis in enumerate(axes)]
        chosen: Bools = inside[0][:, None, None] & inside[1][None, :, None] & inside[2][None, None, :]
        return chosen


def examine(ask: Ask) -> list[CheckResult]:
    """Return how wide a body may be to get out each way, and the second widest way."""
    room = _room(ask)
    cockpit = ask.design.cockpit
    inside = room.cells(*_plan(ask, 0.0, coamings=False))
    ways = {
        "port": (np.array([0.0, -np.inf]), np.array([cockpit.length, 0.0])),
        "starboard": (np.array([0.0, 0.0]), np.array([cockpit.length, np.inf])),
        "aft": (np.array([cockpit.length, -np.inf]), np.array([np.inf, np.inf])),
        "forward": (np.array([-np.inf, -np.inf]), np.array([0.0, np.inf])),
    }
    widths = {}
    for name, (low, high) in ways.items():
        beyond = room.cells(np.append(low, -np.inf), np.append(high, np.inf))
        goal = beyond & ~room.cells(*_plan(ask, OUT - 2 * CELL))
        widths[name] = _widest(room, inside | beyond, room.start, goal)
    order = sorted(widths, key=lambda name: -widths[name])
    said = ", ".join(f"{name} {widths[name]:.2f} m" for name in order)
    return [
        judged(
            "ways out, the second widest", kind=KIND, value=widths[order[1]], unit="m", limit=body_width(),
            sd=CELL / np.sqrt(12), note=f"Widest body by side: {said}. {_tether(ask)}", source=SOURCE,
            picture=Picture(points=_start(ask)),
        ),
        _companionway(ask, room, inside),
    ]  # fmt: skip


def _companionway(ask: Ask, room: _Room, inside: Bools) -> CheckResult:
    way = ask.design.cabin.companionway
    low = np.array([-0.10, way.offset - way.width / 2, way.sill])
    high = np.array([0.10, way.offset + way.width / 2, way.top])
    hatch = np.array([low[0] - 0.3, low[1], low[2]]), np.array([high[0], high[1], high[2] + 0.3])
    width = _widest(room, inside | room.cells(*hatch), room.start, room.cells(low, high))
    corners = np.array([(0.0, y, z) for y, z in ((low[1], low[2]), (high[1], low[2]), (high[1], high[2]),
                                                 (low[1], high[2]))])  # fmt: skip
    return judged(
        "companionway clear", kind=KIND, value=width, unit="m",
        limit=min(body_width(), way.width - CELL, way.top - way.sill - CELL),
        sd=CELL / np.sqrt(12), note="From the opening into the cockpit; not asked wider than the opening itself.",
        source=SOURCE, picture=Picture(points=corners.mean(axis=0), regions=(corners,)),
    )  # fmt: skip


def _plan(ask: Ask, grown: float, *, coamings: bool = True) -> tuple[Floats, Floats]:
    """Return two corners of the cockpit, with its coamings or without, grown by a margin, of any height."""
    cockpit = ask.design.cockpit
    wide = 1.0 if coamings else 0.0
    port, starboard = (side.seat_outer + wide * side.coaming_width for side in (cockpit.port, cockpit.starboard))
    return (
        np.array([-grown, -port - grown, -np.inf]),
        np.array([cockpit.length + grown, starboard + grown, np.inf]),
    )


def _start(ask: Ask) -> Floats:
    """Return the middle of a body that sits or crouches in the middle of the cockpit."""
    bridge = ask.design.cabin.bridge_deck
    start = bridge.length if bridge is not None else 0.0
    return np.array([(start + ask.design.cockpit.length) / 2, 0.0, TORSO + STANDS[2]])


def _room(ask: Ask) -> _Room:
    low, high = _plan(ask, OUT)
    low[2], high[2] = 0.0, TOP + 0.6
    shape = np.ceil((high - low) / CELL).astype(int)
    surfaces = [s for s in (*ask.scene.of_kind("boat", "solid", "tube", "cloth"),) if not _is_rigging(ask, s.name)]
    corners = np.vstack([surface.vertices[surface.faces] for surface in surfaces])
    near = (corners.max(axis=1) >= low).all(axis=1) & (corners.min(axis=1) <= high).all(axis=1)
    points, _ = spread(corners[near])
    cell: Ints = np.floor((points - low) / CELL).astype(np.int64)
    kept = ((cell >= 0) & (cell < shape)).all(axis=1)
    points, cell = points[kept], cell[kept]
    taken = np.zeros(shape, dtype=bool)
    taken[tuple(cell.T)] = True
    first, last = _extent(points, cell, tuple(int(n) for n in shape))
    nearest = distance_transform_edt(~taken, return_distances=False, return_indices=True)
    height = low[2] + CELL * (np.arange(shape[2]) + 0.5)
    free = ~taken & (height >= TORSO) & (height <= TOP)
    middles = low + CELL * (np.argwhere(free) + 0.5)
    there = tuple(nearest[:, free])
    width = np.zeros(shape)
    width[free] = 2 * np.linalg.norm(middles - np.clip(middles, first[there], last[there]), axis=1)
    room = _Room(corner=low, width=width, start=np.zeros(shape, dtype=bool))
    middle = _start(ask)
    around = room.cells(middle - STANDS, middle + STANDS)
    return _Room(corner=low, width=width, start=around)


def _extent(points: Floats, cell: Ints, shape: tuple[int, ...]) -> tuple[Floats, Floats]:
    """Return the corners of the box that the surfaces fill in each cell they pass, (x, y, z, 3)."""
    flat = np.ravel_multi_index(tuple(cell.T), shape)
    order = np.argsort(flat, kind="stable")
    starts = np.flatnonzero(np.diff(flat[order], prepend=-1))
    cells = flat[order][starts]
    first, last = np.zeros((np.prod(shape), 3)), np.zeros((np.prod(shape), 3))
    first[cells] = np.minimum.reduceat(points[order], starts)
    last[cells] = np.maximum.reduceat(points[order], starts)
    return first.reshape(*shape, 3), last.reshape(*shape, 3)


def _is_rigging(ask: Ask, name: str) -> bool:
    """Return whether a surface is a wire or the steering, which a body passes beside."""
    tube = ask.rigging.model.tubes.get(name)
    return (tube is not None and tube.kind == "wire") or name in ("boom", "mizzen boom", "tiller")


def _widest(room: _Room, allowed: Bools, start: Bools, goal: Bools) -> float:
    """Return the width of the widest ball that gets from anywhere in `start` to anywhere in `goal`; 0 if none does."""
    boxes = find_objects((allowed & (room.width >= WIDTHS[0])).astype(np.int8))
    if not boxes:
        return 0.0
    box = boxes[0]
    low, high = -1, len(WIDTHS) - 1
    while low < high:
        middle = (low + high + 1) // 2
        parts, count = label(allowed[box] & (room.width[box] >= WIDTHS[middle]))
        reached = np.zeros(count + 1, dtype=bool)
        reached[parts[start[box]]] = True
        reached[0] = False  # where no ball of that width fits
        if reached[parts[goal[box]]].any():
            low = middle
        else:
            high = middle - 1
    return float(WIDTHS[low]) if low >= 0 else 0.0


def _tether(ask: Ask) -> str:
    points = [fitting for fitting in ask.design.fitting if fitting.kind == "harness point"]
    if not points:
        return "No harness point is declared."
    at = ask.rigging.model.at
    low, high = (corner[:2] for corner in _plan(ask, 0.0))
    length = default("tether_length")
    reach = []
    for fitting in points:
        x, y, _ = at(fitting.at)
        away = min(y - low[1], high[1] - y, high[0] - x) if low[0] <= x <= high[0] else 0.0
        reach.append(f"{fitting.name} {'reaches' if away < length else 'does not reach'} a side")
    return f"A tether of {length:.1f} m from {'; '.join(reach)}."
