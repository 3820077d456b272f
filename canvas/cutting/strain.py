"""Draw the strain left in each part, so that its worst place is seen before anything is cut.

Computes: nothing; colours triangles by the strains of a `CutResult`.
Units: metres inside; the drawing is at a tenth of full size, in millimetres.
Source: none.
Limits: one scale of colour for all parts, up to the largest strain among them.
"""

from __future__ import annotations

from xml.sax.saxutils import escape

import numpy as np

from canvas.cutting.result import CutResult, StrainMap
from canvas.geometry.surface import Floats

SCALE = 100.0  # [mm/m] a tenth
GAP = 8.0  # [mm]
WIDE = 500.0  # [mm] a row is broken at
STEPS = 24


def strain_svg(result: CutResult) -> str:
    """Return the parts coloured by strain, the worst place of each marked, as an SVG document.

    Parameters
    ----------
    result : CutResult
    """
    most = max((float(part.strain.max()) for part in result.strains), default=0.0)
    rows: list[str] = []
    x, y, deep, right = GAP, 12.0, 0.0, 120.0
    for part in result.strains:
        least, most_of = part.uv.min(axis=0), part.uv.max(axis=0)
        width, height = (most_of - least) * SCALE
        if x > GAP and x + width > WIDE:
            x, y, deep = GAP, y + deep + GAP + 6, 0.0
        rows.extend(_part(part, origin=np.array([x, y + height]), low=least, most=most))
        right, deep = max(right, x + width), max(deep, height + 6)
        x += max(width, 40.0) + GAP
    wide, high = f"{right + GAP:.1f}", f"{y + deep + GAP:.1f}"
    size = f'width="{wide}mm" height="{high}mm" viewBox="0 0 {wide} {high}"'
    head = f"strain left from flat to shape, 0 (pale) to {most * 100:.2f} % (dark); cross: worst place"
    return "\n".join(
        [
            '<?xml version="1.0" encoding="UTF-8"?>',
            f'<svg xmlns="http://www.w3.org/2000/svg" {size} font-family="DejaVu Sans, sans-serif">',
            f'<text x="{GAP}" y="7" font-size="4">{escape(head)}</text>',
            *rows,
            "</svg>\n",
        ]
    )


def _part(part: StrainMap, *, origin: Floats, low: Floats, most: float) -> list[str]:
    places = origin + (part.uv - low) * np.array([SCALE, -SCALE])
    level = (
        np.minimum((part.strain / most * STEPS).astype(int), STEPS - 1) if most > 0 else np.zeros(len(part.faces), int)
    )
    rows: list[str] = []
    for step in np.unique(level):
        paths = "".join(_triangle(places[face]) for face in part.faces[level == step])
        rows.append(f'<path d="{paths}" fill="{_colour(step / (STEPS - 1))}" stroke="none"/>')
    x, y = places[part.faces[int(np.argmax(part.strain))]].mean(axis=0)
    rows.append(f'<path d="M{x - 2:.1f} {y:.1f}h4M{x:.1f} {y - 2:.1f}v4" stroke="#000000" stroke-width="0.4"/>')
    said = f"{part.part}: {part.strain.max() * 100:.2f} %"
    rows.append(f'<text x="{origin[0]:.1f}" y="{origin[1] + 4:.1f}" font-size="3">{escape(said)}</text>')
    return rows


def _triangle(corners: Floats) -> str:
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in corners) + "Z"


def _colour(share: float) -> str:
    """Return a colour from pale yellow over orange to dark red."""
    stops = np.array([[255, 247, 188], [254, 153, 41], [127, 0, 0]], dtype=np.float64)
    red, green, blue = (round(float(np.interp(share, [0, 0.5, 1], stops[:, k]))) for k in range(3))
    return f"#{red:02x}{green:02x}{blue:02x}"
