"""Propose where a panel is joined: as few pieces as the roll and the cloth's strain allow.

Computes: seams along geodesics that run with the warp, spaced so that every piece fits the roll, kept out of windows
    and off lines on which the panel lies, the outermost two side by side on the roll where they can; more seams where
    strain passes the cloth's limit; what each takes away.
Units: metres; strain without unit.
Source: geodesics by potpourri3d (see split.py); common practice for where seams go.
Limits: the program proposes, the design decides: lines given by the design are used as they are.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.interpolate import CubicSpline

from canvas.cutting.carried import on_flat, on_formed
from canvas.cutting.darts import PlannedDart, dart_gaps, darted_piece
from canvas.cutting.flatten import Flat, flatten
from canvas.cutting.piece import PanelToCut, Piece
from canvas.cutting.slit import dart_legs
from canvas.cutting.split import geodesic, outline_loop, side_of_line, split_piece
from canvas.design.problems import DesignError, Problem
from canvas.geometry.surface import Floats
from canvas.jobs.failure import CouldNot

CLEAR = 0.05  # [m] a seam keeps off windows and ridges; common practice
NARROW = 0.25  # [m] a line of contact narrower across the warp than this is a ridge along it
MOST_PIECES = 14
ROUGH = 2e-5  # [m] how far a trial is solved
LEAST_WIDTH = 0.1  # [m] of a piece
SEAM = 0.013  # [m] allowance of a plain seam; common practice
ON = 0.02  # [m] from a piece's formed cloth a line counts as lying on it
SAME = 1e-6  # [m] places nearer to each other are one
FAIR = 41  # places along a seam that the design gives by its ends
BETWEEN = 0.03  # [m] two pieces side by side leave for spacing and for what pieces are wider than their strip
TRIED = (0.15, 0.25, 0.35, 0.5, 0.65, 0.75, 0.85)  # shares of a piece at which a seam is tried


Bands = Sequence[tuple[float, float]]  # from where to where across the warp [m]


class NoRoomForSeam(CouldNot):
    """Raised when windows leave no line for a seam that the roll's width asks for."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Plan:
    """A panel divided into pieces.

    Attributes
    ----------
    pieces : tuple of Piece
    seams : tuple of (k, 3) ndarray
        Lines it was divided along. [m]
    through : tuple of (3,) ndarray
        A place that each seam which the program made runs through with the warp: what a design would give. [m]
    strain_whole : float
        Largest strain inside, cut in one with its darts. [1]
    strains : tuple of float
        Largest strain inside each piece. [1]
    reason : str
        Why it was divided; empty where it was not.
    darts : tuple of PlannedDart
        Those its design takes.
    """

    pieces: tuple[Piece, ...]
    seams: tuple[Floats, ...]
    strain_whole: float
    strains: tuple[float, ...]
    reason: str
    darts: tuple[PlannedDart, ...] = ()
    through: tuple[Floats, ...] = ()

    @property
    def strain_left(self) -> float:
        """Largest strain inside any piece. [1]."""
        return max(self.strains)


def plan_pieces(
    panel: PanelToCut,
    *,
    usable: float,
    allowance: float,
    seam: float = SEAM,
    lines: Sequence[Floats] | None = None,
) -> Plan:
    """Return the panel divided so that every piece fits the roll and strains less than the cloth's limit.

    Parameters
    ----------
    panel : PanelToCut
    usable : float
        Width of roll between selvedges. [m]
    allowance : float
        Widest allowance at the panel's sides, taken off twice. [m]
    seam : float
        Allowance of a seam between pieces. [m]
    lines : sequence of (k, 3) ndarray, optional
        Seams chosen by the design, their places from edge to edge, or one place through which it runs with the warp;
        then no others are made. [m]

    Raises
    ------
    DesignError
        When the roll is too narrow for even `MOST_PIECES`.
    NoRoomForSeam
        When windows and darts leave no line for a seam.
    """
    whole, flat, darts = _whole(panel)
    if lines is not None:
        chosen = [_chosen(whole, flat, np.atleast_2d(line)) for line in lines]
        plan = _along(panel, whole, flat, chosen, reason=["seams chosen by the design"] if len(lines) else [])
        return replace(plan, darts=darts)
    room = usable - 2 * allowance
    across = float(np.ptp(flat.uv[:, 1]))
    if room <= 0 or across / room > MOST_PIECES:
        raise DesignError([_too_narrow(panel, across / MOST_PIECES + 2 * allowance, usable)])
    count = max(1, math.ceil(across / room - 1e-9))
    reasons = [f"wider than the roll ({across + 2 * allowance:.2f} m)"] if count > 1 else []
    shut = _shut_bands(panel, whole, flat)
    places = _spaced(panel, shut, flat, least=count, room=room)
    places = _side_by_side(shut, flat, pieces=len(places) + 1, usable=usable, allowance=allowance, seam=seam) or places
    plan = _along(panel, whole, flat, [_seam_at(whole, flat, place) for place in places], reason=reasons)
    plan = replace(plan, through=tuple(_on_seam(whole, flat, line) for line in plan.seams))
    limit = panel.cloth.strain_limit
    plan = _shaped_to(limit, panel, whole, flat, plan, shut=shut)
    if plan.strain_left < flat.strain_inside_most and flat.strain_inside_most > limit:
        reasons.append(
            f"strain {flat.strain_inside_most * 100:.1f} % in one piece, over the cloth's {limit * 100:.1f} %"
        )
    return replace(plan, reason="; ".join(reasons), darts=darts)


