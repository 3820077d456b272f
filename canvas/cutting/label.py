"""Write a part's label, its edges' names and its arrows where there is room inside it.

Computes: the largest letters that fit, and where; the grain line beside them.
Units: metres.
Source: letter heights are common practice: 5 mm is the least that is read on cloth.
Limits: letter widths are an upper bound. Where nothing fits, the part is named in a problem.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely
from shapely import Geometry
from shapely.geometry import LineString, Polygon

from canvas.cutting.part import FlatPart, Label, PartEdge, grain_items
from canvas.cutting.sheet import Item, Layer, Line, Text, text_box
from canvas.design.problems import Problem
from canvas.design.units import small_length
from canvas.geometry.surface import Floats

HEIGHTS = (0.018, 0.014, 0.011, 0.008, 0.006, 0.005)  # [m] tried in this order
LARGE = HEIGHTS[:3]
EDGE_TEXT_IN = (0.032, 0.042, 0.052)  # [m] edge names stand inside the rows of stitching, tried in this order
INSETS = (0.045, 0.004)  # [m] from the finished edge, inside the rows of stitching where there is room
CLEAR = 0.004  # [m] of letters from what they keep off
EDGE_HEIGHT = 0.006  # [m] of edge names
LINE_SPACE = 1.6  # of the letter height


def labelled(
    part: FlatPart, label: Label, *, keep_off: Sequence[Polygon] = (), rather_off: Sequence[Polygon] = ()
) -> tuple[FlatPart, Problem | None]:
    """Return the part with its label, edge names, grain line and forward arrow.

    Parameters
    ----------
    part : FlatPart
    label : Label
    keep_off : sequence of Polygon
        Openings and the like that text must not cross.
    rather_off : sequence of Polygon
        Patches and the like that it keeps off as long as its letters stay large; rows of stitching likewise.

    Returns
    -------
    (FlatPart, Problem or None)
        The problem where the text does not fit.
    """
    if not Polygon(part.finished).is_valid:
        return part, None  # said already: its outline crosses itself
    rows = _rows(part)
    rather: Sequence[Geometry] = (*rather_off, rows)
    for inset, off, heights in [(INSETS[0], rather, LARGE), *((inset, (), HEIGHTS) for inset in INSETS)]:
        inside = Polygon(part.finished).buffer(-inset)
        named = [_area_of(item) for item in part.items if isinstance(item, Text)]
        for region in (*keep_off, *named, *off):
            inside = inside.difference(region.buffer(CLEAR))
        items = _written_inside(part, label, inside=inside, keep_off=keep_off, rows=rows, heights=heights)
        if items is not None:
            return replace(part, items=part.items + tuple(items)), None
    return part, _no_room(part)


def _written_inside(
    part: FlatPart, label: Label, *, inside: Polygon, keep_off: Sequence[Polygon], rows: Geometry,
    heights: Sequence[float],
) -> list[Item] | None:  # fmt: skip
    """Return grain line, label and arrow inside a region, and edge names; None where they do not fit."""
    if inside.is_empty:
        return None
    inside = max(getattr(inside, "geoms", [inside]), key=lambda g: g.area)
    block = _block(inside, label, heights)
    if block is None:
        return None
    written = shapely.union_all([_area_of(item) for item in block])
    bare = inside.difference(written.convex_hull)
    bare = inside.difference(written) if bare.is_empty else bare  # a part hardly larger than its label
    bare = max(getattr(bare, "geoms", [bare]), key=lambda g: g.area)
    items: list[Item] = [*block, *grain_items(bare)]
    taken = [_area_of(item) for item in (*items, *(item for item in part.items if isinstance(item, Text)))]
    free = Polygon(part.finished).difference(shapely.union_all(taken))
    for region in keep_off:
        free = free.difference(region)
    for edge in part.edges:
        lines, boxes = _edge_text(edge, free, rows, units=label.units)
        items.extend(lines)
        free = free.difference(boxes.buffer(0.002))
    return items


def _rows(part: FlatPart) -> Geometry:
    """Return the rows of stitching and folds of a part."""
    return shapely.union_all([
        LineString(item.points) for item in part.items if isinstance(item, Line) and item.dashed and not item.closed
    ])  # fmt: skip


def _edge_text(edge: PartEdge, free: Geometry, rows: Geometry, *, units: str) -> tuple[list[Text], Geometry]:
    """Return an edge's name where there is room, and what it covers: all of it before less, off rows before on them."""
    for said in _edge_texts(edge, units):
        on_rows = None
        for off in EDGE_TEXT_IN:
            lines = _along_edge(edge, said, off=off)
            boxes = shapely.union_all([Polygon(text_box(text)) for text in lines])
            if not free.contains(boxes):
                continue
            if not shapely.dwithin(rows, boxes, CLEAR):
                return lines, boxes
            on_rows = on_rows or (lines, boxes)
        if on_rows is not None:
            return on_rows
    return [], Polygon()


def _no_room(part: FlatPart) -> Problem:
    return Problem(
        code="text-does-not-fit",
        key=f'part "{part.name}"',
        found=f"a part of {part.area * 1e4:.0f} cm2 without room for its label in 5 mm letters",
        wanted="Give the panel a shorter name, or join the part to its neighbour.",
    )


def _area_of(item: Item) -> Polygon:
    if isinstance(item, Text):
        return Polygon(text_box(item)).buffer(0.002)
    return LineString(item.points).buffer(0.003) if isinstance(item, Line) else Polygon()


