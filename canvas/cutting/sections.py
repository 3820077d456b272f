"""Draw a small section through each edge finish: cloth, turnings, tape, rope, tube and stitching.

Computes: lines of a section, the finished edge at the origin, the part to its left.
Units: metres, at full size across; layers of cloth are drawn `LIFT` apart so that they can be told from each other.
Source: finishes.toml: folds, rows of stitching, section in words.
Limits: a sketch of how it is folded, not of thickness.
"""

from __future__ import annotations

import numpy as np

from canvas.cutting.finish import POCKET_EASE, POCKET_TURNING, Finish
from canvas.cutting.seamkinds import OVERLAP, PLAIN
from canvas.cutting.sheet import Item, Layer, Line, Sheet, Text
from canvas.cutting.slit import DART
from canvas.design.units import small_length
from canvas.geometry.surface import Floats

LIFT = 0.003  # [m] between layers as drawn
SHOWN = 0.09  # [m] of the part
TUBE = 0.025  # [m]
ROPE = 0.006  # [m]


def section_sheet(finish: Finish, *, under: Finish | None = None, units: str = "m") -> Sheet:
    """Return the section of a finish.

    Parameters
    ----------
    finish : Finish
    under : Finish, optional
        Of the lower side of a felled or overlapped seam, of which `finish` is the upper.
    units : str
        In which the allowance is said.
    """
    items: list[Item] = list(_cloth(finish) if under is None else _lapped(finish, under))
    items += _added(finish)
    top = max(float(line.points[:, 1].max()) for line in items if isinstance(line, Line))
    low = min(float(line.points[:, 1].min()) for line in items if isinstance(line, Line))
    for row in finish.sews:
        stitch = np.array([[-row, low - 0.002], [-row, top + 0.002]])
        items.append(Line(layer=Layer.SEW, points=stitch, dashed=True))
    items.append(Text(at=np.array([-SHOWN / 2, low - 0.008]), text="part", height=0.003))
    turned = f"allowance {small_length(finish.allowance, units)}"
    if finish.name == "tube pocket":
        turned = f"allowance: girth of the tube + {small_length(POCKET_EASE + POCKET_TURNING, units)}"
    if under is not None:
        turned += f", of the other side {small_length(under.allowance, units)}"
    items.append(Text(at=np.array([-SHOWN / 2, top + 0.008]), text=turned, height=0.003))
    return Sheet(title=f"section: {finish.name}", items=tuple(items), notes=(finish.section,))


def _cloth(finish: Finish) -> list[Line]:
    """Return the part's own cloth, folded."""
    if finish.name in (PLAIN, DART, "window"):
        return _two_cloths(finish)
    a = finish.allowance
    if finish.name == "tube pocket":
        return [Line(layer=Layer.CUT, points=_round_tube(a))]
    if not finish.folds:
        return [Line(layer=Layer.CUT, points=np.array([[-SHOWN, 0.0], [a, 0.0]]))]
    ends = [*finish.folds[1:], a]
    path = [(-SHOWN, 0.0), (0.0, 0.0)]
    x, done = 0.0, 0.0
    levels = [2 * LIFT, LIFT]
    for k, end in enumerate(ends):
        direction = -1.0 if k % 2 == 0 else 1.0
        level = levels[min(k, 1)]
        path.append((x, level))
        x += direction * (end - done)
        path.append((x, level))
        done = end
    return [Line(layer=Layer.CUT, points=np.array(path))]


def _two_cloths(finish: Finish) -> list[Line]:
    """Return both cloths of a seam; stitching on the line x = 0."""
    a = finish.allowance
    if finish.name == "window":
        one = np.array([[-SHOWN, 0.0], [a, 0.0]])
        two = np.array([[SHOWN, LIFT], [-a, LIFT]])
    else:
        one = np.array([[-SHOWN, 0.0], [0.0, 0.0], [0.0, -LIFT], [-a, -LIFT]])
        two = np.array([[SHOWN, 0.0], [LIFT / 3, 0.0], [LIFT / 3, -2 * LIFT], [-a, -2 * LIFT]])
    return [Line(layer=Layer.CUT, points=one), Line(layer=Layer.CUT, points=two)]


