"""Draw a drawing on a page of a PDF.

Computes: nothing.
Units: metres of paper in, points (1/72 in) in the file.
Source: reportlab.
Limits: a drawing is placed at its own size, never scaled.
"""

from __future__ import annotations

from collections.abc import Sequence
from io import BytesIO

import numpy as np
from reportlab.lib.colors import HexColor
from reportlab.pdfgen.canvas import Canvas

from canvas.brief.drawing import BOLD, FONT, Area, Drawing, Item, Pen, Words, register_fonts
from canvas.geometry.surface import Floats

POINT = 0.0254 / 72  # [m]
PAPERS = {"A4": (0.210, 0.297), "Letter": (0.2159, 0.2794), "A3": (0.297, 0.420), "A1": (0.594, 0.841)}  # [m]


def new_pdf(paper: tuple[float, float], *, title: str) -> tuple[Canvas, BytesIO]:
    """Return an empty PDF whose bytes depend on nothing but what is drawn, and where they go.

    Parameters
    ----------
    paper : (float, float)
        Width and height [m].
    title : str
        Of the document.
    """
    register_fonts()
    stream = BytesIO()
    pdf = Canvas(stream, pagesize=(paper[0] / POINT, paper[1] / POINT), invariant=1, pageCompression=1)
    pdf.setTitle(title)
    pdf.setAuthor("")
    pdf.setCreator("cockpit canvas aid")
    return pdf, stream


def draw(pdf: Canvas, drawing: Drawing, *, at: tuple[float, float]) -> None:
    """Draw a drawing on the current page at its own size.

    Parameters
    ----------
    pdf : Canvas
    drawing : Drawing
    at : (float, float)
        Where its lower left corner goes, from the page's [m].
    """
    shift = np.asarray(at) - drawing.low
    pdf.setLineJoin(1)
    pdf.setLineCap(1)
    for item in drawing.items:
        _item(pdf, item, shift)


def _item(pdf: Canvas, item: Item, shift: Floats) -> None:
    if isinstance(item, Words):
        _words(pdf, item, shift)
        return
    area = isinstance(item, Area)
    loops: Sequence[Floats] = item.loops if isinstance(item, Area) else item.lines
    pen = item.pen
    path = pdf.beginPath()
    for loop in loops:
        spots = (loop + shift) / POINT
        path.moveTo(*spots[0])
        for spot in spots[1:]:
            path.lineTo(*spot)
        if area:
            path.close()
    fill = item.fill if isinstance(item, Area) else None
    if fill is not None:
        pdf.setFillColor(HexColor(fill))
        pdf.setFillAlpha(item.opacity if isinstance(item, Area) else 1.0)
    if pen is not None:
        _set_pen(pdf, pen)
    pdf.drawPath(path, stroke=int(pen is not None), fill=int(fill is not None), fillMode=0)
    pdf.setFillAlpha(1.0)


def _set_pen(pdf: Canvas, pen: Pen) -> None:
    pdf.setStrokeColor(HexColor(pen.colour))
    pdf.setLineWidth(pen.width / POINT)
    pdf.setDash([part / POINT for part in pen.dash] or [])


def _words(pdf: Canvas, item: Words, shift: Floats) -> None:
    x, y = (item.at + shift) / POINT
    size = item.size / POINT
    start = {"start": 0.0, "middle": -0.5, "end": -1.0}[item.anchor] * item.width / POINT
    pdf.saveState()
    pdf.translate(x, y)
    pdf.rotate(np.degrees(item.angle))
    if item.halo:  # a second text would be found twice by who searches or copies
        pdf.setFillColor(HexColor("#ffffff"))
        pdf.setFillAlpha(0.75)
        pdf.rect(start - 0.1 * size, -0.5 * size, item.width / POINT + 0.2 * size, size, stroke=0, fill=1)
        pdf.setFillAlpha(1.0)
    pdf.setFont(BOLD if item.bold else FONT, size)
    pdf.setFillColor(HexColor(item.colour))
    pdf.drawString(start, -0.36 * size, item.text)
    pdf.restoreState()
