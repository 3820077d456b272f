"""Hold a new zip half against the one already aboard: will they run together.

Computes: what keeps two halves from mating, in words a maker uses.
Units: metres.
Source: trade practice: same gauge and tooth, one left and one right half, slider at the same end, lengths equal
    to 3 mm.
Limits: makers' zips of one gauge do not always mate; a trial with a short piece settles it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from canvas.design.schema.rig import ZipHalf

MEASURED_SD = 0.001  # [m] of a zip's length, a tape laid along it; common practice, no source
EQUAL = 0.003  # [m] how equal a zip's two sides must be


@dataclass(frozen=True, slots=True, kw_only=True)
class Mismatch:
    """One thing that keeps two zip halves apart, or that is not known.

    Attributes
    ----------
    what : {"half", "gauge", "tooth", "slider_end", "length"}
    aboard, new : str
        What each is; ``not measured`` where unknown.
    known : bool
        False where it may fit but nobody has looked.
    """

    what: Literal["half", "gauge", "tooth", "slider_end", "length"]
    aboard: str
    new: str
    known: bool


def turned(half: ZipHalf) -> ZipHalf:
    """Return a half with its slider's end told along the other panel's edge, which runs the other way."""
    other = {None: None, "start": "end", "end": "start"}[half.slider_end]
    return half.model_copy(update={"slider_end": other})


def mate_of(aboard: ZipHalf | None, own: ZipHalf | None = None) -> ZipHalf:
    """Return the half that runs with the one aboard; what `own` says stands.

    Parameters
    ----------
    aboard, own : ZipHalf or None
        The slider's end is told along each panel's own edge; the two run opposite ways.
    """
    there, said = turned(aboard or ZipHalf()), own or ZipHalf()
    others: dict[str | None, Literal["left", "right"] | None] = {None: None, "left": "right", "right": "left"}
    return ZipHalf(
        half=said.half or others[there.half],
        gauge=said.gauge or there.gauge,
        tooth=said.tooth or there.tooth,
        length=said.length,
        slider_end=said.slider_end or there.slider_end,
    )


def mismatches(aboard: ZipHalf, new: ZipHalf, *, new_length: float | None = None) -> tuple[Mismatch, ...]:
    """Return what keeps the new half from running with the one aboard; empty where all is known and fits.

    Parameters
    ----------
    aboard, new : ZipHalf
        The slider's end of both told in the same direction; see `turned`.
    new_length : float, optional
        [m] Of the edge the new half is sewn to; the length the new half states where absent.
    """
    found = []
    if aboard.half is None or new.half is None or aboard.half == new.half:
        found.append(_mismatch("half", aboard.half, new.half))
    for what in ("gauge", "tooth", "slider_end"):
        one, other = getattr(aboard, what), getattr(new, what)
        if one is None or other is None or one != other:
            found.append(_mismatch(what, one, other))
    length = new.length if new_length is None else new_length
    if aboard.length is None or length is None or abs(aboard.length - length) > EQUAL:
        found.append(_mismatch("length", _said(aboard.length), _said(length)))
    return tuple(found)


def _said(length: float | None) -> str | None:
    return None if length is None else f"{1000 * length:.0f} mm"


def _mismatch(what: Literal["half", "gauge", "tooth", "slider_end", "length"], aboard: object, new: object) -> Mismatch:
    unknown = "not measured"
    return Mismatch(
        what=what,
        aboard=unknown if aboard is None else str(aboard),
        new=unknown if new is None else str(new),
        known=aboard is not None and new is not None,
    )
