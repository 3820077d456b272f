"""Hold a net of cloth with the tensions it is to have, and the net once in balance.

Computes: nothing; the records that canvas/cloth/tensioned.py takes and gives.
Units: metres, newtons, newtons a metre.
Source: none.
Limits: none.
"""

from __future__ import annotations

from dataclasses import dataclass

from canvas.geometry.surface import Bools, Floats, Ints


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Cable:
    """A tape, rope or wire along an edge.

    Attributes
    ----------
    name : str
    vertices : (k,) ndarray of int
    force : float
        Tension, the first guess where a hollow is asked [N].
    hollow : float or None
        Asked [m].
    """

    name: str
    vertices: Ints
    force: float
    hollow: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rod:
    """A batten along an edge, unbent where the net starts.

    Attributes
    ----------
    vertices : (k,) ndarray of int
    bending : float
        Bending stiffness EI [N m2].
    """

    vertices: Ints
    bending: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bow:
    """A line on which cloth lies and from which it may lift.

    Attributes
    ----------
    line : (b, 3) ndarray
        [m]
    vertices : (k,) ndarray of int
        The net's vertices over it.
    arc : (k,) ndarray
        Where each lies on it [m].
    """

    line: Floats
    vertices: Ints
    arc: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Tensioned:
    """A net with the tensions it is to have.

    Attributes
    ----------
    vertices : (n, 3) ndarray
        Where it starts [m].
    faces : (m, 3) ndarray of int
        Counter-clockwise seen from outside.
    held : (n,) ndarray of bool
    stress : (m, 2) ndarray
        Along warp and weft [N/m].
    warp : (m, 3) ndarray
        Direction whose projection on each face is its warp.
    cables : tuple of Cable
    rods : tuple of Rod
    bows : tuple of Bow
    kept : (m,) ndarray of bool or None
        Faces that keep their first force densities, such as round a tie.
    load : (n, 3) ndarray or None
        Dead load on each vertex [N].
    """

    vertices: Floats
    faces: Ints
    held: Bools
    stress: Floats
    warp: Floats
    cables: tuple[Cable, ...] = ()
    rods: tuple[Rod, ...] = ()
    bows: tuple[Bow, ...] = ()
    kept: Bools | None = None
    load: Floats | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Balanced:
    """A net in balance.

    Attributes
    ----------
    vertices : (n, 3) ndarray
        [m]
    stress : (m, 3) ndarray
        Along warp, along weft, and shear between them, as reached [N/m].
    warp : (m, 3) ndarray
        Unit warp direction in each face.
    cable_forces : tuple of float
        [N]
    hollows : tuple of float
        Of each cable's edge [m].
    touching : tuple of (k,) ndarray of bool
        Which vertices over each bow touch it.
    corner_forces : (m, 3, 3) ndarray
        Pull of each face on each of its corners [N].
    steps : int
    """

    vertices: Floats
    stress: Floats
    warp: Floats
    cable_forces: tuple[float, ...]
    hollows: tuple[float, ...]
    touching: tuple[Bools, ...]
    corner_forces: Floats
    steps: int
