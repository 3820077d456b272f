"""Build HTML: elements, tables, badges, drawings and plots in a page of its own.

Computes: nothing.
Units: none.
Source: HTML 5.
Limits: text is escaped here and nowhere else, and a number keeps its unit on its line; a table's cells may hold
    markup made here.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape

from canvas.brief.drawing import MM, Drawing
from canvas.brief.svg import svg_text

NO_BREAK = "\u00a0"
BEFORE_UNIT = re.compile(  # the blank between a number and its unit or its fraction, and after a sign
    r"(?<=[0-9]) (?=(?:[%°]|mm/h|mm|cm|m[²³23]?|kg|g/m²|g|kn|k?N(?:/m)?|Pa|ft|in|deg|[hsl]|min|nm)(?![\w/]))"
    r"|(?<=[0-9]) (?=[0-9]+/[0-9])|(?<=[±≥≤]) (?=[0-9])"
)
SIGNS = {"pass": "✓", "fail": "✗", "close": "≈", "unknown": "?"}


class Html(str):
    """Text that is markup already."""

    __slots__ = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """A table's column: its head, and whether it holds numbers."""

    head: str
    numbers: bool = False


def text(value: object) -> Html:
    """Return anything as markup: markup as it is, other text escaped, each number on one line with its unit."""
    return value if isinstance(value, Html) else Html(escape(unbroken(str(value))))


def unbroken(said: str) -> str:
    """Return a sentence with each number tied to its unit, so that they stay on one line."""
    return BEFORE_UNIT.sub(NO_BREAK, said)


def sided(degrees: float) -> str:
    """Return an angle off the bow in whole degrees: + from starboard, - from port, 0 from right ahead."""
    return f"{round(degrees):+d}" if round(degrees) else "0"


def element(tag: str, *inner: object, **attributes: str) -> Html:
    """Return an element; ``class_`` and ``for_`` lose their underscore, other underscores become hyphens."""
    said = "".join(
        f' {name.rstrip("_").replace("_", "-")}="{escape(value)}"' for name, value in attributes.items() if value
    )
    return Html(f"<{tag}{said}>{''.join(text(part) for part in inner)}</{tag}>")


def join(parts: Iterable[object], between: str = "\n") -> Html:
    """Return parts as one piece of markup."""
    return Html(between.join(text(part) for part in parts))


def table(
    columns: Sequence[Column], rows: Sequence[Sequence[object]], *, caption: str = "", heads: bool = True
) -> Html:
    """Return a table in a frame that scrolls sideways on a narrow screen; the first cell of a row is its head.

    Parameters
    ----------
    columns : sequence of Column, length k
    rows : sequence of sequences, length k each
        Markup as it is, anything else escaped.
    caption : str
    heads : bool
        Whether the first cell of a row is its head.

    Raises
    ------
    ValueError
        When a row has not a cell a column.
    """
    top = element("tr", *(element("th", one.head, scope="col", class_="n" if one.numbers else "") for one in columns))
    body = []
    for row in rows:
        cells = [
            element("th", cell, scope="row")
            if index == 0 and heads
            else element("td", cell, class_="n" if column.numbers else "")
            for index, (column, cell) in enumerate(zip(columns, row, strict=True))
        ]
        body.append(element("tr", *cells))
    parts = [element("caption", caption)] if caption else []
    return element(
        "div", element("table", *parts, element("thead", top), element("tbody", *body)), class_="wide", tabindex="0"
    )


def badge(word: str) -> Html:
    """Return a verdict with its sign, so that no colour is needed to read it."""
    sign = SIGNS.get(word, "")
    return element("span", f"{sign} {word}".strip(), class_=f"badge {word if word in SIGNS else 'plain'}")


def standing(word: str) -> Html:
    """Return how well an input is known, as a small label."""
    return element("span", word, class_=f"standing {word}")


def items(parts: Iterable[object]) -> Html:
    """Return a list."""
    return element("ul", *(element("li", part) for part in parts))


def drawing(one: Drawing, *, caption: str = "") -> Html:
    """Return a drawing as a figure; printed it has its own size, so that its scale holds."""
    width = f"{one.width / MM:.1f}mm"
    return _figure(svg_text(one), caption=caption, width=width, kind="drawing")


def plot(svg: str, *, key: str, caption: str = "") -> Html:
    """Return a plot as a figure; `key` keeps the names inside it apart from those of other plots.

    Parameters
    ----------
    svg : str
        A whole SVG file, as matplotlib writes it.
    key : str
        Put before every name inside it, so that those of two plots on a page stay apart.
    caption : str

    Raises
    ------
    ValueError
        When there is no SVG in it.
    """
    body = svg[svg.index("<svg") :]
    body = re.sub(r'\b(id|xlink:href|href)="(#?)([^"]+)"', rf'\1="\g<2>{key}-\3"', body)
    body = re.sub(r"url\(#([^)]+)\)", rf"url(#{key}-\1)", body)
    body = re.sub(r"<metadata>.*?</metadata>", "", body, flags=re.DOTALL)
    body = re.sub(r'(<svg[^>]*?) width="[^"]*"', r"\1", body, count=1)
    body = re.sub(r'(<svg[^>]*?) height="[^"]*"', r"\1", body, count=1)
    return _figure(body, caption=caption, width="", kind="plot")


def _figure(svg: str, *, caption: str, width: str, kind: str) -> Html:
    said = [element("figcaption", caption)] if caption else []
    return element("figure", Html(svg), *said, class_=kind, style=f"--w:{width}" if width else "")
