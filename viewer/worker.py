"""Do work beside the screen, one thing at a time at each pace, and drop what nobody waits for any more.

Computes: nothing; edits and the vane are quick, whole verbs slow, flow runs long.
Units: none.
Source: none.
Limits: quick and long work that has begun is finished, its outcome thrown away when its turn is over. Slow work neither
    begins nor goes on while quick work is asked for, or was until just now, and ends when its turn is over: it asks
    between its steps (`canvas.jobs.turns`). The threads end with the process.
"""

from __future__ import annotations

import asyncio
import queue
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from functools import partial
from typing import Any, Literal, get_args

from canvas.jobs.failure import Stopped
from canvas.jobs.turns import standing_aside

Work = Callable[[], Any]
Done = Callable[[Any], None]
Pace = Literal["quick", "slow", "long"]
PACES: tuple[Pace, ...] = get_args(Pace)
REST = 0.25  # slow work waits until nothing quick was asked for this long [s]
BRIEF = 0.1  # and this long after something on the screen was moved [s]


class Worker:
    """A few threads, each with a queue of its own pace, tied to the loop that the screen runs on."""

    def __init__(self) -> None:
        self.turn = 0
        self._queues: dict[Pace, queue.Queue[tuple[int, Work, Done]]] = {pace: queue.Queue() for pace in PACES}
        self._loop: asyncio.AbstractEventLoop | None = None
        self._quick_at = 0.0

    def start(self, loop: asyncio.AbstractEventLoop) -> None:
        """Begin, handing results to `loop`."""
        self._loop = loop
        for pace in PACES:
            threading.Thread(target=self._run, args=(pace,), name=f"{pace} work", daemon=True).start()

    def next_turn(self) -> int:
        """Begin a new turn: what was asked before is no longer wanted."""
        self.turn += 1
        return self.turn

    def ask(self, work: Work, done: Done, *, pace: Pace = "slow") -> None:
        """Queue work of this turn; `done` is called on the loop with its outcome, or with the exception it raised."""
        self._queues[pace].put((self.turn, work, done))

    def hurry(self) -> None:
        """Hold slow work up briefly: something on the screen moves."""
        self._quick_at = max(self._quick_at, time.monotonic() - REST + BRIEF)

    def _run(self, pace: Pace) -> None:
        while True:
            turn, work, done = self._queues[pace].get()
            if pace == "slow":
                with standing_aside(partial(self._aside, turn)):
                    self._do(turn, partial(self._after, turn, work), done)
            elif turn == self.turn:
                self._do(turn, work, done)
            self._queues[pace].task_done()
            if pace == "quick":
                self._quick_at = time.monotonic()

    def _after(self, turn: int, work: Work) -> Any:
        self._aside(turn)
        return work()

    def _aside(self, turn: int) -> None:
        """Wait until nothing quick is asked for; raise `Stopped` where the turn is over."""
        while turn == self.turn and not self._quiet():
            time.sleep(REST / 10)
        if turn != self.turn:
            raise Stopped

    def _quiet(self) -> bool:
        return self._queues["quick"].unfinished_tasks == 0 and time.monotonic() - self._quick_at > REST

    def _do(self, turn: int, work: Work, done: Done) -> None:
        outcome: Any
        try:
            outcome = work()
        except Exception as fault:  # noqa: BLE001 - whatever fails is shown on the screen, not lost in a thread
            outcome = fault
        if self._loop is not None:
            with suppress(RuntimeError):  # the loop has closed: the screen is gone, and nobody waits
                self._loop.call_soon_threadsafe(self._hand_over, turn, done, outcome)

    def _hand_over(self, turn: int, done: Done, outcome: Any) -> None:
        if turn == self.turn:
            done(outcome)
