"""Draw an edge finish in section: cloth, folds, tape, rope, tube, stitching, studs.

Computes: the path of the cloth from its allowance, fold lines and rows of stitching.
Units: metres on the paper; lengths across the edge at 1:1, thickness drawn thicker than life.
Source: canvas/cutting/finishes.toml and the design's table of finishes.
Limits: a drawing for the eye: thickness, chain and studs are symbols.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np

from canvas.brief.dimensions import dimension
from canvas.brief.drawing import MM, Area, Drawing, Item, Pen, Stroke, Words, circle, drawing_of
from canvas.brief.palette import INK, QUIET, SERIES
from canvas.cutting.finish import Finish
from canvas.cutting.seamkinds import OVERLAP, PLAIN, UNDER
from canvas.cutting.slit import DART
from canvas.design.units import small_length
from canvas.geometry.surface import Floats

CLOTH = Pen(colour="#0b4f7a", width=0.9 * MM)
LAYER = 2.2 * MM  # between layers of cloth
GREY = Pen(colour=INK, width=0.3 * MM)
TUBE = 12.5 * MM  # outside radius of the tube drawn, cloth included
SHOWN = 0.062  # of the cloth inside the edge [m]
SEAMS = (*UNDER, DART)  # in whose section the other side is a cloth too
LONGEST = 0.075  # of an allowance that is drawn at 1:1 [m]


def section_drawing(finish: Finish, *, units: str, under: Finish | None = None, text: float = 2.3 * MM) -> Drawing:
    """Return the section of a finish, its edge to the right.

    Parameters
    ----------
    finish : Finish
    units : str
        In which its lengths are said: ``m``, ``mm``, ``ft`` or ``in``.
    under : Finish, optional
        Of the lower side of a felled or overlapped seam, of which `finish` is the upper.
    text : float
        Height of letters [m].
    """
    turned = min(finish.allowance, LONGEST)
    items: list[Item] = _lapped(finish, under) if under is not None else []
    if under is None:
        items = [Stroke(lines=(_cloth(finish, turned),), pen=CLOTH), *_tape(finish, turned)]
    for row in finish.sews:
        items.append(_stitch(-min(row, LONGEST)))
    if finish.points is not None:
        items += _point(finish, text, units)
    items += _words(finish, text, units, under=under)
    return drawing_of(f"section of {finish.name}", items)


def _cloth(finish: Finish, turned: float) -> Floats:
    """Return the cloth in section: from inside to the edge, back under, and in again where it is turned twice."""
    inside = [[-max(SHOWN, turned + 8 * MM), 0.0], [0.0, 0.0]]
    if finish.name in (PLAIN, DART):
        return np.array([*inside, [0.0, -LAYER], [-turned, -LAYER]])
    if finish.name == "tube pocket":
        turn = np.radians(np.arange(90, -151, -15))
        round_it = TUBE * np.c_[np.cos(turn), np.sin(turn)] + [-TUBE, -TUBE]
        return np.vstack([inside[:1], [[-TUBE, 0.0]], round_it, [[-2.4 * TUBE, -1.2 * LAYER], [-turned, -LAYER]]])
    if not finish.folds or turned < 1 * MM:
        return np.array(inside)
    back = [[1.0 * MM, -LAYER / 2], [0.0, -LAYER], [-turned, -LAYER]]
    second = [fold for fold in finish.folds if fold > 1 * MM]
    if second:  # the raw end is tucked in
        tuck = finish.allowance - second[-1]
        back = [[1.0 * MM, -LAYER / 2 - 0.3 * MM], [0.0, -2 * LAYER], [-(turned - tuck), -2 * LAYER]]
        back += [
            [-(turned - tuck) - 0.8 * MM, -1.5 * LAYER],
            [-(turned - tuck), -LAYER],
            [-(turned - 2 * tuck), -LAYER],
        ]
    return np.array([*inside, *back])


def _lapped(over: Finish, under: Finish) -> list[Item]:
    """Return both cloths of a felled or an overlapped seam, the upper from the left, and the tape between."""
    far, level = 0.6 * SHOWN, 0.8 * LAYER
    items: list[Item] = []
    if over.name == OVERLAP:
        turned = [[0.0, -0.5 * LAYER], [-over.allowance, -0.5 * LAYER]] if over.allowance > 0 else []
        upper = [[-SHOWN, 0.0], [0.0, 0.0], *turned]
        lower = [[far, -1.4 * LAYER], [-under.allowance, -1.4 * LAYER]]
        items.append(_bar(-0.8 * under.allowance, -0.2 * under.allowance, -0.9 * LAYER, 0.6 * MM, fill="#bdbdbd"))
    else:
        fold = over.folds[-1]
        upper = [[-SHOWN, 0.0], [fold, 0.0], [fold, -2 * level], [2 * fold - over.allowance, -2 * level]]
        lower = [[far, -3 * level], [0.0, -3 * level], [0.0, -level], [under.allowance, -level]]
    other = Pen(colour=SERIES[3], width=0.9 * MM)
    items += [Stroke(lines=(np.array(upper),), pen=CLOTH), Stroke(lines=(np.array(lower),), pen=other)]
    return items


def _tape(finish: Finish, turned: float) -> list[Item]:
    """Return what is sewn in or on: tape, rope, chain, webbing, batten, tube, or the cloth of the other side."""
    if finish.name.startswith("zip"):
        return _zip(finish)
    if finish.name in (PLAIN, DART, "window"):
        return [Stroke(lines=(_other_side(finish, turned),), pen=Pen(colour=SERIES[3], width=0.9 * MM))]
    return _bars(finish, turned) if finish.name not in SPECIAL else SPECIAL[finish.name]()


def _zip(finish: Finish) -> list[Item]:
    tape = np.array([[-14 * MM, -1.5 * LAYER], [11 * MM, -1.5 * LAYER]])
    chain = np.array([[11, -2.6], [16, -2.6], [16, -0.4], [11, -0.4]]) * MM + np.array([0, -LAYER])
    items: list[Item] = [
        Stroke(lines=(tape,), pen=Pen(colour=INK, width=0.7 * MM)),
        Area(loops=(chain,), fill="#9a9a9a", pen=GREY),
    ]
    if finish.flap > 0:
        flap = np.array([[-12 * MM, LAYER], [0.0, LAYER], [finish.flap - 12 * MM, 0.4 * MM]])
        items.append(Stroke(lines=(flap,), pen=CLOTH))
    return items


def _other_side(finish: Finish, turned: float) -> Floats:
    far = 0.6 * SHOWN
    if finish.name in (PLAIN, DART):
        return np.array([[far, 0.0], [1.2 * MM, 0.0], [1.2 * MM, -2 * LAYER], [-turned, -2 * LAYER]])
    return np.array([[far, -LAYER / 2], [-turned, -LAYER / 2]])


def _binding() -> list[Item]:
    fold = np.array([[-11, 1.3], [0, 1.3], [1.4, 0], [0, -1.3], [-11, -1.3]]) * MM
    return [Stroke(lines=(fold,), pen=Pen(colour=SERIES[2], width=0.7 * MM))]


def _rope() -> list[Item]:
    legs = tuple(np.array([[-20, side * 1.4], [0, side * 1.4], [3, side * 2.4]]) * MM for side in (1, -1))
    rope = Area(loops=(circle(np.array([5.5 * MM, 0.0]), 3 * MM),), fill="#cfcfcf", pen=GREY)
    return [Stroke(lines=legs, pen=Pen(colour=SERIES[2], width=0.6 * MM)), rope]


def _tube() -> list[Item]:
    middle = np.array([-TUBE, -TUBE])
    rings = (circle(middle, TUBE - 1.2 * MM), circle(middle, TUBE - 3 * MM))
    return [Area(loops=rings, fill="#cfcfcf", pen=GREY)]


SPECIAL: Mapping[str, Callable[[], list[Item]]] = {"binding": _binding, "bolt rope": _rope, "tube pocket": _tube}


def _bars(finish: Finish, turned: float) -> list[Item]:
    tape = finish.tape or ""
    if tape.startswith("webbing"):
        return [_bar(-26 * MM, -1 * MM, -LAYER, 1.2 * MM, fill="#bdbdbd")]
    if tape == "batten":
        return [_bar(-24 * MM, -4 * MM, -LAYER, 1.8 * MM, fill="#e0c890")]
    if tape.startswith("hook"):
        return [_bar(-turned, -1 * MM, -1.7 * LAYER, 1.6 * MM, fill="#bdbdbd")]
    return []


def _bar(left: float, right: float, middle: float, thick: float, *, fill: str) -> Area:
    loop = np.array(
        [
            [left, middle - thick / 2],
            [right, middle - thick / 2],
            [right, middle + thick / 2],
            [left, middle + thick / 2],
        ]
    )
    return Area(loops=(loop,), fill=fill, pen=Pen(colour=INK, width=0.2 * MM))


def _stitch(at: float) -> Stroke:
    line = np.array([[at, 1.6 * MM], [at, -2 * LAYER - 1.2 * MM]])
    return Stroke(lines=(line,), pen=Pen(colour=SERIES[2], width=0.35 * MM, dash=(1.0 * MM, 0.7 * MM)))


def _point(finish: Finish, text: float, units: str) -> list[Item]:
    at = -finish.inset
    loop = np.array([[-4, 1.2], [4, 1.2], [4, 2.2], [-4, 2.2]]) * MM + [at, 0]
    shank = np.array([[at, 2.0 * MM], [at, -2 * LAYER - 2.5 * MM]])
    every, inset = small_length(finish.spacing, units), small_length(finish.inset, units)
    said = f"{finish.points} every {every}, {inset} from the edge"
    words = Words(at=np.array([7 * MM, 4.6 * MM]), text=said, size=text, anchor="end")
    return [
        Area(loops=(loop,), fill="#9a9a9a", pen=Pen(width=0.2 * MM)),
        Stroke(lines=(shank,), pen=Pen(width=0.8 * MM)),
        words,
    ]


def _words(finish: Finish, text: float, units: str, *, under: Finish | None) -> list[Item]:
    low = -2 * LAYER - 5 * MM - (2 * TUBE - 2 * LAYER if finish.name == "tube pocket" else 0.0)
    items: list[Item] = []
    if under is not None:
        lap = under.allowance if finish.name == OVERLAP else -finish.folds[-1]
        other = small_length(under.allowance, units)
        said = f"allowance {small_length(finish.allowance, units)}, of the other side {other}"
        ends = ([min(-lap, 0.0), low + 2 * MM], [max(-lap, 0.0), low + 2 * MM])
        items += dimension(*ends, text=said, lane=low - 1 * MM, size=text)
    elif finish.allowance > 1 * MM:
        short = "" if finish.allowance <= LONGEST else " (drawn shorter)"
        said = f"allowance {small_length(finish.allowance, units)}{short}"
        ends = ([-min(finish.allowance, LONGEST), low + 2 * MM], [0.0, low + 2 * MM])
        items += dimension(*ends, text=said, lane=low - 1 * MM, size=text)
    title = Words(at=np.array([-SHOWN, 12 * MM]), text=finish.name, size=1.15 * text, anchor="start", bold=True)
    about = Words(at=np.array([-SHOWN, 8.8 * MM]), text=finish.section, size=0.9 * text, anchor="start", colour=QUIET)
    beyond = "other cloth" if finish.name in SEAMS else "edge"
    edge = Words(at=np.array([9 * MM, 4.2 * MM]), text=beyond, size=0.9 * text, anchor="start", colour=QUIET)
    return [*items, title, about, edge]
