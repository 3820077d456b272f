"""Hold a document as blocks that are laid out on paper or in a page alike.

Computes: nothing.
Units: paper in metres.
Source: none.
Limits: one column; a figure is placed at its own size, so that its scale holds.
"""

from __future__ import annotations

from dataclasses import dataclass

from canvas.brief.drawing import Drawing


@dataclass(frozen=True, slots=True, kw_only=True)
class Heading:
    """A heading of level 1 (the title), 2 or 3; `page` starts a new page before it."""

    text: str
    level: int = 2
    page: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Prose:
    """A paragraph; `strong` sets it off as a caution."""

    text: str
    strong: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Bullets:
    """A list; `boxes` puts a box to tick before each."""

    items: tuple[str, ...]
    boxes: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """A table.

    Attributes
    ----------
    heads : tuple of str
    rows : tuple of tuple of str
        A cell of `BOX` is an empty box to write in.
    shares : tuple of float
        Of the width, by column; their sum is one.
    title : str
    tall : bool
        Rows high enough to write in by hand.
    """

    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    shares: tuple[float, ...]
    title: str = ""
    tall: bool = False


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Figure:
    """A drawing with a line under it."""

    drawing: Drawing
    caption: str = ""


BOX = "\u2610"
Block = Heading | Prose | Bullets | Grid | Figure


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Document:
    """A document: what it is called, what stands at the foot of every page, and its blocks."""

    title: str
    foot: str
    blocks: tuple[Block, ...]
