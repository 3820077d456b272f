"""Say which of the seams that a design asks for cannot be cut, and what to change.

Computes: where each seam runs on the flat cloth, against the panel's outline, its windows and the other seams.
Units: metres.
Source: common practice for clearances.
Limits: seams are laid on the panel in one piece, without its darts; see dartchecks.py for darts across seams.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon

from canvas.cutting.carried import on_flat, on_formed
from canvas.cutting.flatten import Flat, flatten
from canvas.cutting.piece import PanelToCut, Piece, whole_piece
from canvas.cutting.plan import fair_course
from canvas.cutting.slit import ROUGH
from canvas.cutting.split import outline_loop
from canvas.design.problems import Problem
from canvas.geometry.surface import Floats

OFF = 0.1  # [m] a seam's place may lie off the formed cloth
LEAST = 0.05  # [m] width of a piece between seams; common practice
MEETS = 0.03  # [m] from the end of a seam another may cross it: it ends there
SHORT = 0.1  # [m] between the ends of a seam
FAR = 100.0  # [m] beyond any cloth


def seam_problems(panel: PanelToCut, seams: Sequence[Floats]) -> list[Problem]:
    """Return what is wrong with the seams that a panel's design gives.

    Parameters
    ----------
    panel : PanelToCut
    seams : sequence of (k, 3) ndarray
        Its places from edge to edge, or one place through which it runs with the warp. [m]
    """
    if not len(seams):
        return []
    piece = whole_piece(panel)
    flat = flatten(piece.vertices, piece.faces, warp=piece.warp, calm=ROUGH)
    outline = shapely.make_valid(Polygon(flat.uv[outline_loop(piece.faces)]))
    windows = shapely.union_all([Polygon(flat.uv[face]) for face in piece.faces[piece.zone > 0]])
    problems: list[Problem] = []
    courses: dict[int, LineString] = {}
    for number, seam in enumerate(seams, start=1):
        found = list(_of_one(panel, piece, flat, np.atleast_2d(seam), number))
        problems.extend(found)
        if not found:
            courses[number] = _course(piece, flat, np.atleast_2d(seam))
    problems.extend(_crossing(panel, outline, courses))
    problems.extend(
        _problem(panel, k, "seam-through-window", "a window in its way", "Move it, or end the window short of it.")
        for k, line in courses.items()
        if not windows.is_empty and line.intersects(windows)
    )
    return problems or list(_narrow(panel, outline, courses))


def _problem(panel: PanelToCut, number: int, code: str, found: str, wanted: str) -> Problem:
    return Problem(code=code, key=f'panel "{panel.name}", seam {number}', found=found, wanted=wanted)


def _of_one(panel: PanelToCut, piece: Piece, flat: Flat, places: Floats, number: int) -> Iterator[Problem]:
    """Return what is wrong with one seam by itself: off the panel, too short, turning back."""
    laid = on_flat(piece, flat.uv, places)
    off = float(np.linalg.norm(on_formed(piece, flat.uv, laid) - places, axis=1).max())
    if off > OFF:
        found = f"a place {off * 1000:.0f} mm off the panel"
        yield _problem(panel, number, "seam-off-panel", found, f"Give places on it, to {OFF * 1000:.0f} mm.")
    elif len(laid) > 1:
        apart = float(np.hypot(*(laid[-1] - laid[0])))
        if apart < SHORT:
            found, wanted = f"ends {apart * 1000:.0f} mm from each other", "Let it run from one edge to another."
            yield _problem(panel, number, "seam-too-short", found, wanted)
        elif np.any(np.diff(laid @ (laid[-1] - laid[0])) <= 0) or not LineString(fair_course(laid)).is_simple:
            found, wanted = "a course that turns back", "List its places in order, from one edge to the other."
            yield _problem(panel, number, "seam-turns-back", found, wanted)


def _course(piece: Piece, flat: Flat, places: Floats) -> LineString:
    """Return a seam on the flat cloth: fair through its places, or with the warp through its one place."""
    laid = on_flat(piece, flat.uv, places)
    if len(laid) > 1:
        return LineString(fair_course(laid))
    return LineString(laid + np.array([[-FAR, 0.0], [FAR, 0.0]]))


def _crossing(panel: PanelToCut, outline: shapely.Geometry, courses: dict[int, LineString]) -> Iterator[Problem]:
    """Return a problem for each seam that crosses another; one may end on another."""
    inside = {k: line.intersection(outline) for k, line in courses.items()}
    for (one, line), (two, other) in itertools.combinations(inside.items(), 2):
        met = line.intersection(other)
        if met.is_empty:
            continue
        ends = shapely.union_all([line.boundary, other.boundary])
        if met.length > MEETS or met.distance(ends) > MEETS:
            found = f"seam {one} across its way"
            yield _problem(panel, two, "seams-cross", found, "Let one of them end at the other, or move it.")


def _narrow(panel: PanelToCut, outline: shapely.Geometry, courses: dict[int, LineString]) -> Iterator[Problem]:
    """Return a problem for each seam beside which a piece is too narrow to be sewn."""
    lines = {k: _carried_on(line) for k, line in courses.items()}
    cut = shapely.union_all([shapely.boundary(outline), *lines.values()])
    named: set[int] = set()
    for piece in shapely.get_parts(shapely.polygonize([cut])):
        if outline.contains(piece.representative_point()) and piece.buffer(-LEAST / 2).is_empty:
            near = max(lines, key=lambda k: lines[k].buffer(1e-4).intersection(piece.boundary).length)
            if near not in named:
                found = f"a piece beside it under {LEAST * 1000:.0f} mm wide"
                yield _problem(panel, near, "seam-near-edge", found, "Move it away from that edge or seam.")
            named.add(near)


def _carried_on(line: LineString) -> LineString:
    """Return a line with its ends carried straight on, as it is cut."""
    places = np.asarray(line.coords)
    first, last = places[0] - places[1], places[-1] - places[-2]
    return LineString(
        np.vstack([places[0] + first / np.hypot(*first) * FAR, places, places[-1] + last / np.hypot(*last) * FAR])
    )
