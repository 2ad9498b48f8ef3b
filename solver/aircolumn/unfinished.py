"""The file in a folder of results that holds the points of a command which was stopped."""

from contextlib import suppress
from pathlib import Path

UNFINISHED = "unfinished.sqlite"


def unlink_unfinished(folder: Path) -> None:
    """Take the file away."""
    for suffix in ("", "-wal", "-shm"):
        (folder / f"{UNFINISHED}{suffix}").unlink(missing_ok=True)


def remove_unfinished(folder: Path) -> None:
    """Take the file away, and the folder if nothing else is in it."""
    with suppress(OSError):
        unlink_unfinished(folder)
        if folder.is_dir() and not any(folder.iterdir()):
            folder.rmdir()
