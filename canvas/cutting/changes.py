"""Say which parts changed since an earlier cut, by how much, and draw old over new.

Computes: a record of every part's outlines; for parts of the same name the old outline laid on the new one as well as a
    rigid motion can, and the greatest distance left between them.
Units: metres inside, millimetres in the record.
Source: iterated closest points, Besl and McKay, IEEE Trans. Pattern Anal. Mach. Intell. 14, 1992.
Limits: parts are known by their names; a part renamed is one gone and one new.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

import numpy as np
import shapely
from shapely.geometry import Polygon

from canvas.cutting.part import FlatPart
from canvas.cutting.result import CutResult
from canvas.cutting.sheet import Item, Layer, Line, Sheet, Text
from canvas.design.problems import DesignError, Problem
from canvas.design.units import small_length
from canvas.geometry.surface import Floats, locked

RECORD = "parts.json"
FAR = 200.0  # [m] from a part's origin; no outline reaches there
SAME = 0.0005  # [m] outlines nearer than this count as the same; a pencil line
STEP = 0.01  # [m] between points at which outlines are compared
GAP = 0.08  # [m] between drawings

What = Literal["same", "changed", "new", "gone"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PartChange:
    """How one part stands to the earlier cut.

    Attributes
    ----------
    name : str
    what : str
        ``same``, ``changed``, ``new`` or ``gone``.
    finished_by, cut_by : float or None
        Greatest distance between old and new finished outline and cut line; None where one is missing. [m]
    old, new : (k, 2) ndarray or None
        Cut lines, the old one laid on the new. [m]
    """

    name: str
    what: What
    finished_by: float | None = None
    cut_by: float | None = None
    old: Floats | None = None
    new: Floats | None = None

    def __post_init__(self) -> None:
        for name in ("old", "new"):
            if getattr(self, name) is not None:
                object.__setattr__(self, name, locked(getattr(self, name)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Changes:
    """What changed between two cuts.

    Attributes
    ----------
    earlier, revision : str
        Revision then and now.
    parts : tuple of PartChange
        In the order of the parts now, then those gone.
    """

    earlier: str
    revision: str
    parts: tuple[PartChange, ...]

    @property
    def recut(self) -> tuple[str, ...]:
        """Names of parts that must be cut again, or for the first time."""
        return tuple(part.name for part in self.parts if part.what in ("changed", "new"))


def record_text(result: CutResult) -> str:
    """Return the record of a cut that a later one is compared with, as JSON."""
    parts = [
        {
            "name": part.name,
            "set": part.set_name,
            "cloth": part.cloth,
            "finished_mm": _rounded(part.finished),
            "cut_mm": _rounded(part.cut),
        }
        for part in result.parts
    ]
    return json.dumps({"revision": result.revision, "parts": parts}, indent=1) + "\n"


def _rounded(outline: Floats) -> list[list[float]]:
    return [[round(float(x) * 1000, 3), round(float(y) * 1000, 3)] for x, y in outline]


def changes_since(result: CutResult, folder: Path) -> Changes:
    """Return what changed against the cut in a folder.

    Where some sets alone are cut now, only parts of those that are no longer there count as gone.

    Parameters
    ----------
    result : CutResult
    folder : Path
        Of the earlier cut; holds its `parts.json`.

    Raises
    ------
    DesignError
        When the folder has no record, or a damaged one.
    """
    path = folder / RECORD
    try:
        data: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
        earlier = str(data["revision"])
        old = {str(part["name"]): (_outline(part["finished_mm"]), _outline(part["cut_mm"])) for part in data["parts"]}
        home = {str(part["name"]): part.get("set") for part in data["parts"]}
    except (OSError, ValueError, KeyError, TypeError, RecursionError) as error:
        missing = isinstance(error, FileNotFoundError | NotADirectoryError)
        problem = Problem(
            code="no-earlier-cut",
            file=str(path),
            found="no such file" if missing else "no list of parts as canvas cut writes it",
            wanted="Name the folder of an earlier canvas cut.",
        )
        raise DesignError([problem]) from error
    parts = [_compared(part, old.get(part.name)) for part in result.parts]
    now = {part.name for part in result.parts}
    parts += [
        PartChange(name=name, what="gone", old=cut)
        for name, (_, cut) in old.items()
        if name not in now and (result.sets is None or home[name] in result.sets)
    ]
    return Changes(earlier=earlier, revision=result.revision, parts=tuple(parts))


def _outline(rows: Any) -> Floats:
    outline = np.array(rows, dtype=np.float64) / 1000
    if outline.ndim != 2 or outline.shape[1] != 2 or len(outline) < 3 or not np.all(np.isfinite(outline)):
        raise ValueError("an outline that is no list of points")
    if not Polygon(outline).area > 0 or np.abs(outline).max() > FAR:
        raise ValueError("an outline that is no list of points")
    return outline


def _compared(part: FlatPart, old: tuple[Floats, Floats] | None) -> PartChange:
    if old is None:
        return PartChange(name=part.name, what="new", new=part.cut)
    moved_finished, moved_cut = _laid_on(old[0], part.finished, also=old[1])
    finished_by = _apart(moved_finished, part.finished)
    cut_by = _apart(moved_cut, part.cut)
    same = max(finished_by, cut_by) <= SAME
    return PartChange(
        name=part.name,
        what="same" if same else "changed",
        finished_by=finished_by,
        cut_by=cut_by,
        old=moved_cut,
        new=part.cut,
    )


def _points(outline: Floats) -> Floats:
    """Return points at most `STEP` apart along an outline."""
    ring = shapely.segmentize(Polygon(outline).exterior, STEP)
    return np.asarray(ring.coords)[:-1]


def _apart(one: Floats, two: Floats) -> float:
    """Return the greatest distance between two outlines, either way."""
    a, b = Polygon(one).exterior, Polygon(two).exterior
    there = shapely.distance(shapely.points(_points(one)), b).max()
    return float(max(there, shapely.distance(shapely.points(_points(two)), a).max()))


def _laid_on(old: Floats, new: Floats, *, also: Floats, rounds: int = 30) -> tuple[Floats, Floats]:
    """Return `old` and `also` after the rigid motion that lays `old` on `new`."""
    ring = Polygon(new).exterior
    points = _points(old)
    shift = np.asarray(Polygon(new).centroid.coords[0]) - np.asarray(Polygon(old).centroid.coords[0])
    turn = np.eye(2)
    for _ in range(rounds):
        moved = points @ turn.T + shift
        spots = shapely.points(moved)
        target = shapely.get_coordinates(shapely.line_interpolate_point(ring, shapely.line_locate_point(ring, spots)))
        middle, goal = points.mean(axis=0), target.mean(axis=0)
        u, _, vt = np.linalg.svd((points - middle).T @ (target - goal))
        fresh = vt.T @ np.diag([1.0, np.linalg.det(vt.T @ u.T)]) @ u.T
        next_shift = goal - fresh @ middle
        still = float(np.abs(fresh - turn).max() + np.abs(next_shift - shift).max())
        turn, shift = fresh, next_shift
        if still < 1e-9:
            break
    return old @ turn.T + shift, also @ turn.T + shift


def changes_sheet(changes: Changes, *, units: str = "m") -> Sheet:
    """Return changed parts drawn old (dashed) over new, one beside the other, each with what to do, said in `units`."""
    items: list[Item] = []
    x = 0.0
    for part in changes.parts:
        lines = [line for line in (part.new, part.old) if line is not None]
        if part.what == "same" or not lines:
            continue
        low, high = np.vstack(lines).min(axis=0), np.vstack(lines).max(axis=0)
        shift = np.array([x, 0.0]) - low
        if part.new is not None:
            items.append(Line(layer=Layer.CUT, points=part.new + shift, closed=True))
        if part.old is not None:
            items.append(Line(layer=Layer.FOLD, points=part.old + shift, closed=True, dashed=True))
        said = Text(at=(low + high) / 2 + shift, text=f"{part.name}: {_advice(part, units)}", height=0.012)
        items.append(said)
        x += max(float(high[0] - low[0]), said.width) + GAP
    title = f"revision {changes.revision} against {changes.earlier}"
    if not items:
        items.append(Text(at=np.zeros(2), text="no part changed", height=0.012))
    return Sheet(title=title, items=tuple(items), notes=("new cut line drawn through, old one dashed",))


def _advice(part: PartChange, units: str) -> str:
    if part.what == "changed":
        most = max(part.cut_by or 0.0, part.finished_by or 0.0)
        return f"recut, up to {small_length(most, units)}"
    return "cut, new" if part.what == "new" else "no longer used"
