"""Write a cutting sheet as SVG at 1:1.

Computes: nothing.
Units: metres inside; millimetres in the file, one user unit a millimetre, y down.
Source: SVG 1.1.
Limits: arcs are drawn as arcs; a viewer without the font shows another.
"""

from __future__ import annotations

import math
from xml.sax.saxutils import escape

import numpy as np

from canvas.cutting.arcs import with_arcs
from canvas.cutting.sheet import Item, Layer, Line, Point, Sheet
from canvas.geometry.surface import Floats

MARGIN = 0.01  # [m] round the drawing
STYLES = {
    Layer.CUT: ("#c1121f", 0.4), Layer.TURN_POINTS: ("#6c757d", 0.3), Layer.NOTCHES: ("#9d4edd", 0.4),
    Layer.GRAIN: ("#2b9348", 0.3), Layer.FOLD: ("#0096a8", 0.25), Layer.CUT_OUT: ("#c1121f", 0.4),
    Layer.DRILL: ("#e08e00", 0.3), Layer.SEW: ("#1d4ed8", 0.3), Layer.TEXT: ("#1a1a1a", 0.2),
}  # fmt: skip
CROSS = 1.5  # [mm] half arm of a point


def svg_text(sheet: Sheet) -> str:
    """Return a sheet as an SVG document.

    Parameters
    ----------
    sheet : Sheet
    """
    low_x, low_y, high_x, high_y = sheet.bounds
    shift = np.array([low_x - MARGIN, high_y + MARGIN])
    width, height = ((high - low + 2 * MARGIN) * 1000 for low, high in ((low_x, high_x), (low_y, high_y)))
    size = f'width="{width:.2f}mm" height="{height:.2f}mm" viewBox="0 0 {width:.2f} {height:.2f}"'
    rows = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" {size}>',
        f"<title>{escape(sheet.title)}</title>",
        f"<desc>{escape('; '.join(('scale 1:1, millimetres', *sheet.notes)))}</desc>",
    ]
    for layer in Layer:
        drawn = [_item(item, shift) for item in sheet.items if item.layer is layer]
        if drawn:
            colour, pen = STYLES[layer]
            name = layer.plain_name.replace(" ", "-")
            rows.append(f'<g id="{name}" stroke="{colour}" fill="none" stroke-width="{pen}">')
            rows.append(f"<title>{escape(layer.meaning)}</title>")
            rows.extend(drawn)
            rows.append("</g>")
    rows.append("</svg>\n")
    return "\n".join(rows)


def _mm(points: Floats, shift: Floats) -> Floats:
    result: Floats = (points - shift) * np.array([1000.0, -1000.0])
    return result


def _item(item: Item, shift: Floats) -> str:
    if isinstance(item, Line):
        return _path(item, shift)
    if isinstance(item, Point):
        x, y = _mm(item.at, shift)
        if item.diameter is not None:
            return f'<circle cx="{x:.2f}" cy="{y:.2f}" r="{item.diameter * 500:.2f}"/>'
        return f'<path d="M{x - CROSS:.2f} {y:.2f}H{x + CROSS:.2f}M{x:.2f} {y - CROSS:.2f}V{y + CROSS:.2f}"/>'
    x, y = _mm(item.at, shift)
    size = item.height * 1000 / 0.73
    turn = "" if item.angle == 0 else f' transform="rotate({-math.degrees(item.angle):.2f} {x:.2f} {y:.2f})"'
    return (
        f'<text x="{x:.2f}" y="{y + item.height * 500:.2f}" font-family="DejaVu Sans, sans-serif" '
        f'font-size="{size:.2f}" text-anchor="middle" fill="#1a1a1a" stroke="none"{turn}>{escape(item.text)}</text>'
    )


def _path(line: Line, shift: Floats) -> str:
    drawn = with_arcs(line)
    points = _mm(drawn.points, shift)
    bulge = np.zeros(len(points)) if drawn.bulge is None else drawn.bulge
    rows = [f"M{points[0, 0]:.2f} {points[0, 1]:.2f}"]
    count = len(points) if line.closed else len(points) - 1
    for k in range(count):
        x, y = points[(k + 1) % len(points)]
        if bulge[k] == 0:
            rows.append(f"L{x:.2f} {y:.2f}")
        else:
            chord = math.dist(points[k], (x, y))
            radius = chord * (1 + bulge[k] ** 2) / (4 * abs(bulge[k]))
            sweep = 0 if bulge[k] > 0 else 1
            rows.append(f"A{radius:.3f} {radius:.3f} 0 0 {sweep} {x:.2f} {y:.2f}")
    dash = ' stroke-dasharray="4 2"' if line.dashed else ""
    return f'<path d="{"".join(rows)}{"Z" if line.closed else ""}"{dash}/>'
