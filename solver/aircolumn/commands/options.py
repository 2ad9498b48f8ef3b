"""Arguments that several commands take, and what follows from them."""

import os
from pathlib import Path

from aircolumn.curves.speeds import check_speeds, speeds_of
from aircolumn.display_units import ENVIRONMENT, SETS, choose
from aircolumn.engine.description.reader import load
from aircolumn.errors import RequestError
from aircolumn.measured.atmosphere import STANDARDS, add_corrected, check_draws_itself, check_standard

NAMES_OF_STANDARDS = ", ".join(STANDARDS)
USUAL_STANDARD = "j1349"  # of measured pulls


def engine_file(parser, text="engine file (YAML)"):
    """FILE and --units."""
    parser.add_argument("file", type=Path, metavar="FILE", help=text)
    units_option(parser)


def units_option(parser):
    """--units."""
    parser.add_argument(
        "--units",
        choices=SETS,
        help="show results in these units (default: what AIRCOLUMN_UNITS or the file says, else metric)",
    )


def read(args):
    """The engine file, with results to be shown in the units asked for. Sets args.kept: the files
    the results are of, as they were read."""
    description = load(args.file)
    choose_units(args, description)
    args.kept = description.source.files
    return description


def choose_units(args, description):
    """By --units, the environment or the engine file, in this order."""
    choose(args.units, os.environ.get(ENVIRONMENT), description.units)


def speeds(parser):
    """--rpm."""
    parser.add_argument("--rpm", nargs="+", type=float, metavar="N", help="speeds instead of the file's")


def only_given(parser):
    """--only-given."""
    parser.add_argument(
        "--only-given",
        action="store_true",
        help="add no speeds between the file's to locate humps, hollows and crossings",
    )


def asked_speeds(args, engine):
    """Speeds to compute alone, or None for the file's and what locates humps between them."""
    if args.rpm is not None:
        return check_speeds(args.rpm)
    return speeds_of(engine) if args.only_given else None


def folder(parser, text="folder for results (default: by file name)"):
    """--out."""
    parser.add_argument("--out", type=Path, metavar="DIR", help=text)
    parser.set_defaults(writes=True)


def runner(parser, text="candidate to use instead of intake.runner"):
    """--runner."""
    parser.add_argument("--runner", help=text)


def standard(parser):
    """--standard."""
    parser.add_argument(
        "--standard", metavar="NAME", help=f"show torque and power at one of {NAMES_OF_STANDARDS}"
    )


def data_files(parser, count="+"):
    """RUNNER=DATA.csv ..."""
    parser.add_argument(
        "data",
        nargs=count,
        metavar="RUNNER=DATA.csv",
        help="data file of a runner; two to compare",
    )


def chosen_data(args, description) -> dict:
    """Runner name to data file, from RUNNER=DATA.csv (a file alone: the only runner's)."""
    data: dict[str, Path] = {}
    for text in args.data:
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
        if name in data:
            raise RequestError(f"runner '{name}' has two data files; put its pulls into one")
        data[name] = Path(path)
    return data


def correction_and_ledgers(parser):
    """--standard, --verbose."""
    standard(parser)
    parser.add_argument("--verbose", action="store_true", help="also print the mass and energy ledgers")


def chosen_engine(args):
    """(the engine of the file with the runner asked for, that runner's name). Sets args.stem: what
    files of results are called."""
    description = read(args)
    args.stem = stem(args)
    if args.runner is not None:
        return candidate(args, description, args.runner), args.runner
    own = description.engine.intake.runner
    same = (name for name, runner in description.runners.items() if runner == own)
    return description.engine, next(same, "intake.runner")


def stem(args) -> str:
    """What files of results are called: command and runner asked for."""
    return "-".join(filter(None, (args.command, args.runner)))


def runner_line(args, name) -> str:
    """Says which runner is shown where none was asked for and the file has several."""
    return "" if args.runner else f"runner: {name}"


def candidate(args, description, name):
    """The engine with a candidate runner. Raises RequestError if there is none of that name."""
    if name not in description.runners:
        known = ", ".join(description.runners)
        raise RequestError(f"no runner '{name}' in {args.file}; there are: {known}")
    return description.with_runner(name)


def check_asked_standard(args, engine):
    """Raise RequestError for a standard that is not known, or does not fit the engine."""
    if args.standard is not None:
        check_standard(args.standard)
        check_draws_itself(engine)


def correct(args, data, engine) -> str:
    """Add torque and power at the standard asked for; says by which factor."""
    if args.standard is None:
        return ""
    ratio = add_corrected(data, engine, args.standard)
    title = STANDARDS[args.standard].title
    return f"torque and power at {title}: observed x {ratio:.5f}\n"
