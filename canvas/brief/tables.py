"""Print a record for people: short tables, a sentence with the verdict, the cautions.

Computes: nothing; every number comes rounded from the record.
Units: as the keys end; lengths stay in metres here, drawings use the design's own unit.
Source: none.
Limits: long lists are cut to what fits a screen, those all round the compass to every second or third row, and say so;
    `--json` has all.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from rich.console import Console
from rich.table import Table

from canvas.brief.heads import head_of, says_share
from canvas.brief.verdicts import place_in_list

_MOMENT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\+00:00")  # times in tables are UTC, to the minute
PAPER_COLUMNS = 140  # width where output goes to a file or a pipe
NAME_COLUMNS, WORD_COLUMNS = 36, 16  # names and other words are not folded below these widths
LEAST = 5e-5  # what is smaller is printed as nothing: no tape, scale or meter on board tells it
MOST_ROWS = 48  # hours of four days
ALL_ROUND = "awa_deg"  # where it heads a column every so many rows are shown: the first ones would leave out a side
HIDDEN = (
    "schema", "version", "design", "design_sha256", "problems", "sets", "cautions", "name", "sentence", "protocol",
)  # fmt: skip
SAID = {"partial_order": "which piece to make first", "pooped": "the cockpit filled by a sea"}  # keys in other words
TITLES = ("name", "cautions", "problems")  # a set that has no more has nothing to be said of it
MEASURED_IN = ("currency",)  # what other keys are in: says nothing where they are all nothing


class _Named(str):
    """A name that heads a column: printed as it is, underscores and all."""

    __slots__ = ()


@dataclass(frozen=True, slots=True)
class _Share:
    """A share of one, printed as a percentage.

    Attributes
    ----------
    of : str or None
        What it is a share of, said in the title of its table; None where its column says so.
    value : float
    """

    of: str | None
    value: float


def print_answer(record: Mapping[str, Any]) -> None:
    """Print a verb's record on standard output."""
    console = Console(highlight=False, soft_wrap=True, markup=False, emoji=False)  # names are printed as they are
    if not console.is_terminal:
        console.width = PAPER_COLUMNS
    console.print(record["design"], style="bold")
    for problem in record["problems"]:
        place = f"line {problem['line']}: " if problem["line"] else ""
        console.print(f"{problem['severity']}: {place}{problem['key']}: {problem['found']}. {problem['wanted']}")
    if record.get("sentence"):
        console.print(record["sentence"])
    _print_keys(console, record)
    cautions: list[str] = []
    for one in record["sets"]:
        cautions += [caution for caution in one["cautions"] if caution not in cautions]
        if not any(one.get(key) for key in one if key not in TITLES):
            continue
        console.print()
        console.print(one["name"], style="bold")
        if one.get("sentence"):
            console.print(one["sentence"])
        if not one.get("sentence") or any(one[key] for key in one if key not in (*HIDDEN, *MEASURED_IN)):
            _print_keys(console, one)  # a sentence says by itself that there is nothing: no noughts after it
    if record.get("protocol"):
        console.print(f"\nTo measure it on board: {record['protocol']}")
    if cautions:
        console.print()
    for caution in cautions:
        console.print(f"! {caution}")


def _print_keys(console: Console, part: Mapping[str, Any]) -> None:
    shown = [(key, value) for key, value in part.items() if key not in HIDDEN]
    for key, value in sorted(shown, key=lambda pair: isinstance(pair[1], list) and len(pair[1]) > MOST_ROWS):
        if isinstance(value, list) and value and isinstance(value[0], Mapping):
            table = _table(key, value)
            least = sum((column.min_width or 0) + 2 for column in table.columns)
            terminal = console.width
            console.width = max(terminal, least)  # a terminal breaks longer lines by itself; no word may be left out
            console.print(table)
            console.width = terminal
        elif isinstance(value, Mapping):
            line = ", ".join(
                f"{_head(name)} {_text(_valued(name, number))}"
                for name, number in value.items()
                if not isinstance(number, list)
            )
            console.print(f"{_head(key)}: {line}")
        elif not isinstance(value, list):
            console.print(f"{_head(key)}: {_text(_valued(key, value))}")
        elif value:
            console.print(f"{_head(key)}: {', '.join(_text(item) for item in value)}")


