"""Say how much smaller cloth is cut, so that it is as taut as its edges can hold it.

Computes: the cloth's own compensation where a panel is held all round; no more than `LOOSE` where an edge is free, and
    than `BATTENED` where a batten is all that holds it.
Units: shares without unit.
Source: the cloth's table; `LOOSE` and `BATTENED` from sewing the examples' parts back together, checked on boats that
    neither was chosen by (tests/cutting/test_sewn_back.py).
Limits: webbing, wire and battens count as free: none of them holds a metre of coated cloth stretched by 0.2 %.
Departs: trade tables give one compensation whatever holds the panel; cut so, a free edge comes out too hollow.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

from canvas.cutting.piece import PanelToCut

LOOSE = 0.002  # enough to take up what flattening leaves too large; more pulls free edges in
BATTENED = 0.0015  # a batten gives a millimetre and lets the cloth go; less leaves it too large


def compensated(panel: PanelToCut, *, held: Collection[str]) -> PanelToCut:
    """Return the panel with its cloth's compensation as its edges can hold it.

    Parameters
    ----------
    panel : PanelToCut
    held : collection of str
        Names of edges held by tubes, tracks, zips, seams or studs.
    """
    if all(edge.name in held for edge in panel.edges):
        return panel
    most = BATTENED if any(edge.finish == "batten pocket" and edge.name not in held for edge in panel.edges) else LOOSE
    cloth = replace(
        panel.cloth,
        warp_compensation=min(panel.cloth.warp_compensation, most),
        weft_compensation=min(panel.cloth.weft_compensation, most),
    )
    return replace(panel, cloth=cloth)
