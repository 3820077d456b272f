"""Say in which order parts are sewn, so that nothing is closed before it is reached.

Computes: steps from a `CutResult`, each with its parts, its edges or seam, and the finish whose section shows it.
Units: metres.
Source: common practice: flat work first, small onto large, darts, long seams, free edges, pockets, zips, then what
    is set on board.
Limits: a proposal; a shop has its own habits.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from canvas.cutting.finish import Finish
from canvas.cutting.part import FlatPart
from canvas.cutting.result import CutResult, SeamLength
from canvas.cutting.seamkinds import UNDER
from canvas.cutting.slit import DART
from canvas.design.units import small_length

LATE = {"tube pocket": 5, "batten pocket": 5, "bolt rope": 5, "zip": 6, "zip with flap": 6}
SET_ON_BOARD = 7


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One step of sewing.

    Attributes
    ----------
    number : int
        From 1.
    panel : str
    does : str
        What to do, in a sentence.
    finish : str
        Whose section drawing shows it; empty where none does.
    length : float or None
        Of seam or edge; None where it does not apply. [m]
    """

    number: int
    panel: str
    does: str
    finish: str
    length: float | None


def sewing_order(result: CutResult, *, finishes: Mapping[str, Finish]) -> tuple[Step, ...]:
    """Return the steps to sew everything that was cut, panel by panel.

    Parameters
    ----------
    result : CutResult
    finishes : mapping of str to Finish
    """
    rows: list[tuple[str, str, str, float | None]] = []
    for panel in dict.fromkeys(part.panel for part in result.parts):
        rows.extend((panel, *row) for row in _panel_rows(result, panel, finishes))
    return tuple(
        Step(number=k, panel=panel, does=does, finish=finish, length=length)
        for k, (panel, does, finish, length) in enumerate(rows, start=1)
    )


def _panel_rows(result: CutResult, panel: str, finishes: Mapping[str, Finish]) -> list[tuple[str, str, float | None]]:
    rows: list[tuple[float, str, str, float | None]] = []
    for part in result.parts:
        if part.panel == panel and not part.edges:
            rows.append(_small_part(part))
    for seam in result.seams:
        if seam.panel_a == seam.panel_b == panel:
            place, does, kind, length = _inner_seam(seam, result.units)
            rows.append((place + 0.1 * _met(result, seam), does, kind, length))
    for edge in result.edges:
        if edge.panel != panel:
            continue
        finish = finishes[edge.finish]
        place = LATE.get(edge.finish, 4)
        fit = {
            "final": "",
            "long": f" Leave {small_length(edge.long_by, result.units)} to fit.",
            "on board": " Finish on board.",
        }
        does = f'Finish edge "{edge.name}" as {edge.finish}: {finish.section or "see its section"}.{fit[edge.fit]}'
        at = place if edge.fit == "final" else SET_ON_BOARD + place / 10
        rows.append((at, does, edge.finish, edge.length))
        if finish.points is not None:
            rows.append((SET_ON_BOARD + 2, f'Set {finish.points}s along "{edge.name}".', edge.finish, edge.length))
    for seam in result.seams:
        if panel == seam.panel_a != seam.panel_b:
            does = f'Try "{seam.name}" against "{seam.panel_b}" before the second row.'
            rows.append((SET_ON_BOARD + 1, does, "", seam.length_a))
    return [(does, finish, length) for _, does, finish, length in sorted(rows, key=lambda row: row[0])]


def _met(result: CutResult, seam: SeamLength) -> int:
    """Return whether other seams end on this one, which are sewn first: one of its sides is then of several parts."""
    along = [part for part in result.parts for edge in part.edges if edge.seam and edge.name == seam.name]
    return int(len(along) > 2)


def _inner_seam(seam: SeamLength, units: str) -> tuple[float, str, str, float | None]:
    """Return the step for a seam between pieces, or a dart: those come before the pieces are joined."""
    along = f"match mark on match mark, {small_length(seam.length_a, units)}."
    if seam.finish == DART:
        does = f'Sew "{seam.name}" leg on leg, from the edge out to nothing at its point, {along}'
        return 2.5, does, seam.finish, seam.length_a
    how = f" as {seam.finish}, the part marked so on top" if seam.finish in UNDER else ""
    return 3, f'Sew "{seam.name}"{how}, {along}', seam.finish, seam.length_a


def _small_part(part: FlatPart) -> tuple[float, str, str, float | None]:
    """Return the step for a window, patch, collar or flap: (place in the order, words, finish, length)."""
    name = part.name.split(": ")[-1]
    large = part.name.rsplit(": ", 1)[0]
    if "corner patch" in name:
        does = f'Sew "{name}" on the inside of "{large}" at its dashed outline, its grain from the corner inward.'
        return 1, does, "hem", None
    if "patch" in name or "collar" in name:
        return 2.7, f'Sew "{name}" on the inside of "{large}" at its dashed outline, edges turned in.', "hem", None
    if name.startswith("flap"):
        return 5, f'Sew "{name}" to "{large}" with its edge, before the zip.', "zip with flap", None
    does = f'Sew "{name}" on "{large}" at its outline, then cut away the cloth behind and turn it in.'
    return 2, does, "window", None
