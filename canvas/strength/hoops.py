"""Load the tubes and wires of a set with what the canvas pulls on them.

Computes: greatest bending moment of each tube as a frame, what its straps or struts carry, the pull in wires, and how
    much of its yield a person's weight takes who falls against a hoop.
Units: newtons; a moment of so many newton metres is written as newtons at a lever of one metre.
Source: frames by `canvas.strength.frames`; a wire's pull by T^3 = w^2 L^2 E A / 24, for a level wire without pull of
    its own under an even load w, flat parabola; strength of a tube: its yield moment, half of it near welds of
    aluminium; of a wire and of straps where declared.
Limits: a tube that lies on deck all along does not bend. A wire's own pull is not known and left out: a set-up wire
    carries less from the cloth than said and more in all.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from weakref import WeakKeyDictionary

import numpy as np

from canvas.cloth.domain import closest
from canvas.cloth.lines import arc_lengths, locate
from canvas.cloth.rigging import Rigging
from canvas.design.schema.design import BARE
from canvas.design.schema.rig import Tube
from canvas.design.tables import metals
from canvas.geometry.model import Model
from canvas.geometry.surface import Floats, Ints, Surface
from canvas.geometry.triangles import area_vectors
from canvas.geometry.tubes import TubeLine
from canvas.jobs.cache import key_of
from canvas.strength.blown import AtWind
from canvas.strength.frames import FrameResult, solve_tube, tube_section
from canvas.strength.holding import declared
from canvas.strength.parts import Kind, Strength

ON_DECK = 0.08  # a tube this near the boat's surface lies on it [m]
BEDDED = 0.6  # share of a tube's length that must lie on the boat
LEAST_AREA = 1e-9  # triangles smaller than this are left out when looking for what is near [m2]
NEAR_FOOT = 0.15  # canvas corners this near a hoop's foot are not where its straps go [m]
TOUCHES = 0.06  # a strut's end or a corner this near a tube's middle line is fastened to it [m]
ON_TUBE = 0.03  # a vertex this near a tube's middle line hangs on it [m]
SHORTEST = 0.1  # stretch of wire that canvas hangs on [m]
FAINT = 1.0  # pulls under this on a whole tube are none [N]
GRAB = 800.0  # a person's pull on a hoop [N]; from memory
WELD = {"stainless": 1.0, "aluminium": 0.5}  # of the yield stress, near a weld
STRAND = 107e9  # stiffness of 1 x 19 stainless strand on its metal's area, from memory [Pa]
FILLED = 0.77  # metal in a strand's round area, from memory

_ON_DECK: WeakKeyDictionary[Rigging, frozenset[str]] = WeakKeyDictionary()
_FRAMES: WeakKeyDictionary[Rigging, dict[str, tuple[FrameResult, ...]]] = WeakKeyDictionary()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bent:
    """A tube or wire under the canvas of a set.

    Attributes
    ----------
    name : str
    each : str
        What the load is of.
    strength : Strength or None
    loads : (k,) ndarray
        By loading [N].
    kind : str
        ``tube``, ``strap`` or ``wire``.
    """

    name: str
    each: str
    strength: Strength | None
    loads: Floats
    kind: Kind


def bent(rigging: Rigging, corners: Floats, loadings: Sequence[Sequence[AtWind]]) -> list[Bent]:
    """Return what tubes and wires carry in each loading.

    Parameters
    ----------
    rigging : Rigging
    corners : (c, 3) ndarray
        Of the panels that are up [m].
    loadings : sequence of sequence of AtWind
        All groups of the set, for each loading.
    """
    model = rigging.model
    rows: list[Bent] = []
    for spec in model.design.tube:
        tube = model.tubes[spec.name]
        if spec.name in _on_deck(rigging):
            continue
        hung = [_on_line(tube, groups) for groups in loadings]
        if max((float(np.linalg.norm(pulls, axis=1).sum()) for _, pulls in hung), default=0.0) < FAINT:
            continue
        if spec.kind == "wire":
            rows.append(_wire(spec, tube, hung))
        elif len(tube.line) >= 5:
            rows += _frame(rigging, spec, tube, [_at_points(tube, *one) for one in hung], corners)
    return rows


def grabbed(rigging: Rigging) -> tuple[tuple[str, float], ...]:
    """Return the share of yield in each hoop when a person hangs on its crown, pulling to one side."""
    shares = []
    for spec in rigging.model.design.tube:
        if spec.kind != "hoop":
            continue
        tube = rigging.model.tubes[spec.name]
        loads = np.zeros_like(tube.line)
        loads[int(np.argmax(tube.line[:, 2])), 1] = GRAB
        (result,) = _solved(rigging, spec, tube, [loads], corners=np.zeros((0, 3)))
        shares.append((spec.name, result.moment / _yield_moment(spec, tube).low))
    return tuple(shares)


def _on_line(tube: TubeLine, groups: Sequence[AtWind]) -> tuple[Floats, Floats]:
    """Return where on a tube's middle line the canvas pulls, by arc length (n,) [m], and with what (n, 3) [N]."""
    arcs, pulls = [np.zeros(0)], [np.zeros((0, 3))]
    reach = tube.line.min(axis=0) - ON_TUBE, tube.line.max(axis=0) + ON_TUBE
    for group in groups:
        near = np.flatnonzero(((group.spots >= reach[0]) & (group.spots <= reach[1])).all(axis=1))
        if not len(near):
            continue
        arc, gap = locate(tube.line, group.spots[near])
        arcs.append(arc[gap < ON_TUBE])
        pulls.append(group.pulls[near[gap < ON_TUBE]])
    return np.concatenate(arcs), np.vstack(pulls)


