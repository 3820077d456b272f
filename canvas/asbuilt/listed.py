"""Read the rows of a list that a crew or another program wrote as CSV.

Computes: the cells of each row with its line, blanks trimmed; empty rows and remarks left out.
Units: none.
Source: RFC 4180 as Python's csv module reads it; commas, or semicolons where the first line has one.
Limits: a cell stays on one line.
"""

from __future__ import annotations

import csv
from pathlib import Path

from canvas.design.problems import DesignError, Problem
from canvas.design.reading import decoded, raw_bytes


def listed_rows(path: Path, *, wanted: str) -> list[tuple[int, list[str]]]:
    """Return each row's line, from 1, and its cells.

    Parameters
    ----------
    path : Path
    wanted : str
        What the list should be, said where it cannot be read.

    Raises
    ------
    DesignError
        When the file cannot be read as text or as rows.
    """
    lines = decoded(raw_bytes(path), file=str(path)).splitlines()
    delimiter = ";" if lines and ";" in lines[0] else ","
    rows: list[tuple[int, list[str]]] = []
    for number, line in enumerate(lines, start=1):
        try:
            cells = [cell.strip() for cell in next(csv.reader([line], delimiter=delimiter), [])]
        except csv.Error as error:
            found = f"a line of {len(line)} letters that is no row of a list"
            raise DesignError(
                [Problem(code="list-unreadable", file=str(path), line=number, found=found, wanted=wanted)]
            ) from error
        if any(cells) and not cells[0].startswith("#"):
            rows.append((number, cells))
    return rows
