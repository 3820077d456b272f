"""Plot roses, shade by hour and latitude, and bars: the one door to matplotlib.

Computes: figures as SVG or PNG; the same numbers give the same bytes.
Units: radians and shares in; degrees and per cent on the axes.
Source: matplotlib, Agg and SVG back ends, fixed salt, no dates.
Limits: at most eight series a plot. Text in SVG stays text. A size is a width on paper at which letters are 3 mm high;
    shown on a phone's full width they are still read.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from io import BytesIO
from typing import TYPE_CHECKING, Any, Literal

import matplotlib
import numpy as np
from matplotlib.figure import Figure

from canvas.brief.palette import DASHES, INK, QUIET, SERIES
from canvas.geometry.surface import Floats, locked

if TYPE_CHECKING:
    from matplotlib.axes import Axes

Format = Literal["svg", "png"]
PAGE, PHONE = 0.150, 0.095  # widths on paper [m]
INCH = 0.0254
STYLE: dict[str, Any] = {
    "font.family": "DejaVu Sans",
    "font.size": 8.0,
    "axes.titlesize": 8.5,
    "axes.titleweight": "bold",
    "axes.edgecolor": QUIET,
    "axes.linewidth": 0.6,
    "axes.labelcolor": INK,
    "xtick.color": INK,
    "ytick.color": INK,
    "grid.color": "#c4c4c4",
    "grid.linewidth": 0.5,
    "legend.frameon": False,
    "svg.fonttype": "none",
    "svg.hashsalt": "cockpit canvas",
    "hatch.linewidth": 0.4,
}


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


@contextmanager
def styled() -> Iterator[None]:
    """Hold the program's own plot style, whatever the user's machine sets."""
    with matplotlib.rc_context():
        matplotlib.rcdefaults()
        parameters: Any = matplotlib.rcParams
        parameters.update(STYLE)
        yield


def picture(figure: Figure, form: Format = "svg") -> bytes:
    """Return a figure as a file's bytes, without dates."""
    stream = BytesIO()
    with styled():
        metadata: dict[str, Any] = {"Date": None, "Creator": None} if form == "svg" else {"Software": None}
        figure.savefig(stream, format=form, dpi=200, metadata=metadata)
    return stream.getvalue()


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
    across = 3 if width > 0.12 else 2
    across = min(across, max(1, len(lines)))
    down = -(-len(lines) // across)
    cell = width / across
    with styled():
        figure = Figure(figsize=(width / INCH, (down * (cell + 0.009) + 0.010) / INCH))
        for index, line in enumerate(lines):
            row, column = divmod(index, across)
            high = down * (cell + 0.009) + 0.010
            spot = (
                (column * cell + 0.13 * cell) / width,
                (high - (row + 1) * (cell + 0.009) + 0.10 * cell) / high,
                0.74 * cell / width,
                0.74 * cell / high,
            )
            axes = figure.add_axes(spot, projection="polar")
            _rose(axes, line, bare=bare, colour=SERIES[1 + index % 7], full=full, marks=marks, filled=filled)
        figure.text(0.5, 0.25 / (72 * figure.get_figheight()) * 10, what, ha="center", va="bottom", color=QUIET)
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
    across = min(len(places), 2 if width > 0.12 else 1)
    down = -(-len(places) // across)
    with styled():
        figure = Figure(
            figsize=(width / INCH, (down * 0.043 + 0.020 + 0.005 * len(sets) / 2) / INCH), layout="constrained"
        )
        grid = figure.subplots(down, across, sharex=True, sharey=True, squeeze=False).ravel()
        for axes, place in zip(grid, places, strict=False):
            for line in (one for one in lines if one.place == place):
                series = sets.index(line.set_name)
                axes.plot(
                    line.hour, 100 * line.share, color=SERIES[series % 8], linestyle=DASHES[series % 8],
                    linewidth=1.5 if line.set_name != "bare" else 1.0, label=line.set_name,
                )  # fmt: skip
            _hours(axes, f"{place}: in shade, %")
        _feet(grid, count=len(places), across=across)
        handles, names = grid[0].get_legend_handles_labels()
        figure.legend(handles, names, loc="outside lower center", ncols=2 if width < 0.12 else 3, handlelength=3)
        if title:
            figure.suptitle(title, fontsize=8.5)
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
    across = min(len(maps), 2 if width > 0.12 else 1)
    down = -(-len(maps) // across)
    with styled():
        figure = Figure(figsize=(width / INCH, (down * 0.042 + 0.018) / INCH), layout="constrained")
        grid = figure.subplots(down, across, sharex=True, sharey=True, squeeze=False).ravel()
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
            bar = figure.colorbar(mesh, ax=list(grid), location="bottom", shrink=0.6, aspect=30, pad=0.02)
            bar.set_label("in shade, %")
        if title:
            figure.suptitle(title, fontsize=8.5)
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
        None is said as unknown.
    what : str
        Name and unit of the axis.
    width : float
        On paper [m].
    marks : sequence of (value, text)
        Upright lines, such as the wind asked about.
    """
    with styled():
        figure = Figure(figsize=(width / INCH, (0.0065 * len(names) + 0.016) / INCH), layout="constrained")
        axes = figure.subplots()
        for row, (start, stop) in enumerate(zip(low, high, strict=True)):
            if start is None or stop is None:
                axes.text(0.01, row, "unknown", va="center", color=QUIET, transform=axes.get_yaxis_transform())
                continue
            axes.barh(
                row, max(stop - start, 1e-9), left=start, height=0.62, color=SERIES[6], edgecolor=INK, linewidth=0.6
            )
        for value, text in marks:
            axes.axvline(value, color=SERIES[2], linewidth=1.2)
            axes.text(value, -0.8, text, color=SERIES[2], ha="center", va="bottom")
        axes.set_yticks(range(len(names)), labels=list(names))
        axes.set_ylim(len(names) - 0.4, -0.8 if marks else -0.6)
        axes.set_xlim(left=0)
        axes.set_xlabel(what)
        axes.grid(visible=True, axis="x")
        axes.set_axisbelow(True)
        axes.spines[["top", "right"]].set_visible(False)
    return figure
