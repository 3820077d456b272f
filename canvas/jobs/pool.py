"""Run many alike tasks: here, on the processes of this machine, or on a cluster, through one interface.

Computes: results in the order of the tasks, whatever order they end in; how many tasks had to be run again.
Units: counts.
Source: concurrent.futures; dask.distributed (extra `cluster`).
Limits: work and tasks must be picklable: a function of a module and plain arguments. A task whose worker dies is run
    again, at most three times; a task that raises ends the run with its own error.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from importlib import import_module
from multiprocessing import get_context
from typing import Any, Generic, Protocol, TypeVar

from canvas.jobs.failure import CouldNot
from canvas.jobs.progress import SILENT, Progress

T = TypeVar("T")
R = TypeVar("R")
MOST_TRIES = 4  # of one task
STARTED = "canvas-task-started"  # topic under which a cluster's workers say that they begin a task


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ran(Generic[R]):
    """What a run gave.

    Attributes
    ----------
    results : tuple
        In the order of the tasks.
    reran : int
        Tasks that were begun again because their worker went.
    """

    results: tuple[R, ...]
    reran: int


class Pool(Protocol):
    """Whatever can run tasks."""

    def run(self, work: Callable[[T], R], tasks: Sequence[T], *, progress: Progress = SILENT) -> Ran[R]:
        """Return ``work(task)`` for each task, in order.

        Parameters
        ----------
        work : callable
            Can be pickled, with its task and what it gives, where the pool has other processes.
        tasks : sequence
        progress : Progress
            Told the number of tasks done.

        Raises
        ------
        CouldNot
            When a task takes its worker down with it again and again.
        """
        ...

    def close(self) -> None:
        """Let the workers go."""
        ...


class HerePool:
    """Runs tasks one after another in this process."""

    def run(self, work: Callable[[T], R], tasks: Sequence[T], *, progress: Progress = SILENT) -> Ran[R]:
        """Return ``work(task)`` for each task, in order.

        Parameters
        ----------
        work : callable
            What it raises goes through.
        tasks : sequence
        progress : Progress
            Told the number of tasks done.
        """
        results = []
        for number, task in enumerate(tasks):
            progress.step("variants", number, len(tasks))
            results.append(work(task))
        return Ran(results=tuple(results), reran=0)

    def close(self) -> None:
        """Do nothing: there are no workers."""


class LocalPool:
    """Runs tasks on processes of this machine, started afresh so that no state is shared.

    Parameters
    ----------
    workers : int, optional
        All cores where absent.
    """

    def __init__(self, workers: int | None = None) -> None:
        self.workers = workers or cores()
        self._executor: ProcessPoolExecutor | None = None

    def run(self, work: Callable[[T], R], tasks: Sequence[T], *, progress: Progress = SILENT) -> Ran[R]:
        """Return ``work(task)`` for each task, in order.

        Parameters
        ----------
        work : callable
            Can be pickled, as its task and what it gives; what it raises goes through.
        tasks : sequence
        progress : Progress
            Told the number of tasks done.

        Raises
        ------
        CouldNot
            When a task takes its worker down with it again and again.
        """
        results: dict[int, R] = {}
        tries = [0] * len(tasks)
        reran = 0
        while len(results) < len(tasks):
            left = [number for number in range(len(tasks)) if number not in results]
            begun = self._round(work, tasks, left, results, progress)
            again = [number for number in begun if number not in results]
            for number in again:
                tries[number] += 1
            reran += len(again)
            if any(count >= MOST_TRIES for count in tries):
                raise CouldNot(
                    "A task took its worker down with it every time.", "Free some memory, or use one worker."
                )
        return Ran(results=tuple(results[number] for number in range(len(tasks))), reran=reran)

    def _round(
        self,
        work: Callable[[T], R],
        tasks: Sequence[T],
        left: Sequence[int],
        results: dict[int, R],
        progress: Progress,
    ) -> list[int]:
        """Run what is left until all is done or a worker dies, a few tasks ahead; return the tasks that were begun."""
        if self._executor is None:
            self._executor = ProcessPoolExecutor(self.workers, mp_context=get_context("spawn"))
        waiting = list(reversed(left))
        pending: dict[Future[R], int] = {}
        begun: list[int] = []
        try:
            while waiting or pending:
                while waiting and len(pending) < 2 * self.workers:
                    number = waiting.pop()
                    begun.append(number)
                    pending[self._executor.submit(work, tasks[number])] = number
                progress.step("variants", len(results), len(tasks))
                done, _ = wait(pending, return_when=FIRST_COMPLETED)
                for future in done:
                    results[pending[future]] = future.result()
                    del pending[future]
        except BrokenProcessPool:
            for future, number in pending.items():
                if future.done() and future.exception() is None:
                    results[number] = future.result()
            self.close()
        except BaseException:
            for future in pending:
                future.cancel()
            raise
        return begun

    def close(self) -> None:
        """Let the workers go."""
        if self._executor is not None:
            self._executor.shutdown(cancel_futures=True)
            self._executor = None


def cores() -> int:
    """Return how many processors this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


class ClusterPool:
    """Runs tasks on a dask.distributed cluster.

    Parameters
    ----------
    address : str or cluster
        Of the scheduler, such as ``tcp://10.0.0.4:8786``, or a cluster object.
    patience : float
        How long to wait for it to answer [s].

    Raises
    ------
    CouldNot
        When dask.distributed is not installed or nobody answers at the address.
    """

    def __init__(self, address: Any, *, patience: float = 10.0) -> None:
        try:
            distributed: Any = import_module("distributed")
        except ImportError as error:
            raise CouldNot(
                "dask.distributed is not installed.", 'Install it with pip install "cockpit-canvas-aid[cluster]".'
            ) from error
        try:
            self._client: Any = distributed.Client(address, timeout=patience, set_as_default=False)
        except (OSError, TimeoutError, ValueError) as error:
            raise CouldNot(f"No cluster answers at {address}.", "Start a scheduler there, or run here.") from error

    def run(self, work: Callable[[T], R], tasks: Sequence[T], *, progress: Progress = SILENT) -> Ran[R]:
        """Return ``work(task)`` for each task, in order.

        Parameters
        ----------
        work : callable
            Can be pickled, as its task and what it gives; what it raises goes through.
        tasks : sequence
        progress : Progress
            Told the number of tasks done.

        Raises
        ------
        CouldNot
            When a task takes its workers down with it again and again.
        """
        distributed: Any = import_module("distributed")
        before = len(self._client.get_events(STARTED))
        futures = [self._client.submit(_said, work, task, pure=False) for task in tasks]
        try:
            for number, _ in enumerate(distributed.as_completed(futures, loop=self._client.loop)):
                progress.step("variants", number, len(tasks))
            results = tuple(self._client.gather(futures))
        except distributed.KilledWorker as error:
            raise CouldNot(
                "A task took its worker down with it every time.", "Give the workers more memory."
            ) from error
        finally:
            self._client.cancel(futures)
        started = len(self._client.get_events(STARTED)) - before
        return Ran(results=results, reran=max(started - len(tasks), 0))

    def close(self) -> None:
        """Leave the cluster; its workers stay for others."""
        self._client.close()


def _said(work: Callable[[T], R], task: T) -> R:
    """Do a task on a cluster's worker, saying first that it begins."""
    distributed: Any = import_module("distributed")
    distributed.get_worker().log_event(STARTED, 1)
    return work(task)
