"""What a command is asked: a dataclass whose fields are its arguments, each said once. Those that several
commands take, and what follows from them."""

from __future__ import annotations

import os
from argparse import ArgumentParser
from collections.abc import Sequence
from dataclasses import dataclass, field, fields
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar

import numpy as np

from aircolumn.commands.progress import Progress
from aircolumn.curves.speeds import speeds_of
from aircolumn.display_units import ENVIRONMENT, SETS, choose
from aircolumn.engine.description.engine_file import Engine
from aircolumn.engine.description.given import check_speeds
from aircolumn.engine.description.reader import Description, load, side_by_side
from aircolumn.errors import RequestError, no_such
from aircolumn.measured.atmosphere import STANDARDS, add_corrected, check_draws_itself, check_standard
from aircolumn.point_figures import FIGURES

if TYPE_CHECKING:
    import xarray as xr

    from aircolumn.fuelling.session import UsersOwn

NAMES_OF_STANDARDS = ", ".join(STANDARDS)


def positional(**how: Any) -> Any:
    """A field that an argument without a name fills; how: as for ArgumentParser.add_argument."""
    return field(metadata={"how": how})


def option(name: str = "", **how: Any) -> Any:
    """A field that ``--name`` fills (left out: as the field is called)."""
    return field(metadata={"name": name, "how": how})


def switch(text: str) -> Any:
    """A field that is true where the option of its name is given."""
    return option(action="store_true", help=text)


def add_arguments(parser: ArgumentParser, request: Any) -> None:
    """The arguments of a request, in the order of its fields."""
    for one in fields(request):
        name, how = one.metadata.get("name"), one.metadata["how"]
        if name is None:
            parser.add_argument(one.name, **how)
        else:
            parser.add_argument(name or f"--{one.name.replace('_', '-')}", dest=one.name, **how)


@dataclass(frozen=True)
class Arguments:
    """What a command is asked. always_writes: whether it writes results, to a folder by the file's name where
    none is asked for; interrupted: what is said when it is stopped."""

    always_writes: ClassVar[bool] = False
    interrupted: ClassVar[str] = "nothing was written"


@dataclass(frozen=True)
class Writes(Arguments):
    """--out, of a command that always writes results."""

    always_writes: ClassVar[bool] = True

    out: Path = option(type=Path, metavar="DIR", help="folder for results (default: by file name)")


@dataclass(frozen=True)
class Keeps(Writes):
    """--out, of a command that keeps its points there until its results are."""

    interrupted: ClassVar[str] = "run the same command to go on"

    def progress(self, total: int | None = None) -> Progress:
        """Progress of so many points, if that is known, which are kept."""
        return Progress(total, self.out)


@dataclass(frozen=True)
class GoesOn(Writes):
    """--out, of a command that keeps its points there for good."""

    interrupted: ClassVar[str] = "run the same command to go on"

    out: Path = option(type=Path, metavar="DIR", help="folder for the points and results")


@dataclass(frozen=True)
class EngineFile(Arguments):
    """FILE and --units."""

    file: Path = positional(type=Path, metavar="FILE", help="engine file (YAML)")
    units: str | None = option(
        choices=SETS,
        help="show results in these units (default: what AIRCOLUMN_UNITS or the file says, else metric)",
    )

    def read(self) -> Description:
        """The engine file, with results to be shown in the units asked for. Raises InputError."""
        self.choose_units()  # for what is wrong with the file
        description = load(self.file)
        self.choose_units(description)
        return description

    def choose_units(self, description: Description | None = None) -> None:
        """By --units, the environment or the engine file, in this order."""
        choose(self.units, os.environ.get(ENVIRONMENT), None if description is None else description.units)


@dataclass(frozen=True)
class EngineFiles(EngineFile):
    """FILE ... and --units."""

    more: Sequence[Path] = positional(
        nargs="*",
        type=Path,
        metavar="FILE",
        help="engine files of other manifolds, candidates beside those of the first",
    )

    def read(self) -> Description:
        """The engine files side by side, shown in the units of the first. Raises InputError."""
        self.choose_units()
        description = side_by_side([load(path) for path in (self.file, *self.more)])
        self.choose_units(description)
        return description


