"""Add, copy, rename and delete parts of a design, and propose the panel between two tubes.

Computes: which ends of two tubes a panel runs between, and whether canvas already ends there; texts of new parts.
Units: metres in; the design's own in its text.
Source: none.
Limits: whether a changed design can be built is said when it is built again; a panel between is level or steep, and its
    edges run clockwise seen from above.
"""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from canvas.cloth.rigging import Rigging
from canvas.design.editing import Draft
from canvas.design.problems import DesignError, Problem
from canvas.design.schema.design import BARE
from canvas.geometry.surface import Floats

Path = tuple[str | int, ...]
KINDS = ("mark", "hoop", "rail", "box", "plate", "cylinder", "panel", "set")
PLACE = ("aft", "to starboard", "up")
NUMBERS: dict[str, tuple[str, ...]] = {  # what is asked of each kind, in this order
    "mark": PLACE, "hoop": ("crown",), "box": (*PLACE, "length", "width", "height"),
    "plate": (*PLACE, "length", "width", "thickness"),
    "cylinder": (*(f"one end: {one}" for one in PLACE), *(f"other end: {one}" for one in PLACE), "diameter"),
}  # fmt: skip
ON_TUBE = 0.06  # a mark this near a tube's middle line lies on it [m]
FREE_HOLLOW = "5 %"  # common practice, no source
CLOTH = "awning cloth 200"
LIFTED = 0.30  # a copy stands this much above what it was copied from [m]
ALL_USES = ["under way", "at anchor"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What is to be added.

    Attributes
    ----------
    kind : str
        One of `KINDS`.
    name : str
    ends : tuple of str
        Marks of a hoop, rail or panel; tubes of a panel between two.
    numbers : tuple of float
        As `NUMBERS` names them [m].
    """

    kind: str
    name: str
    ends: tuple[str, ...] = ()
    numbers: tuple[float, ...] = ()


def path_of(draft: Draft, key: str) -> Path:
    """Return where the part of a key, such as ``panel:2`` or ``marks:masthead``, stands in the file."""
    kind, _, which = key.partition(":")
    return (kind, which) if kind == "marks" else (kind, int(which))


def add(draft: Draft, rigging: Rigging, asked: Asked, *, set_name: str) -> None:
    """Add a part; a new panel goes up in the set that is shown.

    Raises
    ------
    DesignError
        When a name is wanted or taken, or something it needs is missing.
    """
    name = asked.name.strip()
    if not name:
        raise _wrong("no name", "Give the new part a name.")
    if name in _names(draft, asked.kind):
        raise _wrong(f'the name "{name}", which is taken', "Give another name.")
    wanted = {"hoop": 2, "rail": 2}.get(asked.kind, 0)
    ends = [end for end in asked.ends if end]
    if len(ends) < wanted:
        raise _wrong("too few marks", f"Pick {wanted} marks.")
    if asked.kind == "mark":
        draft.set_point(("marks", name), asked.numbers)
    elif asked.kind == "hoop":
        draft.append(("tube",), {"name": name, "kind": "hoop", "start": ends[0], "end": ends[1]})
        draft.set_length(("tube", _last(draft, "tube"), "crown"), asked.numbers[0])
    elif asked.kind == "rail":
        draft.append(("tube",), {"name": name, "kind": "rail", "through": ends})
    elif asked.kind in ("box", "plate", "cylinder"):
        _add_solid(draft, asked.kind, name, asked.numbers)
    elif asked.kind == "set":
        _add_set(draft, rigging, name, like=set_name)
    else:
        _add_panel(draft, rigging, name, ends, set_name=set_name)


def _add_solid(draft: Draft, kind: str, name: str, numbers: Sequence[float]) -> None:
    second = "to" if kind == "cylinder" else "size"
    extra = {"diameter": 1.0} if kind == "cylinder" else {}
    draft.append(("solid",), {"name": name, "kind": kind, "at": [0.0] * 3, second: [1.0] * 3, **extra})
    here: Path = ("solid", _last(draft, "solid"))
    draft.set_point((*here, "at"), numbers[:3])
    draft.set_point((*here, second), numbers[3:6])
    if extra:
        draft.set_length((*here, "diameter"), numbers[6])


def _add_panel(draft: Draft, rigging: Rigging, name: str, ends: Sequence[str], *, set_name: str) -> None:
    tubes = rigging.model.tubes
    if len(ends) == 2 and all(end in tubes for end in ends):
        edges = between(rigging, ends[0], ends[1], set_name=set_name)
    elif len(ends) in (3, 4) and all(end in rigging.model.design.marks for end in ends):
        edges = _round_marks(rigging, ends)
    else:
        raise _wrong("edges for no panel", "Pick two tubes, or three or four marks.")
    home = set_name if set_name != BARE else _first_set(draft)
    draft.append(("panel",), {"name": name, "cloth": CLOTH, "cut_in": home, "edges": edges})
    if home not in _names(draft, "set"):
        draft.append(("set",), {"name": home, "used": ALL_USES, "up": []})
    path: Path = ("set", _names(draft, "set").index(home), "up")
    draft.set(path, [*(draft.value(path) if _has(draft, path) else []), name])


def between(rigging: Rigging, first: str, second: str, *, set_name: str) -> list[dict[str, Any]]:
    """Return the edges of a panel between two tubes: zipped to canvas that ends there, else round the tube.

    Parameters
    ----------
    first, second : str
        Tubes.
    set_name : str
        Whose canvas may be run along.

    Raises
    ------
    DesignError
        When they are one tube.
    """
    if first == second:
        raise _wrong("the same tube twice", "Pick two tubes.")
    ahead, behind = sorted((first, second), key=lambda name: float(rigging.model.tubes[name].line[:, 0].mean()))
    sides = [_along(rigging, tube, set_name=set_name) for tube in (ahead, behind)]
    corners = np.vstack([sides[0].ends, sides[1].ends[::-1]])
    if not _clockwise(corners):
        sides = [side.turned() for side in sides]
    free = {"finish": "webbing hem", "hollow": FREE_HOLLOW}
    return [
        {"name": "forward", **sides[0].edge}, {"name": "starboard", **free},
        {"name": "aft", **sides[1].turned().edge}, {"name": "port", **free},
    ]  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Side:
    """An edge that runs along a tube, or along canvas that ends there, from port to starboard."""

    along: dict[str, Any]
    marks: tuple[str, str] | None
    ends: Floats

    @property
    def edge(self) -> dict[str, Any]:
        part = {} if self.marks is None else {"from": self.marks[0], "to": self.marks[1]}
        finish = "zip" if "edge" in self.along else "tube pocket"
        return {**self.along, **part, "finish": finish}

    def turned(self) -> _Side:
        marks = None if self.marks is None else (self.marks[1], self.marks[0])
        return _Side(along=self.along, marks=marks, ends=self.ends[::-1])


def _along(rigging: Rigging, tube: str, *, set_name: str) -> _Side:
    design, line = rigging.model.design, rigging.model.tubes[tube].line
    up = {one.panel for one in design.panels_up(set_name)}
    found = next(
        (
            (panel, edge)
            for panel in design.panel
            if panel.name in up
            for edge in panel.edges
            if edge.along == tube and edge.name
        ),
        None,
    )
    if found is None:
        marks = _top_marks(rigging, line)
        ends = line[[0, -1]] if marks is None else np.array([rigging.model.marks.at(one) for one in marks])
        side = _Side(along={"along": tube}, marks=marks, ends=ends)
        return side if ends[0, 1] <= ends[1, 1] else side.turned()
    panel, edge = found
    outline = next(one for one in rigging.model.outlines[panel.name].edges if one.name == edge.name).line
    marks = None if edge.start else _top_marks(rigging, outline)
    ends = outline[[0, -1]] if marks is None else np.array([rigging.model.marks.at(one) for one in marks])
    side = _Side(along={"along": panel.name, "edge": str(edge.name)}, marks=marks, ends=ends)
    return side if ends[0, 1] <= ends[1, 1] else side.turned()


def _top_marks(rigging: Rigging, line: Floats) -> tuple[str, str] | None:
    """Return the highest marks on a line to port and to starboard that are not its ends; None where there are none."""
    best: dict[bool, tuple[float, str]] = {}
    marks = rigging.model.marks
    for name in marks.names:
        at = marks.at(name)
        if _off(line, at) > ON_TUBE or min(np.linalg.norm(line[[0, -1]] - at, axis=1)) < ON_TUBE:
            continue
        side = bool(at[1] > 0)
        best[side] = max(best.get(side, (-np.inf, "")), (float(at[2]), name))
    return (best[False][1], best[True][1]) if len(best) == 2 else None


def _off(line: Floats, point: Floats) -> float:
    start, along = line[:-1], np.diff(line, axis=0)
    share = np.clip(((point - start) * along).sum(axis=1) / np.maximum((along**2).sum(axis=1), 1e-12), 0.0, 1.0)
    return float(np.linalg.norm(start + share[:, None] * along - point, axis=1).min())


def _clockwise(corners: Floats) -> bool:
    """Return whether corners run clockwise seen from above: from port forward to starboard and aft."""
    x, y = corners[:, 0], corners[:, 1]
    return bool(np.sum(y * np.roll(x, -1) - x * np.roll(y, -1)) >= 0)


def _round_marks(rigging: Rigging, ends: Sequence[str]) -> list[dict[str, Any]]:
    at = np.array([rigging.model.marks.at(one) for one in ends])
    ring = list(ends if _clockwise(at) else ends[::-1])
    free = {"finish": "webbing hem", "hollow": FREE_HOLLOW}
    return [{"name": f"edge {n + 1}", "to": to, **free} for n, to in enumerate([*ring[1:], ring[0]])]


def _add_set(draft: Draft, rigging: Rigging, name: str, *, like: str) -> None:
    path: Path = ("set", _names(draft, "set").index(like)) if like in _names(draft, "set") else ()
    known = draft.value(path) if path else {"used": ALL_USES, "up": []}
    draft.append(("set",), {**known, "name": name})


def copy(draft: Draft, rigging: Rigging, key: str, *, name: str) -> None:
    """Copy a part under a new name; what stands somewhere is put above the first."""
    path = path_of(draft, key)
    kind = str(path[0])
    if not name.strip() or name in _names(draft, kind):
        raise _wrong(f'the name "{name}"', "Give the copy a name that is not taken.")
    if kind == "marks":
        place = np.array(rigging.model.marks.at(str(path[1]))) + np.array([0.0, 0.0, LIFTED])
        draft.set_point(("marks", name), place)
        return
    known = {part: value for part, value in draft.value(path).items() if part != "cut_in"}  # it is up nowhere yet
    draft.append((kind,), {**known, "name": name})
    here: Path = (kind, _last(draft, kind))
    if kind == "solid":
        for spot in ("at", "to"):
            if _has(draft, (*here, spot)):
                lifted = np.array(rigging.model.at(_spot(rigging, path, spot))) + np.array([0.0, 0.0, LIFTED])
                draft.set_point((*here, spot), lifted)
    elif kind == "tube":
        _lift_tube(draft, rigging, here, str(draft.value((*path, "name"))))


def _lift_tube(draft: Draft, rigging: Rigging, here: Path, old: str) -> None:
    tube = next(one for one in rigging.model.design.tube if one.name == old)
    up = np.array([0.0, 0.0, LIFTED])
    for spot in ("start", "end"):
        if getattr(tube, spot) is not None:
            draft.set_point((*here, spot), np.array(rigging.model.at(getattr(tube, spot))) + up)
    for number, through in enumerate(tube.through or []):
        draft.set_point((*here, "through", number), np.array(rigging.model.at(through)) + up)


def _spot(rigging: Rigging, path: Path, spot: str) -> Any:
    return getattr(rigging.model.design.solid[int(path[1])], spot)


def rename(draft: Draft, key: str, *, name: str) -> None:
    """Give a part a new name, wherever it is used."""
    if not name.strip():
        raise _wrong("no name", "Give it a name.")
    draft.rename(path_of(draft, key), name.strip())


def named_at(draft: Draft, path: Path) -> str:
    """Return the name of the part at a place in the file."""
    return str(path[1]) if path[0] == "marks" else str(draft.value((*path, "name")))


def hung(draft: Draft, key: str, problems: Sequence[Problem]) -> tuple[Problem, ...]:
    """Return why a part could not be taken out: what else names it, or what was wrong otherwise."""
    name = named_at(draft, path_of(draft, key))
    users = [one.key for one in problems if one.code.startswith("unknown-") and one.found.endswith(f' "{name}"')]
    if not users:
        return tuple(problems)
    wanted = "Take those out or change them first."
    return (Problem(code="in-use", found=f'"{name}" is named by {"; ".join(users)}', wanted=wanted),)


def delete(draft: Draft, key: str) -> None:
    """Take a part out; a panel is taken out of every set too."""
    path = path_of(draft, key)
    name = named_at(draft, path)
    if path[0] == "panel":
        for number in range(len(_names(draft, "set"))):
            ups: Path = ("set", number, "up")
            listed = draft.value(ups) if _has(draft, ups) else []
            kept = [one for one in listed if (one["panel"] if isinstance(one, dict) else one) != name]
            if len(kept) < len(listed):
                draft.set(ups, kept)
    draft.delete(path)
    if path[0] != "marks" and not draft.value((path[0],)):
        draft.delete((path[0],))


def bare_frames(text: str, *, path: Any) -> str:
    """Return a design's text with its frames left and all canvas and sets taken out."""
    draft = Draft(text, path=path)
    for kind in ("set", "panel"):
        for number in reversed(range(len(_names(draft, kind)))):
            draft.delete((kind, number))
        if _has(draft, (kind,)):
            draft.delete((kind,))
    if _has(draft, ("vane", "steers_from_with")):
        draft.set(("vane", "steers_from_with"), BARE)
    return draft.text


def _names(draft: Draft, kind: str) -> list[str]:
    data = tomllib.loads(draft.text)
    tables = {"mark": "marks", "hoop": "tube", "rail": "tube", "box": "solid", "plate": "solid", "cylinder": "solid"}
    table = tables.get(kind, kind)
    found = data.get(table, {})
    return list(found) if table == "marks" else [str(one["name"]) for one in found]


def _first_set(draft: Draft) -> str:
    known = _names(draft, "set")
    return known[0] if known else "new canvas"


def _last(draft: Draft, kind: str) -> int:
    return len(draft.value((kind,))) - 1


def _has(draft: Draft, path: Path) -> bool:
    try:
        draft.value(path)
    except DesignError:
        return False
    return True


def _wrong(found: str, wanted: str) -> DesignError:
    return DesignError([Problem(code="not-built", found=found, wanted=wanted)])
