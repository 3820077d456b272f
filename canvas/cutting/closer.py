"""Nest closer with spyrrow, and keep the layout it found under a hash of the outlines.

Computes: a layout by strip packing with a wall-clock budget; the same outlines, roll and spacing find the saved layout
    again.
Units: metres.
Source: spyrrow, which packs irregular outlines in a strip.
Limits: its seed does not reproduce under load, so the layout is saved and used again, never searched for twice. Parts
    wider than the roll are found first, for it would stop the program on them. Where it finds nothing shorter, the
    program's own layout stands.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import spyrrow
from shapely.geometry import Polygon

from canvas.cutting.nest import SELVEDGE, SPACING, Layout, nest_outlines
from canvas.design.problems import DesignError, Problem
from canvas.geometry.surface import Floats
from canvas.jobs.files import write_whole

SIMPLE = 0.002  # [m] outlines are packed as simpler ones no more than this outside them


def closer_nest(
    outlines: Sequence[Floats],
    *,
    width: float,
    folder: Path,
    seconds: int = 30,
    spacing: float = SPACING,
    selvedge: float = SELVEDGE,
    turnable: Sequence[bool] | None = None,
) -> Layout:
    """Return a shorter layout than the default nest where one is found, saved in a folder.

    Parameters
    ----------
    outlines : sequence of (k, 2) ndarray
        Cut lines, warp along +u. [m]
    width : float
        Of the roll. [m]
    folder : Path
        Where layouts are kept.
    seconds : int
        To search, the first time. [s]
    spacing, selvedge : float
        [m]
    turnable : sequence of bool, optional
        Which may be turned half round; all where absent.

    Raises
    ------
    DesignError
        When an outline is wider than the roll.
    """
    room = width - 2 * selvedge
    wide = [float(np.ptp(o[:, 1])) for o in outlines if np.ptp(o[:, 1]) > room + 1e-9]
    if wide:
        found = f"{max(wide):.3f} m across the warp on a roll of {width:.2f} m"
        raise DesignError([Problem(code="part-wider-than-roll", found=found, wanted="Divide it, or use a wider roll.")])
    turns = [True] * len(outlines) if turnable is None else list(turnable)
    path = (
        folder / f"nest-{layout_hash(outlines, width=width, spacing=spacing, selvedge=selvedge, turnable=turns)}.json"
    )
    saved = _read(path, outlines, width=width)
    if saved is not None and not fits(saved, outlines, spacing, selvedge):
        saved = None
    if saved is None:
        own = nest_outlines(outlines, width=width, spacing=spacing, selvedge=selvedge, turnable=turns)
        if len(outlines) < 2:
            return own
        saved = _packed(outlines, width=width, spacing=spacing, selvedge=selvedge, turnable=turns, seconds=seconds)
        if saved is None or saved.length >= own.length or not fits(saved, outlines, spacing, selvedge):
            saved = own
        rows = [[float(x), float(y), bool(t)] for x, y, t in zip(saved.x, saved.y, saved.turned, strict=True)]
        write_whole(path, json.dumps({"length_m": saved.length, "parts": rows}) + "\n")
    return saved


def layout_hash(
    outlines: Sequence[Floats], *, width: float, spacing: float, selvedge: float, turnable: Sequence[bool]
) -> str:
    """Return the hash under which a layout is saved: outlines to 0.1 mm, roll, spacing, selvedge, turns.

    Parameters
    ----------
    outlines : sequence of (k, 2) ndarray
        [m]
    width, spacing, selvedge : float
        Of the roll, between parts, and left at each edge of the roll [m].
    turnable : sequence of bool
        Whether each outline may be turned by half a turn.
    """
    said = json.dumps(
        {
            "outlines": [np.round(o * 1e4).astype(int).tolist() for o in outlines],
            "roll": [round(v * 1e4) for v in (width, spacing, selvedge)],
            "turnable": list(turnable),
        }
    )
    return hashlib.sha256(said.encode("utf-8")).hexdigest()[:20]


def fits(layout: Layout, outlines: Sequence[Floats], spacing: float, selvedge: float) -> bool:
    """Return whether `outlines`, (k, 2) each, keep their `spacing` and lie a `selvedge` inside the roll [m]."""
    laid = [Polygon(layout.outline(k, outline)) for k, outline in enumerate(outlines)]
    for k, part in enumerate(laid):
        _, low, _, high = part.bounds
        if low < selvedge - 1e-6 or high > layout.width - selvedge + 1e-6:
            return False
        if any(part.distance(other) < spacing - 1e-6 for other in laid[:k]):
            return False
    return True


def _read(path: Path, outlines: Sequence[Floats], *, width: float) -> Layout | None:
    if not path.exists():
        return None
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
        rows = [(float(x), float(y), bool(t)) for x, y, t in data["parts"]]
        length = float(data["length_m"])
    except (ValueError, KeyError, TypeError):
        return None
    if len(rows) != len(outlines) or not np.isfinite(rows).all() or not 0 < length < np.inf:
        return None
    return _layout(rows, outlines, width=width, length=length)


def _layout(
    rows: Sequence[tuple[float, float, bool]], outlines: Sequence[Floats], *, width: float, length: float
) -> Layout:
    area = sum(Polygon(outline).area for outline in outlines)
    return Layout(
        width=width,
        length=length,
        x=np.array([row[0] for row in rows]),
        y=np.array([row[1] for row in rows]),
        turned=np.array([row[2] for row in rows]),
        used=area / (length * width),
    )


def _packed(
    outlines: Sequence[Floats],
    *,
    width: float,
    spacing: float,
    selvedge: float,
    turnable: Sequence[bool],
    seconds: int,
) -> Layout | None:
    """Return spyrrow's layout; its spacing applies at the roll's edges too, which is taken off the selvedge."""
    items = []
    for k, outline in enumerate(outlines):
        simple = Polygon(outline).buffer(SIMPLE, join_style="mitre", mitre_limit=2).simplify(SIMPLE)
        shape = [(float(x), float(y)) for x, y in simple.exterior.coords[:-1]]
        items.append(spyrrow.Item(str(k), shape, 1, [0.0, 180.0] if turnable[k] else [0.0]))
    strip = width - 2 * selvedge + 2 * SIMPLE + spacing
    config = spyrrow.StripPackingConfig(
        total_computation_time=seconds, min_items_separation=max(spacing - 2 * SIMPLE, 1e-4), num_workers=1, seed=1
    )
    solution = spyrrow.StripPackingInstance("roll", strip, items).solve(config)
    rows: list[tuple[float, float, bool]] = [(0.0, 0.0, False)] * len(outlines)
    for placed in solution.placed_items:
        x, y = placed.translation
        rows[int(placed.id)] = (float(x), float(y), abs(float(placed.rotation)) > 90)
    laid = [(-1 if t else 1) * o + np.array([x, y]) for o, (x, y, t) in zip(outlines, rows, strict=True)]
    low = np.vstack(laid).min(axis=0)
    high = np.vstack(laid).max(axis=0)
    back = np.array([spacing / 2 - low[0], selvedge - low[1]])
    rows = [(x + back[0], y + back[1], t) for x, y, t in rows]
    return _layout(rows, outlines, width=width, length=float(high[0] - low[0] + spacing))
