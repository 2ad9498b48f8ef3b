"""Making compiled code: told while it lasts, and out of the garbage collector's way."""

import gc
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from threading import RLock

from tqdm import tqdm

# What is called has had its turn after this share of the time; then comes the entry itself.
BEFORE_THE_END = 0.8
TELL_AT = 0.15  # of the whole; before, the pace says little
LINE = "compiling: {percentage:.0f} %, about {remaining} left"
_lock = RLock()
#: Called with the name of each function whose turn it is to be compiled.
watchers: list[Callable[[str], None]] = []


@contextmanager
def at_work(functions: int) -> Iterator[None]:
    """While an entry is loaded or compiled; functions: how many it may call.

    What a compiler makes lives as long as it works, and the collector goes through all of it again
    and again: without it, compiling takes a fifth less time.
    """
    with _lock:  # one thread compiles, the others wait for it
        watch, was_on = _Watch(functions), gc.isenabled()
        watchers.append(watch)
        gc.disable()
        try:
            yield
        finally:
            if was_on:
                gc.enable()
            watchers.remove(watch)
            watch.close()


class _Watch:
    """Says how far compiling is, and the time remaining at the pace so far."""

    def __init__(self, functions: int) -> None:
        self.whole = functions / BEFORE_THE_END
        self.start = time.monotonic()
        self.seen: set[str] = set()
        self.told = False
        self.bar: tqdm | None = None

    def __call__(self, name: str) -> None:
        """A function's turn."""
        if self.bar is None:
            self.bar = tqdm(total=round(self.whole), disable=None, leave=False, bar_format=LINE)
        if name not in self.seen:
            self.seen.add(name)
            self.bar.update()
        share = len(self.seen) / self.whole
        if self.bar.disable and not self.told and share > TELL_AT:  # not on a terminal: say it once
            self.told = True
            left = (time.monotonic() - self.start) * (1.0 / share - 1.0)
            print(f"... about {left:.0f} s remaining", file=sys.stderr, flush=True)

    def close(self) -> None:
        """Compiling is done: take the line off the terminal."""
        if self.bar is not None:
            self.bar.close()
