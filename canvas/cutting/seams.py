"""Make both sides of every seam and zip equally long when flat.

Computes: the flat length wanted along each panel edge after compensation, one length for both sides of a joint, and
    from it the wanted length of every outline edge of every piece; match marks at equal lengths on both sides.
Units: metres along edges; compensation is a share.
Source: mean of the two sides' own compensated lengths, corresponding points by share of length; common practice.
Limits: an existing panel's side rules, by the length of its zip where that was measured; ease is spread evenly along
    the joint.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from canvas.cutting.piece import Joint, PanelToCut, Piece, arc_length
from canvas.cutting.rest import outline_edges, rest_shape
from canvas.design.problems import DesignError, Problem
from canvas.geometry.surface import Floats, locked

NOTCH_GROWTH = 1.22  # each space between match marks against the one before, so that they fit one way round only
NOTCH_SPACE = 0.45  # [m] usual space between match marks


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class EdgeLength:
    """Wanted flat length along a panel's edge.

    Attributes
    ----------
    arc : (k,) ndarray
        Length along the formed edge. [m]
    flat : (k,) ndarray
        Wanted flat length from the first corner to there. [m]
    """

    arc: Floats
    flat: Floats

    def __post_init__(self) -> None:
        object.__setattr__(self, "arc", locked(self.arc))
        object.__setattr__(self, "flat", locked(self.flat))

    def at(self, arc: Floats) -> Floats:
        """Return the wanted flat length (k,) up to places `arc` (k,) along the formed edge [m]."""
        result: Floats = np.interp(arc, self.arc, self.flat)
        return result

    @property
    def total(self) -> float:
        """Whole wanted flat length. [m]."""
        return float(self.flat[-1])


EdgeKey = tuple[str, str]


def own_lengths(panel: PanelToCut) -> dict[EdgeKey, EdgeLength]:
    """Return the wanted flat length along each edge of a panel from its own cloth's compensation."""
    share = panel.compensation(panel.zone)
    rest = rest_shape(panel.vertices, panel.faces, warp=panel.warp, shrink_warp=share[0], shrink_weft=share[1])
    start, end = panel.faces.ravel(), panel.faces[:, [1, 2, 0]].ravel()
    size = np.abs(rest.corners[:, [1, 2, 0]] - rest.corners).ravel()
    length = dict(zip(zip(start.tolist(), end.tolist(), strict=True), size.tolist(), strict=True))
    result: dict[EdgeKey, EdgeLength] = {}
    for edge in panel.edges:
        v = edge.vertices.tolist()
        steps = [length[(i, j)] for i, j in itertools.pairwise(v)]
        flat = np.concatenate([[0.0], np.cumsum(steps)])
        result[(panel.name, edge.name)] = EdgeLength(arc=arc_length(panel.vertices[edge.vertices]), flat=flat)
    return result


def equal_lengths(panels: Sequence[PanelToCut], joints: Sequence[Joint]) -> dict[EdgeKey, EdgeLength]:
    """Return the wanted flat length along each edge of each panel, equal on both sides of every joint.

    Parameters
    ----------
    panels : sequence of PanelToCut
    joints : sequence of Joint
        Where both sides are to be cut, they meet at the mean of their own lengths; where one is existing, at its
        length.

    Raises
    ------
    DesignError
        When one side of a joint is longer than the other by more than 2 %: they cannot be made to meet.
    """
    lengths: dict[EdgeKey, EdgeLength] = {}
    for panel in panels:
        lengths.update(own_lengths(panel))
    existing = {panel.name for panel in panels if panel.existing}
    for panel in panels:
        for edge in panel.edges if panel.existing else ():
            if edge.measured is not None:
                own = lengths[(panel.name, edge.name)]
                lengths[(panel.name, edge.name)] = EdgeLength(arc=own.arc, flat=own.flat * edge.measured / own.total)
    problems: list[Problem] = []
    for joint in joints:
        problem = _equalise(joint, lengths, existing)
        if problem is not None:
            problems.append(problem)
    if problems:
        raise DesignError(problems)
    return lengths


def _equalise(joint: Joint, lengths: dict[EdgeKey, EdgeLength], existing: set[str]) -> Problem | None:
    """Set both sides of one joint to their common length, in place."""
    a, b = lengths[(joint.panel_a, joint.edge_a)], lengths[(joint.panel_b, joint.edge_b)]
    start, stop = joint.span_b
    size_b = b.arc[-1]
    on_a = a.arc / a.arc[-1]
    on_b = (b.arc / size_b - start) / (stop - start)
    inside = (on_b > 1e-9) & (on_b < 1 - 1e-9)
    share = np.unique(np.concatenate([on_a, on_b[inside], [0.0, 1.0]]).round(12))
    along_a = a.at(share * a.arc[-1])
    flat_b = b.at((start + share * (stop - start)) * size_b)
    along_b = np.abs(flat_b - flat_b[0])
    if abs(along_a[-1] - along_b[-1]) > 0.02 * max(along_a[-1], along_b[-1]):
        return _too_long(joint, along_a[-1], along_b[-1])
    weight_a = 0.5
    if joint.panel_a in existing or joint.panel_b in existing:
        weight_a = 1.0 if joint.panel_a in existing else 0.0
    common = weight_a * along_a + (1 - weight_a) * along_b
    if joint.panel_a not in existing:
        lengths[(joint.panel_a, joint.edge_a)] = EdgeLength(
            arc=share * a.arc[-1], flat=common * (1 + joint.ease / common[-1])
        )
    if joint.panel_b not in existing:
        lengths[(joint.panel_b, joint.edge_b)] = _spliced(b, share=share, common=common, span=(start, stop))
    return None


