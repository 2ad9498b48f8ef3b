"""Errors a user can act on."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Problem:
    """One thing wrong with an input file: where it is, what was found, what is allowed."""

    line: int
    column: int
    key: str
    message: str

    def text(self, path) -> str:
        """One line: file:line:column: key: message."""
        key = f"{self.key}: " if self.key else ""
        return f"{path}:{self.line}:{self.column}: {key}{self.message}"


class InputError(ValueError):
    """An input file or a request that cannot be used; lists everything found wrong, in order
    of line, each once."""

    def __init__(self, path, problems: list[Problem]):
        self.path = path
        self.problems = sorted(dict.fromkeys(problems), key=lambda p: (p.line, p.column))
        super().__init__("\n".join(p.text(path) for p in self.problems))


class RequestError(ValueError):
    """A command or function was asked for something that cannot be."""


class ComputationError(RuntimeError):
    """The computation did not arrive at a result that may be shown."""


class MarchError(RuntimeError):
    """The march met a state that is not finite."""
