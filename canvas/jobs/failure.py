"""Say that work could not be done, as against input that is wrong.

Computes: nothing; one exception and its exit code.
Units: none.
Source: exit codes after the command line's own convention: 3 could not be done, 130 stopped.
Limits: wrong input is `canvas.design.problems.DesignError`, never this.
"""

from __future__ import annotations


class CouldNot(Exception):
    """Raised when valid input meets work that cannot be finished: disk, memory, no convergence, an extra missing.

    Parameters
    ----------
    what : str
        What could not be done, in a sentence, naming file, panel or set.
    advice : str
        What would do instead.
    """

    def __init__(self, what: str, advice: str) -> None:
        super().__init__(f"{what} {advice}".strip())
        self.what = what
        self.advice = advice

    def __reduce__(self) -> tuple[type[CouldNot], tuple[str, str]]:
        """Return how to make it again, so that it comes back whole from another process."""
        return type(self), (self.what, self.advice)


class Stopped(Exception):
    """Raised inside long work when the user asked it to stop."""