def _too_long(joint: Joint, a: float, b: float) -> Problem:
    longer = joint.panel_a if a > b else joint.panel_b
    return Problem(
        code=f"{joint.kind}-unequal",
        key=f'{joint.kind} "{joint.name}"',
        found=f'{a * 1000:.0f} mm on "{joint.panel_a}" and {b * 1000:.0f} mm on "{joint.panel_b}"',
        wanted=f'Both sides equally long: shorten the edge of "{longer}" by {abs(a - b) * 1000:.0f} mm, '
        "or join it along part of the other with from and to.",
    )


def _spliced(b: EdgeLength, *, share: Floats, common: Floats, span: tuple[float, float]) -> EdgeLength:
    """Return edge b with its joined stretch set to the common length."""
    start, stop = span
    arc = (start + share * (stop - start)) * b.arc[-1]
    steps = common if stop > start else common[-1] - common[::-1]
    arc = arc if stop > start else arc[::-1]
    before, after = b.arc < arc[0] - 1e-9, b.arc > arc[-1] + 1e-9
    first, last = float(b.at(arc[:1])[0]), float(b.at(arc[-1:])[0])
    flat = np.concatenate([b.flat[before], first + steps, first + steps[-1] + b.flat[after] - last])
    return EdgeLength(arc=np.concatenate([b.arc[before], arc, b.arc[after]]), flat=flat)


def outline_targets(
    pieces: Sequence[Piece],
    *,
    panel: PanelToCut,
    lengths: Mapping[EdgeKey, EdgeLength],
    seams: Mapping[str, EdgeLength],
) -> list[dict[tuple[int, int], float]]:
    """Return for each piece of a panel the wanted flat length of each outline edge, by ascending vertices. [m].

    Parameters
    ----------
    pieces : sequence of Piece
    panel : PanelToCut
    lengths : mapping
        From `equal_lengths`.
    seams : mapping
        From `seam_lengths`.
    """
    result: list[dict[tuple[int, int], float]] = []
    for piece in pieces:
        wanted: dict[tuple[int, int], float] = {}
        for edge in piece.edges:
            along = seams[edge.name] if edge.seam else lengths[(panel.name, edge.name)]
            steps = np.abs(np.diff(along.at(edge.arc)))
            for i, j, step in zip(edge.vertices[:-1], edge.vertices[1:], steps, strict=True):
                wanted[(int(min(i, j)), int(max(i, j)))] = float(step)
        result.append(wanted)
    return result


def _compensated(piece: Piece, panel: PanelToCut) -> dict[tuple[int, int], float]:
    share = panel.compensation(piece.zone)
    rest = rest_shape(piece.vertices, piece.faces, warp=piece.warp, shrink_warp=share[0], shrink_weft=share[1])
    start, end = piece.faces.ravel(), piece.faces[:, [1, 2, 0]].ravel()
    size = np.abs(rest.corners[:, [1, 2, 0]] - rest.corners).ravel()
    every = dict(zip(zip(start.tolist(), end.tolist(), strict=True), size.tolist(), strict=True))
    return {(int(i), int(j)): every[(int(i), int(j))] for i, j in outline_edges(piece.faces)}


def seam_lengths(pieces: Sequence[Piece], panel: PanelToCut) -> dict[str, EdgeLength]:
    """Return the wanted flat length along each seam between pieces: the mean of what the cloth on each side has.

    Where another seam ends on it, one side has two stretches.
    """
    own = [_compensated(piece, panel) for piece in pieces]
    sides: dict[str, list[EdgeLength]] = {}
    for piece, lengths in zip(pieces, own, strict=True):
        for edge in piece.edges:
            if edge.seam:
                v = edge.vertices.tolist()
                steps = [lengths[(i, j)] for i, j in itertools.pairwise(v)]
                flat = np.concatenate([[0.0], np.cumsum(steps)])
                if edge.arc[-1] < edge.arc[0]:
                    sides.setdefault(edge.name, []).append(EdgeLength(arc=edge.arc[::-1], flat=flat[-1] - flat[::-1]))
                else:
                    sides.setdefault(edge.name, []).append(EdgeLength(arc=edge.arc, flat=flat))
    return {name: _mean_length(both) for name, both in sides.items()}


def _mean_length(stretches: Sequence[EdgeLength]) -> EdgeLength:
    """Return the mean flat length along one seam, step by step, of the stretches that reach along each step."""
    arc = np.unique(np.concatenate([one.arc for one in stretches]).round(12))
    middle = (arc[1:] + arc[:-1]) / 2
    reaches = np.array([(one.arc[0] < middle) & (middle < one.arc[-1]) for one in stretches])
    steps = np.array([np.diff(one.at(arc)) for one in stretches])
    found = reaches.sum(axis=0)
    mean = np.where(found > 0, (steps * reaches).sum(axis=0) / np.maximum(found, 1), np.diff(arc))
    return EdgeLength(arc=arc, flat=np.concatenate([[0.0], np.cumsum(mean)]))


def notch_places(length: float) -> Floats:
    """Return where match marks (k,) go along a joint of that flat length, from its first corner [m].

    Spaces grow along the joint, so that the marks of one side fall on those of the other one way round only.

    Parameters
    ----------
    length : float
        [m]
    """
    spaces = max(2, round(length / NOTCH_SPACE))
    steps = NOTCH_GROWTH ** np.arange(spaces)
    places: Floats = length * np.cumsum(steps)[:-1] / steps.sum()
    return places
