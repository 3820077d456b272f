"""Plot shade by hour and latitude, ranges and shares.

Computes: figures; the same numbers give the same bytes.
Units: shares, degrees and hours in; per cent on the axes.
Source: matplotlib.
Limits: at most eight series a plot.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import matplotlib
import numpy as np
from matplotlib.figure import Figure

from canvas.brief.drawing import text_width
from canvas.brief.figures import INCH, PAGE, Room, laid_out, styled
from canvas.brief.palette import DASHES, INK, QUIET, SERIES
from canvas.geometry.surface import Floats, locked

if TYPE_CHECKING:
    from matplotlib.axes import Axes

LETTERS = 8 / 72 * INCH  # body height of an axis' words on paper [m]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ShadeLine:
    """Shade of one place in one set through a day, by hour of sun time; share nan while the sun is down."""

    set_name: str
    place: str
    hour: Floats
    share: Floats

    def __post_init__(self) -> None:
        object.__setattr__(self, "hour", locked(self.hour))
        object.__setattr__(self, "share", locked(self.share))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ShadeMap:
    """Shade of one place in one set by latitude and hour.

    Attributes
    ----------
    set_name, place : str
    hour : (h,) ndarray
        Sun time [h].
    latitude_deg : (l,) ndarray
        Rising, north positive.
    share : (l, h) ndarray
        nan while the sun is down.
    """

    set_name: str
    place: str
    hour: Floats
    latitude_deg: Floats
    share: Floats

    def __post_init__(self) -> None:
        for key in ("hour", "latitude_deg", "share"):
            object.__setattr__(self, key, locked(getattr(self, key)))


def shade_days(lines: Sequence[ShadeLine], *, title: str = "", width: float = PAGE) -> Figure:
    """Return shade through a day, one panel a place, one line a set.

    Parameters
    ----------
    lines : sequence of ShadeLine
    title : str
        Day, latitude and heading, said above.
    width : float
        On paper [m].
    """
    places = list(dict.fromkeys(line.place for line in lines))
    sets = list(dict.fromkeys(line.set_name for line in lines))
    across = min(len(places), 2 if width > 0.1 else 1)
    down = -(-len(places) // across)
    with styled():
        legend = 0.0048 * -(-len(sets) // 2)
        room = Room(
            left=0.009, right=0.002, top=0.012, bottom=0.012 + legend, across=0.005, down=0.010,
            plot=0.030,
        )  # fmt: skip
        figure, grid = laid_out(width=width, rows=down, columns=across, room=room)
        for axes, place in zip(grid, places, strict=False):
            for line in (one for one in lines if one.place == place):
                series = sets.index(line.set_name)
                axes.plot(
                    line.hour, 100 * line.share, color=SERIES[series % 8], linestyle=DASHES[series % 8],
                    linewidth=1.5 if line.set_name != "bare" else 1.0, label=line.set_name,
                )  # fmt: skip
            _hours(axes, place)
        _feet(grid, count=len(places), across=across)
        handles, names = grid[0].get_legend_handles_labels()
        figure.legend(handles, names, loc="lower center", ncols=2, handlelength=3)
        told = f"{title}: in shade, % of the area" if title else "in shade, % of the area"
        figure.suptitle(told, fontsize=8.5, y=1 - 0.002 / (figure.get_figheight() * INCH), va="top")
    return figure


def _hours(axes: Axes, place: str) -> None:
    axes.set_title(place, loc="left", pad=3)
    axes.set_ylim(-2, 102)
    axes.set_yticks([0, 25, 50, 75, 100])
    axes.set_xlim(5, 19)
    axes.set_xticks([6, 8, 10, 12, 14, 16, 18])
    axes.grid(visible=True)
    axes.spines[["top", "right"]].set_visible(False)


def _feet(grid: Iterable[Any], *, count: int, across: int) -> None:
    """Write the hours under the lowest plot of each column, and leave out plots that are not needed."""
    for index, axes in enumerate(grid):
        if index >= count:
            axes.set_axis_off()
            continue
        lowest = index + across >= count
        axes.tick_params(labelbottom=lowest, labelleft=index % across == 0)
        axes.set_xlabel("sun time, h" if lowest else "", labelpad=1)


def shade_maps(maps: Sequence[ShadeMap], *, title: str = "", width: float = PAGE) -> Figure:
    """Return shade by hour and latitude, one panel a map; sunless hours hatched.

    Parameters
    ----------
    maps : sequence of ShadeMap
    title : str
    width : float
        On paper [m].
    """
    across = min(len(maps), 2 if width > 0.1 else 1)
    down = -(-len(maps) // across)
    with styled():
        room = Room(
            left=0.013, right=0.002, top=0.012 if title else 0.007, bottom=0.024, across=0.005, down=0.010, plot=0.028
        )
        figure, grid = laid_out(width=width, rows=down, columns=across, room=room)
        mesh: Any = None
        for axes, chart in zip(grid, maps, strict=False):
            axes.set_facecolor("#ffffff")
            axes.patch.set_hatch("////")
            axes.patch.set_edgecolor("#bdbdbd")
            mesh = axes.pcolormesh(
                _rims(chart.hour), _rims(chart.latitude_deg), np.ma.masked_invalid(100 * chart.share),
                cmap=matplotlib.colormaps["YlGnBu"].resampled(10), vmin=0, vmax=100, rasterized=False, linewidth=0,
            )  # fmt: skip
            axes.set_title(chart.place, loc="left", pad=3)
            axes.set_xticks([6, 8, 10, 12, 14, 16, 18])
            axes.set_yticks(chart.latitude_deg, labels=[_latitude(value) for value in chart.latitude_deg])
            axes.set_xlim(4.5, 19.5)
        _feet(grid, count=len(maps), across=across)
        if mesh is not None:
            spot = figure.add_axes(
                (0.2, 0.010 / (figure.get_figheight() * INCH), 0.6, 0.003 / (figure.get_figheight() * INCH))
            )
            bar = figure.colorbar(mesh, cax=spot, orientation="horizontal")
            bar.set_label("in shade, %")
        told = f"{title}: in shade, % of the area" if title else "in shade, % of the area"
        figure.suptitle(told, fontsize=8.5, y=1 - 0.002 / (figure.get_figheight() * INCH), va="top")
    return figure


def _rims(middles: Floats) -> Floats:
    """Return the rims of cells round their middles, one more than there are."""
    if len(middles) < 2:
        return np.array([middles[0] - 0.5, middles[0] + 0.5])
    inner = (middles[:-1] + middles[1:]) / 2
    return np.concatenate([[2 * middles[0] - inner[0]], inner, [2 * middles[-1] - inner[-1]]])


def _latitude(degrees: float) -> str:
    half = "N" if degrees > 0 else "S" if degrees < 0 else ""
    return f"{abs(degrees):g}° {half}".strip()


def matrix(rows: Sequence[str], columns: Sequence[str], share: Floats, *, what: str, width: float = PAGE) -> Figure:
    """Return shares as a table of shaded cells with the numbers in them.

    Parameters
    ----------
    rows, columns : sequence of str
    share : (r, c) ndarray
        0..1; nan is said as unknown.
    what : str
        What the numbers are, in per cent; said below.
    width : float
        On paper [m].
    """
    left, right = _label_room(rows), 0.003
    heads = [_wrapped(name, (width - left - right) / len(columns)) for name in columns]
    with styled():
        room = Room(
            left=left, right=right, top=0.002 + 0.0036 * max(1 + head.count("\n") for head in heads),
            bottom=0.007, across=0.0, down=0.0, plot=0.0072 * len(rows),
        )  # fmt: skip
        figure, (axes,) = laid_out(width=width, rows=1, columns=1, room=room)
        axes.imshow(
            np.ma.masked_invalid(100 * share), cmap=matplotlib.colormaps["YlGnBu"], vmin=0, vmax=130, aspect="auto"
        )
        for row, column in np.ndindex(*share.shape):
            value = share[row, column]
            text = "?" if np.isnan(value) else f"{100 * value:.0f}"
            axes.text(column, row, text, ha="center", va="center", color="#ffffff" if value > 0.75 else INK)
        axes.set_xticks(range(len(columns)), labels=heads)
        axes.set_yticks(range(len(rows)), labels=list(rows))
        axes.tick_params(length=0, top=False, labeltop=True, bottom=False, labelbottom=False)
        axes.spines[:].set_visible(False)
        axes.set_xlabel(what)
    return figure


def _label_room(names: Sequence[str]) -> float:
    """Return the width that labels left of a plot take [m]."""
    return max((text_width(name, size=LETTERS) for name in names), default=0.0) + 0.003


def _wrapped(text: str, room: float) -> str:
    """Return text broken between words into lines that stand in a width of paper [m]."""
    first, *others = text.split()
    lines = [first]
    for word in others:
        longer = f"{lines[-1]} {word}"
        if text_width(longer, size=LETTERS) < 0.95 * room:
            lines[-1] = longer
        else:
            lines.append(word)
    return "\n".join(lines)


def bars(
    names: Sequence[str],
    low: Sequence[float | None],
    high: Sequence[float | None],
    *,
    what: str,
    width: float = PAGE,
    marks: Sequence[tuple[float, str]] = (),
) -> Figure:
    """Return level bars from a low to a high value, such as the wind at which parts reach their limit.

    Parameters
    ----------
    names : sequence of str
        The first stands on top.
    low, high : sequence of float or None
        No low is said as unknown; a bar without a high end fades to the edge of the plot.
    what : str
        Name and unit of the axis.
    width : float
        On paper [m].
    marks : sequence of (value, text)
        Upright lines, such as the wind asked about.
    """
    with styled():
        room = Room(
            left=_label_room(names), right=0.003, top=0.006 if marks else 0.002, bottom=0.010, across=0.0, down=0.0,
            plot=0.0062 * len(names),
        )  # fmt: skip
        figure, (axes,) = laid_out(width=width, rows=1, columns=1, room=room)
        known = [value for value in (*low, *high) if value is not None]
        far = 1.08 * max(known, default=1.0)
        for row, (start, stop) in enumerate(zip(low, high, strict=True)):
            if start is None:
                axes.text(0.01, row, "unknown", va="center", color=QUIET, transform=axes.get_yaxis_transform())
            elif stop is None:
                axes.barh(row, far - start, left=start, height=0.62, color=SERIES[6], alpha=0.35)
                axes.text(start, row, f" {start:.0f} or more", va="center", ha="right" if start > 0.6 * far else "left")
            else:
                axes.barh(
                    row, max(stop - start, 1e-9), left=start, height=0.62, color=SERIES[6], edgecolor=INK, linewidth=0.6
                )
        for value, text in marks:
            axes.axvline(value, color=SERIES[2], linewidth=1.2)
            axes.text(value, -0.8, text, color=SERIES[2], ha="center", va="bottom")
        axes.set_yticks(range(len(names)), labels=list(names))
        axes.set_ylim(len(names) - 0.4, -0.8 if marks else -0.6)
        axes.set_xlim(min([0.0, *known]) * 1.05, far)
        axes.set_xlabel(what, loc="right")
        axes.grid(visible=True, axis="x")
        axes.set_axisbelow(True)
        axes.spines[["top", "right"]].set_visible(False)
    return figure
