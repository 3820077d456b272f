"""Print cutting sheets at 1:1 on pages that are stuck together.

Computes: pages of one size over each sheet, with overlap; crop crosses on a grid that neighbouring pages share; a
    map of pages; row and column, a 100 mm and a 4 in check square on every page.
Units: metres inside, points of 1/72 in in the file.
Source: reportlab; check squares are common practice.
Limits: print at 100 %, without "fit to page". Pages with nothing on them are left out and crossed on the map. No date:
    same sheets, same bytes.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from importlib.util import find_spec
from io import BytesIO
from pathlib import Path

import numpy as np
import shapely
from reportlab import rl_config
from reportlab.lib.colors import HexColor
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

from canvas.cutting.sheet import Item, Line, Point, Sheet, text_box
from canvas.cutting.svg import STYLES
from canvas.design.problems import DesignError, Problem, nearest
from canvas.geometry.surface import Floats

POINT = 0.0254 / 72  # [m]
PAPERS = {"A4": (0.210, 0.297), "Letter": (0.2159, 0.2794), "A3": (0.297, 0.420), "A1": (0.594, 0.841)}  # [m]
ROLL = 0.914  # [m] 36 in plotter paper
LONGEST = 5.0  # [m] of a page of roll paper; readers stop at 200 in
MARGIN = 0.010  # [m] not printed by common printers
OVERLAP = 0.012  # [m] of neighbouring pages
DASH = 0.006  # [m] of a dashed line, with its gap
CROSS = 0.004  # [m] half arm of a crop cross
CHECKS = ((0.100, "inner square 100 mm"), (0.1016, "outer square 4 in"))
NUMBERS = 7.0  # [pt] of pages on their map, less where many stand side by side
GREY = "#9aa0a6"
FONT = "DejaVuSans"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TilePlan:
    """How one sheet is spread over pages.

    Attributes
    ----------
    paper : (float, float)
        Page width and height. [m]
    origin : (2,) ndarray
        Lower left corner of the window of row 1, column 1. [m]
    window : (float, float)
        Printed part of a page. [m]
    step : (float, float)
        From page to page, and between crop crosses. [m]
    rows, columns : int
        Row 1 is at the top.
    filled : tuple of (int, int)
        Pages with something on them, (row, column) from 1, in order.
    drawn : tuple of tuple of int
        For each of those, which of the sheet's items fall on it.
    """

    paper: tuple[float, float]
    origin: Floats
    window: tuple[float, float]
    step: tuple[float, float]
    rows: int
    columns: int
    filled: tuple[tuple[int, int], ...] = ()
    drawn: tuple[tuple[int, ...], ...] = ()

    def low(self, row: int, column: int) -> Floats:
        """Return the sheet's point at the lower left corner of a page's window, shape (2,). [m]."""
        low: Floats = self.origin + np.array([(column - 1) * self.step[0], (self.rows - row) * self.step[1]])
        return low


def plan_tiles(sheet: Sheet, *, paper: str) -> TilePlan:
    """Return how a sheet is spread over pages of a paper.

    Parameters
    ----------
    sheet : Sheet
    paper : str
        ``A4``, ``Letter``, ``A3``, ``A1`` or ``roll``.

    Raises
    ------
    DesignError
        When the paper is not known.
    """
    low_x, low_y, high_x, high_y = sheet.bounds
    size = (high_x - low_x, high_y - low_y)
    if paper == "roll":
        page = (ROLL, min(LONGEST, max(0.3, size[1] + 2 * MARGIN + 0.01)))
    elif paper in PAPERS:
        page = PAPERS[paper]
    else:
        wanted = nearest(paper, [*PAPERS, "roll"])
        raise DesignError([Problem(code="unknown-paper", key="--paper", found=f'"{paper}"', wanted=wanted)])
    window = (page[0] - 2 * MARGIN, page[1] - 2 * MARGIN)
    step = (window[0] - OVERLAP, window[1] - OVERLAP)
    columns, rows = (max(1, math.ceil((s - OVERLAP) / d - 1e-9)) for s, d in zip(size, step, strict=True))
    spare = [(n * d + OVERLAP - s) / 2 for n, d, s in zip((columns, rows), step, size, strict=True)]
    origin = np.array([low_x - spare[0], low_y - spare[1]])
    plan = TilePlan(paper=page, origin=origin, window=window, step=step, rows=rows, columns=columns)
    pages = [(row, column) for row in range(1, rows + 1) for column in range(1, columns + 1)]
    windows = [_window(plan, row, column) for row, column in pages]
    page_of, item_of = shapely.STRtree([_shape(item) for item in sheet.items]).query(windows, predicate="intersects")
    drawn = [tuple(sorted(item_of[page_of == k].tolist())) for k in range(len(pages))]
    kept = [k for k in range(len(pages)) if drawn[k]]
    return replace(plan, filled=tuple(pages[k] for k in kept), drawn=tuple(drawn[k] for k in kept))


def _shape(item: Item) -> shapely.Geometry:
    if isinstance(item, Line):
        return shapely.LineString(np.vstack([item.points, item.points[:1]]) if item.closed else item.points)
    if isinstance(item, Point):
        return shapely.Point(item.at)
    return shapely.Polygon(text_box(item))


def _window(plan: TilePlan, row: int, column: int) -> shapely.Geometry:
    x, y = plan.low(row, column)
    return shapely.box(x, y, x + plan.window[0], y + plan.window[1])


def tiles_pdf(sheets: Sequence[Sheet], *, paper: str, title: str) -> bytes:
    """Return a PDF with the pages of all sheets, each behind its map of pages.

    Parameters
    ----------
    sheets : sequence of Sheet
    paper : str
        ``A4``, ``Letter``, ``A3``, ``A1`` or ``roll``.
    title : str
        Of the document.

    Raises
    ------
    DesignError
        When the paper is not known.
    """
    plans = [plan_tiles(sheet, paper=paper) for sheet in sheets]
    _register_font()
    stream = BytesIO()
    with _plain_streams():
        _pages(stream, sheets, plans, title=title)
    return stream.getvalue()


@contextmanager
def _plain_streams() -> Iterator[None]:
    """Keep reportlab from writing its compressed pages once more in base 85, which is slow and longer."""
    before = rl_config.useA85
    rl_config.useA85 = 0
    try:
        yield
    finally:
        rl_config.useA85 = before


def _pages(stream: BytesIO, sheets: Sequence[Sheet], plans: Sequence[TilePlan], *, title: str) -> None:
    pdf = Canvas(stream, invariant=1, pageCompression=1)
    pdf.setTitle(title)
    pdf.setAuthor("")
    pdf.setCreator("cockpit canvas aid")
    for sheet, plan in zip(sheets, plans, strict=True):
        _map_page(pdf, sheet, plan)
        for page in range(len(plan.filled)):
            _tile(pdf, sheet, plan, page=page)
    pdf.save()


def _register_font() -> None:
    """Register the font that matplotlib ships, without importing matplotlib."""
    if FONT not in pdfmetrics.getRegisteredFontNames():
        spec = find_spec("matplotlib")
        places = list(spec.submodule_search_locations or []) if spec is not None else []
        pdfmetrics.registerFont(TTFont(FONT, str(Path(places[0]) / "mpl-data" / "fonts" / "ttf" / f"{FONT}.ttf")))


def _tile(pdf: Canvas, sheet: Sheet, plan: TilePlan, *, page: int) -> None:
    """Draw one page: what falls in its window, crosses, check squares, and where it belongs."""
    pdf.setPageSize((plan.paper[0] / POINT, plan.paper[1] / POINT))
    row, column = plan.filled[page]
    pdf.saveState()
    frame = pdf.beginPath()
    frame.rect(MARGIN / POINT, MARGIN / POINT, plan.window[0] / POINT, plan.window[1] / POINT)
    pdf.clipPath(frame, stroke=0, fill=0)
    _check_squares(pdf, plan)
    shift = np.array([MARGIN, MARGIN]) - plan.low(row, column)
    for index in plan.drawn[page]:
        for item in _within(sheet.items[index], plan.low(row, column), plan.window):
            _draw(pdf, item, shift)
    pdf.restoreState()
    _crosses(pdf, plan)
    pdf.setFillColor(HexColor("#1a1a1a"))
    pdf.setFont(FONT, 7)
    said = f"{sheet.title}   row {row} of {plan.rows}, column {column} of {plan.columns}   print at 100 %, 1:1"
    pdf.drawString((MARGIN + 0.02) / POINT, (MARGIN - 0.004) / POINT, said)
    pdf.setFont(FONT, 16)
    pdf.setFillColor(HexColor(GREY))
    pdf.drawRightString(
        (plan.paper[0] - MARGIN - 0.012) / POINT, (plan.paper[1] - MARGIN - 0.012) / POINT, f"{row}-{column}"
    )
    pdf.showPage()


def _within(item: Item, low: Floats, size: Sequence[float]) -> list[Item]:
    """Return the parts of a line that a page shows, a dash beyond its window; anything else whole."""
    if not isinstance(item, Line):
        return [item]
    near, far = low - DASH, low + np.asarray(size) + DASH
    if np.all(item.points >= near) and np.all(item.points <= far):
        return [item]
    ring = np.vstack([item.points, item.points[:1]]) if item.closed else item.points
    shown = shapely.clip_by_rect(shapely.LineString(ring), *near, *far)
    runs = [np.array(run.coords) for run in shapely.get_parts(shown) if run.geom_type == "LineString"]
    return [replace(item, points=run, closed=False) for run in runs]


def _check_squares(pdf: Canvas, plan: TilePlan) -> None:
    """Draw a 100 mm and a 4 in square in the middle of the page, to be measured before anything is cut."""
    pdf.setStrokeColor(HexColor(GREY))
    pdf.setFillColor(HexColor(GREY))
    pdf.setLineWidth(0.3)
    pdf.setFont(FONT, 6)
    x, y = (plan.paper[k] / 2 - CHECKS[1][0] / 2 for k in range(2))
    for number, (size, name) in enumerate(CHECKS):
        inset = (CHECKS[1][0] - size) / 2
        pdf.rect((x + inset) / POINT, (y + inset) / POINT, size / POINT, size / POINT, stroke=1, fill=0)
        pdf.drawString((x + 0.004 + 0.04 * number) / POINT, (y + 0.004) / POINT, name)


def _crosses(pdf: Canvas, plan: TilePlan) -> None:
    """Draw the crop crosses at the window's four corners, half the overlap in: neighbours have them in common."""
    pdf.setStrokeColor(HexColor("#000000"))
    pdf.setLineWidth(0.3)
    half = OVERLAP / 2
    for dx in (half, half + plan.step[0]):
        for dy in (half, half + plan.step[1]):
            x, y = (MARGIN + dx) / POINT, (MARGIN + dy) / POINT
            arm = CROSS / POINT
            pdf.line(x - arm, y, x + arm, y)
            pdf.line(x, y - arm, x, y + arm)


