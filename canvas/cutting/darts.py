"""Propose darts where cloth strains more than it may, and cut those that the design takes.

Computes: for darts square in from several places along each edge, the strain left when the dart may open, and how far
    it opens; a panel's piece with the darts that its design asks for, with the strain each promises to leave.
Units: metres; strain without unit.
Source: slit.py for the dart's line; common practice for how far it keeps off what it must not cut.
Limits: a proposal: the design decides. A promise leaves out compensation and what both sides of seams give each other.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.geometry import LineString, MultiPoint, Polygon

from canvas.cutting.carried import on_flat
from canvas.cutting.flatten import Flat, flatten
from canvas.cutting.piece import DartToCut, PanelToCut, Piece, whole_piece
from canvas.cutting.slit import ROUGH, dart_legs, dart_line, leg_gaps, leg_pairs, with_dart
from canvas.cutting.split import outline_loop
from canvas.geometry.surface import Floats
from canvas.jobs.failure import CouldNot

PLACES = (0.25, 0.5, 0.75)  # shares of each edge from which a dart is tried
DEPTHS = (0.2, 0.33)  # shares of the way across at which its point is tried; deeper darts leave a bimini askew
CLEAR = 0.05  # [m] a dart keeps off windows, holes, the far edge and corners; common practice
APART = 0.03  # [m] between two darts: room for both their turnings; common practice
LAP = 0.001  # [m] legs that lie over each other by less are laid apart; by more, cloth would have to be let in
HELD = 0.003  # [m] where a dart is asked to be wider than this its legs are held apart so; nearer to its point not
OPENS = 0.0005  # [m] a dart that opens less by itself takes nothing out
HAIR = 0.0002  # [m] they are laid apart by
MOST = 4  # darts that are proposed for one panel
HELPS = 0.9  # a dart is proposed where it leaves less than this share of the strain
ALIKE = 0.1  # share of what the best dart saves by which one from another edge may save less and still be its twin


@dataclass(frozen=True, slots=True, kw_only=True)
class Dart:
    """One dart that would help.

    Attributes
    ----------
    edge : str
        From which it is cut.
    place : float
        Along that edge as formed, from its first corner in outline order. [m]
    length : float
        Of its sides. [m]
    opening : float
        At the edge, when flat; negative where the sides overlap, so that cloth is let in. [m]
    strain_before, strain_after : float
        All but the corners. [1]
    """

    edge: str
    place: float
    length: float
    opening: float
    strain_before: float
    strain_after: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedDart:
    """A dart that is cut, and what it promises.

    Attributes
    ----------
    name : str
    dart : DartToCut
    strain_before, strain_after : float
        All but the corners, without this dart and with it. [1]
    opening : float
        At the edge, when flat; negative where cloth would have to be let in. [m]
    overlap : float
        Most by which its legs lie over each other anywhere; 0 where they do not. [m]
    """

    name: str
    dart: DartToCut
    strain_before: float
    strain_after: float
    opening: float
    overlap: float


def best_darts(piece: Piece, *, out_only: bool = False, off: Floats | None = None) -> tuple[Dart, ...]:
    """Return the dart that takes most strain away, and its twin; none where none helps by a tenth.

    The twin comes from another edge and by itself would do nearly as well: cloth that is alike on both sides is cut
    alike, or it hangs askew. Its strains are those with the first dart cut.

    Parameters
    ----------
    piece : Piece
    out_only : bool
        Only darts that take cloth out: those that let cloth in cannot be sewn shut.
    off : (k, 3) ndarray, optional
        Where the cloth is pierced: darts keep off. [m]
    """
    flat = flatten(piece.vertices, piece.faces, warp=piece.warp)
    ground = Ground.of(piece, flat, off=off)
    longest = 0.6 * float(np.linalg.norm(np.ptp(flat.uv, axis=0)))
    found: list[PlannedDart] = []
    for tried in _tries(piece, ground, longest):
        planned = planned_dart(piece, flat, tried, name="dart")
        if planned is not None and (planned.overlap <= LAP or not out_only):
            found.append(planned)
    best = min(found, key=lambda one: one.strain_after, default=None)
    if best is None or best.strain_after >= HELPS * best.strain_before - 1e-5:
        return ()
    twin = _twin(piece, flat, ground, best=best, found=found)
    return tuple(_as_proposed(one) for one in (best, twin) if one is not None)


def _twin(
    piece: Piece, flat: Flat, ground: Ground, *, best: PlannedDart, found: list[PlannedDart]
) -> PlannedDart | None:
    """Return the dart from another edge that goes with the best one, that one cut already; None where there is none."""
    line = ground.line(best.dart)
    least = best.strain_after + ALIKE * (best.strain_before - best.strain_after)
    alike = [
        (ground.line(one.dart).interpolate(0).distance(line.interpolate(0)), one)
        for one in found
        if one.dart.edge != best.dart.edge
        and one.strain_after <= least
        and (one.opening > 0) == (best.opening > 0)
        and ground.line(one.dart).distance(line) > APART
    ]
    if not alike:
        return None
    farthest = max(alike, key=lambda pair: round(pair[0], 6))[1]
    first = with_dart(piece, best.dart, name="dart", flat=flat)
    laid = flatten(first.vertices, first.faces, warp=first.warp, calm=ROUGH)
    twin = planned_dart(first, laid, farthest.dart, name="twin")
    return twin if twin is not None and twin.overlap <= max(LAP, farthest.overlap) else None


def _as_proposed(planned: PlannedDart) -> Dart:
    return Dart(
        edge=planned.dart.edge,
        place=planned.dart.at,
        length=planned.dart.depth,
        opening=planned.opening,
        strain_before=planned.strain_before,
        strain_after=planned.strain_after,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ground:
    """Where darts may run on one flat piece: its outline, and what they must not cut.

    Attributes
    ----------
    piece : Piece
    uv : (n, 2) ndarray
        Flat. [m]
    outline : shapely geometry
    shut : shapely geometry
        Windows, holes and darts already there.
    """

    piece: Piece
    uv: Floats
    outline: shapely.Geometry
    shut: shapely.Geometry

    @classmethod
    def of(cls, piece: Piece, flat: Flat, *, off: Floats | None = None) -> Ground:
        """Return the ground of a piece laid flat; `off` are points where it is pierced, (k, 3). [m]."""
        windows = [Polygon(flat.uv[face]) for face in piece.faces[piece.zone > 0]]
        legs = [LineString(flat.uv[one.vertices]) for one, _ in dart_legs(piece).values()]
        holes = [] if off is None or not len(off) else [MultiPoint(on_flat(piece, flat.uv, off))]
        outline = shapely.make_valid(Polygon(flat.uv[outline_loop(piece.faces)]))
        return cls(piece=piece, uv=flat.uv, outline=outline, shut=shapely.union_all([*windows, *legs, *holes]))

    def line(self, dart: DartToCut) -> LineString:
        """Return the dart's line, mouth first."""
        return LineString(dart_line(self.piece, self.uv, dart))

    def clear(self, dart: DartToCut) -> float:
        """Return how far a dart's line keeps off what it must not cut; infinite where there is nothing. [m]."""
        return math.inf if self.shut.is_empty else float(self.shut.distance(self.line(dart)))

    def room(self, dart: DartToCut) -> float:
        """Return how far the cloth reaches straight in from a dart's mouth. [m]."""
        far = self.line(replace(dart, depth=100.0))
        start = far.interpolate(0.001)
        inside = shapely.intersection(far, self.outline)
        reached = [g for g in getattr(inside, "geoms", [inside]) if g.distance(start) < 1e-6]
        return float(reached[0].length) if reached else 0.0