def _at_points(tube: TubeLine, arc: Floats, pulls: Floats) -> Floats:
    """Return pulls along a tube as forces on the points of its middle line (k, 3) [N]."""
    loads = np.zeros_like(tube.line)
    along = arc_lengths(tube.line)
    np.add.at(loads, np.abs(arc[:, None] - along).argmin(axis=1), pulls)
    return loads


def _frame(rigging: Rigging, spec: Tube, tube: TubeLine, forces: Sequence[Floats], corners: Floats) -> list[Bent]:
    results = _solved(rigging, spec, tube, forces, corners=corners)
    rows = [
        Bent(
            name=f"{spec.name}, bending", each="bending moment, at a lever of 1 m", kind="tube",
            strength=_yield_moment(spec, tube), loads=np.array([result.moment for result in results]),
        )
    ]  # fmt: skip
    if len(results[0].held_forces):
        straps = np.array([np.linalg.norm(result.held_forces, axis=1).max() for result in results])
        holds = None if spec.strap_strength is None else declared(spec.strap_strength)
        rows.append(Bent(name=f"{spec.name}, strap or strut", each="each", kind="strap", strength=holds, loads=straps))
    return rows


def _yield_moment(spec: Tube, tube: TubeLine) -> Strength:
    """Return the moment at which a tube yields [N m], from its declared pull where there is one."""
    section = tube_section(diameter=tube.diameter, wall=tube.wall)
    modulus = section.modulus
    if spec.strength is not None:
        return declared(float(spec.strength / section.area * modulus))
    metal = metals()[spec.metal]
    return Strength(
        low=float(WELD[spec.metal] * metal.yield_stress * modulus), high=float(metal.yield_high * modulus),
        declared=False, source=metal.source,
    )  # fmt: skip


def _wire(spec: Tube, tube: TubeLine, hung: Sequence[tuple[Floats, Floats]]) -> Bent:
    """Return the pull that the canvas's even load puts in a wire between the ends of the stretch it hangs on."""
    stiff = STRAND * FILLED * np.pi / 4 * tube.diameter**2
    pulls = []
    for arc, each in hung:
        length = max(float(np.ptp(arc)), SHORTEST) if len(arc) else SHORTEST
        even = float(np.linalg.norm(each.sum(axis=0))) / length
        pulls.append(float(np.cbrt(even**2 * length**2 * stiff / 24)))
    holds = None if spec.strength is None else declared(spec.strength)
    return Bent(name=f"{spec.name}, pull", each="from the canvas", kind="wire", strength=holds, loads=np.array(pulls))


