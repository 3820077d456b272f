"""Sew flat parts together and hang them up: what the cut pieces really become, found without the design's shape.

Computes: flat parts laid edge to edge, pulled step by step to what holds them, settled as elastic cloth.
Units: metres, newtons a metre.
Source: canvas/cloth/elastic.py; rigid fits by Kabsch W, Acta Crystallographica A32, 1976.
Limits: seams join equal shares of their two sides' lengths and are as stiff as CONTACT; seam and hem folds do not
    stiffen the cloth.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from canvas.cloth.elastic import Loaded, settle
from canvas.cloth.lines import arc_lengths
from canvas.cloth.loads import Loads
from canvas.cloth.membrane import ElasticLine, Join, Membrane, Support
from canvas.cloth.partners import vertex_cells
from canvas.geometry.surface import Bools, Floats, Ints

PULLS = 8  # steps in which held edges are pulled to their places


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FlatPart:
    """One part as cut, without allowances.

    Attributes
    ----------
    name : str
    points : (n, 2) ndarray
        [m]
    faces : (m, 3) ndarray of int
        Counter-clockwise with the outside up.
    warp : (2,) ndarray
        Direction of the warp in the part's plane.
    stiffness : (m, 4) ndarray
        Warp, weft, cross and shear [N/m].
    """

    name: str
    points: Floats
    faces: Ints
    warp: Floats
    stiffness: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Seam:
    """Two chains of vertices sewn to each other from their first vertices to their last.

    Attributes
    ----------
    first, second : int
        Numbers of the parts.
    chain, onto : (k,), (l,) ndarray of int
        Vertices of the first part along the seam, and of the second.
    """

    first: int
    second: int
    chain: Ints
    onto: Ints


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Hold:
    """Vertices of a part held in space: on a tube, at a zip, at a tie.

    Attributes
    ----------
    part : int
    vertices : (k,) ndarray of int
    places : (k, 3) ndarray
        [m]
    """

    part: int
    vertices: Ints
    places: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Webbing:
    """What runs along a chain of vertices of a part: webbing, wire or batten.

    Attributes
    ----------
    part : int
    vertices : (k,) ndarray of int
    stretching : float
        EA [N].
    bending : float
        EI; 0 for what only pulls [N m2].
    rest : float or None
        Its whole unstrained length; None: as long as the flat edge [m].
    """

    part: int
    vertices: Ints
    stretching: float
    bending: float = 0.0
    rest: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sewn:
    """Parts sewn together and hung up.

    Attributes
    ----------
    vertices : tuple of (n, 3) ndarray
        Of each part [m].
    strain : tuple of (m, 2) ndarray
        Of each part's faces along warp and weft, Green-Lagrange.
    state : tuple of (m,) ndarray of int
        0 taut, 1 wrinkled, 2 slack.
    loaded : Loaded
        All parts as one.
    """

    vertices: tuple[Floats, ...]
    strain: tuple[Floats, ...]
    state: tuple[Ints, ...]
    loaded: Loaded


def sew(
    parts: tuple[FlatPart, ...],
    *,
    seams: tuple[Seam, ...],
    holds: tuple[Hold, ...],
    webbing: tuple[Webbing, ...] = (),
    over: tuple[tuple[int, Ints, Floats], ...] = (),
    loads: Loads | None = None,
    astray: Floats | None = None,
    what: str = "The sewn canvas",
) -> Sewn:
    """Return flat parts sewn together and hung up.

    Parameters
    ----------
    parts : tuple of FlatPart
    seams : tuple of Seam
        They must join all parts.
    holds : tuple of Hold
    webbing : tuple of Webbing
    over : tuple of (part, vertices, line)
        Lines from which vertices of a part may lift but through which they may not pass.
    loads : Loads or None
        By vertex and face of the parts one after another.
    astray : (3,) ndarray or None
        By how much the start is moved, to see that the end does not depend on it [m].
    what : str
        How a failure names it.

    Raises
    ------
    CouldNot
        When the cloth does not come to rest.
    """
    at = np.cumsum([0, *(len(part.points) for part in parts)])
    flat = _edge_to_edge(parts, seams)
    held, goal = _held(holds, at)
    membrane = Membrane(
        faces=np.concatenate([first + part.faces for first, part in zip(at[:-1], parts, strict=True)]),
        rest=np.concatenate([_turned(part)[part.faces] for part in parts]),
        stiffness=np.concatenate([part.stiffness for part in parts]),
        held=held,
        lines=tuple(_line(each, parts, at) for each in webbing),
        supports=tuple(Support(line=line, vertices=at[part] + vertices) for part, vertices, line in over),
        joins=tuple(_join(seam, parts, at) for seam in seams),
    )
    places = _hung_flat(flat, goal, held)
    if astray is not None:
        places[~held] += astray
    loaded = _pulled(membrane, places, goal, loads=loads, what=what)
    cuts, faces = at[1:-1], np.cumsum([len(part.faces) for part in parts])[:-1]
    return Sewn(
        vertices=tuple(np.split(loaded.vertices, cuts)),
        strain=tuple(np.split(_strain(membrane, loaded.vertices), faces)),
        state=tuple(np.split(loaded.state, faces)),
        loaded=loaded,
    )


def _held(holds: tuple[Hold, ...], at: Ints) -> tuple[Bools, Floats]:
    """Return which vertices of all parts are held and where, (n,) and (n, 3); `at` where each part's begin."""
    held = np.zeros(at[-1], dtype=bool)
    goal = np.zeros((at[-1], 3))
    for hold in holds:
        held[at[hold.part] + hold.vertices] = True
        goal[at[hold.part] + hold.vertices] = hold.places
    return held, goal