def _draw(pdf: Canvas, item: Item, shift: Floats) -> None:
    colour, pen = STYLES[item.layer]
    pdf.setStrokeColor(HexColor(colour))
    pdf.setLineWidth(pen * 0.001 / POINT)
    if isinstance(item, Line):
        pdf.setDash([4 * 0.001 / POINT, 2 * 0.001 / POINT] if item.dashed else [])
        points = (item.points + shift) / POINT
        path = pdf.beginPath()
        path.moveTo(*points[0])
        for x, y in points[1:]:
            path.lineTo(x, y)
        if item.closed:
            path.close()
        pdf.drawPath(path, stroke=1, fill=0)
        pdf.setDash([])
    elif isinstance(item, Point):
        x, y = (item.at + shift) / POINT
        if item.diameter is not None:
            pdf.circle(x, y, item.diameter / 2 / POINT, stroke=1, fill=0)
        arm = 0.002 / POINT
        pdf.line(x - arm, y, x + arm, y)
        pdf.line(x, y - arm, x, y + arm)
    else:
        x, y = (item.at + shift) / POINT
        pdf.saveState()
        pdf.translate(x, y)
        pdf.rotate(math.degrees(item.angle))
        pdf.setFillColor(HexColor("#1a1a1a"))
        pdf.setFont(FONT, item.height / 0.73 / POINT)
        pdf.drawCentredString(0, -item.height / 2 / POINT, item.text)
        pdf.restoreState()


