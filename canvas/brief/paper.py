"""Lay a document out on pages: A4 or Letter, by reportlab.

Computes: nothing; the same document gives the same bytes.
Units: metres of paper; points in the file.
Source: reportlab.
Limits: a figure wider or higher than the page is refused; text is set in DejaVu Sans, embedded.
"""

from __future__ import annotations

from collections.abc import Sequence
from io import BytesIO
from typing import Any

from reportlab.lib.colors import HexColor
from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import (
    CondPageBreak,
    Flowable,
    KeepTogether,
    ListFlowable,
    ListItem,
    PageBreak,
    Paragraph,
    SimpleDocTemplate,
    Spacer,
    Table,
    TableStyle,
)

from canvas.brief.blocks import BOX, Block, Bullets, Document, Grid, Heading, Prose
from canvas.brief.drawing import BOLD, FONT, Drawing, register_fonts
from canvas.brief.markup import text
from canvas.brief.pdf import PAPERS, POINT, draw
from canvas.design.schema.voyage import Shop
from canvas.jobs.failure import CouldNot

READ_ON = ("A4", "Letter")  # what documents are laid out for; the shop's larger paper and rolls take patterns at 1:1
MARGIN = 0.015  # [m]
FOOT = 0.010  # [m] kept for the foot of the page
PADDING = 6  # [pt] that the library leaves free inside its margins
SHORT = 6  # rows of a table that is never broken over two pages
LINE = HexColor("#b5b5b0")
INK = HexColor("#1a1a1a")


def paper_of(shop: Shop, asked: str | None) -> str:
    """Return the paper of a document: that asked for, else the shop's own, A4 where that one is for patterns only."""
    return asked or (shop.paper if shop.paper in READ_ON else READ_ON[0])


def text_room(paper: str) -> tuple[float, float]:
    """Return the width and height that blocks may take on a kind of paper [m]."""
    width, height = PAPERS[paper]
    return width - 2 * MARGIN, height - 2 * MARGIN - FOOT


def pdf_of(document: Document, *, paper: str = "A4") -> bytes:
    """Return a document as a PDF.

    Parameters
    ----------
    document : Document
    paper : str
        ``A4``, ``Letter``, ``A3`` or ``A1``.

    Raises
    ------
    CouldNot
        When a figure is larger than a page.
    """
    register_fonts()
    width, height = PAPERS[paper]
    room = text_room(paper)
    stream = BytesIO()
    pages = SimpleDocTemplate(
        stream, pagesize=(width / POINT, height / POINT), invariant=1, title=document.title, author="",
        creator="cockpit canvas aid", leftMargin=MARGIN / POINT - PADDING, rightMargin=MARGIN / POINT - PADDING,
        topMargin=MARGIN / POINT - PADDING, bottomMargin=(MARGIN + FOOT) / POINT - PADDING,
    )  # fmt: skip
    story: list[Flowable] = []
    for block in document.blocks:
        story += _flow(block, room)

    def foot(canvas: Any, at: Any) -> None:
        canvas.saveState()
        canvas.setFont(FONT, 7.5)
        canvas.setFillColor(INK)
        canvas.drawString(MARGIN / POINT, (MARGIN + 0.001) / POINT, document.foot)
        canvas.drawRightString((width - MARGIN) / POINT, (MARGIN + 0.001) / POINT, f"page {at.page}")
        canvas.restoreState()

    pages.build(story, onFirstPage=foot, onLaterPages=foot)
    return stream.getvalue()


def _style(name: str, **more: Any) -> ParagraphStyle:
    settings: dict[str, Any] = {"fontName": FONT, "fontSize": 9, "leading": 12.5, "textColor": INK, **more}
    return ParagraphStyle(name, **settings)


