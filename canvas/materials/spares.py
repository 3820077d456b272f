"""Count the spares to take along: thread, tape and zip sliders, by how much of their life a passage spends.

Computes: for the new panels of a set, metres of thread and of each tape, and sliders of each kind of zip.
Units: metres, pieces, years; shares of a life 0..1.
Source: lives of sewing after canvas/materials/sewn_life.py, the short end taken. A slider worked daily in salt lasts
    two years (1 to 4), common practice, no source. One line of each kind more, to sew the longest again after a tear.
Limits: what chafe and flogging take is in the one line more; windows and cloth are mended, not replaced.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from canvas.cutting.result import CutResult
from canvas.design.tables import finishes
from canvas.materials.quantities import THREAD
from canvas.materials.takeoff import TakeOff, ZipBuy

SLIDER_YEARS = 1.0  # the short end of a slider's life


@dataclass(frozen=True, slots=True, kw_only=True)
class Spare:
    """One thing to take along.

    Attributes
    ----------
    name : str
    each : str
        ``m`` or ``piece``.
    amount : float
    worn : float
        How much of it the passage is expected to use up, in the same unit; the rest is for one tear.
    """

    name: str
    each: Literal["m", "piece"]
    amount: float
    worn: float


def spares(take: TakeOff, cut: CutResult, *, used: Mapping[tuple[str, str], float], years: float) -> tuple[Spare, ...]:
    """Return the spares for the new panels of one set.

    Parameters
    ----------
    take : TakeOff
    cut : CutResult
        All new panels cut.
    used : mapping of (str, str) to float
        Share of life that the passage spends, by panel and by edge or seam; what is not named spends none.
    years : float
        How long the zips are worked.
    """
    panels = {one.panel for one in take.panels}
    table = finishes()
    lines: dict[str, list[tuple[float, float]]] = defaultdict(list)  # by material: length, and the share of it worn
    for edge in cut.edges:
        if edge.panel in panels:
            share, finish = used.get((edge.panel, edge.name), 0.0), table[edge.finish]
            lines["thread"].append((THREAD * finish.rows * edge.length, share))
            if finish.tape is not None:
                lines[finish.tape].append((edge.length, share))
    for seam in cut.seams:
        if seam.kind == "seam" and seam.panel_a == seam.panel_b and seam.panel_a in panels:
            share = max((part for (panel, name), part in used.items()
                         if panel == seam.panel_a and name.startswith("seam ")), default=0.0)  # fmt: skip
            lines["thread"].append((THREAD * table[seam.finish].rows * seam.length_a, share))
    found = [_of_lines(name, rows) for name, rows in sorted(lines.items(), key=lambda one: one[0] != "thread") if rows]
    return (*found, *_sliders(take.zips, years))


def _of_lines(name: str, rows: list[tuple[float, float]]) -> Spare:
    worn = sum(length * share for length, share in rows)
    return Spare(name=name, each="m", amount=worn + max(length for length, _ in rows), worn=worn)


def _sliders(zips: tuple[ZipBuy, ...], years: float) -> list[Spare]:
    kinds: dict[str, int] = defaultdict(int)
    for one in zips:
        gauge = f"gauge {one.gauge}" if one.gauge else "gauge of the zip"
        kinds[f"zip slider, {gauge}" + (f", {one.tooth}" if one.tooth else "")] += 1
    return [
        Spare(name=name, each="piece", amount=float(1 + math.floor(worn)), worn=worn)
        for name, count in kinds.items()
        for worn in (count * years / SLIDER_YEARS,)
    ]
