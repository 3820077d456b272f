"""Solve cloth: form-finding and elastic membranes with edge cables and battens.

Computes: shapes of panels. `form(outlines, set_name=..., tolerance=...) -> Formed` meshes the panels of a set as one net
    and forms them together (canvas/cloth/forming.py); outlines are `PanelOutline` (canvas/cloth/outline.py), results
    `Formed` and `PanelShape` (canvas/cloth/shape.py).
Units: metres, newtons.
Source: see the modules.
Limits: see the modules.
"""

from canvas.cloth.forming import Pretension, form
from canvas.cloth.shape import EdgeShape, Formed, PanelShape

__all__ = ["EdgeShape", "Formed", "PanelShape", "Pretension", "form"]
