"""Find the lines that a panel lies over, and whether each runs under it at all.

Computes: the line on top of a bow, rail or boom, on which cloth lies; whether it runs under the panel.
Units: metres, boat frame.
Source: geometry; the panel is seen square to the mean plane of its edges.
Limits: how high a line stands against the cloth is found when the panel is formed, not here.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from scipy.spatial import ConvexHull, QhullError
from shapely import LineString, Point, Polygon

from canvas.design.schema.design import Design
from canvas.geometry.surface import Floats
from canvas.geometry.tubes import TubeLine

SLACK = 0.05  # a bow's crown may lie this far below the flattest that cloth can be, for edges that are set up later [m]
LEAST = 0.05  # a line that runs under less than this share of the panel's width does not hold it up


class NotUnder(Exception):
    """Raised for a line that a panel cannot lie over: which one, what was found, what would do."""

    def __init__(self, place: int, found: str, wanted: str) -> None:
        super().__init__(found)
        self.place, self.found, self.wanted = place, found, wanted


def lines_under(
    design: Design, names: Sequence[str], *, tubes: Mapping[str, TubeLine], edges: Sequence[Floats]
) -> tuple[Floats, ...]:
    """Return the lines on which a panel lies inside its edges: first along tubes, then along booms.

    Parameters
    ----------
    design : Design
    names : sequence of str
        Tubes and booms under the panel.
    tubes : mapping of str to TubeLine
        A tube that could not be built is absent.
    edges : sequence of (k, 3) ndarray
        The panel's edges in order, each from corner to corner [m].

    Raises
    ------
    NotUnder
        When one of them does not run under the panel, or is not there.
    """
    built, booms = [], []
    declared = {tube.name for tube in design.tube}
    for place, name in enumerate(names):
        if name in tubes:
            line = _top_of(tubes[name])
            if not _under(line, edges, hoop=tubes[name].kind == "hoop"):
                raise NotUnder(
                    place, f'"{name}", which does not run under this panel',
                    "Change its rake, crown or feet so that its crown meets the panel inside its edges.",
                )  # fmt: skip
            built.append(line)
        elif name not in declared:
            line = _boom_top(design, name, place)
            if not _under(line, edges, hoop=False):
                raise NotUnder(place, f'"{name}", which does not run under this panel', "Leave it out.")
            booms.append(line)
    return (*built, *booms)


def _under(line: Floats, edges: Sequence[Floats], *, hoop: bool) -> bool:
    """Return whether a line runs under a panel; of a hoop, whether its crown does, high enough for cloth to meet."""
    loop = np.vstack([edge[:-1] for edge in edges])
    centre = loop.mean(axis=0)
    _, _, axes = np.linalg.svd(loop - centre, full_matrices=False)
    panel = Polygon((loop - centre) @ axes[:2].T).buffer(0)
    flat = (line - centre) @ axes[:2].T
    if not hoop:
        return bool(panel.intersection(LineString(flat)).length > LEAST * np.sqrt(panel.area))
    chord = line[-1] - line[0]
    off = (line - line[0]) - np.outer((line - line[0]) @ chord / (chord @ chord), chord)
    crown = int(np.argmax(np.linalg.norm(off, axis=1)))
    outward = axes[2] * np.sign(-np.cross(loop - centre, np.roll(loop - centre, -1, axis=0)).sum(axis=0) @ axes[2])
    return bool(panel.contains(Point(flat[crown]))) and _depth(line[crown], loop, outward) < SLACK


def _depth(point: Floats, loop: Floats, outward: Floats) -> float:
    """Return how far below all that could be cloth a point lies, which is the convex hull of the edges [m]."""
    low = float(((loop - point) @ outward).min())
    try:
        sides = ConvexHull(loop).equations
    except QhullError:  # the edges lie in a plane
        return low
    rise, gap = sides[:, :3] @ outward, sides[:, :3] @ point + sides[:, 3]
    below = rise < -1e-9
    return float((gap[below] / -rise[below]).max())


def _top_of(tube: TubeLine) -> Floats:
    """Return the line on top of a tube, on which cloth lies."""
    along = np.gradient(tube.line, axis=0)
    along /= np.linalg.norm(along, axis=1, keepdims=True)
    centre = tube.line.mean(axis=0) - np.array([0.0, 0.0, 0.5 * np.ptp(tube.line[:, 2])])
    outward = tube.line - centre
    outward -= (outward * along).sum(axis=1, keepdims=True) * along
    outward /= np.maximum(np.linalg.norm(outward, axis=1, keepdims=True), 1e-9)
    line: Floats = tube.line + tube.diameter / 2 * outward
    return line


def _boom_top(design: Design, name: str, place: int) -> Floats:
    mast = design.spars.mast if name == "boom" else design.spars.mizzen
    boom = mast.boom if mast is not None else None
    if mast is None or boom is None:
        raise NotUnder(place, f'"{name}", which is not declared', "Declare it under [spars].")
    start = np.array([mast.x, 0.0, boom.height + boom.diameter])
    level = np.array([np.cos(boom.angle) * boom.length, np.sin(boom.angle) * boom.length])
    end = np.array([mast.x + level[0], level[1], boom.end_height + boom.diameter])
    line: Floats = start + np.linspace(0, 1, 40)[:, None] * (end - start)
    return line
