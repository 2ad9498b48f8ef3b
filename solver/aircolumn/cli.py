"""The command line. Exit codes: 0 done, 1 could not compute, 2 bad input, 130 interrupted."""

import argparse
import os
import sys
from collections.abc import Sequence
from dataclasses import fields
from importlib import import_module
from textwrap import fill

from aircolumn import __version__
from aircolumn.commands import COMMANDS, TASKS, WHEN
from aircolumn.commands.results import place_for, present
from aircolumn.display_units import ENVIRONMENT, choose
from aircolumn.errors import ComputationError, InputError, RequestError, clean, no_such, output_is_closed
from aircolumn.output import CAUTION
from aircolumn.unfinished import remove_unfinished

BEGIN = """\
aircolumn says which intake runner fills the cylinder best, and at which engine speed.

To begin, in this order (choose the figures and the file's name yourself):

  aircolumn new engine.yaml --cylinders 4 --valves 4 --displacement '2.0 L' --peak '6000 rpm'
      a first engine file; every guess in it says so
  aircolumn check engine.yaml
      what follows from the file, and what it leaves open
  aircolumn compare engine.yaml
      all candidates side by side
  aircolumn bands engine.yaml
      how sure that is, and what to measure next
  aircolumn report engine.yaml --bands
      all of it as one page for a browser (pip install 'aircolumn[report]')

All commands: aircolumn --help. One of them: aircolumn compare --help."""


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command in ``argv``; returns the exit code."""
    argv = sys.argv[1:] if argv is None else list(argv)
    if not argv:
        try:
            print(BEGIN, flush=True)
        except BrokenPipeError:
            output_is_closed()
        return 2
    if argv[0] not in COMMANDS and not argv[0].startswith("-"):
        print(clean(no_such("command", argv[0], COMMANDS)), file=sys.stderr)
        return 2
    args = parser(next((a for a in argv if a in COMMANDS), None)).parse_args(argv)
    try:
        choose(os.environ.get(ENVIRONMENT))
        _run(args, argv)
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
        print(f"\ninterrupted; {args.module.Request.interrupted}", file=sys.stderr)
        return 130
    return 0


def _run(args: argparse.Namespace, argv: Sequence[str]) -> None:
    """Make the command's request, and present its answer."""
    given, place = vars(args), None
    request = args.module.Request
    if request.always_writes or given.get("out") is not None:
        place = place_for(args.command, args.file, args.out, argv)
        given = {**given, "out": place.out}
    asked = request(**{field.name: given[field.name] for field in fields(request)})
    try:
        present(args.module.run(asked), place, args.command, args.json)
    except (InputError, RequestError, ComputationError):
        if place is not None:  # what was asked cannot be: no points wait for it
            remove_unfinished(place.out)
        raise


def parser(asked: str | None = None) -> argparse.ArgumentParser:
    """The parser of all commands, with the arguments of the one asked for."""
    about = "Which intake runner fills the cylinder best, and at which engine speed."
    whole = argparse.ArgumentParser(
        prog="aircolumn",
        description=f"{about}\n\n{_by_task()}",
        epilog=fill(CAUTION, 80),
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    whole.add_argument("--version", action="version", version=f"aircolumn {__version__}")
    commands = whole.add_subparsers(
        required=True, metavar="COMMAND", help="aircolumn COMMAND --help says more"
    )
    for name, text in COMMANDS.items():
        more = f" {WHEN[name]}" if name in WHEN else ""
        one = commands.add_parser(name, description=f"{text[0].upper()}{text[1:]}.{more}")
        if name == asked:
            module = import_module(f"aircolumn.commands.{name}")
            one.set_defaults(module=module, command=name)
            import_module("aircolumn.commands.options").add_arguments(one, module.Request)
            one.add_argument(
                "--json",
                action="store_true",
                help="print the answer as JSON, in SI units (aircolumn schema --answers says how)",
            )
    return whole


def _by_task() -> str:
    """All commands, grouped by what one wants to do."""
    lines = []
    for task, group in TASKS.items():
        lines.append(f"{task}:")
        for name, text in group.items():
            lines.append(fill(text, 80, initial_indent=f"  {name:11s} ", subsequent_indent=" " * 14))
    return "\n".join(lines)
