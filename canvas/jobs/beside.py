"""Do one piece of work in a process of its own, beside what this one does.

Computes: whatever it is given.
Units: none.
Source: multiprocessing, started afresh so that no state is shared.
Limits: work, task and outcome must be picklable. Where the process fails, for whatever reason, the work is done again
    here, so that its own error is raised and a lost process loses nothing.
"""

from __future__ import annotations

import signal
from collections.abc import Callable
from functools import partial
from multiprocessing import get_context
from multiprocessing.connection import Connection
from types import TracebackType
from typing import Any, Generic, TypeVar

T = TypeVar("T")
R = TypeVar("R")


class Beside(Generic[R]):
    """A piece of work that has begun beside this process; as a context, it is ended when the context is left.

    Parameters
    ----------
    work : callable
        A function of a module.
    task : object
        Its one argument.
    apart : bool
        Whether there is a processor to spare for it; where not, it is done here when it is asked for.
    """

    def __init__(self, work: Callable[[T], R], task: T, *, apart: bool) -> None:
        self._here: Callable[[], R] = partial(work, task)
        self._process: Any = None
        if not apart:
            return
        afresh = get_context("spawn")
        self._ear, mouth = afresh.Pipe(duplex=False)
        self._process = afresh.Process(target=_do, args=(work, task, mouth), daemon=True)
        self._process.start()
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


def _do(work: Callable[[T], R], task: T, mouth: Connection) -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # whoever began it ends it
    try:
        mouth.send(work(task))
    except Exception:  # noqa: BLE001 - done again where it can be told
        mouth.close()