@dataclass(frozen=True)
class OneRunner(EngineFile):
    """FILE, --units and --runner."""

    runner: str | None = option(help="candidate to use instead of intake.runner")

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


def check_candidate(description: Description, name: str, file: Path) -> None:
    """Raise RequestError if there is no candidate of that name."""
    if name not in description.runners:
        raise RequestError(no_such("runner", name, description.runners, f" in {file}"))


@dataclass(frozen=True)
class GivenSpeeds(Arguments):
    """--rpm."""

    rpm: Sequence[float] | None = option(
        nargs="+", type=float, metavar="N", help="speeds instead of the file's"
    )


@dataclass(frozen=True)
class AskedSpeeds(GivenSpeeds):
    """--rpm and --only-given."""

    only_given: bool = switch("add no speeds between the file's to locate humps, dips and crossings")

    def asked(self, engine: Engine) -> np.ndarray | None:
        """Speeds to compute alone, or None for the file's and what locates humps between them. Raises
        RequestError."""
        if self.rpm is not None:
            return check_speeds(self.rpm)
        return speeds_of(engine) if self.only_given else None


@dataclass(frozen=True)
class Workers(Arguments):
    """--workers."""

    workers: int | None = option(type=int, metavar="N", help="cores to use (default: all)")

    def check_workers(self) -> None:
        """Raise RequestError for a number of cores that no machine has."""
        if self.workers is not None and not 1 <= self.workers <= 1024:
            raise RequestError("--workers must be from 1 to 1024")


@dataclass(frozen=True)
class Corrected(Arguments):
    """--standard."""

    standard: str | None = option(
        metavar="NAME", help=f"show torque and power at one of {NAMES_OF_STANDARDS}"
    )

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


@dataclass(frozen=True)
class ShownFigures(Arguments):
    """--figures."""

    figures: Sequence[str] | None = option(
        nargs="+",
        metavar="NAME",
        help="figures to show in the table, by the names of the CSV file: ve bmep ca50 ...",
    )

    def check_figures(self) -> None:
        """Raise RequestError for a figure that there is not."""
        for name in self.figures or ():
            if name not in FIGURES:
                raise RequestError(no_such("figure", name, FIGURES))


@dataclass(frozen=True)
class Ledgers(Arguments):
    """--verbose."""

    verbose: bool = switch("also print the mass and energy ledgers")


@dataclass(frozen=True)
class Pulls(Arguments):
    """RUNNER=DATA.csv ... and --next."""

    data: Sequence[str] = positional(
        nargs="+", metavar="RUNNER=DATA.csv", help="data file of a runner; two to compare"
    )
    next: str | None = option(
        metavar="RUNNER",
        help="predict this runner from the pulls of the first: measured times predicted over predicted,"
        " with its band",
    )


@dataclass(frozen=True)
class Tuned(Arguments):
    """--table, --load-unit and --lambda-table."""

    table: str | None = option(
        metavar="RUNNER=TABLE.csv", help="the tuned table of this runner, to be made into the new one's"
    )
    load_unit: str | None = option(
        metavar="UNIT", help="of the loads of tables that do not say it: kPa, psi, %%"
    )
    lambda_table: Path | None = option(
        type=Path, metavar="TABLE.csv", help="lambda to be metered, over speed and load"
    )

    def tables_there(self, pulls: Sequence[Path] = ()) -> UsersOwn:
        """The tables, and pulls beside them. Raises RequestError, InputError."""
        from aircolumn.fuelling.session import UsersOwn  # slow to load
        from aircolumn.fuelling.table_file import read_user_table

        name, named, path = (self.table or "").partition("=")
        if self.table is not None and not (named and path):
            raise RequestError(f"--table {self.table}: say which runner it was tuned with: RUNNER=TABLE.csv")
        table = read_user_table(Path(path), self.load_unit) if path else None
        target = None
        if self.lambda_table is not None:
            target = read_user_table(self.lambda_table, self.load_unit, "lambda")
        return UsersOwn(table, name, target, pulls)


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