def _map_page(pdf: Canvas, sheet: Sheet, plan: TilePlan) -> None:
    """Draw the map of pages: the sheet small, the grid over it, empty pages crossed, and how to print and join."""
    width, height = plan.paper
    pdf.setPageSize((width / POINT, height / POINT))
    span = np.array([plan.columns * plan.step[0] + OVERLAP, plan.rows * plan.step[1] + OVERLAP])
    scale = min((width - 0.04) / span[0], (height - 0.10) / span[1])
    corner = np.array([0.02, 0.02])
    pdf.setFillColor(HexColor("#1a1a1a"))
    pdf.setFont(FONT, 12)
    pdf.drawString(0.02 / POINT, (height - 0.025) / POINT, f"{sheet.title}: map of pages")
    pdf.setFont(FONT, 8)
    apart = f"{plan.step[0] * 1000:.1f} mm apart across, {plan.step[1] * 1000:.1f} mm apart down"
    said = (
        'Print at 100 %, without "fit to page". Measure on the first page: inner square 100.0 mm, outer 4 in.',
        f"{len(plan.filled)} pages, {plan.rows} rows, {plan.columns} columns; crossed pages are empty and left out.",
        f"Trim one of two neighbours and lay crop cross on crop cross: {apart}.",
        *sheet.notes,
    )
    for k, line in enumerate(said):
        pdf.drawString(0.02 / POINT, (height - 0.034 - 0.005 * k) / POINT, line)
    pdf.saveState()
    pdf.translate(corner[0] / POINT, corner[1] / POINT)
    pdf.scale(scale, scale)
    for item in sheet.items:
        if isinstance(item, Line):
            _draw(pdf, item, -plan.origin)
    pdf.restoreState()
    _map_grid(pdf, plan, corner=corner, scale=scale)
    pdf.showPage()


def _map_grid(pdf: Canvas, plan: TilePlan, *, corner: Floats, scale: float) -> None:
    pdf.setStrokeColor(HexColor(GREY))
    pdf.setLineWidth(0.4)
    widest = pdfmetrics.stringWidth(f"{plan.rows}-{plan.columns}", FONT, 1.0)
    size = min(NUMBERS, (plan.step[0] * scale / POINT - 3) / widest)
    pdf.setFont(FONT, size)
    for row in range(1, plan.rows + 1):
        for column in range(1, plan.columns + 1):
            x, y = (corner + (plan.low(row, column) - plan.origin + OVERLAP / 2) * scale) / POINT
            w, h = plan.step[0] * scale / POINT, plan.step[1] * scale / POINT
            pdf.rect(x, y, w, h, stroke=1, fill=0)
            if (row, column) in plan.filled:
                pdf.setFillColor(HexColor(GREY))
                pdf.drawString(x + 2, y + h - 1 - size, f"{row}-{column}")
            else:
                pdf.line(x, y, x + w, y + h)
