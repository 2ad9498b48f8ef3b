"""Where tasks run: threads here, or a Dask cluster. Both yield (task number, outcomes) as they
finish; what a task computes does not depend on where."""

from concurrent.futures import FIRST_COMPLETED, ThreadPoolExecutor, wait
from itertools import islice
from os import cpu_count

from aircolumn.errors import RequestError
from aircolumn.study.work import compute

AHEAD = 4  # tasks handed out for each worker before the first is back


class Threads:
    """All cores of this machine: the compiled march lets go of the interpreter's lock."""

    def __init__(self, workers: int | None = None):
        self.workers = workers or cpu_count() or 1

    def run(self, tasks):
        """Yield (number, outcomes) of every task as it finishes."""
        numbered = iter(enumerate(tasks))
        with ThreadPoolExecutor(self.workers) as pool:
            pending = {}
            try:
                while True:
                    for k, task in islice(numbered, AHEAD * self.workers - len(pending)):
                        pending[pool.submit(compute, task)] = k
                    if not pending:
                        return
                    done, _ = wait(pending, return_when=FIRST_COMPLETED)
                    for future in done:
                        yield pending.pop(future), future.result()
            finally:
                pool.shutdown(wait=True, cancel_futures=True)

    def close(self):
        """Nothing to give back."""


class Cluster:
    """The workers of a Dask scheduler (the ``cluster`` extra) at ``address``.

    A task whose worker dies is given to another; aircolumn must be installed on every worker.
    """

    def __init__(self, address: str):
        try:
            from distributed import Client
        except ImportError:
            raise RequestError("a scheduler needs Dask: pip install 'aircolumn[cluster]'") from None
        try:
            self.client = Client(address, timeout=10, set_as_default=False)
        except (OSError, ValueError) as error:
            raise RequestError(f"no Dask scheduler at {address}: {error}") from None

    def run(self, tasks):
        """Yield (number, outcomes) of every task as it finishes."""
        from distributed import as_completed

        futures = {
            self.client.submit(compute, task, pure=False, retries=5): k
            for k, task in enumerate(tasks)
        }
        try:
            for future in as_completed(list(futures), loop=self.client.loop):
                yield futures.pop(future), future.result()
        finally:
            self.client.cancel(list(futures))

    def close(self):
        """Leave the scheduler and its workers as they are."""
        self.client.close()
