"""Hold what cutting a design gives: parts, seams, edges, layouts on the roll, and what to know.

Computes: nothing; frozen results.
Units: metres, square metres; shares without unit.
Source: none.
Limits: a panel stands in its home set only.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from canvas.cutting.nest import Layout
from canvas.cutting.part import Fit, FlatPart
from canvas.cutting.piece import JointKind
from canvas.design.problems import Problem
from canvas.geometry.surface import Floats, Ints, locked


@dataclass(frozen=True, slots=True, kw_only=True)
class SeamLength:
    """Both sides of a seam or zip as they lie flat.

    Attributes
    ----------
    name, kind : str
        ``zip`` or ``seam``.
    panel_a, panel_b : str
    length_a, length_b : float
        Finished, flat; of an existing side as measured. [m]
    ease : float
        Asked difference, a over b. [m]
    finish : str
        Of its upper side; of a dart both legs'. Empty for a joint between panels, whose edges have their own.
    """

    name: str
    kind: JointKind
    panel_a: str
    panel_b: str
    length_a: float
    length_b: float
    ease: float
    finish: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class EdgeResult:
    """One edge of a panel as it is cut.

    Attributes
    ----------
    panel, name, finish : str
    length : float
        Finished, flat. [m]
    sd : float or None
        Standard deviation of its length. [m]
    play : float
        How far its length changes either way as loose tubes move. [m]
    fit : str
        ``final``, ``long`` or ``on board``.
    long_by : float
        Cloth left on. [m]
    strain_max : float
        Largest strain along it, either sign. [1]
    """

    panel: str
    name: str
    finish: str
    length: float
    sd: float | None
    play: float
    fit: Fit
    long_by: float
    strain_max: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Divided:
    """Why and how a panel was divided.

    Attributes
    ----------
    panel, reason : str
    pieces : int
    strain_whole, strain_left : float
        Largest strain inside in one piece, and as divided, corners left out. [1]
    sag : float
        How far flat cloth stays off the shape midway between seams, at most. [m]
    through : tuple of (3,) ndarray
        A place on each seam that the program chose, for a design to give itself; empty where the design chose. [m]
    """

    panel: str
    reason: str
    pieces: int
    strain_whole: float
    strain_left: float
    sag: float = 0.0
    through: tuple[Floats, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class CutDart:
    """One dart as it is cut.

    Attributes
    ----------
    name, panel, part, edge : str
        The part it is cut in, and the edge it is cut from.
    at : float
        Along that edge as formed, from where the design's file starts it. [m]
    depth : float
        From the edge to its point, as asked. [m]
    width : float
        Of cloth taken out at the edge, flat. [m]
    leg_a, leg_b : float
        Both legs, flat. [m]
    strain_before, strain_promised, strain_after : float
        All but the corners: in one piece without it, with it as proposed, and in its part as cut. [1]
    """

    name: str
    panel: str
    part: str
    edge: str
    at: float
    depth: float
    width: float
    leg_a: float
    leg_b: float
    strain_before: float
    strain_promised: float
    strain_after: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RollLayout:
    """Parts of one cloth on its roll.

    Attributes
    ----------
    cloth : str
    parts : tuple of int
        Indices in the result's parts, in the layout's order.
    layout : Layout
    lengths : tuple of (float, float)
        Roll length each width it is sold in would take, (width, length). [m]
    """

    cloth: str
    parts: tuple[int, ...]
    layout: Layout
    lengths: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StrainMap:
    """Strain left in one part, triangle by triangle.

    Attributes
    ----------
    part : str
    uv : (n, 2) ndarray
        Flat places. [m]
    faces : (m, 3) ndarray of int
    strain : (m,) ndarray
        Largest principal strain from flat to shape, without sign. [1]
    vertices : (n, 3) ndarray
        The same places on the panel as it is formed to be cut. [m]
    """

    part: str
    uv: Floats
    faces: Ints
    strain: Floats
    vertices: Floats

    def __post_init__(self) -> None:
        object.__setattr__(self, "uv", locked(self.uv))
        object.__setattr__(self, "strain", locked(self.strain))
        object.__setattr__(self, "vertices", locked(self.vertices))
        object.__setattr__(self, "faces", locked(self.faces, dtype=np.int64))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CutResult:
    """All that was cut.

    Attributes
    ----------
    parts : tuple of FlatPart
    seams : tuple of SeamLength
    edges : tuple of EdgeResult
    divided : tuple of Divided
    rolls : tuple of RollLayout
    cautions : tuple of Problem
        Warnings and notes; errors are raised instead.
    revision : str
    strains : tuple of StrainMap
        Of every part that is shaped.
    trial : bool
        A trial in cheap cloth or paper.
    darts : tuple of CutDart
    sets : tuple of str or None
        Home sets whose panels were asked for; None: all.
    boat : str
    units : str
        In which words beside parts say lengths.
    """

    parts: tuple[FlatPart, ...]
    seams: tuple[SeamLength, ...]
    edges: tuple[EdgeResult, ...]
    divided: tuple[Divided, ...]
    rolls: tuple[RollLayout, ...]
    cautions: tuple[Problem, ...]
    revision: str
    strains: tuple[StrainMap, ...] = ()
    trial: bool = False
    darts: tuple[CutDart, ...] = ()
    sets: tuple[str, ...] | None = None
    boat: str = ""
    units: str = "m"

    def part(self, name: str) -> FlatPart:
        """Return the part of that name."""
        return next(part for part in self.parts if part.name == name)
