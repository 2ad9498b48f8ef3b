"""The command line. Exit codes: 0 done, 1 could not compute, 2 bad input, 130 interrupted."""

import argparse
import gc
import os
import shlex
import signal
import sys
from datetime import UTC, datetime
from importlib import import_module
from io import TextIOWrapper
from pathlib import Path
from textwrap import fill

# The points share the cores among themselves; linear algebra that starts threads of its own, which
# then wait in a busy loop, only takes time from them. Read by numpy when it is loaded.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from aircolumn import __version__
from aircolumn.display_units import ENVIRONMENT, choose
from aircolumn.errors import ComputationError, InputError, RequestError, clean, output_is_closed
from aircolumn.output.caution import CAUTION

#: Each is a module of commands/, loaded when it is asked for.
COMMANDS = {
    "new": "a first engine file from a few basic figures",
    "check": "read and check an engine file, print derived figures",
    "curve": "VE, torque and power of one engine over speed",
    "compare": "all runners of the file side by side",
    "change": "two results or engine files side by side, before and after",
    "account": "why VE is not 1: what each effect takes or gives",
    "map": "VE over speed and runner length or bore, beside rules of thumb",
    "explain": "why the humps of the VE curve lie where they do",
    "trace": "one cycle by crank angle: pressures, waves, flows",
    "report": "the comparison and what is behind it as one page for a browser",
    "pull": "measured pulls: correct, compare, lay the prediction over",
    "atmosphere": "torque or power by every atmosphere standard, from one of them or as observed",
    "schema": "keys of the engine file: JSON schema for editors, or a reference to read",
    "prepare": "compile the solver now, so that no first point has to wait for it",
    "study": "sweep, search, sensitivity or tolerance of any keys; resumable",
}


def main(argv=None) -> int:
    """Run the command in ``argv``; returns the exit code."""
    argv = sys.argv[1:] if argv is None else list(argv)
    if not argv:
        parser().print_help()
        return 2
    args = parser(next((a for a in argv if a in COMMANDS), None)).parse_args(argv)
    try:
        choose(os.environ.get(ENVIRONMENT))
        if getattr(args, "writes", False) and not (args.command == "check" and args.out is None):
            _place_results(args, argv)
        args.run(args)
    except BrokenPipeError:  # whoever reads has seen enough; the files are written
        output_is_closed()
    except (InputError, RequestError) as error:
        print(clean(f"{error}"), file=sys.stderr)
        return 2
    except ComputationError as error:
        print(clean(f"could not compute: {error}"), file=sys.stderr)
        return 1
    except OSError as error:
        print(f"could not write: {error}", file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        kept = "run the same command to go on" if args.command == "study" else "nothing was written"
        print(f"\ninterrupted; {kept}", file=sys.stderr)
        return 130
    return 0


def _place_results(args, argv):
    """Where the results go, tried before anything is computed, and where they come from."""
    from aircolumn.output.folders import check_belongs, check_writable, folder_of
    from aircolumn.output.in_use import claim

    args.out = args.out or folder_of(args.file, args.command)
    args.origin = {
        "command": shlex.join(["aircolumn", *argv]),
        "version": __version__,
        "date": datetime.now(UTC).astimezone().isoformat(timespec="seconds"),
        "file": args.file.name,
        "from": _between(args.out, args.file.parent),
    }
    check_writable(args.out)
    claim(args.out, args.origin)
    check_belongs(args.out, args.origin, args.file)


def _between(out: Path, folder: Path) -> str:
    """The way from results to the folder of their file: it stays true when both move together."""
    return os.path.relpath(folder.absolute(), out.absolute())


def parser(asked: str | None = None) -> argparse.ArgumentParser:
    """The parser of all commands, with the arguments of the one asked for."""
    whole = argparse.ArgumentParser(
        prog="aircolumn",
        description="Which intake runner fills the cylinder best, and at which engine speed.",
        epilog=fill(CAUTION, 80),
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    whole.add_argument("--version", action="version", version=f"aircolumn {__version__}")
    commands = whole.add_subparsers(required=True, metavar="COMMAND")
    for name, text in COMMANDS.items():
        one = commands.add_parser(name, help=text, description=text[0].upper() + text[1:] + ".")
        if name == asked:
            module = import_module(f"aircolumn.commands.{name}")
            module.arguments(one)
            one.set_defaults(run=module.run, command=name)
    return whole


def run():
    """The process: main, with little garbage collection and without the interpreter's tidying up
    of compiled code at the end, a fifth of the time of a curve. All files are closed by then."""
    gc.set_threshold(100_000)
    signal.signal(signal.SIGTERM, signal.default_int_handler)  # ends as Ctrl-C does
    for stream in (sys.stdout, sys.stderr):  # a terminal that lacks a letter shows its code
        if isinstance(stream, TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")
    sys.setswitchinterval(3e-4)  # a thread back from a march should not wait 5 ms for an import
    if "--scheduler" not in sys.argv:  # else xarray loads these, if installed, for nothing
        sys.modules.update(dict.fromkeys({"dask", "distributed", "pint", "cupy", "sparse"}))
    try:
        code = main()
    except SystemExit as stop:  # argparse
        code = stop.code
    except KeyboardInterrupt:  # while a command was being loaded
        code = 130
    cache = sys.modules.get("aircolumn.flow.compiled.cache")
    if cache is not None:
        cache.tidy_up()
    for stream in (sys.stderr, sys.stdout):  # None if it was closed before the start
        try:
            if stream is not None:
                stream.flush()
        except OSError:
            code = code or 1
    os._exit(code if isinstance(code, int) else 0 if code is None else 2)
