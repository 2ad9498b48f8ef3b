"""Arguments that several commands take, what a request holds of them, and what follows from them."""

from __future__ import annotations

import os
from argparse import ArgumentParser
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.curves.speeds import check_speeds, speeds_of
from aircolumn.display_units import ENVIRONMENT, SETS, choose
from aircolumn.engine.description.engine_file import Engine
from aircolumn.engine.description.reader import Description, load, side_by_side
from aircolumn.errors import RequestError, no_such
from aircolumn.measured.atmosphere import STANDARDS, add_corrected, check_draws_itself, check_standard
from aircolumn.point_figures import FIGURES

if TYPE_CHECKING:
    import xarray as xr

NAMES_OF_STANDARDS = ", ".join(STANDARDS)


@dataclass(frozen=True)
class EngineFile:
    """FILE and --units."""

    file: Path
    units: str | None

    def read(self) -> Description:
        """The engine file, with results to be shown in the units asked for. Raises InputError."""
        description = load(self.file)
        self.choose_units(description)
        return description

    def choose_units(self, description: Description) -> None:
        """By --units, the environment or the engine file, in this order."""
        choose(self.units, os.environ.get(ENVIRONMENT), description.units)


@dataclass(frozen=True)
class EngineFiles(EngineFile):
    """FILE ... and --units."""

    more: Sequence[Path]

    def read(self) -> Description:
        """The engine files side by side, shown in the units of the first. Raises InputError."""
        description = side_by_side([load(path) for path in (self.file, *self.more)])
        self.choose_units(description)
        return description


def engine_files(parser: ArgumentParser) -> None:
    """FILE ... and --units."""
    engine_file(parser)
    parser.add_argument(
        "more",
        nargs="*",
        type=Path,
        metavar="FILE",
        help="engine files of other manifolds, candidates beside those of the first",
    )


def engine_file(parser: ArgumentParser, text: str = "engine file (YAML)") -> None:
    """FILE and --units."""
    parser.add_argument("file", type=Path, metavar="FILE", help=text)
    units_option(parser)


def units_option(parser: ArgumentParser) -> None:
    """--units."""
    parser.add_argument(
        "--units",
        choices=SETS,
        help="show results in these units (default: what AIRCOLUMN_UNITS or the file says, else metric)",
    )


def folder(parser: ArgumentParser, text: str = "folder for results (default: by file name)") -> None:
    """--out, of a command that always writes results."""
    parser.add_argument("--out", type=Path, metavar="DIR", help=text)
    parser.set_defaults(always_writes=True)


def folder_if_asked(parser: ArgumentParser, text: str) -> None:
    """--out, of a command that writes only if it is given."""
    parser.add_argument("--out", type=Path, metavar="DIR", help=text)


@dataclass(frozen=True)
class OneRunner(EngineFile):
    """FILE, --units and --runner."""

    runner: str | None

    def chosen(self) -> tuple[Description, Engine, str]:
        """The file, its engine with the runner asked for, and that runner's name. Raises InputError,
        RequestError."""
        description = self.read()
        if self.runner is not None:
            check_candidate(description, self.runner, self.file)
            return description, description.with_runner(self.runner), self.runner
        own = description.engine.intake.runner
        same = (name for name, runner in description.runners.items() if runner == own)
        return description, description.engine, next(same, "intake.runner")

    def line(self, name: str) -> str:
        """Says which runner is shown where none was asked for and the file has several."""
        return "" if self.runner else f"runner: {name}"

    def stem(self, command: str) -> str:
        """What files of results are called: command and runner asked for."""
        return "-".join(filter(None, (command, self.runner)))


def runner(parser: ArgumentParser, text: str = "candidate to use instead of intake.runner") -> None:
    """--runner."""
    parser.add_argument("--runner", help=text)


def check_candidate(description: Description, name: str, file: Path) -> None:
    """Raise RequestError if there is no candidate of that name."""
    if name not in description.runners:
        raise RequestError(no_such("runner", name, description.runners, f" in {file}"))


def speeds(parser: ArgumentParser) -> None:
    """--rpm."""
    parser.add_argument("--rpm", nargs="+", type=float, metavar="N", help="speeds instead of the file's")


