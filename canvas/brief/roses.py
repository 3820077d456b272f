"""Plot roses: one small one a set, bow up, each with the bare boat behind it.

Computes: figures; the same numbers give the same bytes.
Units: radians and shares in; degrees on the rim.
Source: matplotlib.
Limits: at most seven colours, then they come round again; every rose has its name.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from textwrap import wrap
from typing import TYPE_CHECKING

import numpy as np
from matplotlib.figure import Figure

from canvas.brief.figures import GRID, INCH, PAGE, styled
from canvas.brief.palette import INK, QUIET, SERIES
from canvas.geometry.surface import Floats, locked

if TYPE_CHECKING:
    from matplotlib.axes import Axes

LETTER = 0.00165  # mean width of a letter of 8 points [m]
TITLE, FOOT = 0.009, 0.012  # room for a rose's name and for the words under all [m]
BOLD, NEXT_LINE = 0.0019, 0.0037  # mean width of a letter of a name, and from line to line of it [m]
LABEL = 1.14  # where the angles are written, in radii


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RoseLine:
    """One set round the rose.

    Attributes
    ----------
    name : str
    awa : (n,) ndarray
        Apparent wind angle from the bow, positive to starboard, -pi..pi [rad].
    value : (n,) ndarray
        What is plotted; nan where unknown.
    low, high : (n,) ndarray or None
        Its band.
    """

    name: str
    awa: Floats
    value: Floats
    low: Floats | None = None
    high: Floats | None = None

    def __post_init__(self) -> None:
        for key in ("awa", "value", "low", "high"):
            if getattr(self, key) is not None:
                object.__setattr__(self, key, locked(getattr(self, key)))


def roses(
    lines: Sequence[RoseLine],
    *,
    bare: RoseLine | None = None,
    what: str,
    full: float = 1.0,
    marks: Sequence[float] = (),
    width: float = PAGE,
    filled: bool = True,
) -> Figure:
    """Return one small rose a set, bow up, each with the bare boat behind it.

    Parameters
    ----------
    lines : sequence of RoseLine
    bare : RoseLine, optional
        Drawn grey behind each.
    what : str
        What is plotted, said under the roses.
    full : float
        Value at the rim.
    marks : sequence of float
        Apparent wind angles to mark on both sides, such as close-hauled [rad].
    width : float
        Of the figure on paper [m].
    filled : bool
        Fill from the middle, for shares; else lines with their bands.
    """
    across = min(3 if width > 0.1 else 2, max(1, len(lines)))
    down = -(-len(lines) // across)
    cell = width / across
    names = ["\n".join(wrap(line.name, int(cell / BOLD))) for line in lines]
    row_height = 0.92 * cell + TITLE + NEXT_LINE * max(name.count("\n") for name in names)
    height = down * row_height + FOOT
    with styled():
        figure = Figure(figsize=(width / INCH, height / INCH))
        axes = figure.add_axes((0, 0, 1, 1))  # one for all roses, in metres of the paper: quicker than one for each
        axes.set_axis_off()
        axes.set(xlim=(0, width), ylim=(0, height))
        for index, line in enumerate(lines):
            row, column = divmod(index, across)
            rose = _Rose(
                axes=axes,
                x=(column + 0.5) * cell,
                y=height - (row + 1) * row_height + 0.46 * cell,
                radius=0.35 * cell,
                full=full,
            )
            rose.rim()
            rose.draw(line, bare=bare, colour=SERIES[1 + index % 7], filled=filled)
            rose.mark(marks)
            over = rose.y + 1.30 * rose.radius
            axes.text(rose.x, over, names[index], ha="center", va="bottom", weight="bold", size=8.5)
        told = "\n".join(row for line in what.split("\n") for row in wrap(line, int(width / LETTER)))
        axes.text(width / 2, 0.0015, told, ha="center", va="bottom", color=QUIET)
    return figure


@dataclass(frozen=True, slots=True, kw_only=True)
class _Rose:
    """One rose on the paper: its middle and radius [m], and the value at its rim."""

    axes: Axes
    x: float
    y: float
    radius: float
    full: float

    def at(self, awa: Floats, value: Floats) -> tuple[Floats, Floats]:
        """Return where on the paper values stand, none beyond the rim."""
        out = self.radius * np.clip(value, 0.0, self.full) / self.full
        return self.x + out * np.sin(awa), self.y + out * np.cos(awa)

    def rim(self) -> None:
        """Draw circles by quarters, spokes and the angles round the rim."""
        turn = np.linspace(0, 2 * np.pi, 121)
        for share in (0.25, 0.5, 0.75):
            self.axes.plot(*self.at(turn, np.full(121, share * self.full)), color=GRID, linewidth=0.5, zorder=0.5)
        self.axes.plot(*self.at(turn, np.full(121, self.full)), color=QUIET, linewidth=0.6)
        for angle in range(0, 360, 30):
            side = np.radians([angle, angle])
            self.axes.plot(*self.at(side, np.array([0.0, self.full])), color=GRID, linewidth=0.5, zorder=0.5)
            x, y = self.x + LABEL * self.radius * np.sin(side[0]), self.y + LABEL * self.radius * np.cos(side[0])
            self.axes.text(x, y, _awa_label(angle), ha="center", va="center", size=6.8)

    def draw(self, line: RoseLine, *, bare: RoseLine | None, colour: str, filled: bool) -> None:
        """Draw a set's line with its band, the bare boat's behind it."""
        if bare is not None:
            if filled:
                self.axes.fill(*self.at(*_closed(bare.awa, bare.value)), color="#cfcfcf", linewidth=0)
            self.axes.plot(*self.at(*_closed(bare.awa, bare.value)), color="#6f6f6f", linewidth=0.8, linestyle="dashed")
        line_at = self.at(*_closed(line.awa, line.value))
        if filled:
            self.axes.fill(*line_at, color=colour, alpha=0.45, linewidth=0)
        if line.low is not None and line.high is not None:
            rims = [np.column_stack(self.at(*_closed(line.awa, end))) for end in (line.high, line.low)]
            ring = np.vstack([rims[0], rims[1][::-1]])
            self.axes.fill(ring[:, 0], ring[:, 1], color=colour, alpha=0.25, linewidth=0)
        self.axes.plot(*line_at, color=colour, linewidth=1.4)

    def mark(self, angles: Sequence[float]) -> None:
        """Mark angles on both sides of the rim."""
        for angle in angles:
            for side in (-angle, angle):
                ends = self.at(np.array([side, side]), np.array([0.93, 1.0]) * self.full)
                self.axes.plot(*ends, color=INK, linewidth=1.6)


def _awa_label(angle: int) -> str:
    off = angle if angle <= 180 else 360 - angle
    return f"{off}°" if angle in (0, 180) else f"{off}"


def _closed(awa: Floats, value: Floats) -> tuple[Floats, Floats]:
    order = np.argsort(np.mod(awa, 2 * np.pi), kind="stable")
    turn = np.mod(awa, 2 * np.pi)[order]
    return np.append(turn, turn[0] + 2 * np.pi), np.append(value[order], value[order][0])
