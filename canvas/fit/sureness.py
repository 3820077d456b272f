"""Say how well the place of cloth and tubes is known: marks, play of tubes, and the tolerance of edges.

Computes: for each vertex of a hanging panel, how much it follows each mark, the play of the tubes it hangs on, and the
    tolerance of its edges; from these the standard deviation of its place in a direction.
Units: metres, boat frame.
Source: propagation of covariance to first order; between its edges cloth follows them as a film does (each vertex the
    mean of its neighbours); on a tube or edge between two marks, in proportion to length.
Limits: one direction of play, the worst, that of the tube's top, falling evenly to its feet. Play and tolerance are
    taken as two standard deviations. Coordinates typed in count as exact, as the survey has them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_array, csc_array
from scipy.sparse.linalg import splu
from scipy.spatial import cKDTree

from canvas.cloth.lines import arc_lengths
from canvas.cloth.rigging import Rigging
from canvas.cloth.shape import Formed, PanelShape
from canvas.design.schema.rig import Panel, Tube
from canvas.design.tables import finishes
from canvas.geometry.surface import Bools, Floats, Ints, Surface

AT_A_MARK = 0.08  # a corner or tube point this near a mark follows it [m]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Follow:
    """What points follow: share of each mark (n, k), play and tolerance (n,) [m]."""

    points: Floats
    shares: Floats
    play: Floats
    tolerance: Floats


class Sureness:
    """How well the places of one set's canvas and of the tubes are known.

    Parameters
    ----------
    rigging : Rigging
    formed : Formed
        The set's panels.
    """

    def __init__(self, rigging: Rigging, formed: Formed) -> None:
        self._rigging = rigging
        marks = rigging.model.marks
        count = len(marks.names)
        self._blocks = marks.covariance.reshape(count, 3, count, 3)
        self._known: dict[str, _Follow] = {}
        for name in rigging.model.tubes:
            self._known[name] = self._tube(rigging.model.design.tube_named(name), rigging.model.tubes[name].line)
        waiting = list(formed.panels)
        while waiting:
            ready = [shape for shape in waiting if not self._wants(shape) & {other.name for other in waiting}]
            for shape in ready or waiting[:1]:
                self._known[shape.name] = self._panel(rigging.model.design.panel_named(shape.name), shape)
                waiting.remove(shape)
        self._trees = {name: cKDTree(follow.points) for name, follow in self._known.items()}

    def sd(self, surface: Surface, spot: Floats, direction: Floats) -> float | None:
        """Return the standard deviation of a spot of a surface along a direction [m].

        None where nothing with a stated error holds it, such as the hull.

        Parameters
        ----------
        surface : Surface
        spot, direction : (3,) ndarray
            [m]; the direction need not be unit.
        """
        follow = self._known.get(surface.panel or surface.name)
        if follow is None or not np.isfinite(spot).all():
            return None
        row = int(self._trees[surface.panel or surface.name].query(spot)[1])
        unit = direction / np.linalg.norm(direction)
        along = np.einsum("i,iajb,j,a,b->", follow.shares[row], self._blocks, follow.shares[row], unit, unit)
        return float(np.sqrt(max(along, 0.0) + (follow.play[row] / 2) ** 2 + (follow.tolerance[row] / 2) ** 2))

    def worst(self, panels: tuple[str, ...]) -> float | None:
        """Return the greatest vertical standard deviation of any vertex of some panels [m]."""
        known = [self._known[name] for name in panels if name in self._known]
        if not known:
            return None
        up = self._blocks[:, 2, :, 2]
        variances = [
            np.sum((one.shares @ up) * one.shares, axis=1) + (one.play / 2) ** 2 + (one.tolerance / 2) ** 2
            for one in known
        ]
        return float(np.sqrt(max(float(each.max()) for each in variances)))

    def _tube(self, tube: Tube | None, line: Floats) -> _Follow:
        marks, shares = self._rigging.model.marks, np.zeros((len(line), len(self._blocks)))
        play = np.zeros(len(line))
        if tube is not None:
            spots = tube.through or [spot for spot in (tube.start, tube.end) if spot is not None]
            named = [marks.names.index(spot) if isinstance(spot, str) else None for spot in spots]
            places = np.array([self._rigging.model.at(spot) for spot in spots])
            along = arc_lengths(line)
            where = along[cKDTree(line).query(places)[1]]
            order = np.argsort(where, kind="stable")
            for k, mark in enumerate(named):
                if mark is not None:
                    hat = np.zeros(len(named))
                    hat[k] = 1.0
                    shares[:, mark] += np.interp(along, where[order], hat[order])
            rise = line[:, 2] - min(line[0, 2], line[-1, 2])
            play = tube.play * np.clip(rise / max(float(rise.max()), 1e-9), 0.0, 1.0)
        return _Follow(points=line, shares=shares, play=play, tolerance=np.zeros(len(line)))

    def _wants(self, shape: PanelShape) -> set[str]:
        panel = self._rigging.model.design.panel_named(shape.name)
        return {edge.along for edge in panel.edges if edge.along is not None} - {shape.name}

    def _panel(self, panel: Panel, shape: PanelShape) -> _Follow:
        count = len(shape.vertices)
        values = np.zeros((count, len(self._blocks) + 2))  # shares of marks, play, tolerance
        fixed: Bools = np.zeros(count, dtype=bool)
        for edge, line in zip(panel.edges, shape.edge_vertices, strict=True):
            if edge.along in self._known:
                values[line, :-1] = self._borrowed(str(edge.along), shape.vertices[line])
                fixed[line] = True
        for edge, line in zip(panel.edges, shape.edge_vertices, strict=True):
            if edge.along not in self._known:
                self._between_corners(values, fixed, line, shape.vertices)
                fixed[line] = True
        for edge, line in zip(panel.edges, shape.edge_vertices, strict=True):
            values[line, -1] = np.maximum(
                values[line, -1], edge.tolerance or finishes()[edge.finish or "hem"].tolerance
            )
        values = _film(values, fixed, shape.faces)
        return _Follow(points=shape.vertices, shares=values[:, :-2], play=values[:, -2], tolerance=values[:, -1])

    def _borrowed(self, name: str, points: Floats) -> Floats:
        """Return shares and play of the nearest points of a tube or panel."""
        other = self._known[name]
        rows = cKDTree(other.points).query(points)[1]
        values: Floats = np.c_[other.shares[rows], other.play[rows]]
        return values

    def _between_corners(self, values: Floats, fixed: Bools, line: Ints, vertices: Floats) -> None:
        """Fill in an edge that hangs between its corners."""
        marks = self._rigging.model.marks
        for corner in (line[0], line[-1]):
            if not fixed[corner] and len(marks.names):
                away = np.linalg.norm(marks.xyz - vertices[corner], axis=1)
                if away.min() < AT_A_MARK:
                    values[corner, int(np.argmin(away))] = 1.0
        along = arc_lengths(vertices[line])
        share = (along / max(float(along[-1]), 1e-9))[:, None]
        values[line[1:-1]] = ((1 - share) * values[line[0]] + share * values[line[-1]])[1:-1]


def _film(values: Floats, fixed: Bools, faces: Ints) -> Floats:
    """Return values at all vertices: as given where fixed, elsewhere each the mean of its neighbours."""
    free = np.flatnonzero(~fixed)
    if not len(free):
        return values
    sides = np.vstack([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
    pairs = np.unique(np.vstack([sides, sides[:, ::-1]]), axis=0)
    count = len(values)
    joined = csc_array(coo_array((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), shape=(count, count)))
    degree: Floats = np.asarray(joined.sum(axis=1)).ravel()
    known = np.flatnonzero(fixed)
    inner = csc_array(coo_array((degree[free], (np.arange(len(free)),) * 2), shape=(len(free),) * 2)) - csc_array(
        joined[free][:, free]
    )
    filled = values.copy()
    filled[free] = splu(csc_array(inner)).solve(np.asarray(joined[free][:, known] @ values[known]))
    return filled