def _spaced(panel: PanelToCut, shut: Bands, flat: Flat, *, least: int, room: float) -> list[float]:
    """Return where seams run across the warp, for as few pieces as can be."""
    for count in range(least, MOST_PIECES + 1):
        places = _places(shut, flat, pieces=count, room=room)
        if places is not None:
            return places
    raise NoRoomForSeam(
        f'No seam of "{panel.name}" keeps clear of its windows and darts and fits the roll.',
        "Choose a wider roll, a smaller window, a shorter dart, or give the seams.",
    )


def _too_narrow(panel: PanelToCut, least: float, usable: float) -> Problem:
    return Problem(
        code="roll-too-narrow",
        key=f'panel "{panel.name}"',
        found=f"{panel.cloth.name} of which {usable:.2f} m can be used across, allowances among them",
        wanted=f"A roll of which at least {least:.2f} m can be used.",
    )


def _whole(panel: PanelToCut) -> tuple[Piece, Flat, tuple[PlannedDart, ...]]:
    """Return the panel as one piece with its darts, the same laid flat, and the darts."""
    whole, darts = darted_piece(panel)
    gaps = dart_gaps(whole, {one.name: one.dart for one in darts})
    return whole, flatten(whole.vertices, whole.faces, warp=whole.warp, gaps=gaps), darts


def further_seams(panel: PanelToCut, plan: Plan) -> Plan:
    """Return a plan with seams added where the cloth strains past its limit; `through` says where the added ones run.

    Parameters
    ----------
    panel : PanelToCut
    plan : Plan
        As its design divides it.
    """
    whole, flat, _ = _whole(panel)
    start = replace(plan, through=())
    return _shaped_to(panel.cloth.strain_limit, panel, whole, flat, start, shut=_shut_bands(panel, whole, flat))


def _shaped_to(limit: float, panel: PanelToCut, whole: Piece, flat: Flat, plan: Plan, *, shut: Bands) -> Plan:
    """Return the plan with more seams until the cloth strains less than a limit, or no seam helps."""
    while plan.strain_left > limit and len(plan.pieces) < MOST_PIECES:
        finer = _shaped(panel, whole, flat, plan, shut=shut)
        if finer is None:
            break
        plan = finer
    return plan


def _on_seam(whole: Piece, flat: Flat, line: Floats) -> Floats:
    """Return the place midway along a seam with the warp that it would be found again by, (3,). [m]."""
    first, last = on_flat(whole, flat.uv, line[[0, -1]])
    place: Floats = on_formed(whole, flat.uv, np.array([[(first[0] + last[0]) / 2, first[1]]]))[0]
    return place


def _chosen(whole: Piece, flat: Flat, places: Floats) -> Floats:
    """Return a seam chosen by the design: fair through its places, or with the warp through its one place."""
    laid = on_flat(whole, flat.uv, places)
    if len(laid) == 1:
        return _seam_at(whole, flat, float(laid[0, 1]))
    return on_formed(whole, flat.uv, fair_course(laid))


