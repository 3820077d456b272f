"""Hold a problem that is known by its path in the design file, before it is given its line.

Computes: nothing.
Units: none.
Source: none.
Limits: `canvas.design.reading.Source.problem` turns it into a `Problem`.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from canvas.design.positions import Path
from canvas.design.problems import nearest


@dataclass(frozen=True, slots=True, kw_only=True)
class NameProblem:
    """A problem with a name, by its path in the file."""

    path: Path
    code: str
    found: str
    wanted: str


def unknown(path: Path, what: str, word: str, known: Iterable[str]) -> NameProblem:
    """Return the problem of a name that nothing declares, offering the nearest that is.

    Parameters
    ----------
    path : tuple of str and int
        Where the name stands in the file.
    what : str
        What is named, such as ``mark``.
    word : str
        The name.
    known : iterable of str
        What is declared.
    """
    return NameProblem(
        path=path,
        code=f"unknown-{what.replace(' ', '-')}",
        found=f'unknown {what} "{word}"',
        wanted=nearest(word, known),
    )
