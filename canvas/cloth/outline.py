"""Take the outlines of panels from `canvas.geometry.outline`, where the design is resolved into them.

Computes: nothing.
Units: metres.
Source: none.
Limits: none; import from `canvas.geometry.outline` directly, this name goes once nothing uses it.
"""

from canvas.geometry.outline import Batten, EdgeKind, Insert, PanelEdge, PanelOutline, Pierced, Tie, Wire

__all__ = ["Batten", "EdgeKind", "Insert", "PanelEdge", "PanelOutline", "Pierced", "Tie", "Wire"]
