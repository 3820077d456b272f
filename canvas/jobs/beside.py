"""Do one piece of work in a process of its own, beside what this one does.

Computes: whatever it is given.
Units: none.
Source: multiprocessing: a copy of this process where it has no other thread (Linux), with all that is loaded already;
    else one started afresh, since a copy would lack the other threads and never get what locks they hold.
Limits: work, outcome and what is sent must be picklable. Where the process fails, for whatever reason, the work is done
    again here, so that its own error is raised and a lost process loses nothing.
"""

from __future__ import annotations

import os
import signal
import sys
from collections.abc import Callable, Sequence
from contextlib import suppress
from functools import partial
from multiprocessing import get_context, parent_process
from multiprocessing.connection import Connection
from pathlib import Path
from types import TracebackType
from typing import Any, Generic, TypeVar

from canvas.jobs.pool import cores

T = TypeVar("T")
R = TypeVar("R")
CARD = 2  # bytes by which a name is drawn


class Beside(Generic[R]):
    """A piece of work that has begun beside this process; as a context, it is ended when the context is left.

    Parameters
    ----------
    work : callable
        A function of a module.
    task : object
        Its one argument.
    sent : object
        The same argument as it is sent to a process that starts afresh.
    apart : bool
        Whether there is a processor to spare for it; where not, it is done here when it is asked for.
    """

    def __init__(self, work: Callable[[T], R], task: T, *, sent: Any, apart: bool) -> None:
        self._here: Callable[[], R] = partial(work, task)
        self._process: Any = None
        if not apart:
            return
        copied = _without_threads()
        context: Any = get_context("fork" if copied else "spawn")
        self._ear, mouth = context.Pipe(duplex=False)
        process = context.Process(target=_do, args=(work, task if copied else sent, mouth), daemon=True)
        with suppress(OSError):  # no room for another
            process.start()
            self._process = process
        mouth.close()

    def result(self) -> R:
        """Return what the work gave, waiting for it."""
        if self._process is not None:
            try:
                outcome: R = self._ear.recv()
            except (EOFError, OSError):  # it ended without a word, or amid one
                return self._here()
            return outcome
        return self._here()

    def __enter__(self) -> Beside[R]:
        """Return itself."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """End the process, whether it is done or not."""
        if self._process is not None:
            self._process.terminate()
            self._process.join()


def by_halves(
    work: Callable[[T, str], R], task: T, names: Sequence[str], *, effort: Callable[[str], float]
) -> dict[str, R]:
    """Return what work gives for each name, some found beside where that costs next to nothing.

    Both draw the next name when they are done with one, those that take longest first, so that neither waits long for
    the other. Where work fails for several names, the error of any is raised.

    Parameters
    ----------
    work : callable
        A function of a module, of the task and a name.
    task : object
    names : sequence of str
        The results come in their order.
    effort : callable
        Roughly how long a name takes, in any unit.
    """
    deck, hand = os.pipe()
    order = sorted(range(len(names)), key=lambda number: -effort(names[number]))
    os.write(hand, b"".join(number.to_bytes(CARD, "big") for number in order))
    os.close(hand)
    asked = (work, task, names, deck)
    try:
        with Beside(_drawn, asked, sent=None, apart=len(names) > 1 and _copies_are_cheap()) as beside:
            found = _drawn(asked)
            found |= beside.result()
    finally:
        os.close(deck)
    return {name: found[name] if name in found else work(task, name) for name in names}


def _drawn(asked: tuple[Callable[[T, str], R], T, Sequence[str], int]) -> dict[str, R]:
    """Return what work gives for the names drawn from the deck until it is empty."""
    work, task, names, deck = asked
    found = {}
    while card := os.read(deck, CARD):
        name = names[int.from_bytes(card, "big")]
        found[name] = work(task, name)
    return found


def _copies_are_cheap() -> bool:
    """Return whether a copy of this process, itself none, would find a processor to spare."""
    return cores() > 1 and parent_process() is None and _without_threads()


def _without_threads() -> bool:
    """Return whether this process has one thread only, those of libraries counted."""
    return sys.platform == "linux" and len(list(Path("/proc/self/task").iterdir())) == 1


def _do(work: Callable[[T], R], task: T, mouth: Connection) -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # whoever began it ends it
    try:
        mouth.send(work(task))
    except Exception:  # noqa: BLE001 - done again where it can be told
        mouth.close()