def _block(free: Polygon, label: Label, heights: Sequence[float]) -> list[Item] | None:
    """Return the label's lines and forward arrow as large as they fit; None where they do not.

    Where all lines do not fit one under the other they are joined two by two, then all in one.
    """
    for height in heights:
        for together in (1, 2, len(label.lines)):
            lines = ["; ".join(label.lines[k : k + together]) for k in range(0, len(label.lines), together)]
            width = max(Text(at=np.zeros(2), text=line, height=height).width for line in lines)
            arrow = 0.0 if label.forward is None else 4 * height
            size = (width + arrow, max(len(lines) * LINE_SPACE, 2.0) * height)
            for turn in (0.0, math.pi / 2, _lie(free)):
                middle = _room(free, size, turn)
                if middle is not None:
                    return _written(lines, label.forward, middle, height=height, size=size, arrow=arrow, turn=turn)
    return None


def _lie(region: Polygon) -> float:
    """Return the direction a region is longest in, -90 to 90 degrees. [rad]."""
    corners = np.asarray(shapely.minimum_rotated_rectangle(region).exterior.coords)
    sides = np.diff(corners, axis=0)
    longest = sides[int(np.argmax(np.hypot(*sides.T)))]
    return math.atan(longest[1] / longest[0]) if longest[0] else math.pi / 2


def _room(free: Polygon, size: tuple[float, float], turn: float) -> Floats | None:
    """Return where a box of that size fits, nearest the region's widest place; None where it does not."""
    half = np.array(size) / 2 + 0.002
    box = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * half
    c, s = math.cos(turn), math.sin(turn)
    box = box @ np.array([[c, s], [-s, c]])
    for part in sorted(getattr(free, "geoms", [free]), key=lambda g: -g.area):
        low_x, low_y, high_x, high_y = part.bounds
        if part.is_empty or high_x - low_x < np.ptp(box[:, 0]) or high_y - low_y < np.ptp(box[:, 1]):
            continue
        centre = np.asarray(shapely.maximum_inscribed_circle(part, tolerance=0.005).coords[0])
        grid = np.stack(np.meshgrid(np.linspace(low_x, high_x, 25), np.linspace(low_y, high_y, 25)), -1).reshape(-1, 2)
        tries = np.vstack([centre, grid[np.argsort(np.sum((grid - centre) ** 2, axis=1), kind="stable")]])
        shapely.prepare(part)
        boxes = shapely.polygons(tries[:, None, :] + box[None])
        good = np.flatnonzero(shapely.contains(part, boxes))
        if len(good):
            found: Floats = tries[good[0]]
            return found
    return None


def _written(
    lines: Sequence[str],
    forward: Floats | None,
    middle: Floats,
    *,
    height: float,
    size: tuple[float, float],
    arrow: float,
    turn: float,
) -> list[Item]:
    c, s = math.cos(turn), math.sin(turn)
    frame = np.array([[c, s], [-s, c]])
    items: list[Item] = []
    for k, line in enumerate(lines):
        off = np.array([arrow / 2, ((len(lines) - 1) / 2 - k) * LINE_SPACE * height])
        items.append(Text(at=middle + off @ frame, text=line, height=height, angle=turn))
    if forward is not None:
        root = middle + np.array([-size[0] / 2 + arrow / 2, 0.0]) @ frame
        reach = min(arrow, size[1]) * 0.45
        along = forward / np.hypot(*forward) * reach
        across = np.array([-along[1], along[0]]) * 0.35
        tip = root + along
        items.append(Line(layer=Layer.TEXT, points=np.stack([root - along, tip])))
        items.append(
            Line(layer=Layer.TEXT, points=np.stack([tip - along * 0.5 + across, tip, tip - along * 0.5 - across]))
        )
    return items


def _edge_texts(edge: PartEdge, units: str) -> list[list[str]]:
    """Return an edge's name, finish, fit and note: in one line, in more, shorter."""
    words = {"final": "final", "long": f"long by {small_length(edge.long_by, units)}", "on board": "patterned on board"}
    said = f"{edge.name}: {edge.finish}, {words[edge.fit]}"
    pieces = edge.note.split(", ")
    half = (len(pieces) + 1) // 2
    ways = [[said], [edge.name]]
    if edge.note:
        more = [[said, edge.note], [said, ", ".join(pieces[:half]), ", ".join(pieces[half:])], [said, *pieces]]
        ways = [[f"{said}; {edge.note}"], *more, *ways]
    return [[line for line in lines if line] for lines in ways]


def _along_edge(edge: PartEdge, lines: Sequence[str], *, off: float) -> list[Text]:
    """Return lines of text along the middle of an edge, the one nearest it so far `off` it. [m]."""
    line = LineString(edge.points)
    a, b = (np.asarray(line.interpolate(d, normalized=True).coords[0]) for d in (0.45, 0.55))
    along = (b - a) / np.hypot(*(b - a))
    inward = np.array([-along[1], along[0]])
    angle = math.atan2(along[1], along[0])
    ordered = lines[::-1]  # the last line is nearest the edge where letters stand on it
    if math.cos(angle) < -1e-9:
        angle, ordered = angle + math.pi, lines
    middle = np.asarray(line.interpolate(0.5, normalized=True).coords[0])
    step = LINE_SPACE * EDGE_HEIGHT
    return [
        Text(at=middle + (off + k * step) * inward, text=text, height=EDGE_HEIGHT, angle=angle)
        for k, text in enumerate(ordered)
    ]
