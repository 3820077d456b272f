"""Choose where the lattice runs and hold its arrays there.

Computes: nothing; passes arrays and calls on to the processor or the graphics card.
Units: lattice units.
Source: none.
Limits: a card that is not there falls back to the processor by itself, asked for or not; one that fails on the way says
    so by `CardFailed`. numba's simulator of a card counts as one only where a card is asked for: it takes hours.
"""

from __future__ import annotations

from types import ModuleType
from typing import Any, Literal, Protocol

import numpy as np

Device = Literal["auto", "cpu", "card"]
CACHE_LINE = 64  # bytes


class CardFailed(Exception):
    """A graphics card that was there and then would not do the work: no memory left, no compiler, a lost driver."""


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
        """Return a copy that begins on a cache line, so that loops take the same cells together in every run."""
        values = np.asarray(values)
        room = np.empty(values.nbytes + CACHE_LINE, dtype=np.uint8)
        begin = -room.ctypes.data % CACHE_LINE
        held = room[begin : begin + values.nbytes].view(values.dtype).reshape(values.shape)
        held[...] = values
        return held

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
        self._wrong = _card_errors()

    def array(self, values: Any) -> Any:
        """Return a copy on the card."""
        held = np.array(values, order="C")
        try:
            return self._cuda.to_device(held if held.size else np.zeros(1, dtype=held.dtype))
        except self._wrong as error:
            raise CardFailed(str(error)) from error

    def host(self, array: Any) -> Any:
        """Return a copy on the host."""
        try:
            return array.copy_to_host()
        except self._wrong as error:
            raise CardFailed(str(error)) from error

    def call(self, work: str, threads: int, *arguments: Any) -> None:
        """Launch the loop named `work`, one thread an item."""
        if not threads:
            return
        blocks = -(-threads // self._loops.THREADS)
        try:
            getattr(self._loops, work)[blocks, self._loops.THREADS](*arguments)
        except self._wrong as error:
            raise CardFailed(str(error)) from error


def _card_errors() -> tuple[type[Exception], ...]:
    """Return what numba raises where a card fails."""
    from numba.core.errors import NumbaError
    from numba.cuda.cudadrv import driver, error

    named = [one for one in vars(error).values() if isinstance(one, type) and issubclass(one, Exception)]
    return (*named, driver.CudaAPIError, NumbaError, MemoryError)


def backend(device: Device = "auto") -> Backend:
    """Return the device asked for, or the processor where there is no card.

    Parameters
    ----------
    device : str
        ``auto``, ``cpu`` or ``card``.
    """
    return Card() if takes_card(device) else Processor()


def takes_card(device: Device) -> bool:
    """Return whether the device asked for comes to a graphics card on this machine."""
    if device == "cpu" or not has_card():
        return False
    return device == "card" or not simulated()


def has_card() -> bool:
    """Return whether a graphics card can be used."""
    try:
        from canvas.wind.flow import cuda as loops
    except (ImportError, OSError):
        return False
    return loops.available()


def simulated() -> bool:
    """Return whether numba only plays a card (NUMBA_ENABLE_CUDASIM)."""
    from numba import config

    return bool(vars(config)["ENABLE_CUDASIM"])
