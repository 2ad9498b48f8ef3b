"""Where tasks run: the cores here, or a Dask cluster. Both yield (task number, outcomes) as they
finish; what a task computes does not depend on where."""

from collections.abc import Iterable, Iterator
from concurrent.futures import BrokenExecutor
from contextlib import suppress
from itertools import islice
from os import cpu_count
from queue import Empty, SimpleQueue
from typing import Any, Protocol

from aircolumn import process
from aircolumn.curves import cores
from aircolumn.errors import ComputationError, RequestError
from aircolumn.study.tasks import Outcome, Task, compute_all

LOOK = 5.0  # s, between looks at a cluster
WORKERLESS = 30.0  # s, for which it may have no worker
GO_ON = "finished points are kept: run the same command to go on"
BUNDLE = 4  # tasks that are handed out together
AHEAD = 4  # bundles handed out for each worker before the first is back


def _bundles(count: int, size: int) -> list[range]:
    """Numbers of ``count`` tasks, ``size`` of them together."""
    return [range(k, min(k + size, count)) for k in range(0, count, size)]


class Executor(Protocol):
    """Where tasks run."""

    def run(self, tasks: Iterable[Task]) -> Iterator[tuple[int, list[Outcome]]]:
        """Yield (number, outcomes) of every task as it finishes."""

    def close(self) -> None:
        """Give back what was taken."""


class Cores:
    """All cores of this machine (curves/cores.py)."""

    def __init__(self, workers: int | None = None) -> None:
        self.workers = workers or cpu_count() or 1

    def run(self, tasks: Iterable[Task]) -> Iterator[tuple[int, list[Outcome]]]:
        """Yield (number, outcomes) of every task as it finishes."""
        known = list(tasks)
        # To other processes tasks of one engine travel together: it is sent, and laid out, once.
        size = BUNDLE if cores.uses_processes(self.workers, len(known)) else 1
        bundles = iter(_bundles(len(known), size))
        with cores.pool(self.workers, len(known)) as pool:
            pending: dict[Any, range] = {}
            try:
                while True:
                    for bundle in islice(bundles, AHEAD * self.workers - len(pending)):
                        pending[pool.submit(compute_all, [known[k] for k in bundle])] = bundle
                    if not pending:
                        return
                    for future in cores.first_done(pending):
                        yield from zip(pending.pop(future), future.result(), strict=True)
            except BrokenExecutor:
                raise ComputationError(f"a process that computes points has ended; {GO_ON}") from None
            finally:
                pool.shutdown(wait=True, cancel_futures=True)

    def close(self) -> None:
        """Nothing to give back."""


class Cluster:
    """The workers of a Dask scheduler (the ``cluster`` extra) at ``address``.

    A task whose worker dies is given to another; aircolumn must be installed on every worker.
    """

    def __init__(self, address: str) -> None:
        try:
            from distributed import Client
        except ImportError:
            raise RequestError("a scheduler needs Dask: pip install 'aircolumn[cluster]'") from None
        try:
            self.client = Client(address, timeout=10, set_as_default=False)
        except (OSError, ValueError) as error:
            raise RequestError(f"no Dask scheduler at {address}: {error}") from None

    def run(self, tasks: Iterable[Task]) -> Iterator[tuple[int, list[Outcome]]]:
        """Yield (number, outcomes) of every task as it finishes."""
        finished: SimpleQueue = SimpleQueue()
        known = list(tasks)
        futures = {
            self.client.submit(compute_all, [known[k] for k in bundle], pure=False, retries=5): bundle
            for bundle in _bundles(len(known), BUNDLE)
        }
        try:
            for future in futures:
                future.add_done_callback(finished.put)
            while futures:
                future = self._next(finished)
                yield from zip(futures.pop(future), future.result(), strict=True)
        finally:
            with suppress(Exception):  # of a scheduler that is gone
                self.client.cancel(list(futures))

    def _next(self, finished: SimpleQueue) -> Any:
        """The next future that is done.

        Raises ComputationError if the scheduler is gone, or has had no worker for WORKERLESS.
        """
        alone = 0.0
        while True:
            process.end_if_asked()
            try:
                future = finished.get(timeout=LOOK)
            except Empty:
                alone = 0.0 if self._has_workers() else alone + LOOK
                if alone >= WORKERLESS:
                    raise ComputationError(f"no worker for {WORKERLESS:.0f} s; {GO_ON}") from None
                continue
            if future.cancelled():
                raise ComputationError(f"the scheduler is gone; {GO_ON}")
            return future

    def _has_workers(self) -> bool:
        """Raises ComputationError if the scheduler does not answer."""
        try:
            return bool(self.client.sync(self.client.scheduler.identity)["workers"])
        except Exception:  # what a connection that is gone raises depends on how it went
            raise ComputationError(f"the scheduler does not answer; {GO_ON}") from None

    def close(self) -> None:
        """Leave the scheduler and its workers as they are."""
        with suppress(Exception):
            self.client.close(timeout=5)
