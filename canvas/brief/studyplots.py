"""Plot variants: what a number does to each measure, and trade-offs with their front.

Computes: figures; the same numbers give the same bytes.
Units: as the axes say.
Source: matplotlib.
Limits: at most eight series a plot.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from matplotlib.figure import Figure
from matplotlib.transforms import Affine2D

from canvas.brief.drawing import MM, Stroke, Words
from canvas.brief.figures import INCH, PAGE, styled
from canvas.brief.labels import Name, named
from canvas.brief.palette import DASHES, INK, QUIET, SERIES
from canvas.geometry.surface import Floats, locked

DOT = 1.1 * MM  # radius of a point on the front, on paper
AROUND = tuple(np.arange(2.2, 20.0, 1.2) * MM)  # how far from its point a name may stand


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Series:
    """Values of one measure along a varied number; nan where a variant cannot be."""

    name: str
    number: Floats
    value: Floats

    def __post_init__(self) -> None:
        object.__setattr__(self, "number", locked(self.number))
        object.__setattr__(self, "value", locked(self.value))


def sweep_lines(
    plots: Sequence[tuple[str, Sequence[Series], float]], *, numbers: Sequence[str], width: float = PAGE
) -> Figure:
    """Return one plot a measure, one line a series, along a number.

    Parameters
    ----------
    plots : sequence of (str, sequence of Series, float)
        Measure, its lines, and the least height of its axis, which keeps noise flat.
    numbers : sequence of str
        What runs along the axis, and what differs between lines.
    width : float
        On paper [m].
    """
    with styled():
        figure = Figure(figsize=(width / INCH, (0.030 * len(plots) + 0.016) / INCH), layout="constrained")
        grid = figure.subplots(len(plots), 1, sharex=True, squeeze=False).ravel()
        for axes, (measure, lines, least) in zip(grid, plots, strict=True):
            for k, line in enumerate(lines[:8]):
                axes.plot(line.number, line.value, color=SERIES[k], linestyle=DASHES[k], marker=".", label=line.name)
            low, high = axes.get_ylim()
            more = max(0.0, least - (high - low)) / 2
            axes.set_ylim(low - more, high + more)
            axes.ticklabel_format(axis="y", useOffset=False)
            axes.set_title(measure, loc="left", pad=3)
            axes.grid(visible=True)
            axes.spines[["top", "right"]].set_visible(False)
        grid[-1].set_xlabel(numbers[0])
        if len(plots[0][1]) > 1:
            handles, names = grid[0].get_legend_handles_labels()
            title = numbers[-1]
            figure.legend(handles, names, title=title, loc="outside lower center", ncols=2, handlelength=3)
    return figure


def trade_off(
    points: Floats, *, front: Sequence[int], names: Sequence[str], axes_said: tuple[str, str], width: float = PAGE
) -> Figure:
    """Return all variants by two measures, those on the front marked and named.

    Parameters
    ----------
    points : (n, 2) ndarray
        nan where a variant cannot be.
    front : sequence of int
        Rows that stand on the front.
    names : sequence of str
        Of those, short: each stands beside its point, none on another.
    axes_said : tuple of str
        What each column is.
    width : float
        On paper [m].
    """
    with styled():
        figure = Figure(figsize=(width / INCH, 0.091 / INCH), layout="constrained")
        axes = figure.subplots()
        rest = np.setdiff1d(np.arange(len(points)), np.asarray(front, dtype=int))
        axes.plot(points[rest, 0], points[rest, 1], linestyle="none", marker=".", color=QUIET, label="tried")
        chosen = points[list(front)]
        said = "on the front, with the number of its file"
        axes.plot(chosen[:, 0], chosen[:, 1], linestyle="none", marker="o", color=SERIES[2], label=said)
        axes.set_xlabel(axes_said[0])
        axes.set_ylabel(axes_said[1])
        axes.grid(visible=True)
        axes.set_axisbelow(True)
        axes.spines[["top", "right"]].set_visible(False)
        figure.legend(loc="outside lower center", ncols=2)
        _name(axes, points, names, chosen)
    return figure


def _name(axes: Any, points: Floats, names: Sequence[str], named_points: Floats) -> None:
    """Write names by their points, each led to its own, where they cover neither one another nor any point."""
    figure = axes.figure
    figure.draw_without_rendering()  # sets the axes out, which must not move any more
    figure.set_layout_engine("none")
    paper = Affine2D().scale(1 / INCH) + figure.dpi_scale_trans
    dots = shapely.points((axes.transData - paper).transform(points[np.isfinite(points).all(axis=1)]))
    spots = shapely.points((axes.transData - paper).transform(named_points))
    room = shapely.box(*(axes.transAxes - paper).transform([[0.0, 0.0], [1.0, 1.0]]).ravel())
    wanted = [Name(text=text, area=spot, size=2.1 * MM) for text, spot in zip(names, spots, strict=True)]
    for item in named(wanted, within=room, avoid=shapely.buffer(dots, DOT), rings=AROUND):
        if isinstance(item, Words):
            size = item.size / INCH * 72
            axes.text(*item.at, item.text, transform=paper, ha="center", va="center", fontsize=size, color=INK)
        elif isinstance(item, Stroke):
            axes.plot(*item.lines[0].T, transform=paper, color=INK, linewidth=0.4)
