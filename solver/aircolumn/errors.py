"""Errors a user can act on, and output that nobody reads any more."""

import os
import sys
from dataclasses import dataclass
from pathlib import Path


def printable(text: str) -> str:
    """One line of text that moves no cursor and forges no line: what cannot be printed is shown as
    its code."""
    return "".join(c if c.isprintable() else repr(c)[1:-1] for c in text)


def clean(text: str) -> str:
    """A text of several lines, each of them printable."""
    return "\n".join(map(printable, text.split("\n")))


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
    """An input file or a request that cannot be used; lists everything found wrong, in order
    of line, each once."""

    def __init__(self, path: Path, problems: list[Problem]) -> None:
        self.path = path
        self.problems = sorted(dict.fromkeys(problems), key=lambda p: (p.line, p.column))
        super().__init__("\n".join(p.text(path) for p in self.problems))


class RequestError(ValueError):
    """A command or function was asked for something that cannot be."""


class ComputationError(RuntimeError):
    """The computation did not arrive at a result that may be shown."""


class MarchError(RuntimeError):
    """The march met a state that is not finite."""


def output_is_closed() -> None:
    """After a BrokenPipeError: whoever read the output has seen enough, and what is still printed
    goes nowhere."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
