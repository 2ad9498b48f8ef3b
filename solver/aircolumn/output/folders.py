"""Folders of results: which a command writes to, and whether it may."""

import json
import re
import tempfile
from collections.abc import Iterable
from pathlib import Path

from aircolumn.engine.description.text_file import AsRead
from aircolumn.errors import RequestError
from aircolumn.output.replace import ORIGIN, finish_replacing

STORE = "points.sqlite"  # what a study keeps beside its results, before there are any


def folder_of(file: Path, command: str) -> Path:
    """Where the results of a command on a file go unless said."""
    return Path(f"{file.stem}-{command}")


def check_writable(path: Path) -> None:
    """Raise RequestError if ``path`` cannot be made or filled as a folder: tried, not guessed."""
    path = Path(path)
    if path.is_symlink() and not path.exists():
        raise RequestError(f"--out {path} is a link to something that is not there")
    try:
        there = next(p for p in (path.absolute(), *path.absolute().parents) if p.exists())
        if not there.is_dir():
            raise RequestError(f"--out {path}: {there} is a file, not a folder")
        with tempfile.TemporaryFile(dir=there):
            pass
    except OSError as error:
        raise RequestError(f"--out {path} cannot be written: {error.strerror}") from None


#: what files of results are called
_OURS = re.compile(
    r"(account|bands|change|compare|curve|explain|explore|failed|fuelling|layout|logsheet|map|omitted|part|pull|report|sections|study|trace)\b.*"
    r"|.*-(area\.csv|route\.csv|fitted\.yaml)"
)


def check_belongs(path: Path, origin: dict, origin_file: Path) -> None:
    """Raise RequestError if the folder ``path`` belongs to another command or file, or has files
    that may be the user's own and would be overwritten. origin_file: what the results are of."""
    path = Path(path)
    finish_replacing(path)
    known = path / ORIGIN
    if known.is_file():
        check_same(path, origin)
        return
    names = sorted(p.name for p in path.iterdir()) if path.is_dir() else []
    like_ours = [
        n
        for n in names
        if _OURS.fullmatch(n) or (n == origin["file"] and (path / n).absolute() != origin_file.absolute())
    ]
    if like_ours:
        raise RequestError(
            f"--out {path} has {', '.join(like_ours[:3])}{', ...' if like_ours[3:] else ''}"
            " already, and does not say what they are results of; choose a folder that is empty or"
            " not there"
        )


def check_same(path: Path, origin: dict) -> None:
    """Raise RequestError if the folder ``path`` holds results of another command or file."""
    known = Path(path) / ORIGIN
    if not known.is_file():
        return
    try:
        there = json.loads(known.read_text(encoding="utf-8"))
        of = there["command"].split()[1], there["file"], there.get("from", origin["from"])
    except (OSError, ValueError, KeyError, IndexError, AttributeError, RecursionError):
        raise RequestError(f"{known} is damaged; choose another --out, or move {path} away") from None
    if of != (origin["command"].split()[1], origin["file"], origin["from"]):
        raise RequestError(
            f"--out {path} holds results of aircolumn {of[0]} on {of[1]}"
            f"{'' if of[2] == origin['from'] else f' (of {of[2]})'}; choose another --out"
        )


def write_origin(origin: dict, files: Iterable[AsRead], out: Path, folder: Path) -> None:
    """Where results come from (command, version, date) and the files they are of, as they were
    read: whatever has become of them since, these are what was computed."""
    (folder / ORIGIN).write_text(json.dumps(origin, indent=1) + "\n", encoding="utf-8")
    for file in files:
        path = folder / file.path.name
        if (out / file.path.name).absolute() != file.path.absolute() and not path.exists():
            path.write_bytes(file.raw)