def _pulled(membrane: Membrane, places: Floats, goal: Floats, *, loads: Loads | None, what: str) -> Loaded:
    """Return the cloth at rest after what is held was pulled from where it lies to its goal, a step at a time."""
    held = membrane.held
    begin, places = places[held], places.copy()
    for step in range(1, PULLS + 1):
        share = step / PULLS
        places[held] = begin + share * (goal[held] - begin)
        last = step == PULLS
        loaded = settle(membrane, places, loads=loads if last else None, what=what, rough=not last)
        places = loaded.vertices.copy()
    return loaded


def _turned(part: FlatPart) -> Floats:
    """Return a part's points with its warp along the first axis (n, 2)."""
    c, s = part.warp / np.linalg.norm(part.warp)
    return np.asarray(part.points @ np.array([[c, -s], [s, c]]))


def _edge_to_edge(parts: tuple[FlatPart, ...], seams: tuple[Seam, ...]) -> Floats:
    """Return all parts laid in one plane, each turned and moved so that a seam meets one already laid (n, 2)."""
    laid: dict[int, Floats] = {0: parts[0].points}
    while len(laid) < len(parts):
        before = len(laid)
        for seam in seams:
            for here, there, mine, theirs in (
                (seam.second, seam.first, seam.onto, seam.chain),
                (seam.first, seam.second, seam.chain, seam.onto),
            ):
                if here not in laid and there in laid:
                    ends = parts[here].points[mine[[0, -1]]]
                    goal = laid[there][theirs[[0, -1]]]
                    turn, shift = _rigid(ends, goal)
                    laid[here] = parts[here].points @ turn.T + shift
        if len(laid) == before:  # not sewn to the rest: beside it
            lonely = min(set(range(len(parts))) - laid.keys())
            laid[lonely] = parts[lonely].points
    return np.vstack([laid[k] for k in range(len(parts))])


def _rigid(points: Floats, goal: Floats) -> tuple[Floats, Floats]:
    """Return the turn and shift that bring points (k, d) nearest to a goal (k, d), without mirroring."""
    middle, aim = points.mean(axis=0), goal.mean(axis=0)
    u, _, v = np.linalg.svd((goal - aim).T @ (points - middle))
    sign = np.ones(points.shape[1])
    sign[-1] = np.sign(np.linalg.det(u) * np.linalg.det(v))
    turn = (u * sign) @ v
    return turn, aim - turn @ middle


def _hung_flat(flat: Floats, goal: Floats, held: Bools) -> Floats:
    """Return the flat layout in space, turned and moved to where its held vertices are nearest to their places."""
    level = np.column_stack([flat, np.zeros(len(flat))])
    turn, shift = _rigid(level[held], goal[held])
    return np.asarray(level @ turn.T + shift)


def _line(each: Webbing, parts: tuple[FlatPart, ...], at: Ints) -> ElasticLine:
    rest = np.linalg.norm(np.diff(parts[each.part].points[each.vertices], axis=0), axis=1)
    if each.rest is not None:
        rest = rest * (each.rest / rest.sum())
    return ElasticLine(
        name=parts[each.part].name,
        vertices=int(at[each.part]) + each.vertices,
        rest=rest,
        stretching=each.stretching,
        bending=each.bending,
    )


def _join(seam: Seam, parts: tuple[FlatPart, ...], at: Ints) -> Join:
    mine, theirs = parts[seam.first].points[seam.chain], parts[seam.second].points[seam.onto]
    along = arc_lengths(mine)
    cell, share = vertex_cells(theirs, along / along[-1] * arc_lengths(theirs)[-1])
    onto = int(at[seam.second]) + seam.onto
    return Join(
        name=f"{parts[seam.first].name} to {parts[seam.second].name}",
        vertices=int(at[seam.first]) + seam.chain,
        ends=np.stack([onto[cell], onto[cell + 1]], axis=1),
        share=share,
    )


def _strain(membrane: Membrane, places: Floats) -> Floats:
    """Return Green-Lagrange strains along warp and weft (m, 2)."""
    rest = np.swapaxes(membrane.rest[:, 1:] - membrane.rest[:, :1], 1, 2)
    corner = places[membrane.faces]
    sides = np.swapaxes(corner[:, 1:] - corner[:, :1], 1, 2)
    grow = np.matmul(sides, np.linalg.inv(rest))
    return np.asarray((np.einsum("mda,mda->ma", grow, grow) - 1) / 2)
