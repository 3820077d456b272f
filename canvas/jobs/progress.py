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

        Parameters
        ----------
        what : str
            What is being done, as the user reads it.
        done, total : int

        Raises
        ------
        Stopped
            When the user has asked to stop.
        """
        if self._stopping is not None and self._stopping():
            raise Stopped(what)
        if self._show is not None:
            self._show(what, done, total)

    def within(self, what: str, done: int, total: int) -> Progress:
        """Return what the parts of one long step tell; they are shown after the step, and stop with it.

        Parameters
        ----------
        what : str
        done, total : int
            How many steps come before this one, of how many.
        """
        self.step(what, done, total)
        if self._show is None:
            return self
        show, step = self._show, f"{what} {done + 1} of {total}"
        return Progress(lambda part, one, of: show(f"{step}, {part}", one, of), stopping=self._stopping)


SILENT = Progress()
