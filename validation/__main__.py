"""Run the published cases: a table, and if asked for JSON, JUnit XML and pictures.

    python -m validation [CASE ...] [--strict] [--json FILE] [--junit FILE] [--figures DIR]

Exit code 0 if every row is within its tolerance; 1 if one is not (with --strict also for a miss that
known_misses.txt does not list, or that it lists and that holds, and for a case left out); 2 for a wrong
request.
"""

import argparse
import sys
from pathlib import Path

from aircolumn.errors import output_is_closed
from validation.cases import NAMES, draw_all, ran
from validation.refinement import table
from validation.results import as_json, as_junit, closing_line, failed, head, line, unlisted

CASES = [name.removeprefix("case_") for name in NAMES]


def options() -> argparse.ArgumentParser:
    """The parser of the command line."""
    parser = argparse.ArgumentParser(
        prog="python -m validation",
        description="Run the published cases and print computed values beside their references.",
        epilog=f"cases: {', '.join(CASES)}",
    )
    parser.add_argument("cases", nargs="*", metavar="CASE", help="only these (default: all)")
    parser.add_argument(
        "--strict",
        action="store_true",
        help="fail for what differs from the known misses and for a case left out, too",
    )
    parser.add_argument("--json", type=Path, metavar="FILE", help="write all rows as JSON")
    parser.add_argument("--junit", type=Path, metavar="FILE", help="write all rows as JUnit XML")
    parser.add_argument("--figures", type=Path, metavar="DIR", help="draw the cases into DIR")
    return parser


def arguments(argv=None):
    """The request; ends with exit code 2 if it is wrong."""
    parser = options()
    args = parser.parse_args(argv)
    args.cases = [name.removeprefix("case_") for name in args.cases]
    strange = [name for name in args.cases if name not in CASES]
    if strange:
        parser.error(f"no case '{strange[0]}'; there are: {', '.join(CASES)}")
    for file in (args.json, args.junit):
        if file is not None and not file.absolute().parent.is_dir():
            parser.error(f"{file.parent} is not a folder")
    return args


def main() -> int:
    """Run what was asked for; the exit code."""
    args = arguments()
    chosen = [f"case_{name}" for name in args.cases] or NAMES
    done = []
    print(head())
    for result in ran(chosen):
        done.append(result)
        print("\n".join(map(line, result.rows)) or f"{result.case}: left out, {result.why}", flush=True)
    if not args.cases:
        print(f"\n{table()}")
    if args.json:
        args.json.write_text(as_json(done), encoding="utf-8")
    if args.junit:
        args.junit.write_text(as_junit(done, args.strict), encoding="utf-8")
    if args.figures:
        draw_all(args.figures, chosen)
        print(f"\nfigures in {args.figures}")
    print("\n".join(["", closing_line(done), *(unlisted(done) if args.strict else [])]))
    return int(failed(done, args.strict))


if __name__ == "__main__":
    try:
        code = main()
    except BrokenPipeError:  # whoever reads has seen enough
        output_is_closed()
        code = 1
    sys.exit(code)
