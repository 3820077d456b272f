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
from typing import TYPE_CHECKING, Any

import numpy as np
from matplotlib.figure import Figure

from canvas.brief.figures import INCH, PAGE, styled
from canvas.brief.palette import INK, QUIET, SERIES
from canvas.geometry.surface import Floats, locked

if TYPE_CHECKING:
    from matplotlib.axes import Axes

LETTER = 0.00165  # mean width of a letter of 8 points [m]


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
    across = 3 if width > 0.1 else 2
    across = min(across, max(1, len(lines)))
    down = -(-len(lines) // across)
    cell = width / across
    with styled():
        figure = Figure(figsize=(width / INCH, (down * (cell + 0.009) + 0.012) / INCH))
        for index, line in enumerate(lines):
            row, column = divmod(index, across)
            high = down * (cell + 0.009) + 0.012
            spot = (
                (column * cell + 0.15 * cell) / width,
                (high - (row + 1) * (cell + 0.009) + 0.12 * cell) / high,
                0.70 * cell / width,
                0.70 * cell / high,
            )
            axes = figure.add_axes(spot, projection="polar")
            _rose(axes, line, bare=bare, colour=SERIES[1 + index % 7], full=full, marks=marks, filled=filled)
        told = "\n".join(row for line in what.split("\n") for row in wrap(line, int(width / LETTER)))
        figure.text(0.5, 0.0015 / (figure.get_figheight() * INCH), told, ha="center", va="bottom", color=QUIET)
    return figure


def _rose(
    axes: Axes,
    line: RoseLine,
    *,
    bare: RoseLine | None,
    colour: str,
    full: float,
    marks: Sequence[float],
    filled: bool,
) -> None:
    polar: Any = axes
    polar.set_theta_zero_location("N")
    polar.set_theta_direction(-1)
    polar.set_ylim(0, full)
    polar.set_yticks(np.array([0.25, 0.5, 0.75, 1.0]) * full, labels=[])
    angles = np.arange(0, 360, 30)
    polar.set_xticks(np.radians(angles), labels=[_awa_label(int(angle)) for angle in angles])
    polar.tick_params(axis="x", pad=-1.5, labelsize=6.8)
    if bare is not None:
        turn, value = _closed(bare.awa, bare.value)
        if filled:
            axes.fill(turn, value, color="#cfcfcf", linewidth=0)
        axes.plot(turn, value, color="#6f6f6f", linewidth=0.8, linestyle="dashed")
    turn, value = _closed(line.awa, line.value)
    if filled:
        axes.fill(turn, value, color=colour, alpha=0.45, linewidth=0)
    if line.low is not None and line.high is not None:
        _, low = _closed(line.awa, line.low)
        _, high = _closed(line.awa, line.high)
        axes.fill_between(turn, low, high, color=colour, alpha=0.25, linewidth=0)
    axes.plot(turn, value, color=colour, linewidth=1.4)
    for mark in marks:
        for side in (-1, 1):
            axes.plot([side * mark] * 2, [0.93 * full, full], color=INK, linewidth=1.6)
    axes.set_title(line.name, pad=9)


def _awa_label(angle: int) -> str:
    off = angle if angle <= 180 else 360 - angle
    return f"{off}°" if angle in (0, 180) else f"{off}"


def _closed(awa: Floats, value: Floats) -> tuple[Floats, Floats]:
    order = np.argsort(np.mod(awa, 2 * np.pi), kind="stable")
    turn = np.mod(awa, 2 * np.pi)[order]
    return np.append(turn, turn[0] + 2 * np.pi), np.append(value[order], value[order][0])
