"""Where compiled code is kept on disk."""

import atexit
import shutil
import sys
import tempfile
from functools import cache
from pathlib import Path

from aircolumn.sources import KERNELS, PACKAGE, digest_of
from aircolumn.user_folder import base_folder, holds_ours, usable


def cache_folder(package: Path = PACKAGE) -> Path:
    """Where compiled code of ``package`` is kept: one folder per state of the sources that decide on it."""
    return base_folder() / "aircolumn" / digest_of(KERNELS, package=package)


_lasting: list[tempfile.TemporaryDirectory] = []


def tidy_up() -> None:
    """Remove a folder that was to last as long as the process."""
    while _lasting:
        _lasting.pop().cleanup()


@cache
def kept_in() -> Path:
    """The folder in which this process keeps compiled code: in the user's cache, or for want of one a folder
    that lasts as long as the process, with what can be read of the other."""
    wanted = cache_folder()
    if usable(wanted):
        return wanted
    _lasting.append(tempfile.TemporaryDirectory(prefix="aircolumn-"))
    atexit.register(tidy_up)
    here = Path(_lasting[-1].name)
    if not _copied(wanted, here):
        print(
            f"{wanted} cannot be written, or others may write there: what is compiled now is lost"
            " at the end (set XDG_CACHE_HOME to a folder of your own)",
            file=sys.stderr,
        )
    return here


def _copied(kept: Path, here: Path) -> bool:
    """Whether compiled code is kept in ``kept``, by us, and could be copied from there."""
    if not holds_ours(kept):
        return False
    try:
        shutil.copytree(kept, here, dirs_exist_ok=True)
    except OSError:  # shutil.Error too: some files cannot be read
        return False
    return True