def fair_course(laid: Floats) -> Floats:
    """Return a line without kinks through two or more places on the flat cloth, shape (k, 2). [m].

    Parameters
    ----------
    laid : (k, 2) ndarray
        No two running alike. [m]
    """
    if len(laid) == 2:
        return np.linspace(laid[0], laid[1], FAIR)
    arc = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(laid, axis=0).T))])
    course: Floats = CubicSpline(arc, laid, bc_type="natural")(np.linspace(0.0, arc[-1], FAIR))
    return course


def _shaped(panel: PanelToCut, whole: Piece, flat: Flat, plan: Plan, *, shut: Bands) -> Plan | None:
    """Return the plan with one more seam, where it takes most strain from the piece that strains most; None if none."""
    worst = int(np.argmax(plan.strains))
    piece = plan.pieces[worst]
    piece_flat = flatten(piece.vertices, piece.faces, warp=piece.warp, calm=ROUGH)
    v = on_flat(whole, flat.uv, piece.vertices)[:, 1]
    low, high = float(v.min()), float(v.max())
    tries = [low + share * (high - low) for share in TRIED]
    tries = [t for t in tries if min(t - low, high - t) > LEAST_WIDTH and not any(a < t < b for a, b in shut)]
    best: Plan | None = None
    for place in tries:
        line = _seam_at(whole, flat, place)
        try:
            halves = _halves(piece, piece_flat, line, seam=f"{panel.name} seam {len(plan.seams) + 1}")
            strains = [_strain(half) for half in halves]
        except CouldNot:
            continue
        if max(strains) < 0.98 * plan.strains[worst] and (best is None or max(strains) < max(best.strains)):
            best = replace(plan, pieces=tuple(halves), strains=tuple(strains), seams=(line,))
    if best is None:
        return None
    pieces = [*plan.pieces[:worst], *best.pieces, *plan.pieces[worst + 1 :]]
    strains = [*plan.strains[:worst], *best.strains, *plan.strains[worst + 1 :]]
    return replace(
        plan,
        pieces=_numbered(panel, pieces),
        seams=(*plan.seams, *best.seams),
        strains=tuple(strains),
        through=(*plan.through, *(_on_seam(whole, flat, line) for line in best.seams)),
    )


def _strain(piece: Piece) -> float:
    return flatten(piece.vertices, piece.faces, warp=piece.warp, calm=ROUGH).strain_inside_most


def _along(panel: PanelToCut, whole: Piece, flat: Flat, lines: list[Floats], *, reason: list[str]) -> Plan:
    pieces: list[Piece] = [whole]
    for number, line in enumerate(lines, start=1):
        pieces = _divided(pieces, line, seam=f"{panel.name} seam {number}")
    strains = [flat.strain_inside_most] if len(pieces) == 1 else [_strain(piece) for piece in pieces]
    return Plan(
        pieces=_numbered(panel, pieces),
        seams=tuple(lines),
        strains=tuple(strains),
        strain_whole=flat.strain_inside_most,
        reason="; ".join(reason),
    )


def _numbered(panel: PanelToCut, pieces: Sequence[Piece]) -> tuple[Piece, ...]:
    if len(pieces) == 1:
        return (pieces[0],)
    return tuple(replace(piece, name=f"{panel.name} {k} of {len(pieces)}") for k, piece in enumerate(pieces, start=1))


