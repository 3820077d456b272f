"""Hold what the maker or the crew chooses of a cut.

Computes: nothing.
Units: metres.
Source: none.
Limits: none.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from canvas.cutting.nest import SELVEDGE, SPACING
from canvas.geometry.surface import Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CutOptions:
    """What the maker or the crew chooses.

    Attributes
    ----------
    boat : str
        Whose canvas it is: stands under every drawing.
    revision : str
        On every label.
    units : str
        In which words beside parts say lengths: ``m``, ``mm``, ``ft`` or ``in``.
    spacing, selvedge : float
        Between parts, and of the roll's edges that is not used. [m]
    roll_widths : mapping of str to float
        Chosen roll width by cloth; the least wasteful of its widths where absent. [m]
    forbidden : mapping of str to sequence of (float, float)
        Bands across the roll that are not used, by cloth. [m]
    seams : mapping of str to sequence of (k, 3) ndarray
        Seams chosen by the design, by panel. [m]
    trial : bool
        Cut as a trial: no compensation, margins left on, lines to trim to.
    closer : Path, optional
        Folder of saved layouts: nest closer with spyrrow, which takes its time the first time; see closer.py.
    sets : tuple of str, optional
        Home sets whose panels are cut; all where absent. Edges still match those of the others.
    """

    boat: str = ""
    revision: str = "A"
    units: str = "m"
    spacing: float = SPACING
    selvedge: float = SELVEDGE
    roll_widths: Mapping[str, float] = field(default_factory=dict)
    forbidden: Mapping[str, Sequence[tuple[float, float]]] = field(default_factory=dict)
    seams: Mapping[str, Sequence[Floats]] = field(default_factory=dict)
    trial: bool = False
    closer: Path | None = None
    sets: tuple[str, ...] | None = None
