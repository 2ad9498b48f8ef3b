"""Where compiled code is kept on disk."""

import atexit
import os
import shutil
import sys
import tempfile
from pathlib import Path
from typing import Any

import numba

from aircolumn.sources import KERNELS, PACKAGE, digest_of
from aircolumn.user_folder import base_folder, holds_ours, usable

_config: Any = numba.config  # its names are made at run time


def cache_folder(package: Path = PACKAGE) -> str:
    """Where compiled code of ``package`` is kept: one folder per state of the sources that decide
    on it.

    Numba looks only at the file of the function it loads, not at the files of the functions and
    constants that one uses, and would go on using stale code after an edit.
    """
    return str(base_folder() / "aircolumn" / digest_of(KERNELS, package=package))


def kept_in() -> str:
    """The folder in which this process keeps compiled code."""
    return str(_config.CACHE_DIR)


_lasting: list[tempfile.TemporaryDirectory] = []


def tidy_up() -> None:
    """Remove a folder that was to last as long as the process."""
    while _lasting:
        _lasting.pop().cleanup()


def choose_folder() -> None:
    """Tell Numba where to keep compiled code: in the user's cache, or for want of one in a folder that
    lasts as long as the process. Before the first function is decorated. A cache that can only be read is
    copied there: Numba takes none that it cannot write."""
    if "NUMBA_CACHE_DIR" in os.environ:
        return
    wanted = Path(cache_folder())
    if not usable(wanted):
        _lasting.append(tempfile.TemporaryDirectory(prefix="aircolumn-"))
        atexit.register(tidy_up)
        here = Path(_lasting[-1].name)
        if not _copied(wanted, here):
            print(
                f"{wanted} cannot be written, or others may write there: what is compiled now is lost"
                " at the end (set XDG_CACHE_HOME to a folder of your own)",
                file=sys.stderr,
            )
        wanted = here
    _config.CACHE_DIR = str(wanted)


def _copied(kept: Path, here: Path) -> bool:
    """Whether compiled code is kept in ``kept``, by us, and could be copied from there."""
    if not holds_ours(kept):
        return False
    try:
        shutil.copytree(kept, here, dirs_exist_ok=True)
    except OSError:  # shutil.Error too: some files cannot be read
        return False
    return True