def _divided(pieces: list[Piece], line: Floats, *, seam: str) -> list[Piece]:
    """Return the pieces with the one a line crosses divided along it."""
    middle = line[len(line) // 2] if len(line) > 2 else line.mean(axis=0)
    nearest = min(range(len(pieces)), key=lambda k: _distance(pieces[k], middle))
    piece = pieces[nearest]
    flat = flatten(piece.vertices, piece.faces, warp=piece.warp, calm=ROUGH)
    return pieces[:nearest] + list(_halves(piece, flat, line, seam=seam)) + pieces[nearest + 1 :]


def _halves(piece: Piece, flat: Flat, line: Floats, *, seam: str) -> tuple[Piece, ...]:
    """Return the parts into which a line on the formed cloth, or what of it lies on the piece, divides a piece."""
    laid = on_flat(piece, flat.uv, line)
    here = np.linalg.norm(on_formed(piece, flat.uv, laid) - line, axis=1) < ON
    course = laid[here] if here.sum() > 1 else laid
    steps = np.hypot(*np.diff(course, axis=0).T)
    course = course[np.concatenate([[True], steps > SAME])]  # places beyond the edge come to lie on one place of it
    if len(course) < 2:
        raise CouldNot(f'The seam "{seam}" does not cross "{piece.name}".', "Move the seam into the panel.")
    return split_piece(piece, side_of_line(flat.uv, course), seam=seam)


def _distance(piece: Piece, point: Floats) -> float:
    middles = piece.vertices[piece.faces].mean(axis=1)
    return float(np.min(np.sum((middles - point) ** 2, axis=1)))


def _places(shut: Bands, flat: Flat, *, pieces: int, room: float) -> list[float] | None:
    """Return where seams run across the warp, as near equal spacing as windows and ridges let them; None if nowhere."""
    low, high = float(flat.uv[:, 1].min()), float(flat.uv[:, 1].max())
    places: list[float] = []
    start = low
    for left in range(pieces, 1, -1):
        ideal = start + (high - start) / left
        most = min(start + room, high - 0.05) if room > 0 else high
        least = max(high - (left - 1) * room, start + 0.05)
        grid = np.arange(least, most + 1e-9, 0.005)
        grid = grid[[not any(a < g < b for a, b in shut) for g in grid]]
        if len(grid) == 0:
            return None
        start = float(grid[np.argmin(np.abs(grid - ideal))])
        places.append(start)
    return places


def _side_by_side(
    shut: Bands, flat: Flat, *, pieces: int, usable: float, allowance: float, seam: float
) -> list[float] | None:
    """Return seams that leave the two outer pieces so narrow that they lie side by side on the roll; None if none do.

    As many pieces then take one length of roll less.
    """
    if pieces < 3:
        return None
    low, high = float(flat.uv[:, 1].min()), float(flat.uv[:, 1].max())
    inner = usable - 2 * seam - BETWEEN / 2
    outer = (usable - BETWEEN) / 2 - allowance - seam
    least = (high - low - (pieces - 2) * inner) / 2
    if outer <= LEAST_WIDTH or least > outer:
        return None
    width = (max(least, LEAST_WIDTH) + outer) / 2
    grid = np.arange(low, high, 0.005)
    grid = grid[[not any(a < g < b for a, b in shut) for g in grid]]
    if len(grid) == 0:
        return None
    ideal = np.linspace(low + width, high - width, pieces - 1)
    places = [float(grid[np.argmin(np.abs(grid - place))]) for place in ideal]
    widths = np.diff([low, *places, high])
    fits = max(widths[0], widths[-1]) <= outer and widths[1:-1].max() <= inner and widths.min() >= LEAST_WIDTH
    return places if fits else None


def _shut_bands(panel: PanelToCut, whole: Piece, flat: Flat) -> Bands:
    """Return the bands across the warp in which no seam may run: windows, darts and ridges."""
    bands: list[tuple[float, float]] = []
    for insert in panel.inserts:
        v = flat.uv[np.unique(whole.faces[whole.zone == insert.zone]), 1]
        if len(v):
            bands.append((float(v.min()) - CLEAR, float(v.max()) + CLEAR))
    for into, back in dart_legs(whole).values():
        v = flat.uv[np.concatenate([into.vertices, back.vertices]), 1]
        bands.append((float(v.min()) - CLEAR, float(v.max()) + CLEAR))
    for line in panel.contacts:
        v = on_flat(whole, flat.uv, np.asarray(line))[:, 1] if len(line) else np.empty(0)
        if len(v) and np.ptp(v) < NARROW:
            bands.append((float(v.min()) - CLEAR, float(v.max()) + CLEAR))
    return bands


def _seam_at(whole: Piece, flat: Flat, place: float) -> Floats:
    """Return the geodesic across the outline near the line v = place, its ends moved onto that line, shape (k, 3)."""
    loop = outline_loop(whole.faces)
    v = flat.uv[loop, 1] - place
    crossing = np.flatnonzero(v * np.roll(v, -1) <= 0)
    ends = [int(loop[k]) if abs(v[k]) <= abs(v[(k + 1) % len(v)]) else int(loop[(k + 1) % len(v)]) for k in crossing]
    u = flat.uv[ends, 0]
    line = on_flat(whole, flat.uv, geodesic(whole, ends[int(np.argmin(u))], ends[int(np.argmax(u))]))
    share = (line[:, 0] - line[0, 0]) / (line[-1, 0] - line[0, 0])
    line[:, 1] += (1 - share) * (place - line[0, 1]) + share * (place - line[-1, 1])
    return on_formed(whole, flat.uv, line)
