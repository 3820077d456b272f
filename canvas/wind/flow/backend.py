"""Choose where the lattice runs and hold its arrays there.

Computes: nothing; passes arrays and calls on to the processor or the graphics card.
Units: lattice units.
Source: none.
Limits: `auto` takes a card when there is one and falls back to the processor by itself.
"""

from __future__ import annotations

from types import ModuleType
from typing import Any, Literal, Protocol

import numpy as np

from canvas.jobs.failure import CouldNot

Device = Literal["auto", "cpu", "cuda"]


class Backend(Protocol):
    """What the solver asks of a device."""

    name: str

    def array(self, values: Any) -> Any:
        """Return the values as an array on the device."""

    def host(self, array: Any) -> Any:
        """Return a device array as a numpy array."""

    def call(self, work: str, threads: int, *arguments: Any) -> None:
        """Run the loop named `work` over `threads` items."""


class Processor:
    """All threads of the processor."""

    name = "cpu"

    def __init__(self) -> None:
        from canvas.wind.flow import cpu

        self._loops: ModuleType = cpu

    def array(self, values: Any) -> Any:
        """Return a contiguous copy."""
        return np.array(values, order="C")

    def host(self, array: Any) -> Any:
        """Return the array itself."""
        return array

    def call(self, work: str, threads: int, *arguments: Any) -> None:
        """Run the loop named `work`."""
        if threads:
            getattr(self._loops, work)(*arguments)


class Card:
    """One graphics card."""

    name = "cuda"

    def __init__(self) -> None:
        from numba import cuda

        from canvas.wind.flow import cuda as loops

        self._cuda: Any = cuda
        self._loops: ModuleType = loops

    def array(self, values: Any) -> Any:
        """Return a copy on the card."""
        held = np.array(values, order="C")
        return self._cuda.to_device(held if held.size else np.zeros(1, dtype=held.dtype))

    def host(self, array: Any) -> Any:
        """Return a copy on the host."""
        return array.copy_to_host()

    def call(self, work: str, threads: int, *arguments: Any) -> None:
        """Launch the loop named `work`, one thread an item."""
        if not threads:
            return
        blocks = -(-threads // self._loops.THREADS)
        getattr(self._loops, work)[blocks, self._loops.THREADS](*arguments)


def backend(device: Device = "auto") -> Backend:
    """Return the device asked for.

    Parameters
    ----------
    device : str
        ``auto``, ``cpu`` or ``cuda``.

    Raises
    ------
    CouldNot
        When ``cuda`` is asked for and no card can be used.
    """
    if device == "cpu":
        return Processor()
    if has_card():
        return Card()
    if device == "cuda":
        raise CouldNot("No graphics card can be used for the air flow.", "Leave the device at auto or cpu.")
    return Processor()


def has_card() -> bool:
    """Return whether a graphics card can be used."""
    try:
        from canvas.wind.flow import cuda as loops
    except (ImportError, OSError):
        return False
    return loops.available()
