"""Say how well the place of cloth and tubes is known: marks, play of tubes, and the tolerance of edges.

Computes: for each vertex of a hanging panel, how much it follows each mark, each spot measured on canvas and each loose
    tube, and the tolerance of its edges; from these the standard deviation of its place in a direction, and of the
    length of each edge.
Units: metres, boat frame.
Source: `canvas.survey.carry`; between its edges cloth follows them as a film does (each vertex the mean of its
    neighbours); on a tube or edge between two marks, in proportion to length.
Limits: a loose hoop turns about the line of its feet; of part of a hoop given by crown and rake the ends count. Play
    and tolerance are taken as two standard deviations. Coordinates typed in count as exact, as the survey has them,
    but a length that hangs on one is not known.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.linalg import block_diag
from scipy.sparse import coo_array, csc_array
from scipy.sparse.linalg import splu
from scipy.spatial import cKDTree

from canvas.arrays import distinct
from canvas.cloth.lines import arc_lengths
from canvas.cloth.rigging import Rigging
from canvas.cloth.shape import Formed, PanelShape
from canvas.design.schema.rig import Edge, Panel, Tube
from canvas.design.tables import finishes
from canvas.geometry.surface import Bools, Floats, Ints, Surface
from canvas.survey.carry import Carried, Followers, carried_length, carried_place

AT_A_MARK = 0.08  # a corner or tube point this near a mark follows it [m]
AT_A_SPOT = 0.01  # a corner this near to where canvas was measured follows that [m]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Follow:
    """What points follow, the tolerance of their edges (n,) [m], and whether all they follow was measured (n,)."""

    followers: Followers
    tolerance: Floats
    known: Bools


class Sureness:
    """How well the places of one set's canvas and of the tubes are known.

    Parameters
    ----------
    rigging : Rigging
    formed : Formed
        The set's panels.

    Attributes
    ----------
    loose : list of str
        Tubes that move by hand.
    ways : (t, 3) ndarray
        Unit direction in which each moves, either way.
    """

    def __init__(self, rigging: Rigging, formed: Formed) -> None:
        self._rigging = rigging
        self._formed = formed
        spots = [rigging.measured[name] for name in rigging.measured]
        self._spots = np.concatenate([np.zeros((0, 3)), *(one.spots for one in spots)])
        self._covariance = block_diag(
            rigging.model.marks.covariance, *(sd**2 * np.eye(3) for one in spots for sd in one.sd.tolist())
        )
        self._follows = len(self._covariance) // 3
        self._measured = _measured_marks(rigging)
        self.loose = [name for name, line in rigging.model.tubes.items() if line.play > 0]
        self.ways = np.array([sway_of(rigging.model.tubes[name].line)[0] for name in self.loose]).reshape(-1, 3)
        self._known: dict[str, _Follow] = {}
        for name in rigging.model.tubes:
            self._known[name] = self._tube(rigging.model.design.tube_named(name), rigging.model.tubes[name].line)
        waiting = list(formed.panels)
        while waiting:
            ready = [shape for shape in waiting if not self._wants(shape) & {other.name for other in waiting}]
            for shape in ready or waiting[:1]:
                self._known[shape.name] = self._panel(rigging.model.design.panel_named(shape.name), shape)
                waiting.remove(shape)
        self._trees = {name: cKDTree(follow.followers.points) for name, follow in self._known.items()}

    def followers(self, name: str) -> Followers:
        """Return what the vertices of a panel, or points of a tube, follow."""
        return self._known[name].followers

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
        found = carried_place(follow.followers.at([row]), 0, direction, self._covariance)
        return float(np.sqrt(found.sd**2 + (found.play / 2) ** 2 + (follow.tolerance[row] / 2) ** 2))

    def held(self, name: str) -> float | None:
        """Return the greatest standard deviation along any axis of what holds a panel or tube [m].

        None where it hangs on something that was only typed in, so that nothing says how well it is known.

        Parameters
        ----------
        name : str
            Of a panel or tube.
        """
        follow = self._known.get(name)
        if follow is None:
            return None
        lines = [line for shape in self._formed.panels if shape.name == name for line in shape.edge_vertices]
        rows = np.unique(np.concatenate(lines)) if lines else np.arange(len(follow.known))
        if not follow.known[rows].all():
            return None
        count = self._follows
        sds = [
            np.sum((follow.followers.shares[rows] @ block) * follow.followers.shares[rows], axis=1)
            for block in (self._covariance.reshape(count, 3, count, 3)[:, k, :, k] for k in range(3))
        ]
        play = np.linalg.norm(follow.followers.plays[rows], axis=1) / 2
        return float(np.sqrt((np.max(sds, axis=0) + play**2).max()))

    def worst(self, panels: tuple[str, ...]) -> float | None:
        """Return the greatest vertical standard deviation of any vertex of some panels [m]."""
        known = [self._known[name] for name in panels if name in self._known]
        if not known:
            return None
        count = self._follows
        up = self._covariance.reshape(count, 3, count, 3)[:, 2, :, 2]
        variances = [
            np.sum((one.followers.shares @ up) * one.followers.shares, axis=1)
            + ((one.followers.plays @ np.abs(self.ways[:, 2])) / 2) ** 2
            + (one.tolerance / 2) ** 2
            for one in known
        ]
        return float(np.sqrt(max(float(each.max()) for each in variances)))

    def edge_length(self, panel: str, edge: int) -> Carried | None:
        """Return the length of an edge of a panel with how well it is known.

        None where it hangs on something that was only typed in, so that nothing says how well it is known.

        Parameters
        ----------
        panel : str
        edge : int
            In the design's order.
        """
        follow, line = self._known[panel], self._formed.panel(panel).edge_vertices[edge]
        if not follow.known[line].all():
            return None
        return carried_length(follow.followers.at(line.tolist()), self._covariance)

    def _follow(self, points: Floats, values: Floats, tolerance: Floats, known: Bools) -> _Follow:
        followers = Followers(
            points=points, shares=values[:, : self._follows], plays=values[:, self._follows :], ways=self.ways
        )
        return _Follow(followers=followers, tolerance=tolerance, known=known)

    def _tube(self, tube: Tube | None, line: Floats) -> _Follow:
        marks = self._rigging.model.marks
        values = np.zeros((len(line), self._follows + len(self.loose)))
        known = False
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
                    values[:, mark] += np.interp(along, where[order], hat[order])
            if tube.name in self.loose:
                values[:, self._follows + self.loose.index(tube.name)] = tube.play * sway_of(line)[1]
            known = tube.crown is None and all(isinstance(spot, str) and spot in self._measured for spot in spots)
        return self._follow(line, values, np.zeros(len(line)), np.full(len(line), known))

    def _wants(self, shape: PanelShape) -> set[str]:
        panel = self._rigging.model.design.panel_named(shape.name)
        return {edge.along for edge in panel.edges if edge.along is not None} - {shape.name}

    def _panel(self, panel: Panel, shape: PanelShape) -> _Follow:
        count = len(shape.vertices)
        values = np.zeros((count, self._follows + len(self.loose) + 1))  # shares of marks, plays of tubes, tolerance
        fixed, known = np.zeros(count, dtype=bool), np.zeros(count, dtype=bool)
        for edge, line in zip(panel.edges, shape.edge_vertices, strict=True):
            if edge.along in self._known:
                values[line, :-1], known[line] = self._borrowed(str(edge.along), shape.vertices[line])
                if not known[line].all():
                    self._between_marks(values, known, line, edge, shape.vertices)
                fixed[line] = True
        for edge, line in zip(panel.edges, shape.edge_vertices, strict=True):
            if edge.along not in self._known:
                self._between_corners(values, fixed, known, line, shape.vertices)
                through = all(isinstance(spot, str) and spot in self._measured for spot in edge.through)
                known[line[1:-1]] = through and bool(known[line[[0, -1]]].all())
                fixed[line] = True
        for edge, line in zip(panel.edges, shape.edge_vertices, strict=True):
            values[line, -1] = np.maximum(
                values[line, -1], edge.tolerance or finishes()[edge.finish or "hem"].tolerance
            )
        values = _film(values, fixed, shape.faces)
        return self._follow(shape.vertices, values[:, :-1], values[:, -1], known)

    def _borrowed(self, name: str, points: Floats) -> tuple[Floats, Bools]:
        """Return what the nearest points of a tube or panel follow, and whether it was measured."""
        other = self._known[name]
        rows = cKDTree(other.followers.points).query(points)[1]
        return np.c_[other.followers.shares[rows], other.followers.plays[rows]], other.known[rows]

    def _between_marks(self, values: Floats, known: Bools, line: Ints, edge: Edge, vertices: Floats) -> None:
        """Let an edge along part of a typed tube follow the measured marks at its ends, and the tube as it sways."""
        marks = self._rigging.model.marks
        tube = self._rigging.model.design.tube_named(str(edge.along))
        ends = [edge.start or (tube.start if tube else None), edge.to or (tube.end if tube else None)]
        if not all(isinstance(end, str) and end in self._measured for end in ends):
            return
        first, last = (marks.names.index(str(end)) for end in ends)
        if np.linalg.norm(marks.xyz[first] - vertices[line[0]]) > np.linalg.norm(marks.xyz[last] - vertices[line[0]]):
            first, last = last, first
        along = arc_lengths(vertices[line])
        values[line, : self._follows] = 0.0
        values[line, first] = 1 - along / along[-1]
        values[line, last] += along / along[-1]
        known[line] = True

    def _between_corners(self, values: Floats, fixed: Bools, known: Bools, line: Ints, vertices: Floats) -> None:
        """Fill in an edge that hangs between its corners."""
        marks = self._rigging.model.marks
        for corner in (line[0], line[-1]):
            spot = np.flatnonzero(np.linalg.norm(self._spots - vertices[corner], axis=1) < AT_A_SPOT)
            if not fixed[corner] and len(spot):
                values[corner, len(marks.names) + int(spot[0])] = 1.0
                known[corner] = True
            elif not fixed[corner] and len(marks.names):
                away = np.linalg.norm(marks.xyz - vertices[corner], axis=1)
                if away.min() < AT_A_MARK:
                    values[corner, int(np.argmin(away))] = 1.0
                    known[corner] = marks.names[int(np.argmin(away))] in self._measured
        along = arc_lengths(vertices[line])
        share = (along / max(float(along[-1]), 1e-9))[:, None]
        values[line[1:-1]] = ((1 - share) * values[line[0]] + share * values[line[-1]])[1:-1]


def sway_of(line: Floats) -> tuple[Floats, Floats]:
    """Return the unit direction in which a tube sways about the line of its ends, and each point's share of it (k,)."""
    axis = line[-1] - line[0]
    axis = axis / np.linalg.norm(axis)
    out = line - line[0]
    out = out - (out @ axis)[:, None] * axis
    away = np.linalg.norm(out, axis=1)
    top = out[int(np.argmax(away))]
    way = np.cross(axis, top if away.max() > 1e-6 else [0.0, 0.0, 1.0])
    if np.linalg.norm(way) < 1e-9:
        way = np.array([1.0, 0.0, 0.0])
    return way / np.linalg.norm(way), away / max(float(away.max()), 1e-9)


def _measured_marks(rigging: Rigging) -> frozenset[str]:
    """Return the marks whose place comes from readings, and those the survey is laid on."""
    marks = rigging.model.marks
    touched = {mark for reading in marks.readings for mark in reading.marks}
    return frozenset(touched | set(rigging.model.design.survey.held)) if touched else frozenset()


def _film(values: Floats, fixed: Bools, faces: Ints) -> Floats:
    """Return values at all vertices: as given where fixed, elsewhere each the mean of its neighbours."""
    free = np.flatnonzero(~fixed)
    if not len(free):
        return values
    sides = np.vstack([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
    pairs, _, _ = distinct(np.vstack([sides, sides[:, ::-1]]))
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
