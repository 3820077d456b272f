"""Do slow work beside the screen, one thing at a time, and drop what nobody waits for any more.

Computes: nothing; runs what it is given in one thread.
Units: none.
Source: none.
Limits: work that has begun is finished, its outcome thrown away when its turn is over. The thread ends with the
    process.
"""

from __future__ import annotations

import asyncio
import queue
import threading
from collections.abc import Callable
from typing import Any

Work = Callable[[], Any]
Done = Callable[[Any], None]


class Worker:
    """One thread with a queue, tied to the loop that the screen runs on."""

    def __init__(self) -> None:
        self.turn = 0
        self._queue: queue.PriorityQueue[tuple[int, int, int, Work, Done]] = queue.PriorityQueue()
        self._asked = 0
        self._loop: asyncio.AbstractEventLoop | None = None
        self._thread = threading.Thread(target=self._run, name="slow work", daemon=True)

    def start(self, loop: asyncio.AbstractEventLoop) -> None:
        """Begin, handing results to `loop`."""
        self._loop = loop
        self._thread.start()

    def next_turn(self) -> int:
        """Begin a new turn: what was asked before is no longer wanted."""
        self.turn += 1
        return self.turn

    def ask(self, work: Work, done: Done) -> None:
        """Queue work of this turn; `done` is called on the loop with its outcome, or with the exception it raised."""
        self._put(1, work, done)

    def ask_soon(self, work: Work, done: Done) -> None:
        """Queue work ahead of all that waits."""
        self._put(0, work, done)

    def _put(self, rank: int, work: Work, done: Done) -> None:
        self._asked += 1
        self._queue.put((rank, self._asked, self.turn, work, done))

    def idle(self) -> bool:
        """Return whether nothing waits."""
        return self._queue.empty()

    def _run(self) -> None:
        while True:
            _, _, turn, work, done = self._queue.get()
            if turn != self.turn:
                continue
            outcome: Any
            try:
                outcome = work()
            except Exception as fault:  # noqa: BLE001 - whatever fails is shown on the screen, not lost in a thread
                outcome = fault
            if self._loop is not None:
                self._loop.call_soon_threadsafe(self._hand_over, turn, done, outcome)

    def _hand_over(self, turn: int, done: Done, outcome: Any) -> None:
        if turn == self.turn:
            done(outcome)
