"""Lay out coded targets to print, cut out and stick, and say how to stick and photograph them.

Computes: nothing; targets at their own size, a line to check the printer by.
Units: metres of paper.
Source: the squares of `canvas.asbuilt.targets`; how to photograph for measuring is common practice, as in T. Luhmann
    and others, Close-Range Photogrammetry and 3D Imaging, chapter 7.
Limits: targets up to 66 mm stand two beside each other on A4 and Letter.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from canvas.asbuilt.photographed import Stuck
from canvas.asbuilt.targets import MODULES, QUIET, pattern
from canvas.brief.blocks import Block, Bullets, Document, Figure, Grid, Heading
from canvas.brief.drawing import MM, Area, Drawing, Item, Pen, Stroke, Words, beside, circle, drawing_of
from canvas.brief.paper import text_room
from canvas.brief.pictures import MARKED, drafter_of
from canvas.brief.spots import Spot
from canvas.cloth.rigging import Rigging
from canvas.design.schema.design import BARE
from canvas.geometry.surface import Floats

INK, GREY, FAINT = "#111111", "#6b6b66", "#b5b5b0"
SECTION = np.array([[0, 12], [8, 12], [8, 4], [14, 4], [14, 0], [30, 0], [30, 4], [36, 4], [36, 12], [44, 12]])
CHECK = 0.15  # [m] length of the line that the printer is checked by
PRINTING = (
    "Print at 100 % (no fitting to the page), on matt paper, and glue it to stiff card: targets must lie flat.",
    "Measure the line on each page to half a millimetre. If it is not 150 mm, put the true size into the list.",
    "All lengths hang on that size unless a tape says otherwise.",
    "Tape three long distances between marks as well, and write them into the design: that halves the error.",
)
STICKING = (
    "Stick each target so that the four ticks point at the mark: the mark lies under its middle.",
    "On a tube, wrap nothing: stick the card flat across it, its middle over the tube's middle line.",
    "Keep the white margin whole, and nothing over it. Face targets into the cockpit, out of glare and drips.",
    "Stick the targets called tie wherever there is room between the marks, high and low, facing several ways.",
    "Nothing that carries a target may move until the last photograph is taken: not tubes, not canvas that is up.",
)
SHOOTING = (
    "Use one phone or camera at one zoom (1x), focus as it likes, no panorama, no portrait mode, no filter.",
    "Take 20 to 40 photographs, still, in even light, all round the cockpit; a third with the phone upright.",
    "Half of them from standing height, half from sitting, some steeply from above.",
    "Let every photograph show six targets or more, and every target stand in five photographs from different sides.",
    "Go near enough: a target is as wide as a thumb's nail on the screen at least.",
    "Set the phone to JPEG (most compatible). Photographs stay on this machine.",
    "Then: canvas photo DESIGN PHOTOS --targets LIST -o DIR.",
)


def target_sheet(rigging: Rigging, stuck: Sequence[Stuck], *, paper: str = "A4") -> Document:
    """Return the sheet: how to print, stick and shoot, where each goes, and the targets.

    Parameters
    ----------
    rigging : Rigging
    stuck : sequence of Stuck
    paper : str
        ``A4`` or ``Letter``.

    Raises
    ------
    CouldNot
        When OpenCV is not there, or a target does not fit the page.
    """
    design = rigging.model.design
    marks = rigging.model.marks
    width, height = text_room(paper)
    drafter = drafter_of(rigging, paper=width, text=2.5 * MM)
    scene = rigging.rig(BARE).scene
    spots = [Spot(text=str(one.number), at=marks.at(one.mark)) for one in stuck if one.mark in marks.names]
    blocks: list[Block] = [
        Heading(text=f"{design.name}: targets to photograph", level=1),
        Heading(text="Print"), Bullets(items=PRINTING),
        Heading(text="Stick"), Bullets(items=STICKING), Figure(drawing=_sticking(stuck[0].number)),
        Heading(text="Shoot"), Bullets(items=SHOOTING), Figure(drawing=_walking()),
        Heading(text="Where each goes", page=True),
        *(Figure(drawing=drafter.view(scene, view, spots=spots)) for view in MARKED),
        _list(stuck),
        *_pages(stuck, width, height),
    ]  # fmt: skip
    return Document(
        title=f"{design.name}: coded targets", foot=f"{design.name}, revision {design.revision}", blocks=tuple(blocks)
    )


def _list(stuck: Sequence[Stuck]) -> Grid:
    rows = tuple((str(one.number), one.mark.replace("_", " "), f"{1000 * one.size:g}", "") for one in stuck)
    return Grid(title="The list", heads=("target", "mark", "size [mm]", "stuck; remarks"), rows=rows,
                shares=(0.12, 0.4, 0.14, 0.34))  # fmt: skip


def _pages(stuck: Sequence[Stuck], width: float, height: float) -> list[Block]:
    """Return the targets, as many on a page as fit, under a line to check the printer by."""
    drawn = [_target(one) for one in stuck]
    across = max(1, int((width + 4 * MM) // (drawn[0].width + 4 * MM)))
    down = max(1, int((height - 28 * MM) // (drawn[0].height + 4 * MM)))
    blocks: list[Block] = []
    for first in range(0, len(drawn), across * down):
        page = drawn[first : first + across * down]
        rows = [beside("targets", page[k : k + across], gap=4 * MM) for k in range(0, len(page), across)]
        numbers = f"{stuck[first].number} to {stuck[first + len(page) - 1].number}"
        blocks += [
            Heading(text=f"Targets {numbers}", page=True),
            Figure(drawing=beside(f"targets {numbers}", [_check_line(), *rows], gap=4 * MM, down=True)),
        ]
    return blocks


def _target(one: Stuck) -> Drawing:
    """Return one target at its own size: black squares, white margin, ticks at its middle, its number and mark."""
    module = one.size / MODULES
    edge = one.size / 2 + QUIET * module
    low = -edge - 9 * MM
    ticks = tuple(
        np.outer([edge - 0.45 * QUIET * module, edge], side)
        for side in ([1.0, 0.0], [-1.0, 0.0], [0.0, 1.0], [0.0, -1.0])
    )
    items: list[Item] = [
        Area(loops=_black(one.number, module), fill=INK, pen=Pen(colour=INK, width=0.01 * MM)),
        Stroke(lines=ticks, pen=Pen(colour=INK, width=0.3 * MM)),
        Stroke(
            lines=(np.array([[-edge, low], [edge, low], [edge, edge], [-edge, edge], [-edge, low]]),),
            pen=Pen(colour=FAINT, width=0.2 * MM, dash=(1.5 * MM, 1.5 * MM)),
        ),
        Words(
            at=np.array([-edge + 2 * MM, -edge - 4.5 * MM]),
            text=str(one.number),
            size=5 * MM,
            anchor="start",
            bold=True,
        ),
        Words(
            at=np.array([edge - 2 * MM, -edge - 4.5 * MM]), text=one.mark.replace("_", " "), size=3 * MM, anchor="end"
        ),
    ]
    return drawing_of(f"target {one.number}", items, margin=0.5 * MM)


def _black(number: int, module: float) -> tuple[Floats, ...]:
    """Return the outlines of a target's black squares, of a side of `module` [m]."""
    squares = []
    for row, column in np.argwhere(pattern(number)):
        x, y = (column - MODULES / 2) * module, (MODULES / 2 - row) * module
        squares.append(np.array([[x, y], [x + module, y], [x + module, y - module], [x, y - module]]))
    return tuple(squares)


