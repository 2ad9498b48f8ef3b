"""A progress bar, and what can be loaded while the march runs."""

import sys
from contextlib import ExitStack
from importlib import import_module
from pathlib import Path
from threading import Event, Thread
from time import monotonic
from typing import Any, Self

from tqdm import tqdm

from aircolumn.curves.kept_points import keeping

EVERY = 5.0  # s, between lines where there is no terminal
SHORT = 0.15  # s: a march that is over by then is not worth loading anything beside it


class Progress:
    """A progress bar on the terminal; where there is none, a line every few seconds. keep: the folder in
    which points are kept until the command's results are there."""

    def __init__(self, total: int | None, keep: Path | None = None) -> None:
        self.bar = tqdm(total=total, unit="point", disable=None, leave=False, smoothing=0.0)
        self.over, self.scope = Event(), ExitStack()
        self.kept = None if keep is None else self.scope.enter_context(keeping(keep))
        self.begun = self.told = monotonic()
        self.first: int | None = None

    def __enter__(self) -> Self:
        # The march lets go of the interpreter: load what the report needs meanwhile.
        Thread(target=_load_report, args=(self.over,), daemon=True).start()
        return self

    def __call__(self, done: int, total: int | None) -> None:
        if self.first is None:  # points of a store say nothing about the rate
            self.first = done if self.bar.total is None and total else 0
        before = self.first if self.kept is None else self.kept.taken
        if self.bar.disable:
            self._tell(done, total, before)
            return
        self.bar.initial = before
        self.bar.total = total or self.bar.total
        self.bar.update(done - self.bar.n)

    def _tell(self, done: int, total: int | None, before: int) -> None:
        now = monotonic()
        if now - self.told < EVERY:
            return
        self.told = now
        left = (now - self.begun) * ((total or done) - done) / max(done - before, 1)
        more = f" of {total}, about {left:.0f} s remaining" if total else ""
        print(f"{done} points computed{more}", file=sys.stderr, flush=True)

    def __exit__(self, *error: Any) -> None:
        self.over.set()
        self.bar.close()
        self.scope.__exit__(*error)


def _load_report(over: Event) -> None:
    """Load what tables need, and while there is still something to compute what pictures need:
    else it would only keep the tables waiting."""
    import_module("xarray")
    if not over.wait(SHORT):
        import_module("aircolumn.output.plots")