def _lapped(over: Finish, under: Finish) -> list[Line]:
    """Return both cloths of a felled or an overlapped seam, the upper coming from the left, and the tape between."""
    a, b = over.allowance, under.allowance
    lines: list[Line] = []
    if over.name == OVERLAP:
        one = [[-SHOWN, 2 * LIFT], [0.0, 2 * LIFT], *([[0.0, 1.5 * LIFT], [-a, 1.5 * LIFT]] if a > 0 else [])]
        two = [[SHOWN, 0.0], [-b, 0.0]]
        lines.append(_block(-0.8 * b, 0.6 * LIFT, -0.2 * b, 1.1 * LIFT))
    else:
        fold = over.folds[-1]
        one = [[-SHOWN, 3 * LIFT], [fold, 3 * LIFT], [fold, LIFT], [2 * fold - a, LIFT]]
        two = [[SHOWN, 0.0], [0.0, 0.0], [0.0, 2 * LIFT], [b, 2 * LIFT]]
    return [*lines, *(Line(layer=Layer.CUT, points=np.array(path)) for path in (one, two))]


def _round_tube(allowance: float) -> Floats:
    """Return cloth that comes in on top of a tube, goes round it and back under the part."""
    angle = np.linspace(np.pi / 2, -np.pi / 2, 25)
    radius = TUBE / 2 + 0.001
    back = allowance - np.pi * radius
    turn = 0.012
    bend = np.stack([radius * np.cos(angle), radius * np.sin(angle)], axis=1)
    under = np.array(
        [[-back + turn, -radius], [-back + turn, -radius + LIFT / 2], [-back + 2 * turn, -radius + LIFT / 2]]
    )
    return np.concatenate([[[-SHOWN - 0.04, radius]], bend, under])


def _circle(x: float, y: float, diameter: float, *, layer: Layer = Layer.FOLD) -> Line:
    angle = np.linspace(0, 2 * np.pi, 32, endpoint=False)
    ring = np.stack([x + diameter / 2 * np.cos(angle), y + diameter / 2 * np.sin(angle)], axis=1)
    return Line(layer=layer, points=ring, closed=True)


def _block(x0: float, y0: float, x1: float, y1: float) -> Line:
    return Line(layer=Layer.FOLD, points=np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]]), closed=True)


def _added(finish: Finish) -> list[Item]:
    """Return what is bought and sewn in or on: tape, rope, webbing, zip, tube, batten, eye, stud."""
    name = finish.name
    items: list[Item] = []
    if name == "binding":
        items.append(
            Line(layer=Layer.FOLD, points=np.array([[-0.011, LIFT], [0.002, LIFT], [0.002, -LIFT], [-0.011, -LIFT]]))
        )
    elif name in ("webbing hem", "lashing points"):
        items.append(_block(-0.026, LIFT * 1.3, -0.001, LIFT * 1.7))
    elif name == "batten pocket":
        items.append(_block(-0.034, LIFT * 0.4, -0.004, LIFT * 1.5))
    elif name == "tube pocket":
        items.append(_circle(0.0, 0.0, TUBE))
    elif name == "bolt rope":
        items.append(_circle(finish.allowance + ROPE / 2, 0.0, ROPE))
        for side in (LIFT / 2, -LIFT / 2):
            items.append(Line(layer=Layer.FOLD, points=np.array([[finish.allowance, side], [-0.018, side]])))
    elif name.startswith("zip"):
        items.append(Line(layer=Layer.FOLD, points=np.array([[-0.012, -LIFT], [0.006, -LIFT]])))
        items.append(_block(0.006, -LIFT * 1.5, 0.010, -LIFT * 0.5))
        if finish.flap > 0:
            flap = np.array([[-0.016, 3 * LIFT], [finish.flap - 0.016, 3 * LIFT], [finish.flap - 0.016, 4 * LIFT]])
            items.append(Line(layer=Layer.CUT, points=flap))
    elif name == "hook and loop":
        items.append(_block(-0.025, 2.3 * LIFT, -0.001, 2.9 * LIFT))
    if finish.points is not None:
        items.append(_block(-finish.inset - 0.006, -LIFT, -finish.inset + 0.006, 3 * LIFT))
    return items
