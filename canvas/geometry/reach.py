"""Say which directions from some points could meet a mesh at all, before any ray is traced.

Computes: neighbouring points in blocks; for each block and direction, whether a line from one of its points could pass
    through one of the boxes that pieces of the mesh fill; the rays that are left.
Units: metres, boat frame.
Source: separating axes: a line along d misses a box if it passes it by as seen along d x one of the box's own axes.
Limits: a direction that is kept may still miss the mesh; none that meets it is left out. Halving an edge moves it by
    the rounding of single precision: of ten million rays one may turn, where it grazes an edge.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from canvas.geometry.surface import Bools, Floats, Ints
from canvas.jobs.compiled import compiled

Floats32 = npt.NDArray[np.float32]

BLOCK = 32  # neighbouring points taken together
PIECES = 16  # boxes that a mesh is put into, each round a part of its faces
LONG = 1.0  # edges longer than this are halved: boxes along the axes round long slanting triangles hold mostly air [m]
MARGIN = 1e-4  # [m], above the rounding of single precision some metres from the origin


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Boxes:
    """Boxes that hold the pieces of a mesh.

    Attributes
    ----------
    axes : (k, 3, 3) ndarray
        Each box's own axes, as rows.
    low, high : (k, 3) ndarray
        How far each goes along its axes [m].
    """

    axes: Floats
    low: Floats
    high: Floats


def boxes_of(triangles: Floats) -> Boxes:
    """Return boxes round the pieces of a mesh: halved across the longest side of its faces' middles, again and again.

    Parameters
    ----------
    triangles : (m, 3, 3) ndarray
        Corners of the faces [m].
    """
    axes, low, high = [], [], []
    for piece in halved(triangles.mean(axis=1), most=max(1, -(-len(triangles) // PIECES))):
        corners = triangles[piece].reshape(-1, 3)
        own = np.linalg.eigh(np.cov(corners.T))[1].T
        inside = corners @ own.T
        axes.append(own)
        low.append(inside.min(axis=0))
        high.append(inside.max(axis=0))
    return Boxes(axes=np.array(axes), low=np.array(low), high=np.array(high))


def halved(points: Floats, *, most: int = BLOCK) -> list[Ints]:
    """Return the rows of points that lie close together, at most so many at a time: halved across their longest side.

    Parameters
    ----------
    points : (n, 3) ndarray
    most : int
    """
    blocks: list[Ints] = []
    waiting = [np.arange(len(points))]
    while waiting:
        rows = waiting.pop()
        if len(rows) <= most:
            blocks.append(rows)
            continue
        side = int(np.argmax(np.ptp(points[rows], axis=0)))
        order = rows[np.argsort(points[rows, side], kind="stable")]
        waiting += [order[: len(order) // 2], order[len(order) // 2 :]]
    return blocks


def short_edged(triangles: Floats) -> Floats:
    """Return the triangles with edges longer than `LONG` halved; those on both sides of an edge halve it alike.

    Parameters
    ----------
    triangles : (m, 3, 3) ndarray
        Corners of the faces [m].
    """
    found = []
    while len(triangles):
        length = np.linalg.norm(triangles[:, [1, 2, 0]] - triangles, axis=2)
        first = np.argmax(length, axis=1)
        long = length.max(axis=1) > LONG
        found.append(triangles[~long])
        turn = (first[long, None] + np.arange(3)) % 3  # the longest edge first
        a, b, c = np.take_along_axis(triangles[long], turn[:, :, None], axis=1).transpose(1, 0, 2)
        middle = (a + b) / 2
        triangles = np.concatenate([np.stack([a, middle, c], axis=1), np.stack([middle, b, c], axis=1)])
    return np.concatenate(found)


def may_meet(boxes: Boxes, points: Floats, blocks: list[Ints], directions: Floats) -> Bools:
    """Return which directions from each block of points could meet what is in the boxes, (blocks, d).

    Parameters
    ----------
    boxes : Boxes
    points : (n, 3) ndarray
        [m]
    blocks : list of ndarray of int
        Rows of the points.
    directions : (d, 3) ndarray
    """
    inside = np.matmul(points[np.concatenate(blocks)], boxes.axes.transpose(0, 2, 1))
    starts = np.cumsum([0] + [len(rows) for rows in blocks[:-1]])
    first, last = (one.reduceat(inside, starts, axis=1) for one in (np.minimum, np.maximum))
    low, high = boxes.low[:, None], boxes.high[:, None]
    turned = np.ascontiguousarray(np.matmul(boxes.axes, directions.T))
    keep = np.zeros((len(blocks), len(directions)), dtype=np.bool_)
    _through_boxes(turned, (low + high - first - last) / 2, (high - low + last - first) / 2, keep)
    return keep


@compiled
def _through_boxes(directions: Floats, ahead: Floats, half: Floats, keep: Bools) -> None:
    """Mark in `keep` the directions along which any box `ahead`, of half its size and the block's, could be met."""
    for block in range(len(keep)):
        for box in range(len(directions)):
            u, v, w = ahead[box, block]
            p, q, r = half[box, block]
            for k in range(keep.shape[1]):
                x, y, z = directions[box, 0, k], directions[box, 1, k], directions[box, 2, k]
                a, b, c = abs(x), abs(y), abs(z)
                keep[block, k] |= (
                    (abs(z * v - y * w) <= c * q + b * r + MARGIN)
                    & (abs(x * w - z * u) <= a * r + c * p + MARGIN)
                    & (abs(y * u - x * v) <= b * p + a * q + MARGIN)
                    & (x * u + y * v + z * w >= -(a * p + b * q + c * r + MARGIN))
                )


@compiled
def rays_asked(points: Floats32, directions: Floats32, ask: Bools, worth: Ints) -> tuple[Floats32, Floats32, Ints]:
    """Return starts and directions of the rays asked that are worth tracing, and their places in the flat (n, d).

    Parameters
    ----------
    points : (n, 3) ndarray of float32
    directions : (d, 3) ndarray of float32
    ask : (n, d) ndarray of bool
    worth : (w,) ndarray of int
        Directions worth tracing.
    """
    most = len(points) * len(worth)
    starts, towards = np.empty((most, 3), dtype=np.float32), np.empty((most, 3), dtype=np.float32)
    flat = np.empty(most, dtype=np.int64)
    n = 0
    for row in range(len(points)):
        for k in worth:
            if ask[row, k]:
                for axis in range(3):
                    starts[n, axis], towards[n, axis] = points[row, axis], directions[k, axis]
                flat[n] = row * len(directions) + k
                n += 1
    return starts[:n], towards[:n], flat[:n]
