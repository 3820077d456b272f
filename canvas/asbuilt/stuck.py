"""List which printed target is stuck on which mark.

Computes: targets for the marks of a design and for ties; the list as a file, and from it.
Units: metres; the file in millimetres, as its heads say.
Source: a CSV file with columns number, mark, size_mm and behind_mm.
Limits: one target a mark. `behind_mm` is how far behind the paper the mark lies, half a tube's diameter where it is
    stuck on a tube.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from pathlib import Path

from canvas.asbuilt.listed import listed_rows
from canvas.asbuilt.photographed import Stuck
from canvas.asbuilt.targets import COUNT
from canvas.design.problems import DesignError, Problem

HEADS = ("number", "mark", "size_mm", "behind_mm")
WANTED = "Keep the list that was printed with the targets: number, mark, size_mm, behind_mm."


def targets_for(marks: Sequence[str], *, ties: int, size: float, behind: Mapping[str, float]) -> tuple[Stuck, ...]:
    """Return a target for each mark, numbered from 1 as the marks stand in the design, then ties.

    Parameters
    ----------
    marks : sequence of str
    ties : int
        Targets that only tie photographs together.
    size : float
        Of the black square [m].
    behind : mapping of str to float
        How far behind the paper marks lie [m]; none where absent.

    Raises
    ------
    DesignError
        When there are more than the family has.
    """
    if len(marks) + ties >= COUNT:
        raise DesignError(
            [Problem(code="many-targets", found=f"{len(marks) + ties} targets", wanted=f"At most {COUNT - 1}.")]
        )
    named = [
        Stuck(number=k, mark=name, size=size, behind=behind.get(name, 0.0)) for k, name in enumerate(marks, start=1)
    ]
    tied = [Stuck(number=k, mark=f"tie {k}", size=size) for k in range(len(marks) + 1, len(marks) + ties + 1)]
    return (*named, *tied)


def list_of(stuck: Sequence[Stuck]) -> str:
    """Return the list of targets as text."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(HEADS)
    for one in stuck:
        writer.writerow((one.number, one.mark, f"{1000 * one.size:g}", f"{1000 * one.behind:g}"))
    return stream.getvalue()


def read_list(path: Path) -> tuple[Stuck, ...]:
    """Return the targets of a list.

    Raises
    ------
    DesignError
        With every line that is wrong.
    """
    if not path.is_file():
        raise DesignError([Problem(code="targets-missing", file=str(path), found="no such file", wanted=WANTED)])
    stuck: list[Stuck] = []
    problems: list[Problem] = []
    for line, cells in listed_rows(path, wanted=WANTED):
        if tuple(cells[:2]) == HEADS[:2]:
            continue
        one = _stuck(cells)
        if one is None:
            problems.append(Problem(code="target-unreadable", file=str(path), line=line, found=", ".join(cells)[:60],
                                    wanted=WANTED))  # fmt: skip
        elif any(one.number == other.number or one.mark == other.mark for other in stuck):
            problems.append(Problem(code="twice-named", file=str(path), line=line,
                                    found=f"{one.number}, {one.mark}, again", wanted="One target a mark."))  # fmt: skip
        else:
            stuck.append(one)
    if problems or not stuck:
        raise DesignError(
            problems or [Problem(code="targets-empty", file=str(path), found="no targets", wanted=WANTED)]
        )
    return tuple(stuck)


def _stuck(cells: Sequence[str]) -> Stuck | None:
    try:
        number, size = int(cells[0]), float(cells[2]) / 1000
        behind = float(cells[3]) / 1000 if len(cells) > 3 and cells[3] else 0.0
    except (ValueError, IndexError):
        return None
    good = 0 < number < COUNT and cells[1] and 0.01 <= size <= 1.0 and 0.0 <= behind <= 0.5
    return Stuck(number=number, mark=cells[1], size=size, behind=behind) if good else None
