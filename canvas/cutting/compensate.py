"""Say how much smaller cloth is cut, so that it is as taut as its edges can hold it.

Computes: the cloth's own compensation where a panel is held all round; no more than `LOOSE` where an edge is free, than
    `BATTENED` where a batten is all that holds it, and than `BETWEEN` along the free sides of cloth held at its ends.
Units: shares without unit.
Source: the cloth's table; `LOOSE` and `BATTENED` from sewing the examples' parts back together, `BETWEEN` from doing so
    with a bimini, checked on boats that none was chosen by (tests/cutting/test_sewn_back.py). Cloth between arched bows
    dips as far as its pull across them, which free sides hardly hold, bears against its pull along them.
Limits: webbing, wire and battens count as free: none of them holds a metre of coated cloth stretched by 0.2 %.
Departs: trade tables give one compensation whatever holds the panel; cut so, a free edge comes out too hollow.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

import numpy as np

from canvas.cutting.piece import PanelToCut

LOOSE = 0.002  # enough to take up what flattening leaves too large; more pulls free edges in
BATTENED = 0.0015  # a batten gives a millimetre and lets the cloth go; less leaves it too large
BETWEEN = 0.0008  # along free sides; LOOSE lifts a bimini 7 mm (rms) between its bows, a quarter of it leaves it slack
ALONG = 0.85  # cosine of the angle between an edge and a direction that it counts as running along


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
    along_warp, along_weft = _free_ways(panel, held)
    cloth = replace(
        panel.cloth,
        warp_compensation=min(panel.cloth.warp_compensation, BETWEEN if along_warp else most),
        weft_compensation=min(panel.cloth.weft_compensation, BETWEEN if along_weft else most),
    )
    return replace(panel, cloth=cloth)


def _free_ways(panel: PanelToCut, held: Collection[str]) -> tuple[bool, bool]:
    """Return whether two or more free edges, and no others, run along the warp; and along the weft."""
    warp = panel.warp.mean(axis=0)
    warp /= np.linalg.norm(warp)
    along: list[float] = []
    for edge in panel.edges:
        if edge.name not in held:
            first, *_, last = panel.vertices[edge.vertices]
            along.append(abs(float((last - first) @ warp)) / float(np.linalg.norm(last - first)))
    across = (1 - ALONG**2) ** 0.5
    return len(along) > 1 and min(along) > ALONG, len(along) > 1 and max(along) < across
