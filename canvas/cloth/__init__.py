"""Solve cloth: form-finding and elastic membranes with edge cables and battens.

Computes: shapes of panels. `form(outlines, set_name=..., tolerance=...) -> Formed` meshes the panels of a set as one
    net and forms them together (canvas/cloth/forming.py); outlines are `PanelOutline` (canvas/geometry/outline.py),
    results `Formed` and `PanelShape` (canvas/cloth/shape.py). `put_up` hangs cut panels in another set or under load
    (canvas/cloth/setting.py), `settle` solves any elastic membrane (canvas/cloth/elastic.py), canvas/cloth/pool.py
    says where water stands.
Units: metres, newtons.
Source: see the modules.
Limits: see the modules.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from canvas.jobs.lazy import names_in

if TYPE_CHECKING:
    from canvas.cloth.elastic import settle
    from canvas.cloth.forming import form
    from canvas.cloth.given import Pretension
    from canvas.cloth.setting import put_up
    from canvas.cloth.shape import EdgeShape, Formed, PanelShape

__all__ = ["EdgeShape", "Formed", "PanelShape", "Pretension", "form", "put_up", "settle"]

_MODULES = {  # loaded when asked for: cloth that is kept needs no solver
    "elastic": ("settle",),
    "forming": ("form",),
    "given": ("Pretension",),
    "setting": ("put_up",),
    "shape": ("EdgeShape", "Formed", "PanelShape"),
}

__getattr__ = names_in(__name__, _MODULES)
