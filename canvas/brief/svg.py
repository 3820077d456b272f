"""Write a drawing as SVG: inside an HTML page, or as a file of its own.

Computes: nothing.
Units: millimetres of paper in the file, two decimals; y down, as SVG has it.
Source: SVG 1.1.
Limits: text stays text, set in DejaVu Sans, Verdana or whatever sans-serif the reader has.
"""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

import numpy as np

from canvas.brief.drawing import MM, Area, Drawing, Item, Pen, Stroke, Words
from canvas.geometry.surface import Floats

FAMILY = "DejaVu Sans, Verdana, Helvetica, Arial, sans-serif"


def svg_text(drawing: Drawing, *, alone: bool = False) -> str:
    """Return the drawing as SVG.

    Parameters
    ----------
    drawing : Drawing
    alone : bool
        True for a file of its own: with its size in millimetres and the XML head. Inside a page it takes the width
        that the page gives it.
    """
    width, height = drawing.width / MM, drawing.height / MM
    size = f'width="{width:.2f}mm" height="{height:.2f}mm" ' if alone else ""
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" {size}viewBox="0 0 {width:.2f} {height:.2f}" role="img" '
        f'font-family="{FAMILY}" stroke-linejoin="round" stroke-linecap="round">'
    )
    title = f"<title>{escape(drawing.title)}</title>"
    parts = [head, title, *(_item(item, drawing) for item in drawing.items), "</svg>"]
    return ('<?xml version="1.0" encoding="UTF-8"?>\n' if alone else "") + "\n".join(parts) + "\n"


def _item(item: Item, drawing: Drawing) -> str:
    if isinstance(item, Words):
        return _words(item, drawing)
    if isinstance(item, Area):
        path = _path(item.loops, drawing, closed=True)
        see = f' fill-opacity="{item.opacity:.2f}"' if item.opacity < 1 else ""
        fill = item.fill or "none"
        return f'<path d="{path}" fill="{fill}" fill-rule="evenodd"{see}{_pen(item.pen)}/>'
    return _stroke(item, drawing)


def _stroke(item: Stroke, drawing: Drawing) -> str:
    return f'<path d="{_path(item.lines, drawing, closed=False)}" fill="none"{_pen(item.pen)}/>'


def _pen(pen: Pen | None) -> str:
    if pen is None:
        return ""
    dash = f' stroke-dasharray="{" ".join(f"{part / MM:.2f}" for part in pen.dash)}"' if pen.dash else ""
    return f' stroke="{pen.colour}" stroke-width="{pen.width / MM:.2f}"{dash}'


def _path(lines: Sequence[Floats], drawing: Drawing, *, closed: bool) -> str:
    runs = []
    for line in lines:
        spots = _paper(line, drawing)
        runs.append("M" + "L".join(f"{x:.2f} {y:.2f}" for x, y in spots) + ("Z" if closed else ""))
    return "".join(runs)


def _paper(points: Floats, drawing: Drawing) -> Floats:
    flipped: Floats = (points - [drawing.low[0], drawing.high[1]]) * [1, -1] / MM
    return np.round(flipped, 2) + 0.0


def _words(item: Words, drawing: Drawing) -> str:
    (x, y), size = _paper(item.at[None], drawing)[0], item.size / MM
    turn = f' transform="rotate({-np.degrees(item.angle):.2f} {x:.2f} {y:.2f})"' if item.angle else ""
    weight = ' font-weight="bold"' if item.bold else ""
    halo = f' stroke="#ffffff" stroke-width="{size * 0.25:.2f}" paint-order="stroke"' if item.halo else ""
    return (
        f'<text x="{x:.2f}" y="{y + 0.36 * size:.2f}" font-size="{size:.2f}" text-anchor="{item.anchor}"'
        f' fill="{item.colour}"{weight}{halo}{turn}>{escape(item.text)}</text>'
    )