def _check_line() -> Drawing:
    ticks = [np.array([[x, 0.0], [x, 3 * MM if k % 5 else 5 * MM]]) for k, x in enumerate(np.linspace(0, CHECK, 16))]
    items: list[Item] = [
        Stroke(lines=(np.array([[0.0, 0.0], [CHECK, 0.0]]), *ticks), pen=Pen(colour=INK, width=0.2 * MM)),
        Words(at=np.array([CHECK / 2, -3 * MM]), text="150 mm: measure it", size=2.8 * MM),
    ]
    return drawing_of("line to check the printer by", items)


def _sticking(number: int) -> Drawing:
    """Return pictures of a target rightly and wrongly stuck."""
    good = _small(number, words="middle over the mark, flat, margin whole", cross=True)
    bent = _small(number, words="no: margin covered", covered=True)
    askew = _small(number, words="no: beside the mark", beside_mark=True)
    return beside("how to stick a target", [good, bent, askew], gap=6 * MM)


def _small(
    number: int, *, words: str, cross: bool = False, covered: bool = False, beside_mark: bool = False
) -> Drawing:
    size = 22 * MM
    module = size / MODULES
    edge = size / 2 + QUIET * module
    frame = np.array([[-edge, -edge], [edge, -edge], [edge, edge], [-edge, edge], [-edge, -edge]])
    items: list[Item] = [
        Area(loops=_black(number, module), fill=INK),
        Stroke(lines=(frame,), pen=Pen(colour=GREY, width=0.2 * MM)),
        Words(at=np.array([0.0, -edge - 5 * MM]), text=words, size=2.6 * MM),
    ]
    red = Pen(colour="#b03020", width=0.5 * MM)
    if cross or beside_mark:
        shift = np.array([1.25 * edge, 0.3 * edge]) if beside_mark else np.zeros(2)
        reach = 1.22 * edge if cross else 0.22 * edge
        spans = [np.array([[-reach, 0], [reach, 0]]), np.array([[0, -reach], [0, reach]])]
        items.append(Stroke(lines=tuple(span + shift for span in spans), pen=red))
    if covered:
        items.append(Area(loops=(edge * np.array([[0.5, -1.0], [1.3, -1.0], [1.3, 1.0], [0.7, 1.0]]),),
                          fill="#d8c9a8", pen=Pen(colour=GREY, width=0.2 * MM)))  # fmt: skip
    return drawing_of(words, items)


