"""The program as a process of its own. What it does to the interpreter, it does here only: whoever
imports aircolumn, or calls ``aircolumn.cli.main``, has it as it was."""

import gc
import os
import signal
import sys
from io import TextIOWrapper
from types import FrameType

from aircolumn import process

#: what xarray loads, if installed, for nothing
UNWANTED = ("dask", "distributed", "pint", "cupy", "sparse")
# The points share the cores among themselves; linear algebra that starts threads of its own, which
# then wait in a busy loop, only takes time from them. Read by numpy when it is loaded.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")


def _ask_to_end(number: int, frame: FrameType | None) -> None:
    process.asked_to_end = True
    raise KeyboardInterrupt


def run() -> None:
    """The process: ``cli.main``, with little garbage collection and without the interpreter's tidying up
    of compiled code at the end, a fifth of the time of a curve. All files are closed by then."""
    process.as_program = True
    gc.set_threshold(100_000)
    signal.signal(signal.SIGTERM, _ask_to_end)
    if signal.getsignal(signal.SIGINT) is signal.default_int_handler:  # else who started us wants it ignored
        signal.signal(signal.SIGINT, _ask_to_end)
    for stream in (sys.stdout, sys.stderr):  # a terminal that lacks a letter shows its code
        if isinstance(stream, TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")
    sys.setswitchinterval(3e-4)  # a thread back from a march should not wait 5 ms for an import
    if "--scheduler" not in sys.argv:  # else xarray loads these, if installed, for nothing
        sys.modules.update(dict.fromkeys(UNWANTED))  # type: ignore[arg-type]
    try:
        from aircolumn.cli import main

        code: object = main()
    except SystemExit as stop:  # argparse
        code = stop.code
    except KeyboardInterrupt:  # while a command was being loaded
        code = 130
    except MemoryError:
        print("there is not enough memory: aircolumn needs about 500 MB", file=sys.stderr)
        code = 1
    except Exception:  # in which Python may have wrapped an interrupt
        if not process.asked_to_end:
            raise
        code = 130
    cache = sys.modules.get("aircolumn.flow.compiled.cache")
    if cache is not None:
        cache.tidy_up()
    for stream in (sys.stderr, sys.stdout):  # None if it was closed before the start
        try:
            if stream is not None:
                stream.flush()
        except OSError:
            code = code or 1
    os._exit(code if isinstance(code, int) else 0 if code is None else 2)
