"""Points on all cores: threads of this process, or processes of their own.

The compiled march lets go of the interpreter's lock, so a few threads use a few cores. What a point needs
of Python besides (layout, snapshots, figures) holds the lock, and is a ceiling on many cores: from
MANY_CORES on, and for MANY_JOBS and more, the program (startup.py) uses processes. They are forked from a
server that has the compiled march loaded, so that each is there at once. A script that imports aircolumn
keeps threads: it would be run anew by every process, unless it is written for that.
"""

import os
import signal
import sys
import threading
import time
from collections.abc import Iterable
from concurrent.futures import FIRST_COMPLETED, Executor, Future, ThreadPoolExecutor, wait

from aircolumn import process

MANY_CORES, MANY_JOBS = 5, 200
LOOK = 1.0  # s, between looks at whether the program still runs


def pool(workers: int | None, jobs: int) -> Executor:
    """An executor of as many workers as asked for (default: one a core), for about ``jobs`` jobs."""
    count = workers or os.cpu_count() or 1
    return processes(count) if uses_processes(count, jobs) else ThreadPoolExecutor(count)


def uses_processes(count: int, jobs: int) -> bool:
    """Whether so many workers, for so many jobs, are processes."""
    return process.as_program and count >= MANY_CORES and jobs >= MANY_JOBS and sys.platform == "linux"


def first_done(pending: Iterable[Future]) -> set[Future]:
    """Those of ``pending`` that are done, once one is. Raises KeyboardInterrupt if Ctrl-C or SIGTERM was
    lost before (process.py)."""
    process.end_if_asked()
    return wait(pending, return_when=FIRST_COMPLETED).done


def processes(count: int) -> Executor:
    """An executor of ``count`` processes. About 150 MB each, most of it shared between them."""
    from concurrent.futures import ProcessPoolExecutor  # slow to load, and seldom needed
    from multiprocessing import get_context

    context = get_context("forkserver")
    context.set_forkserver_preload(["aircolumn.study.loaded"])
    return ProcessPoolExecutor(count, mp_context=context, initializer=_begin, initargs=(os.getpid(),))


def _begin(program: int) -> None:
    """In a worker: leave Ctrl-C to the program, and end with it, however it ends."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    threading.Thread(target=_end_with, args=(program,), daemon=True).start()


def _end_with(program: int) -> None:
    while os.path.exists(f"/proc/{program}"):
        time.sleep(LOOK)
    os._exit(1)