def _tries(piece: Piece, ground: Ground, longest: float) -> Iterator[DartToCut]:
    """Return the darts to try: those that keep clear of windows, holes and one another."""
    for edge in piece.edges:
        if edge.seam:
            continue
        for share in PLACES:
            at = float(edge.arc[0] + share * (edge.arc[-1] - edge.arc[0]))
            mouth = DartToCut(edge=edge.name, at=at, depth=CLEAR)
            across = min(ground.room(mouth), longest / max(DEPTHS))
            for deep in DEPTHS:
                dart = replace(mouth, depth=deep * across)
                if dart.depth > CLEAR and ground.clear(dart) > CLEAR:
                    yield dart


def planned_dart(piece: Piece, flat: Flat, dart: DartToCut, *, name: str) -> PlannedDart | None:
    """Return a dart with the strain it leaves; None where it cannot be cut or laid flat.

    Parameters
    ----------
    piece : Piece
    flat : Flat
        The piece without it.
    dart : DartToCut
    name : str
    """
    try:
        return _laid_out(with_dart(piece, dart, name=name, flat=flat), flat, dart, name=name, others={})
    except CouldNot:
        return None


def _laid_out(
    piece: Piece, before: Flat, dart: DartToCut, *, name: str, others: Mapping[str, DartToCut]
) -> PlannedDart:
    """Return a dart that is cut in a piece with the strain it leaves, and how its legs lie."""
    gaps = dart_gaps(piece, {**others, name: dart})
    flat = flatten(piece.vertices, piece.faces, warp=piece.warp, gaps=gaps, calm=ROUGH)
    gap = leg_gaps(flat.uv, dart_legs(piece)[name])
    return PlannedDart(
        name=name,
        dart=dart,
        strain_before=before.strain_inside_most,
        strain_after=flat.strain_inside_most,
        opening=float(gap[0]),
        overlap=max(0.0, -float(gap.min())),
    )


