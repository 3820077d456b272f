"""Solve a bent tube as a three-dimensional frame: moments, stress, sway, what its feet carry.

Computes: by linear beam theory, for loads at points of its middle line.
Units: newtons, metres, pascals.
Source: direct stiffness method by PyNite; tube sections A = pi (D^2 - d^2)/4, I = pi (D^4 - d^4)/64.
Limits: linear: no buckling, no second-order sway, no yield spread; welds and bends weaken aluminium. A hinged hoop
    turns freely fore and aft about its feet, so something else must hold its top: straps, struts or cloth; what that
    carries is given.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from canvas.design.tables import Metal
from canvas.geometry.surface import Bools, Floats, Ints, locked
from canvas.jobs.failure import CouldNot
from canvas.jobs.turns import give_way

if TYPE_CHECKING:
    from Pynite import FEModel3D

PIECES = 28  # straight members that a tube is cut into at most: arches then come out within 0.4 %
POISSON = 0.3
CORNER = np.cos(np.radians(15.0))  # a line that turns more than this at a point has a corner there
LOST = 10.0  # a frame that moves farther than this is not held by anything [m]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FrameResult:
    """A loaded tube.

    Attributes
    ----------
    moment : float
        Greatest bending moment, both planes together [N m].
    stress : float
        Greatest of axial and bending stress together [Pa].
    share : float
        Of the yield stress.
    sway : float
        Greatest move of its middle line [m].
    foot_forces : (2, 3) ndarray
        On the boat at each end [N].
    held_forces : (k, 3) ndarray
        On whatever holds it at each held point [N].
    """

    moment: float
    stress: float
    share: float
    sway: float
    foot_forces: Floats
    held_forces: Floats


def solve_tube(
    line: Floats,
    loadings: Sequence[Floats],
    *,
    diameter: float,
    wall: float,
    metal: Metal,
    feet: Literal["hinged", "fixed"],
    held: Bools | None = None,
    free_end: bool = False,
    name: str = "tube",
) -> tuple[FrameResult, ...]:
    """Return how a tube carries each of several loadings.

    Parameters
    ----------
    line : (k, 3) ndarray
        Middle line, from foot to foot [m].
    loadings : sequence of (k, 3) ndarray
        Forces on each point [N].
    diameter, wall : float
        [m]
    metal : Metal
    feet : str
        ``hinged`` about both level axes, or ``fixed``.
    held : (k,) ndarray of bool, optional
        Points that straps, struts or other tubes keep from moving fore and aft.
    free_end : bool
        Its last point is held by nothing: a davit or an upright, fixed at its first.
    name : str
        How a failure names it.

    Raises
    ------
    CouldNot
        When wall or diameter make no tube, or nothing holds the frame.
    """
    if not 0 < wall <= diameter / 2:
        raise CouldNot(
            f'"{name}" has a wall of {wall * 1000:.1f} mm.', "Give a wall above zero and up to half its diameter."
        )
    picked = _even(line)
    if held is not None:
        picked = np.union1d(picked, np.flatnonzero(held))
    section = tube_section(diameter=diameter, wall=wall)
    model = _model(line[picked], section=section, metal=metal)
    _support(model, picked, feet=feet, held=held, free_end=free_end)
    nearest = np.abs(np.arange(len(line))[:, None] - picked).argmin(axis=1)
    for number, loads in enumerate(loadings):
        model.add_load_combo(f"{number}", {f"case {number}": 1.0})
        summed = np.zeros((len(picked), 3))
        np.add.at(summed, nearest, loads)
        for node, axis in zip(*np.nonzero(summed), strict=True):
            force = float(summed[node, axis])
            model.add_node_load(f"N{node}", ("FX", "FY", "FZ")[axis], force, case=f"case {number}")
    give_way()
    try:
        model.analyze_linear(check_stability=False, check_statics=False)
    except Exception as error:  # PyNite raises plain exceptions for singular frames
        raise _not_held(name) from error
    carried = np.array([member.ke() @ member.T() for member in model.members.values()])  # (members, 12, 12)
    results = tuple(
        _read(model, f"{n}", picked, section=section, metal=metal, carried=carried, held=held)
        for n in range(len(loadings))
    )
    if not all(np.isfinite(result.sway) and result.sway < LOST for result in results):
        raise _not_held(name)
    return results


def _not_held(name: str) -> CouldNot:
    return CouldNot(f'The frame of "{name}" is not held.', "Fix its feet, or hold its top by a strut.")


def _even(line: Floats) -> Ints:
    """Return points of a line at even steps along it, and its sharp corners."""
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))])
    wanted = np.linspace(0, along[-1], min(PIECES, len(line) - 1) + 1)
    ways = np.diff(line, axis=0)
    ways /= np.maximum(np.linalg.norm(ways, axis=1, keepdims=True), 1e-12)
    corners = 1 + np.flatnonzero((ways[1:] * ways[:-1]).sum(axis=1) < CORNER)
    return np.union1d(np.abs(along[:, None] - wanted).argmin(axis=0), corners)


@dataclass(frozen=True, slots=True, kw_only=True)
class TubeSection:
    """A round tube's section: area [m2], second moment of area [m4], outer radius [m], section modulus [m3]."""

    area: float
    inertia: float
    radius: float

    @property
    def modulus(self) -> float:
        """Moment at which the outer skin reaches a stress, over that stress [m3]."""
        return self.inertia / self.radius