HEADS = {
    1: _style("title", fontName=BOLD, fontSize=19, leading=23, spaceAfter=4),
    2: _style("head", fontName=BOLD, fontSize=13, leading=16, spaceBefore=10, spaceAfter=4),
    3: _style("small head", fontName=BOLD, fontSize=10, leading=13, spaceBefore=7, spaceAfter=3),
}
TEXT = _style("text", spaceAfter=5)
CELL = _style("cell", fontSize=7.8, leading=10)
HEAD_CELL = _style("head cell", fontName=BOLD, fontSize=7.8, leading=10)
CAPTION = _style("caption", fontSize=7.8, leading=10, textColor=HexColor("#4a4a4a"), spaceAfter=6)
STRONG = _style(
    "strong", spaceAfter=6, borderColor=HexColor("#d99000"), borderWidth=1.2, borderPadding=(5, 6, 5, 6), spaceBefore=8,
    backColor=HexColor("#fdf4df"), leftIndent=7, rightIndent=7,
)  # fmt: skip


def _flow(block: Block, room: tuple[float, float]) -> list[Flowable]:
    if isinstance(block, Heading):
        head = Paragraph(text(block.text), HEADS[block.level])
        return [PageBreak(), head] if block.page else [CondPageBreak(0.06 / POINT), head]
    if isinstance(block, Prose):
        return [Paragraph(text(block.text), STRONG if block.strong else TEXT)]
    if isinstance(block, Bullets):
        entries = [ListItem(Paragraph(text(item), TEXT), leftIndent=14) for item in block.items]
        mark = BOX if block.boxes else "•"
        return [
            ListFlowable(entries, bulletType="bullet", start=mark, bulletFontName=FONT, leftIndent=14),
            Spacer(1, 3),
        ]
    if isinstance(block, Grid):
        return _grid(block, room[0])
    if block.drawing.width > room[0] + 1e-6 or block.drawing.height > room[1]:
        raise CouldNot(f"{block.drawing.title} does not fit the page.", "Choose larger paper.")
    parts: list[Flowable] = [_Picture(block.drawing)]
    if block.caption:
        parts.append(Paragraph(text(block.caption), CAPTION))
    return [KeepTogether([*parts, Spacer(1, 4)])]


def _grid(block: Grid, width: float) -> list[Flowable]:
    head = [Paragraph(text(one), HEAD_CELL) for one in block.heads]
    body = [[_cell(one) for one in row] for row in block.rows]
    widths = [share * width / POINT for share in block.shares]
    heights = [None, *([0.009 / POINT] * len(body) if block.tall else [None] * len(body))]
    boxed = [
        ("BOX", (column, row), (column, row), 0.9, INK)
        for row, cells in enumerate(block.rows, start=1)
        for column, one in enumerate(cells)
        if one == BOX
    ]
    style = TableStyle(
        [
            ("LINEBELOW", (0, 0), (-1, 0), 0.9, INK),
            ("LINEBELOW", (0, 1), (-1, -1), 0.35, LINE),
            ("VALIGN", (0, 0), (-1, -1), "MIDDLE" if block.tall else "TOP"),
            ("LEFTPADDING", (0, 0), (-1, -1), 2),
            ("RIGHTPADDING", (0, 0), (-1, -1), 4),
            ("TOPPADDING", (0, 0), (-1, -1), 2.2),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 2.2),
            *boxed,
        ]
    )
    table = Table([head, *body], colWidths=widths, rowHeights=heights, repeatRows=1, style=style, hAlign="LEFT")
    title: Sequence[Flowable] = [Paragraph(text(block.title), HEADS[3])] if block.title else []
    whole = [*title, table, Spacer(1, 7)]
    return [KeepTogether(whole)] if len(body) <= SHORT else [CondPageBreak(0.04 / POINT), *whole]


def _cell(said: str) -> Paragraph:
    return Paragraph("" if said == BOX else text(said), CELL)


class _Picture(Flowable):  # type: ignore[misc]
    """A drawing among the text."""

    def __init__(self, drawing: Drawing) -> None:
        super().__init__()
        self.drawing = drawing
        self.width, self.height = drawing.width / POINT, drawing.height / POINT

    def wrap(self, *_: float) -> tuple[float, float]:
        """Return the room it takes [pt]."""
        return self.width, self.height

    def draw(self) -> None:
        """Draw it; its lower left corner is the origin."""
        draw(self.canv, self.drawing, at=(0.0, 0.0))
