"""Where this user's programs keep what they can make again."""

import os
import stat
import tempfile
from pathlib import Path


def base_folder() -> Path:
    """The user's cache; without a home, a folder of the user's own among temporary ones. (A
    relative XDG_CACHE_HOME does not count, as its specification has it: whoever owns the working
    folder could plant code there.)"""
    stated = os.environ.get("XDG_CACHE_HOME", "")
    try:
        return Path(stated) if os.path.isabs(stated) else Path.home() / ".cache"
    except RuntimeError:  # no home
        return Path(tempfile.gettempdir()) / f"aircolumn-of-{os.getuid()}"


def usable(folder: Path) -> bool:
    """Whether files can be kept in ``folder``, which is made if need be, and nobody else can put
    files there: what is kept is trusted later."""
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            return not hasattr(os, "getuid") or _ours(folder)
    except OSError:
        return False


def holds_ours(folder: Path) -> bool:
    """Whether something is kept in ``folder`` already and nobody else can have put it there, though nothing
    more can be kept: a read-only cache is used."""
    try:
        return any(folder.iterdir()) and (not hasattr(os, "getuid") or _ours(folder))
    except OSError:
        return False


def _ours(folder: Path) -> bool:
    """Whether nobody but this user and root can write into ``folder`` or the two it stands in (the
    user's own group may: many systems give everyone a group)."""
    for place in (folder, *folder.parents[:2]):
        about = place.lstat()
        owned = about.st_uid in (os.getuid(), 0) and stat.S_ISDIR(about.st_mode)
        group = about.st_mode & stat.S_IWGRP and about.st_gid != os.getgid()
        open_to_all = (group or about.st_mode & stat.S_IWOTH) and not about.st_mode & stat.S_ISVTX
        if not owned or open_to_all:
            return False
    return True