def _walking() -> Drawing:
    """Return a picture of where to take photographs from: round the cockpit seen from above, and at two heights."""
    long, wide = 60 * MM, 40 * MM
    items: list[Item] = [
        Area(loops=(np.array([[0, 0], [long, 0], [long, wide], [0, wide]]),), fill="#f2efe6", pen=Pen(colour=GREY)),
        Words(at=np.array([long / 2, wide / 2]), text="cockpit, from above", size=2.8 * MM, colour=GREY),
    ]
    middle = np.array([long / 2, wide / 2])
    for k in range(14):
        turn = 2 * np.pi * k / 14
        reach = np.array([46 * MM, 34 * MM]) if k % 2 else np.array([40 * MM, 28 * MM])
        items += _phone(middle + reach * [np.cos(turn), np.sin(turn)], towards=middle)
    for x in (8, 22, 36, 50):
        for y in (2, 38):
            items.append(Area(loops=(_square(np.array([x * MM, y * MM]), 3 * MM),), fill=INK))
    side = np.array([100 * MM, 4 * MM])
    items += [
        Stroke(lines=(SECTION * MM + side,), pen=Pen(colour=GREY, width=0.5 * MM)),
        Words(at=side + np.array([22, -5]) * MM, text="from two heights, some steeply from above", size=2.8 * MM),
        *_phone(side + np.array([-6, 34]) * MM, towards=side + np.array([22, 6]) * MM),
        *_phone(side + np.array([48, 20]) * MM, towards=side + np.array([22, 6]) * MM),
        *_phone(side + np.array([22, 44]) * MM, towards=side + np.array([22, 6]) * MM),
        Area(loops=(_square(side + np.array([10.5, 6]) * MM, 3 * MM), _square(side + np.array([33.5, 6]) * MM, 3 * MM)),
             fill=INK),
    ]  # fmt: skip
    return drawing_of("where to take photographs from", items)


def _square(at: Floats, side: float) -> Floats:
    return at + side / 2 * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])


def _phone(at: Floats, *, towards: Floats) -> list[Item]:
    """Return a phone at a place and the cone that it sees."""
    look = (towards - at) / np.linalg.norm(towards - at)
    across = np.array([-look[1], look[0]])
    cone = np.array([at, at + 11 * MM * look + 5 * MM * across, at + 11 * MM * look - 5 * MM * across])
    return [
        Area(loops=(cone,), fill="#3a6ea5", opacity=0.18),
        Area(loops=(circle(at, 1.6 * MM),), fill="#1f4e79"),
    ]
