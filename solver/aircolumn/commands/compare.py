"""``compare``: all runners of the file side by side."""

from aircolumn.commands import options
from aircolumn.commands.progress import Progress
from aircolumn.commands.results import tell_choke, write_curves
from aircolumn.curves.curve import compare
from aircolumn.curves.switchable import all_switched
from aircolumn.description.reader import load
from aircolumn.report.tables import (
    added_text,
    compare_table,
    ledger_table,
    switched_text,
    verdict,
)


def arguments(parser):
    """FILE, uncertainty, speeds, standard."""
    options.engine_file(parser)
    parser.add_argument(
        "--uncertainty",
        action="store_true",
        help="compute on three meshes and show the numerical uncertainty of VE (5 times slower)",
    )
    options.speeds(parser)
    options.only_given(parser)
    options.folder(parser)
    options.correction_and_ledgers(parser)


def run(args):
    """Compute, print, write."""
    description = load(args.file)
    engine = description.engine
    options.check_asked_standard(args, engine)
    speeds = options.asked_speeds(args, engine)
    with Progress(None) as progress:
        data = compare(description, speeds, progress, uncertainty=args.uncertainty)
    options.correct(args, data, engine)
    print(compare_table(data))
    print(added_text(data, engine.speeds) + "\n" + verdict(data, engine.speeds))
    tell_choke(data, engine)
    manifolds = all_switched(description, data)
    for manifold in manifolds:
        print(switched_text(manifold))
    if args.uncertainty:
        worst = float(data.ve_uncertainty.max())
        print(
            f"numerical uncertainty of VE: at most {100 * worst:.2f} % (grid convergence index from"
            " three meshes)"
        )
    if args.verbose:
        print("\n" + ledger_table(data))
    write_curves(args, data, engine.speeds, manifolds)
