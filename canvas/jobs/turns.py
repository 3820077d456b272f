"""Let long work in one thread stand aside for what somebody waits for, between its steps.

Computes: nothing; long work asks often whether to stand aside, and whoever began it says what that means.
Units: none.
Source: none.
Limits: it counts for the thread that began the work, not for threads that the work starts, but for
    what is given them `as_here`. Nobody asks while holding a
    lock that others need.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from threading import local
from typing import ParamSpec, TypeVar

P = ParamSpec("P")
T = TypeVar("T")

_HERE = local()


@contextmanager
def standing_aside(aside: Callable[[], None] | None) -> Iterator[None]:
    """Do the work of this context giving way: `aside` is called between its steps, may wait, and may raise `Stopped`.

    Parameters
    ----------
    aside : callable, optional
        None where it gives way to nobody.
    """
    before = getattr(_HERE, "aside", None)
    _HERE.aside = aside
    try:
        yield
    finally:
        _HERE.aside = before


def give_way() -> None:
    """Stand aside for a while where this thread's work was begun so; else go on at once.

    Raises
    ------
    Stopped
        When nobody wants the work any more.
    """
    aside = getattr(_HERE, "aside", None)
    if aside is not None:
        aside()


def as_here(work: Callable[P, T]) -> Callable[P, T]:
    """Return work that gives way as this thread's work does, in whatever thread it is done."""
    aside = getattr(_HERE, "aside", None)

    def done(*given: P.args, **named: P.kwargs) -> T:
        with standing_aside(aside):
            return work(*given, **named)

    return done
