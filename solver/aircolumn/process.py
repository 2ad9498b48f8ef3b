"""What kind of process this is: the program's own (startup.py), or that of somebody who imports us."""

from contextlib import suppress
from importlib import import_module
from threading import Thread

#: Set by startup.py. Then the process may be treated as ours, and its main module be imported anew.
as_program = False


def load_meanwhile(module: str) -> None:
    """Load a module that is slow to load while points are computed, which leaves the interpreter free; what
    is wrong with it is told where it is needed."""

    def load() -> None:
        with suppress(Exception):
            import_module(module)

    Thread(target=load, daemon=True).start()
