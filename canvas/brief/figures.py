"""Hold the program's plot style and turn figures into files: with roses.py and plots.py the one door to matplotlib.

Computes: nothing.
Units: widths on paper in metres.
Source: matplotlib, Agg and SVG back ends, fixed salt, no dates.
Limits: text in SVG stays text. A width is one at which letters are 3 mm high; shown on a phone's full width they are
    still read.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from io import BytesIO
from typing import Any, Literal

import matplotlib
from matplotlib.figure import Figure

from canvas.brief.palette import INK, QUIET

Format = Literal["svg", "png"]
PAGE, PHONE = 0.115, 0.095  # widths on paper [m]
INCH = 0.0254
GRID = "#c4c4c4"
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
    "grid.color": GRID,
    "grid.linewidth": 0.5,
    "legend.frameon": False,
    "svg.fonttype": "none",
    "svg.hashsalt": "cockpit canvas",
    "hatch.linewidth": 0.4,
}


@contextmanager
def styled() -> Iterator[None]:
    """Hold the program's own plot style, whatever the user's machine sets."""
    with matplotlib.rc_context():
        matplotlib.rcdefaults()
        parameters: Any = matplotlib.rcParams
        parameters.update(STYLE)
        yield


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """Where the plots of a figure stand: margins and gaps on paper, and the height of one plot [m]."""

    left: float
    right: float
    top: float
    bottom: float
    across: float
    down: float
    plot: float


def laid_out(*, width: float, rows: int, columns: int, room: Room) -> tuple[Figure, list[Any]]:
    """Return a figure with its plots set out in metres, row by row; call it inside `styled`.

    Parameters
    ----------
    width : float
        Of the figure on paper [m].
    rows, columns : int
    room : Room
    """
    height = room.top + room.bottom + rows * room.plot + (rows - 1) * room.down
    each = (width - room.left - room.right - (columns - 1) * room.across) / columns
    figure = Figure(figsize=(width / INCH, height / INCH))
    plots: list[Any] = []
    for index in range(rows * columns):
        row, column = divmod(index, columns)
        low = height - room.top - (row + 1) * room.plot - row * room.down
        left = room.left + column * (each + room.across)
        plots.append(figure.add_axes((left / width, low / height, each / width, room.plot / height)))
    return figure, plots


def picture(figure: Figure, form: Format = "svg") -> bytes:
    """Return a figure as a file's bytes, without dates."""
    stream = BytesIO()
    with styled():
        metadata: dict[str, Any] = {"Date": None, "Creator": None} if form == "svg" else {"Software": None}
        figure.savefig(stream, format=form, dpi=200, metadata=metadata)
    return stream.getvalue()
