"""Where compiled code is kept on disk, and which sources decide on it."""

import atexit
import hashlib
import os
import re
import sys
import tempfile
from pathlib import Path
from typing import Any

import numba

from aircolumn.user_folder import base_folder, usable

_config: Any = numba.config  # its names are made at run time

_HOLDS_KERNELS = re.compile(r"^@(kernel|routine|inlined|entry)\b|= namedtuple\(", re.MULTILINE)


def cache_folder(package: Path) -> str:
    """Where compiled code of ``package`` is kept: one folder per state of the sources that decide
    on it.

    Numba looks only at the file of the function it loads, not at the files of the functions and
    constants that one uses, and would go on using stale code after an edit.
    """
    digest = hashlib.sha256()
    for source in kernel_sources(package):
        digest.update(source.read_bytes())
    return str(base_folder() / "aircolumn" / digest.hexdigest()[:16])


def kernel_sources(package: Path) -> list[Path]:
    """The files of ``package`` that hold kernels or the named rows these work on, and all files of
    it that these import from (names of rows and constants are compiled in)."""
    texts = {source: source.read_text(encoding="utf-8") for source in sorted(package.rglob("*.py"))}
    found = [source for source, text in texts.items() if _HOLDS_KERNELS.search(text)]
    for source in found:  # grows while it is walked
        for line in texts[source].splitlines():
            if line.startswith(("from aircolumn.", "from aircolumn import ")):
                found += [f for f in _modules_of(line, package) if f in texts and f not in found]
    return sorted(found)


def _modules_of(line: str, package: Path) -> list[Path]:
    """The files an import line at the head of a module may name."""
    _, module, _, names = line.split(maxsplit=3)
    place = package.joinpath(*module.split(".")[1:])
    inside = [place / f"{n.split()[0]}.py" for n in names.strip("()").split(",") if n.strip()]
    return [place.with_suffix(".py"), *inside]


def kept_in() -> str:
    """The folder in which this process keeps compiled code."""
    return str(_config.CACHE_DIR)


_lasting: list[tempfile.TemporaryDirectory] = []


def tidy_up():
    """Remove a folder that was to last as long as the process."""
    while _lasting:
        _lasting.pop().cleanup()


def _choose_folder():
    """The user's cache, or for want of one a folder that lasts as long as the process."""
    wanted = Path(cache_folder(Path(__file__).parent.parent))
    if not usable(wanted):
        print(
            f"{wanted} cannot be written, or others may write there: what is compiled now is lost"
            " at the end (set XDG_CACHE_HOME to a folder of your own)",
            file=sys.stderr,
        )
        _lasting.append(tempfile.TemporaryDirectory(prefix="aircolumn-"))
        atexit.register(tidy_up)
        wanted = Path(_lasting[0].name)
    _config.CACHE_DIR = str(wanted)


if "NUMBA_CACHE_DIR" not in os.environ:
    _choose_folder()
