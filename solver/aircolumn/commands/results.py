"""What a command found, and the one place where it is printed, written and told to be incomplete."""

from __future__ import annotations

import json
import os
import shlex
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Generic, Literal, TypeVar

from aircolumn import __version__
from aircolumn.engine.description.text_file import AsRead
from aircolumn.errors import ComputationError, clean, output_is_closed
from aircolumn.output import CAUTION, SHORT
from aircolumn.output.folders import check_belongs, check_same, check_writable, folder_of, write_origin
from aircolumn.output.in_use import claim
from aircolumn.output.plain import as_plain
from aircolumn.output.replace import result_folder
from aircolumn.output.tables import wrapped
from aircolumn.unfinished import remove_unfinished

#: where results come from: command, version, date, file, and the way to its folder
Origin = dict[str, str]
Found = TypeVar("Found", covariant=True)


@dataclass(frozen=True)
class Answer(Generic[Found]):
    """What a command found, of the type that the return annotation of its ``run`` names.

    texts: what is printed; empty ones are left out. write: puts the files into a folder, told where
    they come from (None: there are none). sources: the files the results are of, as they were read.
    missing, of: points that could not be computed, and all of them. wrap: whether long lines are
    broken to fit the terminal. replaced: names of files that only the latest answer may have. result: makes
    what --json prints.
    """

    texts: Sequence[str] = ()
    write: Callable[[Path, Origin], None] | None = None
    sources: Iterable[AsRead] = ()
    missing: int = 0
    of: int = 0
    wrap: bool = True
    replaced: str = ""
    result: Callable[[], Found] = field(kw_only=True)


@dataclass(frozen=True, kw_only=True)
class Printed:
    """What --json prints. The version grows when something goes or changes its meaning, not when something is
    added."""

    format: Literal["aircolumn answer"] = "aircolumn answer"
    version: Literal[2] = 2
    command: str
    program: str
    text: str
    result: Any
    folder: Path | None
    files: list[str]
    missing_points: int
    points: int
    caution: str


@dataclass(frozen=True)
class Place:
    """A folder for results, and what will be said of where they come from."""

    out: Path
    origin: Origin


def place_for(command: str, file: Path, out: Path | None, argv: Sequence[str]) -> Place:
    """Where the results of a command on a file go, tried before anything is computed. Raises
    RequestError if they cannot go there."""
    out = out or folder_of(file, command)
    origin = {
        "command": shlex.join(["aircolumn", *argv]),
        "version": __version__,
        "date": datetime.now(UTC).astimezone().isoformat(timespec="seconds"),
        "file": file.name,
        "from": _between(out, file.parent),
    }
    check_writable(out)
    claim(out, origin)
    check_belongs(out, origin, file)
    return Place(out, origin)


def _between(out: Path, folder: Path) -> str:
    """The way from results to the folder of their file: it stays true when both move together."""
    return os.path.relpath(folder.absolute(), out.absolute())


def present(answer: Answer, place: Place | None, command: str = "", as_json: bool = False) -> None:
    """Print an answer, then write its files; ``as_json``: write them, then print the answer as JSON. Whoever
    closes the pipe early has the files all the same. Raises ComputationError if points are missing."""
    text = "\n".join(text for text in answer.texts if text)
    if not as_json:
        _say(wrapped(text) if answer.wrap else text)
    names: list[str] = []
    if answer.write is not None and place is not None:
        with result_folder(place.out) as folder:
            answer.write(folder, place.origin)
            check_same(place.out, place.origin)  # another machine may have filled it meanwhile
            write_origin(place.origin, answer.sources, place.out, folder)
            names = sorted(path.name for path in folder.iterdir())
        for old in place.out.glob(answer.replaced) if answer.replaced else ():
            if old.name not in names:
                old.unlink()
        remove_unfinished(place.out)
        if not as_json:
            _say(wrapped(f"\nwritten to {place.out}: {', '.join(names)}\n{SHORT}"))
    if as_json:
        whole = Printed(
            command=command,
            program=__version__,
            text=clean(text),
            result=answer.result(),
            folder=None if place is None else place.out,
            files=names,
            missing_points=answer.missing,
            points=answer.of,
            caution=SHORT,
        )
        _say(json.dumps(as_plain(whole), ensure_ascii=False, allow_nan=False))
    if answer.missing:
        raise ComputationError(f"{answer.missing} of {answer.of} points; the others are written")


def _say(text: str) -> None:
    """Print at once what may be read while files are still written."""
    try:
        print(text, flush=True)
    except BrokenPipeError:
        output_is_closed()


def write_text(path: Path, text: str) -> None:
    """A report as a text file, with the caution in full."""
    path.write_text(f"{clean(text)}\n\n{wrapped(CAUTION, 80)}\n", encoding="utf-8")
