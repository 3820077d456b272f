"""Say what a run of the air flow will take before it starts, and refuse it when it will not fit.

Computes: memory free on this machine; words for what a run needs.
Units: bytes, seconds.
Source: none.
Limits: the time is a guess from one machine's updates a second; a graphics card's own memory is not asked for.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from canvas.jobs.failure import CouldNot

BYTES_A_CELL = 200  # at most, while the finest grid is filled: measured, means kept
BYTES_PAUSED = 19 * 4 + 20  # one set of populations, and means
CPU_UPDATES, CARD_UPDATES = 90e6, 5e9  # a second, for the estimate; processors did 59 to 193
FINE_AT_ONCE = 2  # runs
FREE = 0.9  # of the memory that is free, how much may be taken
FEW_CELLS, FEW_UPDATES = 500_000, 50e6  # on so small grids what passes between them takes half the time


def updates_a_second(device: str, cells: int) -> float:
    """Return how many cells a device is guessed to update in a second.

    Parameters
    ----------
    device : str
        ``card`` or another.
    cells : int
        Of all grids of a run.
    """
    if device == "card":
        return CARD_UPDATES
    return FEW_UPDATES if cells < FEW_CELLS else CPU_UPDATES


def at_once(threads: int, cells: int, *, coarse: bool) -> int:
    """Return how many runs are marched side by side on the processor, each with its share of the threads.

    Threads that march one run wait for each other at every loop: small grids go a thread each, fine ones two by two
    where that leaves no thread idle.

    Parameters
    ----------
    threads : int
        Of the processor.
    cells : int
        Of all grids of the largest run; no more go at once than there is memory for.
    coarse : bool
        Whether its cells only look for wakes.
    """
    even = FINE_AT_ONCE if threads % FINE_AT_ONCE == 0 else 1
    fit = min(FREE * free_memory() / (cells * BYTES_A_CELL), threads)
    return max(int(min(threads if coarse else even, fit)), 1)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Need:
    """What a run will take.

    Attributes
    ----------
    cells : int
        Of the largest angle.
    memory : float
        Of as many as go side by side [bytes].
    updates : float
        Cell updates in all.
    seconds : float
        A guess.
    """

    cells: int
    memory: float
    updates: float
    seconds: float

    def said(self) -> str:
        """Return it in words, to be shown before the run."""
        return (
            f"air flow: {self.cells / 1e6:.1f} million cells, {self.memory / 1e9:.1f} GB, at most "
            f"{self.updates / 1e9:.0f} thousand million updates, about {max(self.seconds / 60.0, 1.0):.0f} min, "
            "and more where an angle has to be averaged longer"
        )


def free_memory() -> float:
    """Return memory that can be had [bytes]; infinite where the system does not say."""
    try:
        lines = Path("/proc/meminfo").read_text(encoding="ascii").splitlines()
    except OSError:
        return float("inf")
    held = {line.split(":")[0]: float(line.split()[1]) * 1024 for line in lines}
    return held.get("MemAvailable", float("inf"))


def refuse_if_too_large(need: Need) -> None:
    """Raise where a run will not fit in memory.

    Raises
    ------
    CouldNot
        With what it needs and what there is.
    """
    if need.memory > FREE * free_memory():
        raise CouldNot(
            f"The air flow needs {need.memory / 1e9:.1f} GB, of which {free_memory() / 1e9:.1f} are free.",
            "Use a larger cell.",
        )
