"""Lay a document out as one HTML page that opens offline.

Computes: nothing.
Units: none.
Source: none.
Limits: no script, no link outside.
"""

from __future__ import annotations

from importlib.resources import files

from canvas.brief.blocks import BOX, Block, Bullets, Document, Grid, Heading, Prose
from canvas.brief.markup import Column, Html, drawing, element, items, join, table


def html_of(document: Document) -> str:
    """Return a document as the text of a page."""
    style = files("canvas.brief").joinpath("page.css").read_text(encoding="utf-8")
    head = element(
        "head",
        Html('<meta charset="utf-8">'),
        Html('<meta name="viewport" content="width=device-width, initial-scale=1">'),
        element("title", document.title),
        element("style", Html(style)),
    )
    body = element(
        "body",
        element("main", join(_block(block) for block in document.blocks)),
        element("footer", element("p", document.foot)),
    )
    return f"<!DOCTYPE html>\n{element('html', head, body, lang='en')}\n"


def _block(block: Block) -> Html:
    if isinstance(block, Heading):
        return element(f"h{block.level}", block.text)
    if isinstance(block, Prose):
        return element("div", element("p", block.text), class_="warn") if block.strong else element("p", block.text)
    if isinstance(block, Bullets):
        return items(f"{BOX} {item}" if block.boxes else item for item in block.items)
    if isinstance(block, Grid):
        columns = [Column(head=head) for head in block.heads]
        return table(columns, block.rows, caption=block.title)
    return drawing(block.drawing, caption=block.caption)
