"""Find where a named part of a design is used, so that it can be renamed everywhere at once.

Computes: the paths of all values that name a mark, tube, panel, edge, set, cloth or place.
Units: none.
Source: the records of `canvas.design.schema`.
Limits: works on the file's plain data, valid or not; a name that nothing declares is not found.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from canvas.design.positions import Path

ANY = None  # in a pattern: any index or key

_MARK_USERS: tuple[tuple[str | None, ...], ...] = (
    ("reading", ANY, "from"), ("reading", ANY, "to"), ("reading", ANY, "at"), ("reading", ANY, "below"),
    ("reading", ANY, "marks", ANY), ("reading", ANY, "via", ANY), ("survey", "held", ANY),
    ("panel", ANY, "edges", ANY, "from"), ("panel", ANY, "edges", ANY, "to"),
    ("panel", ANY, "edges", ANY, "through", ANY), ("panel", ANY, "ties", ANY, "at"), ("panel", ANY, "seams", ANY),
    ("panel", ANY, "seams", ANY, "at"), ("panel", ANY, "seams", ANY, "from"), ("panel", ANY, "seams", ANY, "to"),
    ("panel", ANY, "seams", ANY, "through", ANY),
    ("tube", ANY, "start"), ("tube", ANY, "end"), ("tube", ANY, "through", ANY), ("solid", ANY, "at"),
    ("solid", ANY, "to"), ("outlet", ANY, "at"), ("filler", ANY, "at"), ("fitting", ANY, "at"), ("winch", ANY, "at"),
    ("sail", ANY, "corners", ANY), ("place", ANY, "corners", ANY), ("vane", "lines", ANY), ("crew", ANY, "at"),
    ("spars", ANY, "boom", "sheet_at"),
)  # fmt: skip

USERS: Mapping[str, tuple[tuple[str | None, ...], ...]] = {
    "marks": _MARK_USERS,
    "tube": (("panel", ANY, "edges", ANY, "along"), ("panel", ANY, "over", ANY), ("panel", ANY, "pierced", ANY, "by")),
    "panel": (
        ("panel", ANY, "edges", ANY, "along"), ("set", ANY, "up", ANY), ("set", ANY, "up", ANY, "panel"),
        ("reading", ANY, "panel"),
    ),
    "set": (
        ("panel", ANY, "cut_in"), ("vane", "steers_from_with"), ("solid", ANY, "sets", ANY), ("sail", ANY, "sets", ANY),
        ("passage", "legs", ANY, "set"), ("reading", ANY, "set"),
    ),
    "cloth": (("panel", ANY, "cloth"), ("panel", ANY, "inserts", ANY, "cloth")),
    "place": (("crew", ANY, "at"),),
}  # fmt: skip


def references(data: Mapping[str, Any], path: Path) -> tuple[Path, ...]:
    """Return the paths of all values that name the part at a path.

    Parameters
    ----------
    data : mapping
        The file's plain data.
    path : tuple of str and int
        Of the part: ``("marks", "masthead")``, ``("tube", 1)``, ``("panel", 2, "edges", 0)``.
    """
    if path[0] == "panel" and len(path) == 4:
        return tuple(_edge_users(data, path))
    name = str(path[1]) if path[0] == "marks" else _name(data[str(path[0])][path[1]])
    users = [where for where, value in _leaves(data, ()) if value == name and _fits(where, USERS.get(str(path[0]), ()))]
    if path[0] == "cloth" and name in data.get("prices", {}).get("cloth", {}):
        users.append(("prices", "cloth", str(name)))
    return tuple(users)


def _edge_users(data: Mapping[str, Any], path: Path) -> Iterator[Path]:
    panel = data["panel"][path[1]]
    edge = _name(panel["edges"][path[3]])
    for index, other in enumerate(data["panel"]):
        for place, candidate in enumerate(other.get("edges", [])):
            if candidate.get("along") == _name(panel) and candidate.get("edge") == edge:
                yield ("panel", index, "edges", place, "edge")
    for place, pierced in enumerate(panel.get("pierced", [])):
        if pierced.get("slit_to") == edge:
            yield ("panel", path[1], "pierced", place, "slit_to")
    darts = panel.get("darts", [])
    for place, dart in enumerate(darts if isinstance(darts, list) else []):
        if dart.get("edge") == edge:
            yield ("panel", path[1], "darts", place, "edge")
    for index, panel_set in enumerate(data.get("set", [])):
        for place, up in enumerate(panel_set.get("up", [])):
            if isinstance(up, dict) and up.get("panel") == _name(panel) and up.get("zip_edge") == edge:
                yield ("set", index, "up", place, "zip_edge")


def _name(part: Any) -> str | None:
    return part.get("name") if isinstance(part, dict) else None


def _fits(where: Path, patterns: tuple[tuple[str | None, ...], ...]) -> bool:
    return any(
        len(where) == len(pattern)
        and all(asked is ANY or part == asked for part, asked in zip(where, pattern, strict=True))
        for pattern in patterns
    )


def _leaves(value: Any, path: Path) -> Iterator[tuple[Path, Any]]:
    if isinstance(value, dict):
        for key, part in value.items():
            yield from _leaves(part, (*path, key))
    elif isinstance(value, list):
        for index, part in enumerate(value):
            yield from _leaves(part, (*path, index))
    else:
        yield path, value
