"""Report how far long work has come, and let it be stopped.

Computes: nothing; a small object that long work calls and a front end draws.
Units: counts; seconds where said.
Source: none.
Limits: whoever draws it decides how; the default draws nothing.
"""

from __future__ import annotations

from collections.abc import Callable

from canvas.jobs.failure import Stopped


class Progress:
    """What long work tells the outside: how many of how many, and of what.

    Parameters
    ----------
    show : callable, optional
        Called as ``show(what, done, total)`` at each step.
    stopping : callable, optional
        Asked at each step; true ends the work with `Stopped`.
    """

    def __init__(
        self,
        show: Callable[[str, int, int], None] | None = None,
        *,
        stopping: Callable[[], bool] | None = None,
    ) -> None:
        self._show = show
        self._stopping = stopping

    def step(self, what: str, done: int, total: int) -> None:
        """Say that `done` of `total` steps of `what` are finished.

        Raises
        ------
        Stopped
            When the user has asked to stop.
        """
        if self._stopping is not None and self._stopping():
            raise Stopped(what)
        if self._show is not None:
            self._show(what, done, total)


SILENT = Progress()
