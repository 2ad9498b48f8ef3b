"""A folder's results are replaced as one: those before, or those after, whatever stops the command.

Files are written into a scratch folder beside the old ones. When all are there, the scratch folder
takes the name REPLACING in one step of the file system; from then on the new results count. They
are then moved to their places. A command that was killed on the way, or met an error of the disk,
leaves that folder with what is still to move; whatever opens the results next moves it first.
"""

import glob
import os
import platform
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from aircolumn.errors import RequestError

SCRATCH = ".aircolumn-"  # then the machine, the process, and some letters
REPLACING = "results-being-replaced"
ORIGIN = "origin.json"


@contextmanager
def result_folder(path: Path) -> Iterator[Path]:
    """Yield a scratch folder inside ``path`` whose files take the places of those there when the
    block succeeds: all of them, or none.

    Files already there with other names stay. Raises RequestError if ``path`` cannot be a folder.
    """
    path = Path(path)
    fresh = not path.exists()
    try:
        path.mkdir(parents=True, exist_ok=True)
        finish_replacing(path)
        _sweep(path)
        scratch = Path(tempfile.mkdtemp(prefix=_own_prefix(), dir=path))
    except OSError as error:
        raise RequestError(f"--out {path} cannot be written: {error.strerror}") from None
    try:
        yield scratch
        ours = (path / ORIGIN).exists()
        for item in scratch.iterdir():
            there = path / item.name
            if there.is_dir() or (there.exists() and not ours):
                raise RequestError(f"--out {path}: {item.name} already exists; move it away")
        scratch.chmod(0o755)  # scratch folders are private
        scratch.replace(path / REPLACING)
        finish_replacing(path)
    finally:
        shutil.rmtree(scratch, ignore_errors=True)
        if fresh and path.is_dir() and not any(path.iterdir()):
            path.rmdir()


def finish_replacing(path: Path) -> None:
    """Move to their places what a command that was stopped has left to move in the folder ``path``.
    The record of where results come from goes last."""
    waiting = Path(path) / REPLACING
    if not waiting.is_dir():
        return
    for item in sorted(waiting.iterdir(), key=lambda item: (item.name == ORIGIN, item.name)):
        item.replace(waiting.parent / item.name)
    waiting.rmdir()


def _own_prefix() -> str:
    return f"{SCRATCH}{platform.node()}-{os.getpid()}-"


def _sweep(path: Path) -> None:
    """Remove what a killed process of this machine has left."""
    here = f"{SCRATCH}{platform.node()}-"
    for left in path.glob(f"{glob.escape(here)}*"):
        process = left.name[len(here) :].partition("-")[0]
        if process.isdigit() and int(process) != os.getpid() and not _runs(int(process)):
            shutil.rmtree(left, ignore_errors=True)


def _runs(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except OSError:  # it is somebody else's
        return True
    return True
