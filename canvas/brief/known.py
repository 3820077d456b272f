"""Say how each dimension of a brief is known: measured, mocked up or assumed, and how far it may be off.

Computes: for lengths of edges, sizes of canvas and tubes the standing of the worst thing they hang on, and a tolerance.
Units: metres.
Source: covariance of the readings as carried by canvas/cloth/sureness.py. Tolerances are two standard deviations, some
    95 %, and the play of loose bows.
Limits: what was typed in with no reading behind it is assumed, whoever typed it, and its tolerance is not known.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from canvas.cloth.rigging import Rigging
from canvas.cloth.sureness import Sureness
from canvas.cutting.result import CutResult, EdgeResult
from canvas.design.units import small_length
from canvas.geometry.surface import Floats, Surface

Word = Literal["measured", "mocked up", "assumed"]
WORDS: tuple[Word, ...] = ("measured", "mocked up", "assumed")  # the best first
COVER = 2.0  # standard deviations in a tolerance
KEY = (
    "Every dimension is marked. Measured: from readings on board. Mocked up: from readings of a mock-up of the panel. "
    "Assumed: typed in or guessed, with no reading behind it and no tolerance known; take it from the boat before "
    "cutting. Tolerances are two standard deviations, with the play of loose bows."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """How a dimension is known.

    Attributes
    ----------
    word : str
        ``measured``, ``mocked up`` or ``assumed``.
    tolerance : float or None
        Either way; None where nothing says [m].
    """

    word: Word
    tolerance: float | None

    def said(self, unit: str) -> str:
        """Return the standing as drawings and tables say it."""
        return self.word if self.tolerance is None else f"{self.word} ± {small_length(self.tolerance, unit)}"


ASSUMED = Known(word="assumed", tolerance=None)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class End:
    """One end of a dimension: a spot of a surface, or of nothing that readings hold."""

    spot: Floats
    surface: Surface | None = None


def worst(parts: Sequence[Known]) -> Known:
    """Return the standing of what hangs on several things: the worst word, the largest tolerance."""
    if not parts or any(one.tolerance is None for one in parts):
        return ASSUMED
    word = max((one.word for one in parts), key=WORDS.index)
    return Known(word=word, tolerance=max(one.tolerance or 0.0 for one in parts))


def edge_known(rigging: Rigging, edge: EdgeResult | None) -> Known:
    """Return how the length of an edge of a new panel is known."""
    if edge is None or edge.sd is None:
        return ASSUMED
    return Known(word=_by_reading(rigging, edge.panel), tolerance=COVER * edge.sd + edge.play)


def panel_known(rigging: Rigging, cut: CutResult | None, panel: str) -> Known:
    """Return how the sizes of a new panel are known, by its worst edge.

    Parameters
    ----------
    rigging : Rigging
    cut : CutResult or None
        None where nothing was cut: assumed.
    panel : str
    """
    return worst([edge_known(rigging, edge) for edge in (cut.edges if cut is not None else ()) if edge.panel == panel])


def _by_reading(rigging: Rigging, panel: str | None) -> Word:
    new = {one.name for one in rigging.model.design.panel if not one.existing}
    return "mocked up" if panel in rigging.measured and panel in new else "measured"


class Standings:
    """How dimensions of one set's canvas are known.

    Parameters
    ----------
    rigging : Rigging
    set_name : str
    """

    def __init__(self, rigging: Rigging, set_name: str) -> None:
        self._rigging = rigging
        self._sure = Sureness(rigging, rigging.rig(set_name).formed)

    def between(self, ends: Sequence[End], *, axis: int) -> Known:
        """Return how a dimension along an axis between some ends is known; one alone is taken from the datum.

        Parameters
        ----------
        ends : sequence of End
        axis : int
            0 aft, 1 starboard, 2 up.
        """
        if not all(self._held(end.surface) for end in ends):
            return ASSUMED
        along = np.eye(3)[axis]
        sds = [self._sure.sd(end.surface, end.spot, along) for end in ends if end.surface is not None]
        if not sds or any(sd is None for sd in sds):
            return ASSUMED
        words = [_by_reading(self._rigging, end.surface.panel) for end in ends if end.surface is not None]
        return Known(
            word=max(words, key=WORDS.index), tolerance=COVER * float(np.sqrt(sum((sd or 0.0) ** 2 for sd in sds)))
        )

    def tube(self, name: str) -> Known:
        """Return how the shape of a tube is known, by its worst mark."""
        found = self._sure.held(name)
        return ASSUMED if found is None else Known(word="measured", tolerance=COVER * found)

    def _held(self, surface: Surface | None) -> bool:
        return surface is not None and self._sure.held(surface.panel or surface.name) is not None