@dataclass(frozen=True)
class AskedSpeeds:
    """--rpm and --only-given."""

    rpm: Sequence[float] | None
    only_given: bool

    def asked(self, engine: Engine) -> np.ndarray | None:
        """Speeds to compute alone, or None for the file's and what locates humps between them. Raises
        RequestError."""
        if self.rpm is not None:
            return check_speeds(self.rpm)
        return speeds_of(engine) if self.only_given else None


def workers(parser: ArgumentParser) -> None:
    """--workers."""
    parser.add_argument("--workers", type=int, metavar="N", help="cores to use (default: all)")


def check_workers(count: int | None) -> None:
    """Raise RequestError for a number of cores that no machine has."""
    if count is not None and not 1 <= count <= 1024:
        raise RequestError("--workers must be from 1 to 1024")


def speeds_alone_or_located(parser: ArgumentParser) -> None:
    """--rpm and --only-given."""
    speeds(parser)
    parser.add_argument(
        "--only-given",
        action="store_true",
        help="add no speeds between the file's to locate humps, hollows and crossings",
    )


@dataclass(frozen=True)
class Corrected:
    """--standard."""

    standard: str | None

    def check_standard(self, engine: Engine) -> None:
        """Raise RequestError for a standard that is not known, or does not fit the engine."""
        if self.standard is not None:
            check_standard(self.standard)
            check_draws_itself(engine)

    def correct(self, data: xr.Dataset, engine: Engine) -> str:
        """Add torque and power at the standard asked for; says by which factor."""
        if self.standard is None:
            return ""
        ratio = add_corrected(data, engine, self.standard)
        title = STANDARDS[self.standard].title
        return f"torque and power at {title}: observed x {ratio:.5f}\n"


def standard(parser: ArgumentParser) -> None:
    """--standard."""
    parser.add_argument(
        "--standard", metavar="NAME", help=f"show torque and power at one of {NAMES_OF_STANDARDS}"
    )


@dataclass(frozen=True)
class ShownFigures:
    """--figures."""

    figures: Sequence[str] | None

    def check_figures(self) -> None:
        """Raise RequestError for a figure that there is not."""
        for name in self.figures or ():
            if name not in FIGURES:
                raise RequestError(no_such("figure", name, FIGURES))


def shown_figures(parser: ArgumentParser) -> None:
    """--figures."""
    parser.add_argument(
        "--figures",
        nargs="+",
        metavar="NAME",
        help="figures to show in the table, by the names of the CSV file: ve bmep ca50 ...",
    )


def ledgers(parser: ArgumentParser) -> None:
    """--verbose."""
    parser.add_argument("--verbose", action="store_true", help="also print the mass and energy ledgers")


def data_files(parser: ArgumentParser, count: str = "+") -> None:
    """RUNNER=DATA.csv ..."""
    parser.add_argument(
        "data", nargs=count, metavar="RUNNER=DATA.csv", help="data file of a runner; two to compare"
    )


def the_next(parser: ArgumentParser) -> None:
    """--next."""
    parser.add_argument(
        "--next",
        metavar="RUNNER",
        help="predict this runner from the pulls of the first: measured times predicted over predicted,"
        " with its band",
    )


def data_by_runner(texts: Sequence[str], description: Description) -> list[tuple[str, Path]]:
    """(runner, data file) in the order in which they are named, from RUNNER=DATA.csv (a file alone: the only
    runner's; a runner named again: another day, or the return to it). Raises RequestError."""
    data: list[tuple[str, Path]] = []
    for text in texts:
        cuts = (text[:k] for k, c in enumerate(text) if c == "=")
        name = next((name for name in cuts if name in description.runners), text.partition("=")[0])
        path = text[len(name) + 1 :]
        if (not path or Path(text).exists()) and len(description.runners) == 1:
            name, path = "", text
        if not name and len(description.runners) == 1:
            (name,) = description.runners
        if not name or not path:
            known = ", ".join(description.runners)
            raise RequestError(
                f"'{text}': say which runner it was measured with: RUNNER={path or 'DATA.csv'}"
                f" (there are: {known})"
            )
        if (name, Path(path)) in data:
            raise RequestError(f"runner '{name}': {path} is named twice")
        data.append((name, Path(path)))
    return data