def _table(title: str, rows: Sequence[Mapping[str, Any]]) -> Table:
    if title == "checks":
        rows = sorted(rows, key=lambda row: place_in_list(row.get("verdict", "")))
    shown, cut = _shown(rows)
    flat = [_flattened(row) for row in shown]
    columns = list(dict.fromkeys(key for row in flat for key, value in row.items() if value is not None))
    of = dict.fromkeys(value.of for row in flat for value in row.values() if isinstance(value, _Share) and value.of)
    told = f"{_head(title)}, {' and '.join(of)}{cut}" if of else f"{_head(title)}{cut}"
    table = Table(title=told, title_justify="left", title_style="italic", box=None, pad_edge=False)
    folds = False
    for column in columns:
        numeric = any(isinstance(row.get(column), int | float | _Share) for row in flat)
        longest = max(len(_text(row.get(column))) for row in flat)
        words = [len(word) for word in _head(column).split()]
        folded = max(*words, min(longest, NAME_COLUMNS if column == "name" else WORD_COLUMNS))
        least = max(longest, len(_head(column))) if numeric else folded
        folds |= longest > least
        table.add_column(
            _head(column), justify="right" if numeric else "left", overflow="fold", no_wrap=numeric, min_width=least
        )  # fmt: skip
    cells = [[_text(row.get(column)) for column in columns] for row in flat]
    if not folds and "\n" not in "".join(map("".join, cells)):  # all rows as one: each cell by itself takes long
        cells = [["\n".join(column) for column in zip(*cells, strict=True)]]
    for row in cells:
        table.add_row(*row)
    return table


def _shown(rows: Sequence[Mapping[str, Any]]) -> tuple[Sequence[Mapping[str, Any]], str]:
    """Return the rows that are printed, and what the title says of the others."""
    if len(rows) <= MOST_ROWS:
        return rows, ""
    if ALL_ROUND in rows[0]:
        step = -(-len(rows) // MOST_ROWS)
        return rows[::step], f", one row of every {step}, {len(rows)} in all"
    return rows[:MOST_ROWS], f", the first {MOST_ROWS} of {len(rows)}"


def _flattened(row: Mapping[str, Any]) -> dict[str, Any]:
    """Return a row with the values of its inner lists of named things as columns of their own.

    Numbers are what their keys say; where the row names a unit or a measure, what that says.
    """
    flat: dict[str, Any] = {}
    measure = row.get("measure")
    shares = says_share(row.get("unit")) or (isinstance(measure, str) and head_of(measure).share)
    for key, value in row.items():
        if isinstance(value, list) and value and isinstance(value[0], Mapping) and "name" in value[0]:
            for inner in value:
                numbers = [(k, part) for k, part in inner.items() if k != "name" and not isinstance(part, list)]
                what, number = numbers[0] if numbers else ("", None)
                if number is not None and what.endswith("_share"):
                    number = _Share(of=_head(what.removesuffix("_share")), value=number)
                flat[_Named(inner["name"])] = number
        elif key == "measure":
            flat[key] = _head(value)
        elif shares and isinstance(value, float):
            flat[key] = _Share(of=None, value=value)
        elif not isinstance(value, list | Mapping):
            flat[key] = _valued(key, value)
    return flat


def _valued(key: str, value: Any) -> Any:
    """Return a value as what its key says it is."""
    return _Share(of=None, value=value) if isinstance(value, int | float) and head_of(key).share else value


def _head(key: str) -> str:
    if isinstance(key, _Named):
        return str(key)
    one = head_of(SAID.get(key, key))
    unit = f"[{one.unit}]" if one.unit else None
    return " ".join(word for word in (one.what, unit, one.end) if word)


def _text(value: Any) -> str:
    if value is None:
        return "-"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str) and _MOMENT.fullmatch(value):
        return value[:16].replace("T", " ")
    if isinstance(value, _Share):
        percent = 100 * value.value
        return f"{percent:.0f} %" if value.of or abs(percent) >= 9.95 else f"{percent:.2g} %"
    if isinstance(value, float):
        return "0" if abs(value) < LEAST else f"{value:.4g}" if abs(value) < 1000 else f"{value:.0f}"
    return str(value)
