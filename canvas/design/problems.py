"""Describe what is wrong with an input: where, what was found, what would do.

Computes: nothing; the one shape in which every complaint about input travels.
Units: none.
Source: none.
Limits: work that fails on valid input is `canvas.jobs.failure.CouldNot`, not this.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Literal


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """One complaint about an input.

    Attributes
    ----------
    code : str
        Short fixed word for programs, such as ``unknown-key``.
    severity : str
        ``error`` stops the work; ``warning`` and ``note`` do not.
    file : str
        File as the user named it.
    line : int or None
        Line in the file, from 1; None where there is none.
    key : str
        Where in the file, such as ``panel "watch tent roof", edges[2].hollow``.
    found : str
        What stands there.
    wanted : str
        What would do.
    """

    code: str
    severity: Literal["error", "warning", "note"] = "error"
    file: str = ""
    line: int | None = None
    key: str = ""
    found: str = ""
    wanted: str = ""

    def __str__(self) -> str:
        """Return the complaint as one line for people."""
        place = f"{self.file}:{self.line}" if self.line is not None else self.file
        parts = [part for part in (place, self.key) if part]
        head = ": ".join(parts)
        said = f"found {self.found}. " if self.found else ""
        return f"{head}: {said}{self.wanted}" if head else f"{said}{self.wanted}"


class DesignError(Exception):
    """Raised when an input is wrong; carries every problem found, not only the first."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        super().__init__("\n".join(str(problem) for problem in problems))
        self.problems = tuple(problems)

    def __reduce__(self) -> tuple[type[DesignError], tuple[tuple[Problem, ...]]]:
        """Return how to make it again, so that it comes back whole from another process."""
        return DesignError, (self.problems,)


def closest(word: str, choices: Iterable[str]) -> str | None:
    """Return that of `choices` which `word` was probably meant for, None where none is like it."""
    return next(iter(get_close_matches(word, sorted(choices), n=1, cutoff=0.5)), None)


def nearest(word: str, choices: Iterable[str]) -> str:
    """Return a phrase that offers the nearest of `choices` to `word`, and lists them sorted.

    Parameters
    ----------
    word : str
        What was found.
    choices : iterable of str
        What would do.
    """
    known = sorted(choices)
    close = closest(word, known)
    hint = f'Did you mean "{close}"? ' if close else ""
    listed = ", ".join(f'"{name}"' for name in known[:24]) + (", ..." if len(known) > 24 else "")
    return f"{hint}Known: {listed}." if known else f"{hint}None are declared."
