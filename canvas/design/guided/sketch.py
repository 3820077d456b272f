"""Draw the boat of the answers so far in letters: from the side and from above, to scale.

Computes: lines of text.
Units: metres in; a letter stands for about twice as much up or across the page as along it.
Source: none.
Limits: a first look at proportions in a terminal, nothing to measure from.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from itertools import pairwise

from canvas.design.guided.questions import Answers, complete, number
from canvas.design.guided.shape import Bow, Shape, Vector, shape_of

COLUMNS = 76
HALF_BLADE = 0.09  # drawn this wide either side [m]
TALL = 2.0  # a letter is about twice as high as wide
LEGEND = (
    ". deck  - cabin  = coaming  _ seat  H hood  B bimini  T tent  b boom  i crew\no wheel or tiller  # blade  ~ water"
)


def sketch(answers: Answers) -> str:
    """Return a drawing in letters, bow to the left: the cockpit's part of the boat from the side, then from above.

    Parameters
    ----------
    answers : mapping of str to float or str
        SI; what is missing takes its usual value.
    """
    said = complete(answers)
    shape = shape_of(said)
    left, right = shape.mast - 0.2, max(shape.transom, number(said, "blade_aft")) + 0.3
    side = _Sheet(left, right, bottom=shape.waterline - 0.1, top=_highest(said, shape) + 0.1)
    plan = _Sheet(left, right, bottom=-number(said, "beam") / 2 - 0.1, top=number(said, "beam") / 2 + 0.1)
    for letter, points in _lines(said, shape):
        side.line(letter, [(x, z) for x, _, z in points])
        plan.line(letter, [(x, -y) for x, y, _ in points])
    side.line("~", [(left, shape.waterline), (right, shape.waterline)])
    return "\n".join([*side.rows(), "", *plan.rows(), "", LEGEND])


class _Sheet:
    """A page of letters over a rectangle of the boat; the first letter drawn at a place stays."""

    def __init__(self, left: float, right: float, *, bottom: float, top: float) -> None:
        self._left, self._top = left, top
        self._scale = (COLUMNS - 1) / (right - left)
        self._rows = max(3, math.ceil((top - bottom) * self._scale / TALL) + 1)
        self._letters: dict[tuple[int, int], str] = {}

    def line(self, letter: str, points: Sequence[tuple[float, float]]) -> None:
        for (x0, y0), (x1, y1) in pairwise(points):
            steps = max(1, math.ceil(2 * self._scale * max(abs(x1 - x0), abs(y1 - y0))))
            for step in range(steps + 1):
                share = step / steps
                column = round((x0 + share * (x1 - x0) - self._left) * self._scale)
                row = round((self._top - y0 - share * (y1 - y0)) * self._scale / TALL)
                if 0 <= column < COLUMNS and 0 <= row < self._rows:
                    self._letters.setdefault((row, column), letter)

    def rows(self) -> list[str]:
        page = (
            "".join(self._letters.get((row, column), " ") for column in range(COLUMNS)).rstrip()
            for row in range(self._rows)
        )
        return list(page)


def _highest(said: Answers, shape: Shape) -> float:
    heads = max(number(said, "crew_first"), number(said, "crew_second"))
    blade = number(said, "blade_foot") + number(said, "blade_height")
    return max(heads, blade, number(said, "boom_height"), shape.hood.foot_z + shape.hood.crown + 0.2)


def _lines(said: Answers, shape: Shape) -> Iterable[tuple[str, Sequence[Vector]]]:
    """Yield what is drawn, the most telling first."""
    blade = (number(said, "blade_aft"), 0.0, number(said, "blade_foot"))
    for x in (blade[0] - HALF_BLADE, blade[0] + HALF_BLADE):
        yield "#", [(x, 0.0, blade[2]), (x, 0.0, blade[2] + number(said, "blade_height"))]
    yield from (("i", line) for line in _people(said, shape))
    bows = [("H", shape.hood), *(("B", bow) for bow in shape.bimini or ())]
    for letter, bow in bows:
        yield letter, _bow_line(bow)
    yield "H", shape.hood_front
    if shape.bimini:
        forward, aft = shape.bimini
        for side in (-1, 1):
            yield "B", [forward.shoulder(side), aft.shoulder(side)]
    x, y, z = shape.leech
    foot = (shape.hood.x, shape.hood.half, shape.hood.foot_z)
    yield "T", [(foot[0], -foot[1], foot[2]), (x, -y, z), (x, y, z), foot]
    if shape.wheel is not None:
        wx, _, wz = shape.wheel
        yield "o", [(wx, -0.38, wz), (wx, 0.38, wz)]
        yield "o", [(wx, 0.0, wz - 0.38), (wx, 0.0, wz + 0.38)]
    else:
        yield "o", [(0.62 * number(said, "cockpit_length"), 0.0, 0.77), (shape.transom, 0.0, shape.deck + 0.15)]
    boom = number(said, "boom_height")
    yield "b", [(shape.mast, 0.0, boom), (shape.mast + shape.boom_length, 0.0, boom)]
    yield from _hull_lines(said, shape)


def _hull_lines(said: Answers, shape: Shape) -> Iterable[tuple[str, Sequence[Vector]]]:
    coaming, seat, end = (number(said, key) for key in ("coaming_height", "seat_height", "cockpit_length"))
    for side in (-1, 1):
        yield "=", [(0.0, side * shape.half_cockpit, coaming), (end, side * shape.half_cockpit, coaming)]
        yield "_", [(shape.bridge, side * shape.half_sole, seat), (shape.seat_to, side * shape.half_sole, seat)]
        cabin = [(0.0, side * shape.cabin_aft_width / 2), (shape.cabin_front, side * 0.18 * number(said, "beam"))]
        yield "-", [(x, y, shape.cabin_height) for x, y in cabin]
        yield "-", [(0.0, side * shape.cabin_aft_width / 2, shape.cabin_height), (0.0, 0.0, shape.bridge)]
        yield ".", [(x, side * y, z) for x, y, z in shape.deck_edge]
    aft = shape.deck_edge[-1]
    yield ".", [(aft[0], -aft[1], aft[2]), aft, (aft[0], aft[1], shape.waterline)]


def _people(said: Answers, shape: Shape) -> Iterable[Sequence[Vector]]:
    """Yield the two of the crew standing on the sole, one behind the other."""
    for key, share, side in (("crew_first", 0.40, -1), ("crew_second", 0.66, 1)):
        x = share * number(said, "cockpit_length")
        yield [(x, 0.5 * side * shape.half_sole, 0.0), (x, 0.5 * side * shape.half_sole, number(said, key))]


def _bow_line(bow: Bow) -> Sequence[Vector]:
    port, starboard = bow.shoulder(-1), bow.shoulder(1)
    top = (bow.x + bow.crown * math.sin(bow.rake), 0.0, bow.foot_z + bow.crown * math.cos(bow.rake))
    return [(bow.x, -bow.half, bow.foot_z), port, top, starboard, (bow.x, bow.half, bow.foot_z)]