def dart_gaps(piece: Piece, darts: Mapping[str, DartToCut]) -> dict[tuple[int, int], float]:
    """Return how far apart the legs of darts are to lie flat, by the vertices that are sewn to each other. [m].

    Parameters
    ----------
    piece : Piece
    darts : mapping of str to DartToCut
        By name; those with a width narrow to their points as the cloth by itself would, those without open as they
        will.
    """
    asked = {name: legs for name, legs in dart_legs(piece).items() if name in darts and darts[name].width is not None}
    if not asked:
        return {}
    free = flatten(piece.vertices, piece.faces, warp=piece.warp, calm=ROUGH)
    gaps: dict[tuple[int, int], float] = {}
    for name, legs in asked.items():
        width = darts[name].width or 0.0
        pairs, arc = leg_pairs(legs)
        own = leg_gaps(free.uv, legs)
        straight = 1 - arc / legs[0].arc[-1]
        left = width * (own / own[0] if own[0] > OPENS and own.min() > -LAP else straight)
        held = left > min(HELD, width / 4)
        gaps.update({(int(i), int(j)): float(gap) for (i, j), gap in zip(pairs[held], left[held], strict=True)})
    return gaps


def legs_apart(piece: Piece, flat: Flat) -> dict[tuple[int, int], float]:
    """Return how far apart legs that lie a hair over each other are to be laid, by their vertices; mostly empty. [m].

    Parameters
    ----------
    piece : Piece
    flat : Flat
        The piece with its darts.
    """
    return {
        (int(i), int(j)): HAIR
        for legs in dart_legs(piece).values()
        for found in (leg_gaps(flat.uv, legs),)
        for (i, j), gap in zip(leg_pairs(legs)[0], found, strict=True)
        if -LAP <= gap < HAIR / 2
    }


def darted_piece(panel: PanelToCut) -> tuple[Piece, tuple[PlannedDart, ...]]:
    """Return the panel as one piece with the darts its design takes, and what each promises.

    Parameters
    ----------
    panel : PanelToCut
        Its own darts keep to what `canvas.cutting.dartchecks` asks.
    """
    piece, planned = whole_piece(panel), list[PlannedDart]()
    proposed = panel.darts == "proposed"
    waiting = [] if panel.darts == "proposed" else list(panel.darts)
    while len(planned) < MOST if proposed else waiting:
        taken = {one.name: one.dart for one in planned}
        flat = flatten(piece.vertices, piece.faces, warp=piece.warp, gaps=dart_gaps(piece, taken))
        if not waiting:
            waiting = _proposed(panel, piece, flat)
        if not waiting:
            break
        dart, name = waiting.pop(0), f"{panel.name} dart {len(planned) + 1}"
        piece = with_dart(piece, dart, name=name, flat=flat)
        planned.append(_laid_out(piece, flat, dart, name=name, others=taken))
    return piece, tuple(planned)


def _proposed(panel: PanelToCut, piece: Piece, flat: Flat) -> list[DartToCut]:
    """Return the darts to take next; none where the cloth takes its strain, or none helps."""
    if flat.strain_inside_most <= panel.cloth.strain_limit:
        return []
    found = best_darts(piece, out_only=True, off=np.array([one.at for one in panel.piercings]).reshape(-1, 3))
    return [DartToCut(edge=one.edge, at=one.place, depth=one.length) for one in found]
