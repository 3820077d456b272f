"""Turn panels and finishes into those of a trial piece: the same shape in cheap cloth or paper.

Computes: cloth that is not stretched; edges with a margin left on and a line to trim to.
Units: metres.
Source: common practice.
Limits: seams between pieces and darts are sewn as in the real thing.
"""

from __future__ import annotations

from dataclasses import replace

from canvas.cutting.finish import Finish
from canvas.cutting.piece import ClothToCut, PanelToCut
from canvas.cutting.seamkinds import IN_SEAM

TRIAL_MARGIN = 0.05  # [m] left on every edge of a trial piece; common practice


def uncompensated(panel: PanelToCut) -> PanelToCut:
    """Return the panel in cloth that is not to be stretched, its inserts too."""
    inserts = tuple(replace(insert, cloth=_unstretched(insert.cloth)) for insert in panel.inserts)
    return replace(panel, cloth=_unstretched(panel.cloth), inserts=inserts)


def _unstretched(cloth: ClothToCut) -> ClothToCut:
    return replace(cloth, warp_compensation=0.0, weft_compensation=0.0)


def trial_finish(finish: Finish) -> Finish:
    """Return the finish of a trial piece: margin to trim, nothing to fold."""
    if finish.name in IN_SEAM:
        return finish
    return Finish(name=f"trim to line ({finish.name})", allowance=TRIAL_MARGIN, tolerance=finish.tolerance)
