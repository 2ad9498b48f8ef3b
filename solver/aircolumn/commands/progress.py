"""A progress bar, and what can be loaded while the march runs."""

from importlib import import_module
from threading import Event, Thread
from typing import Any, Self

from tqdm import tqdm

SHORT = 0.15  # s: a march that is over by then is not worth loading anything beside it


class Progress:
    """A progress bar on the terminal (none when the output is not one)."""

    def __init__(self, total: int | None) -> None:
        self.bar = tqdm(total=total, unit="point", disable=None, leave=False)
        self.over = Event()

    def __enter__(self) -> Self:
        # The march lets go of the interpreter: load what the report needs meanwhile.
        Thread(target=_load_report, args=(self.over,), daemon=True).start()
        return self

    def __call__(self, done: int, total: int | None) -> None:
        if self.bar.total is None and total and done:  # stored points say nothing about the rate
            self.bar.initial = self.bar.n = done
        self.bar.total = total or self.bar.total
        self.bar.update(done - self.bar.n)

    def __exit__(self, *_: Any) -> None:
        self.over.set()
        self.bar.close()


def _load_report(over: Event) -> None:
    """Load what tables need, and while there is still something to compute what pictures need:
    else it would only keep the tables waiting."""
    import_module("xarray")
    if not over.wait(SHORT):
        import_module("aircolumn.output.plots")
