"""Say what each edge finish takes: allowance, folds, rows of stitching, corners, and points set along it.

Computes: allowances from the design's table of finishes and a shop's own file; pocket allowances from the tube.
Units: metres.
Source: canvas/design/tables/finishes.toml and finishes.toml beside this module, each row with its source.
Limits: a flap's own cloth is a part of its own; tapes and zips are bought, not cut.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from importlib import resources
from pathlib import Path
from typing import Any, Literal

from canvas.design.problems import DesignError, Problem, nearest
from canvas.design.units import length

Corner = Literal["mitre", "square", "tube end"]
POCKET_EASE = 0.03  # [m] over the girth of the tube; common practice 20-40 mm
POCKET_TURNING = 0.025  # [m] turned under and sewn; common practice


@dataclass(frozen=True, slots=True, kw_only=True)
class Finish:
    """One edge finish as a cutter sees it.

    Attributes
    ----------
    name : str
    allowance : float
        Cloth outside the finished edge. [m]
    tolerance : float
        How exactly the edge must fit. [m]
    folds : tuple of float
        Fold lines, outward from the finished edge. [m]
    sews : tuple of float
        Rows of stitching, inward from the finished edge. [m]
    corner : str
        ``mitre``, ``square`` or ``tube end``.
    stop : float
        How far a tube end stops short of the corner. [m]
    bend : float
        Smallest radius of a curved edge over the allowance that turns without puckers; 0 for any. [1]
    points : str or None
        Fastening set along the edge.
    spacing : float
        Between points. [m]
    inset : float
        Of the points from the finished edge. [m]
    flap : float
        Width of a rain flap over it; 0 for none. [m]
    tape : str or None
        Sold by the metre along it.
    rows : int
        Rows of stitching.
    section : str
        The finish in words.
    """

    name: str
    allowance: float
    tolerance: float
    folds: tuple[float, ...] = ()
    sews: tuple[float, ...] = ()
    corner: Corner = "mitre"
    stop: float = 0.0
    bend: float = 0.0
    points: str | None = None
    spacing: float = 0.15
    inset: float = 0.0
    flap: float = 0.0
    tape: str | None = None
    rows: int = 0
    section: str = ""


def read_finishes(shop: Path | None = None) -> Mapping[str, Finish]:
    """Return every finish by name.

    Parameters
    ----------
    shop : Path, optional
        A shop's own file: a table a finish, with ``allowance`` and, where wanted, ``spacing``, ``corner`` or
        ``flap``.

    Raises
    ------
    DesignError
        When the shop's file names an unknown finish or key, or holds what is no length.
    """
    tables = resources.files("canvas.design") / "tables"
    common = tomllib.loads((tables / "finishes.toml").read_text(encoding="utf-8"))
    spaced = tomllib.loads((tables / "fastenings.toml").read_text(encoding="utf-8"))
    drawn = tomllib.loads((resources.files("canvas.cutting") / "finishes.toml").read_text(encoding="utf-8"))
    result = {name: _finish(name, common.get(name, {}), row, spaced) for name, row in drawn.items()}
    for name in common:
        if name not in drawn:
            result[name] = _finish(name, common[name], {}, spaced)
    if shop is not None:
        result.update(_from_shop(shop, result))
    return result


def _finish(name: str, common: Mapping[str, Any], drawn: Mapping[str, Any], spaced: Mapping[str, Any]) -> Finish:
    allowance = length(common.get("allowance", "13 mm"))
    points = drawn.get("points")
    return Finish(
        name=name,
        allowance=allowance,
        tolerance=length(common.get("tolerance", "2 mm")),
        folds=tuple(_offset(entry, allowance) for entry in drawn.get("folds_mm", [])),
        sews=tuple(_offset(entry, allowance) for entry in drawn.get("sews_mm", [])),
        corner=drawn.get("corner", "mitre"),
        stop=drawn.get("stop_mm", 0) / 1000,
        bend=float(drawn.get("bend", 0)),
        points=points,
        spacing=length(spaced.get(points, {}).get("spacing", "150 mm")) if points else 0.15,
        inset=drawn.get("inset_mm", 0) / 1000,
        flap=length(common.get("flap", "0 mm")),
        tape=common.get("tape"),
        rows=int(common.get("rows", 2)),
        section=drawn.get("section", ""),
    )


def _offset(entry: str | int, allowance: float) -> float:
    """Return a fold or sew offset; "a-12" counts back from the cut line, "half" lies half the allowance in."""
    if entry == "half":
        return allowance / 2
    text = str(entry)
    if text.startswith("a-"):
        return allowance - float(text[2:]) / 1000
    return float(text) / 1000


def _from_shop(path: Path, known: Mapping[str, Finish]) -> dict[str, Finish]:
    try:
        data = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        problem = Problem(code="shop-file", file=str(path), found=str(error), wanted="Give a TOML file.")
        raise DesignError([problem]) from error
    problems: list[Problem] = []
    result: dict[str, Finish] = {}
    for name, row in data.items():
        if name not in known:
            wanted = nearest(name, known)
            problems.append(Problem(code="unknown-finish", file=str(path), key=name, found=f'"{name}"', wanted=wanted))
            continue
        result[name] = _shop_row(known[name], row, problems, file=str(path))
    if problems:
        raise DesignError(problems)
    return result


def _shop_row(finish: Finish, row: Any, problems: list[Problem], *, file: str) -> Finish:
    corners = ("mitre", "square", "tube end")
    changed = finish
    for key, value in (row if isinstance(row, dict) else {"": row}).items():
        place = f"{finish.name}.{key}"
        if key == "corner" and value in corners:
            changed = replace(changed, corner=value)
        elif key in ("allowance", "spacing", "flap"):
            try:
                metres = length(value)
            except ValueError as error:
                problems.append(Problem(code="shop-length", file=file, key=place, found=repr(value), wanted=str(error)))
                continue
            if key == "allowance":
                changed = with_allowance(changed, metres)
            else:
                changed = replace(changed, spacing=metres) if key == "spacing" else replace(changed, flap=metres)
        else:
            wanted = nearest(str(value), corners) if key == "corner" else nearest(key, ("allowance", "corner", "flap"))
            problems.append(Problem(code="shop-key", file=file, key=place, found=repr(value), wanted=wanted))
    return changed


def with_allowance(finish: Finish, allowance: float) -> Finish:
    """Return the finish with another allowance; folds counted from the cut line move with it.

    Parameters
    ----------
    finish : Finish
    allowance : float
        [m]
    """
    moved = allowance - finish.allowance
    folds = tuple(fold if fold == 0.0 else fold + moved for fold in finish.folds)
    return replace(finish, allowance=allowance, folds=folds)


def for_tube(finish: Finish, diameter: float | None) -> Finish:
    """Return a tube pocket made for its own tube: girth, ease and turning.

    Parameters
    ----------
    finish : Finish
    diameter : float or None
        Outside diameter of the tube. [m] None leaves the finish as it is.
    """
    if diameter is None or finish.name != "tube pocket":
        return finish
    girth = math.pi * diameter
    sized = with_allowance(finish, girth + POCKET_EASE + POCKET_TURNING)
    mouth = girth / 2 + POCKET_EASE + POCKET_TURNING - 0.018
    return replace(sized, sews=(mouth - 0.006, mouth), folds=(0.0, sized.allowance - 0.012))