def tube_section(*, diameter: float, wall: float) -> TubeSection:
    """Return the section of a round tube; `diameter` and `wall` in metres."""
    inner = diameter - 2 * wall
    area = np.pi / 4 * (diameter**2 - inner**2)
    inertia = np.pi / 64 * (diameter**4 - inner**4)
    return TubeSection(area=float(area), inertia=float(inertia), radius=diameter / 2)


def _model(line: Floats, *, section: TubeSection, metal: Metal) -> FEModel3D:
    area, inertia = section.area, section.inertia
    from Pynite import FEModel3D  # brings matplotlib's pyplot, half a second, for which only frames should wait

    model = FEModel3D()
    shear = metal.youngs_modulus / 2 / (1 + POISSON)
    model.add_material("metal", metal.youngs_modulus, shear, POISSON, metal.density)
    model.add_section("tube", area, inertia, inertia, 2 * inertia)
    for k, (x, y, z) in enumerate(line):
        model.add_node(f"N{k}", float(x), float(y), float(z))
    for k in range(len(line) - 1):
        model.add_member(f"M{k}", f"N{k}", f"N{k + 1}", "metal", "tube")
    return model


def _support(model: FEModel3D, picked: Ints, *, feet: str, held: Bools | None, free_end: bool) -> None:
    last = len(picked) - 1
    fixed = feet == "fixed" or free_end
    for foot in (0,) if free_end else (0, last):
        model.def_support(
            f"N{foot}",
            support_DX=True, support_DY=True, support_DZ=True, support_RX=fixed, support_RY=fixed, support_RZ=True,
        )  # fmt: skip
    for k, place in enumerate(picked):
        if 0 < k < last and held is not None and held[place]:
            model.def_support(f"N{k}", support_DX=True)


def _read(
    model: FEModel3D,
    combo: str,
    picked: Ints,
    *,
    section: TubeSection,
    metal: Metal,
    carried: Floats,
    held: Bools | None,
) -> FrameResult:
    """Return one loading's result; between nodes nothing loads a member, so its ends bound its moment."""
    nodes = [model.nodes[f"N{k}"] for k in range(len(picked))]
    turns = np.array([[node.RX[combo], node.RY[combo], node.RZ[combo]] for node in nodes])
    moves = np.array([[node.DX[combo], node.DY[combo], node.DZ[combo]] for node in nodes])
    each = np.hstack([moves[:-1], turns[:-1], moves[1:], turns[1:]])
    ends = np.einsum("mij,mj->mi", carried, each).reshape(-1, 2, 6)  # force and moment at both ends, member's own axes
    bending = np.hypot(ends[..., 4], ends[..., 5])
    most = bending * section.radius / section.inertia + np.abs(ends[..., 0]) / section.area
    force = np.array([[node.RxnFX[combo], node.RxnFY[combo], node.RxnFZ[combo]] for node in nodes])
    inner = [k for k, place in enumerate(picked) if 0 < k < len(picked) - 1 and held is not None and held[place]]
    return FrameResult(
        moment=float(bending.max()),
        stress=float(most.max()),
        share=float(most.max()) / metal.yield_stress,
        sway=float(np.linalg.norm(moves, axis=1).max()),
        foot_forces=locked(-force[[0, -1]]),
        held_forces=locked(-force[inner].reshape(-1, 3)),
    )
