"""Say how seams are sewn, plain, felled or overlapped, and which cloth lies on top.

Computes: the finish of each side of a seam: its own allowance, folds and rows of stitching, both sides matched; the
    upper side by the heights of what it joins.
Units: metres.
Source: trade.md names the kinds; sizes and that laps face down the slope, so that water runs over them, are common
    practice, no source.
Limits: one kind a panel; a seam keeps one side on top from end to end.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from canvas.cutting.finish import Finish
from canvas.cutting.piece import EdgeToCut, Joint, PanelToCut, Piece, PieceEdge
from canvas.design.problems import DesignError, Problem

PLAIN = "seam"
FELLED, FELLED_UNDER = "flat felled seam", "flat felled seam, under"
OVERLAP, OVERLAP_UNDER = "overlap seam", "overlap seam, under"
KINDS: Mapping[str, tuple[str, str]] = {
    "plain": (PLAIN, PLAIN),
    "felled": (FELLED, FELLED_UNDER),
    "overlapped": (OVERLAP, OVERLAP_UNDER),
}  # finish of the upper side and of the lower
UNDER: Mapping[str, str] = {over: under for over, under in KINDS.values() if over != under}
IN_SEAM = (PLAIN, *UNDER, *UNDER.values(), "dart")  # finishes of what joins pieces
TUCK = 0.006  # [m] of a felled seam's upper turning folded in
FROM_FOLD = 0.002  # [m] its second row from the fold
FROM_EDGE = 0.003  # [m] an overlap's rows from the edges of the lap


def paired(finishes: Mapping[str, Finish]) -> dict[str, Finish]:
    """Return the finishes with both sides of felled and overlapped seams matched, whatever allowances a shop gives.

    Parameters
    ----------
    finishes : mapping of str to Finish

    Raises
    ------
    DesignError
        When the turnings of a shop do not fit in one another.
    """
    over, under = finishes[FELLED], finishes[FELLED_UNDER]
    fold = over.allowance - TUCK
    second = fold - FROM_FOLD
    lap = finishes[OVERLAP_UNDER].allowance
    problems = [
        Problem(code="shop-allowance", key=f'finish "{name}"', found=f"{found * 1000:.0f} mm", wanted=wanted)
        for wrong, name, found, wanted in (
            (
                under.allowance > second,
                FELLED,
                over.allowance,
                f"At least {(under.allowance + TUCK + FROM_FOLD) * 1000:.0f} mm, to fold round the other side.",
            ),
            (lap < 4 * FROM_EDGE, OVERLAP_UNDER, lap, f"At least {4 * FROM_EDGE * 1000:.0f} mm for two rows."),
        )
        if wrong
    ]
    if problems:
        raise DesignError(problems)
    rows = (FROM_EDGE, lap - FROM_EDGE)
    return {
        **finishes,
        FELLED: replace(over, folds=(fold,), sews=(0.0, -second)),
        FELLED_UNDER: replace(under, sews=(0.0, second)),
        OVERLAP: replace(finishes[OVERLAP], folds=(0.0,) if finishes[OVERLAP].allowance > 0 else (), sews=rows),
        OVERLAP_UNDER: replace(finishes[OVERLAP_UNDER], sews=(-rows[0], -rows[1])),
    }


def sided(pieces: Sequence[Piece], kind: str) -> tuple[Piece, ...]:
    """Return the pieces with the seams between them of that kind, the higher cloth on top.

    Parameters
    ----------
    pieces : sequence of Piece
        Of one panel.
    kind : str
        A key of `KINDS`.
    """
    over, under = KINDS[kind]
    if over == under:
        return tuple(pieces)
    heights: dict[tuple[str, bool], list[float]] = {}
    for piece in pieces:
        for edge in piece.edges:
            if edge.finish == PLAIN and edge.seam:
                heights.setdefault((edge.name, _rises(edge)), []).append(float(piece.vertices[:, 2].mean()))

    def finish(edge: PieceEdge) -> str:
        if edge.finish != PLAIN or not edge.seam:
            return edge.finish
        mine, other = (float(np.mean(heights[(edge.name, way)])) for way in (_rises(edge), not _rises(edge)))
        upper = mine > other + 1e-9 or (abs(mine - other) <= 1e-9 and _rises(edge))
        return over if upper else under

    return tuple(
        replace(piece, edges=tuple(replace(edge, finish=finish(edge)) for edge in piece.edges)) for piece in pieces
    )


def _rises(edge: PieceEdge) -> bool:
    return bool(edge.arc[-1] > edge.arc[0])


def sided_panels(panels: Sequence[PanelToCut], joints: Sequence[Joint]) -> tuple[PanelToCut, ...]:
    """Return the panels with felled and overlapped seams between two of them told which side is which.

    Parameters
    ----------
    panels : sequence of PanelToCut
    joints : sequence of Joint

    Raises
    ------
    DesignError
        When the two edges of a seam name different kinds.
    """
    by_name = {panel.name: panel for panel in panels}
    lower: set[tuple[str, str]] = set()
    problems: list[Problem] = []
    for joint in joints:
        sides = [(by_name[p], by_name[p].edge(e)) for p, e in
                 ((joint.panel_a, joint.edge_a), (joint.panel_b, joint.edge_b))]  # fmt: skip
        named = {edge.finish for panel, edge in sides if not panel.existing}
        if joint.kind != "seam" or not named & set(UNDER):
            continue
        if len(named) > 1:
            problems.append(_differ(joint, sorted(named)))
        heights = [float(panel.vertices[:, 2].mean()) for panel, _ in sides]
        panel, edge = sides[0] if heights[0] < heights[1] else sides[1]
        lower.add((panel.name, edge.name))
    if problems:
        raise DesignError(problems)
    return tuple(_with_lower(panel, lower) for panel in panels)


def _differ(joint: Joint, named: Sequence[str]) -> Problem:
    return Problem(
        code="seam-kinds-differ",
        key=f'seam "{joint.name}"',
        found=" and ".join(f'"{name}"' for name in named),
        wanted="Give both edges the same finish.",
    )


def _with_lower(panel: PanelToCut, lower: set[tuple[str, str]]) -> PanelToCut:
    if panel.existing or not any((panel.name, edge.name) in lower for edge in panel.edges):
        return panel

    def told(edge: EdgeToCut) -> EdgeToCut:
        below = (panel.name, edge.name) in lower
        return replace(edge, finish=UNDER.get(edge.finish, edge.finish)) if below else edge

    return replace(panel, edges=tuple(told(edge) for edge in panel.edges))
