"""Find geometry that cannot be: hoops through one another, marks inside the cabin, marks far from the boat.

Computes: problems by path of the design file.
Units: metres, boat frame.
Source: project rules; the limits stand beside them.
Limits: solids are checked where they are built, panels where their edges are resolved.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import combinations

import numpy as np
from scipy.spatial import cKDTree

from canvas.design.names import NameProblem
from canvas.design.schema.design import Design
from canvas.geometry.surface import Floats
from canvas.geometry.tubes import TubeLine
from canvas.survey.marks import Marks

NEAR_ENDS = 0.25  # tubes may meet this near their ends: feet, slides and hinges are there [m]
INSIDE = 0.03  # a mark may lie this deep in the cabin's faces, for tape and paint [m]
FAR = 3.0  # a mark further than this from hull and rig cannot be right [m]


def geometry_problems(design: Design, *, tubes: Mapping[str, TubeLine], marks: Marks) -> list[NameProblem]:
    """Return every problem with where things are.

    Parameters
    ----------
    design : Design
    tubes : mapping of str to TubeLine
        Middle lines of those that could be built.
    marks : Marks
    """
    return [*_crossing_tubes(design, tubes), *_marks_inside_cabin(design, marks), *_marks_far_off(design, marks)]


def _crossing_tubes(design: Design, tubes: Mapping[str, TubeLine]) -> Iterator[NameProblem]:
    order = {tube.name: index for index, tube in enumerate(design.tube)}
    stiff = [(tube, inner) for tube in tubes.values() if tube.kind != "wire" and len(inner := _inner(tube.line))]
    trees = {tube.name: cKDTree(inner) for tube, inner in stiff}
    for (first, inner_a), (second, inner_b) in combinations(stiff, 2):
        touching = 0.5 * (first.diameter + second.diameter)
        if _boxes_apart(inner_a, inner_b) > touching:  # no point of one comes near the other
            continue
        distance = np.asarray(trees[second.name].query(inner_a)[0])
        nearest = int(np.argmin(distance))
        if distance[nearest] < 0.6 * touching and not _side_by_side(distance, touching):
            x, y, z = inner_a[nearest]
            yield NameProblem(
                path=("tube", order[second.name]), code="crossing-tubes",
                found=f'"{second.name}" running through "{first.name}" at {x:.2f}, {y:.2f}, {z:.2f} m',
                wanted="Change rake, crown or feet of one of them.",
            )  # fmt: skip


def _boxes_apart(one: Floats, other: Floats) -> float:
    """Return how far the boxes of two sets of points are apart along the axis on which they are furthest apart [m]."""
    return float(np.max([one.min(axis=0) - other.max(axis=0), other.min(axis=0) - one.max(axis=0)]))


def _side_by_side(distance: Floats, touching: float) -> bool:
    """Whether two tubes lie along one another rather than cross: near over more than a fifth of the length."""
    return bool((distance < touching).mean() > 0.2)


def _inner(line: Floats) -> Floats:
    """Return points every 5 mm of a line, without its ends."""
    steps = np.linalg.norm(np.diff(line, axis=0), axis=1)
    along = np.concatenate([[0.0], np.cumsum(steps)])
    where = np.arange(NEAR_ENDS, along[-1] - NEAR_ENDS, 0.005)
    points: Floats = np.stack([np.interp(where, along, line[:, axis]) for axis in range(3)], axis=1)
    return points


def _marks_inside_cabin(design: Design, marks: Marks) -> Iterator[NameProblem]:
    cabin = design.cabin
    for name, (x, y, z) in zip(marks.names, marks.xyz, strict=True):
        share = (x - cabin.front) / -cabin.front
        if not INSIDE / -cabin.front < share < 1 - INSIDE / -cabin.front:
            continue
        width = cabin.front_width + share * (cabin.aft_width - cabin.front_width)
        roof = cabin.front_height + share * (cabin.aft_height - cabin.front_height)
        if abs(y) < width / 2 - INSIDE and z < roof - INSIDE:
            yield NameProblem(
                path=("marks", name), code="mark-inside-cabin",
                found=f"a mark inside the cabin ({x:.2f}, {y:.2f}, {z:.2f} m)",
                wanted=f"There the roof is at {roof:.2f} m and the side at {width / 2:.2f} m: measure it again.",
            )  # fmt: skip


def _marks_far_off(design: Design, marks: Marks) -> Iterator[NameProblem]:
    edge = np.array(design.hull.deck_edge)
    low = np.array([edge[:, 0].min() - FAR, -np.abs(edge[:, 1]).max() - FAR, design.hull.waterline - FAR])
    high = np.array([edge[:, 0].max() + FAR, np.abs(edge[:, 1]).max() + FAR, design.spars.mast.top + FAR])
    for name, place in zip(marks.names, marks.xyz, strict=True):
        if (place < low).any() or (place > high).any():
            yield NameProblem(
                path=("marks", name), code="mark-far-off",
                found=f"a mark at {place[0]:.2f}, {place[1]:.2f}, {place[2]:.2f} m",
                wanted=f"It lies more than {FAR:.0f} m off the boat: check the unit and the sign.",
            )  # fmt: skip
