"""Hold what forming and hanging cloth is given, apart from the solver, so that cloth that is kept loads none of it.

Computes: nothing; how taut a panel is drawn, how stiff a sheet is, and why a panel has no mesh.
Units: newtons a metre.
Source: none.
Limits: none.
"""

from __future__ import annotations

from dataclasses import dataclass

from canvas.design.tables import Cloth
from canvas.geometry.surface import Floats

CROSS = 0.1  # cross stiffness over weft stiffness; common practice, no source


class NotMeshed(Exception):
    """Raised for a panel that no mesh fills: its name, what was found, what would do."""

    def __init__(self, panel: str, found: str, wanted: str) -> None:
        super().__init__(f'"{panel}": {found}')
        self.panel, self.found, self.wanted = panel, found, wanted


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pretension:
    """How taut a panel is drawn.

    Attributes
    ----------
    warp, weft : float
        [N/m]
    direction : (3,) ndarray or None
        Direction whose projection is the warp; None: aft, or to starboard where the panel faces aft.
    """

    warp: float = 60.0
    weft: float = 60.0
    direction: Floats | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Stiffness:
    """How stiff a sheet is.

    Attributes
    ----------
    warp, weft, cross, shear : float
        [N/m]
    """

    warp: float
    weft: float
    cross: float
    shear: float

    @classmethod
    def of(cls, cloth: Cloth) -> Stiffness:
        """Return the stiffness of a cloth of the tables."""
        return cls(
            warp=cloth.warp_stiffness,
            weft=cloth.weft_stiffness,
            cross=CROSS * cloth.weft_stiffness,
            shear=cloth.shear_stiffness,
        )
