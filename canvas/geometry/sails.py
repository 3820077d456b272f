"""Build sails as sheeted: open curved surfaces between three or four corners.

Computes: a surface whose edges from tack to head and from clew to head are straight and whose belly hangs to leeward.
Units: metres, boat frame.
Source: section of two parabolas that meet at the draught, level there, 42 % from the luff; common practice, no
    source.
Limits: one camber at every height; no roach, no twist beyond the corners'; a sail that is down leaves no surface;
    sailcloth lets nothing through.

Definitions
-----------
tack, clew, head : lower forward, lower aft and upper corner. Corners may be given round the sail either way, from any
    one.
camber : depth of the belly, as share of the chord from luff to leech.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from canvas.design.names import NameProblem
from canvas.design.schema.boat import Sail
from canvas.design.schema.design import Design
from canvas.geometry.marks import Locate
from canvas.geometry.surface import Floats, Ints, Surface

DRAUGHT = 0.42  # of the chord
ACROSS, ALONG = 12, 16  # cells along a chord, and from foot to head
SMALLEST = 0.05  # area of a sail [m2]
MOST_CAMBER = 0.35


def sail_surfaces(design: Design, *, set_name: str, at: Locate) -> tuple[Surface, ...]:
    """Return the sails that are sheeted in a set, in the order of the file.

    Parameters
    ----------
    design : Design
    set_name : str
        A sail without `sets` is there in every set used under way.
    at : callable
        From spot to point.
    """
    under_way = "under way" in design.set_named(set_name).used
    return tuple(
        sail_surface(sail, at=at)
        for sail in design.sail
        if sail.state == "sheeted" and (under_way if sail.sets is None else set_name in sail.sets)
    )


def sail_surface(sail: Sail, *, at: Locate) -> Surface:
    """Return one sail as an open sheet."""
    tack, clew, leech_top, luff_top = sail_corners(np.array([at(spot) for spot in sail.corners]))
    across, along = np.linspace(0, 1, ACROSS + 1), np.linspace(0, 1, ALONG + 1)
    luff = tack + along[:, None] * (luff_top - tack)
    leech = clew + along[:, None] * (leech_top - clew)
    chord = leech - luff
    deep = np.where(across < DRAUGHT, _section(across / DRAUGHT), _section((1 - across) / (1 - DRAUGHT)))
    belly = sail.camber * np.linalg.norm(chord, axis=1)
    leeward = _leeward(tack, clew, luff_top, to_starboard=sail.to_leeward == "starboard")
    grid = luff[:, None] + across[None, :, None] * chord[:, None] + (belly[:, None] * deep)[:, :, None] * leeward
    vertices, faces = _sheet(grid)
    return Surface(name=sail.name, kind="sail", vertices=vertices, faces=faces, closed=False)


def sail_corners(corners: Floats) -> Floats:
    """Return tack, clew, upper end of the leech, upper end of the luff; the last two alike for three corners.

    Parameters
    ----------
    corners : (k, 3) ndarray
        3 or 4 round the sail, either way [m].

    Returns
    -------
    (4, 3) ndarray
    """
    count = len(corners)
    low = np.argsort(corners[:, 2], kind="stable")[:2]
    tack = int(low[np.argmin(corners[low, 0])])
    before, after = corners[(tack - 1) % count], corners[(tack + 1) % count]
    step = 1 if after[2] <= before[2] else -1  # the clew comes next, the luff's upper end last
    ring = corners[(tack + step * np.arange(count)) % count]
    return ring if count == 4 else ring[[0, 1, 2, 2]]


def _section(share: Floats) -> Floats:
    return share * (2 - share)


def _leeward(tack: Floats, clew: Floats, head: Floats, *, to_starboard: bool) -> Floats:
    """Return the unit vector square to the sail, to leeward; forward where the sail is square across the boat."""
    normal = np.cross(clew - tack, head - tack)
    normal /= np.linalg.norm(normal)
    side = normal[1] if abs(normal[1]) > 0.02 else -normal[0] * (1 if to_starboard else -1)
    return normal if (side > 0) == to_starboard else -normal


def _sheet(grid: Floats) -> tuple[Floats, Ints]:
    """Return the triangles of a grid of points; rows that have shrunk to one point become one vertex."""
    rows, columns, _ = grid.shape
    number = np.arange(rows * columns).reshape(rows, columns)
    for row in (0, rows - 1):
        if np.ptp(grid[row], axis=0).max() < 1e-9:
            number[row] = number[row, 0]
    a, b, c, d = number[:-1, :-1], number[:-1, 1:], number[1:, 1:], number[1:, :-1]
    faces = np.stack([np.stack([a, b, c], axis=2), np.stack([a, c, d], axis=2)], axis=2).reshape(-1, 3)
    faces = faces[(faces != np.roll(faces, 1, axis=1)).all(axis=1)]
    used, faces = np.unique(faces, return_inverse=True)
    return grid.reshape(-1, 3)[used], faces.reshape(-1, 3)


def sail_problems(design: Design) -> Iterator[NameProblem]:
    """Yield sails without area or with more belly than cloth can have."""
    for index, sail in enumerate(design.sail):
        known = [design.marks.get(spot) if isinstance(spot, str) else spot for spot in sail.corners]
        if all(spot is not None and spot != "survey" for spot in known):
            corners = np.array(known, dtype=float)
            first = corners[1:-1] - corners[0]
            area = np.linalg.norm(np.cross(first, corners[2:] - corners[0]).sum(axis=0)) / 2
            if area < SMALLEST:
                yield NameProblem(
                    path=("sail", index, "corners"), code="no-area", found=f"corners that span {area:.3f} m2",
                    wanted="Write the corners round the sail, not in one line and not crossing.",
                )  # fmt: skip
        if not 0 <= sail.camber <= MOST_CAMBER:
            yield NameProblem(
                path=("sail", index, "camber"), code="wrong-value", found=f"{100 * sail.camber:.0f} %",
                wanted=f"Write a camber of at most {100 * MOST_CAMBER:.0f} %.",
            )  # fmt: skip