def _solved(
    rigging: Rigging, spec: Tube, tube: TubeLine, loadings: Sequence[Floats], *, corners: Floats
) -> tuple[FrameResult, ...]:
    """Return a tube's frame, held fore and aft by struts and, if hinged, at the canvas's corners: straps go there."""
    held = np.zeros(len(tube.line), dtype=bool)
    held[_near(tube.line, _strut_ends(rigging.model, spec.name))] = True
    if spec.kind == "hoop" and spec.feet == "hinged":
        held[_near(tube.line, corners)] = True
        if not held.any():
            held[_shoulders(tube.line)] = True
    kept = _FRAMES.setdefault(rigging, {})
    key = key_of(spec.name, held, list(loadings))
    if key not in kept:
        line, free = tube.line, False
        if spec.kind != "hoop":
            stands = [_stands(rigging, spec.name, end) for end in line[[0, -1]]]
            free = any(stands) and not all(stands)
            if free and not stands[0]:
                line, held, loadings = line[::-1], held[::-1], [one[::-1] for one in loadings]
        kept[key] = solve_tube(
            line, loadings, diameter=tube.diameter, wall=tube.wall, metal=metals()[spec.metal], feet=spec.feet,
            held=held, free_end=free, name=spec.name,
        )  # fmt: skip
    return kept[key]


def _stands(rigging: Rigging, name: str, end: Floats) -> bool:
    """Return whether an end of a rail or strut stands on the boat, on a solid or on another tube."""
    others = [tube.line for tube in rigging.model.tubes.values() if tube.name != name and tube.kind != "wire"]
    if any(float(np.linalg.norm(line - end, axis=1).min()) < TOUCHES for line in others):
        return True
    fixed = rigging.rig(BARE).scene.of_kind("boat", "solid")
    return any(float(closest(end[None], one.vertices, _with_area(one))[2][0]) < ON_DECK for one in fixed)


def _near(line: Floats, spots: Floats) -> Ints:
    """Return the points of a line next to spots that lie on it away from its feet."""
    if len(spots) == 0:
        return np.zeros(0, dtype=np.int64)
    gaps = np.linalg.norm(spots[:, None] - line[None], axis=2)
    off_feet = np.minimum(gaps[:, 0], gaps[:, -1]) > NEAR_FOOT
    return np.asarray(gaps[(gaps.min(axis=1) < TOUCHES) & off_feet].argmin(axis=1))


def _strut_ends(model: Model, name: str) -> Floats:
    """Return where other rails and struts end."""
    others = [tube for tube in model.tubes.values() if tube.name != name and tube.kind in ("rail", "strut")]
    return np.vstack([np.zeros((0, 3)), *(tube.line[[0, -1]] for tube in others)])


def _shoulders(line: Floats) -> list[int]:
    """Return the two points of a hoop that are highest among those widest out: where straps are set."""
    reach = line[:, 2] - line[:, 2].min() + np.abs(line[:, 1] - line[:, 1].mean())
    half = len(line) // 2
    return [int(np.argmax(reach[:half])), half + int(np.argmax(reach[half:]))]


def _on_deck(rigging: Rigging) -> frozenset[str]:
    """Return the tubes that lie on boat or solids all along, such as a track on the coachroof: they do not bend."""
    if rigging in _ON_DECK:
        return _ON_DECK[rigging]
    model = rigging.model
    bearing = [(one.vertices, _with_area(one)) for one in rigging.rig(BARE).scene.of_kind("boat", "solid")]
    lying = []
    for tube in model.tubes.values():
        near = np.zeros(len(tube.line[::4]), dtype=bool)
        for vertices, faces in bearing:
            near |= closest(tube.line[::4], vertices, faces)[2] < ON_DECK
        if near.mean() > BEDDED:
            lying.append(tube.name)
    _ON_DECK[rigging] = frozenset(lying)
    return _ON_DECK[rigging]


def _with_area(surface: Surface) -> Ints:
    """Return a surface's triangles without those that have no area."""
    corners = surface.vertices[surface.faces]
    area = np.linalg.norm(area_vectors(corners), axis=1)
    return np.asarray(surface.faces[area > LEAST_AREA])
