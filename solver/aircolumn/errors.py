"""Errors a user can act on, and output that nobody reads any more."""

import os
import sys
from collections.abc import Iterable
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path

MOST_LISTED = 40  # names in a message


def printable(text: str) -> str:
    """One line of text that moves no cursor and forges no line: what cannot be printed is shown as
    its code."""
    return "".join(c if c.isprintable() else repr(c)[1:-1] for c in text)


def clean(text: str) -> str:
    """A text of several lines, each of them printable."""
    return "\n".join(map(printable, text.split("\n")))


def no_such(what: str, name: str, known: Iterable[str], where: str = "") -> str:
    """Says that there is no ``what`` of this name, which there are, and which may have been meant."""
    names = list(known)
    near = get_close_matches(name, names, 1)
    meant = f" (did you mean '{near[0]}'?)" if near else ""
    listed = ", ".join(names[:MOST_LISTED]) + (", ..." if len(names) > MOST_LISTED else "")
    return f"no {what} '{name[:40]}'{where}{meant}; there are: {listed or 'none'}"


@dataclass(frozen=True)
class Problem:
    """One thing wrong with an input file: where it is, what was found, what is allowed."""

    line: int
    column: int
    key: str
    message: str

    def text(self, path: Path) -> str:
        """One line: file:line:column: key: message."""
        key = f"{self.key}: " if self.key else ""
        return printable(f"{path}:{self.line}:{self.column}: {key}{self.message}")


class InputError(ValueError):
    """An input file that cannot be used; lists everything found wrong, in order of line, each once.

    Attributes
    ----------
    path : Path
        The file.
    problems : list of Problem
        Each with ``line``, ``column``, ``key`` and ``message`` (what was found, what is allowed).
    """

    def __init__(self, path: Path, problems: list[Problem]) -> None:
        self.path = path
        self.problems = sorted(dict.fromkeys(problems), key=lambda p: (p.line, p.column))
        super().__init__("\n".join(p.text(path) for p in self.problems))


class RequestError(ValueError):
    """A command or function was asked for something that cannot be; the message says what can."""


class ComputationError(RuntimeError):
    """The computation did not arrive at a result that may be shown: a cycle that does not repeat, mass or
    energy that does not balance."""


class MarchError(RuntimeError):
    """The march met a state that is not finite; the message says when and where."""


def output_is_closed() -> None:
    """After a BrokenPipeError: whoever read the output has seen enough, and what is still printed
    goes nowhere."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
