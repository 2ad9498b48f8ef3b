"""``compare``: all runners of the file side by side."""

from aircolumn.commands import options
from aircolumn.commands.progress import Progress
from aircolumn.commands.results import write_curves
from aircolumn.curves.curve import compare
from aircolumn.curves.switchable import all_switched
from aircolumn.output.check.inlet import choke_text
from aircolumn.output.curves.text import added_text, compare_table, ledger_table, switched_text, verdict
from aircolumn.output.tables import with_blank_line


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
    description = options.read(args)
    engine = description.engine
    options.check_asked_standard(args, engine)
    speeds = options.asked_speeds(args, engine)
    with Progress(None) as progress:
        data = compare(description, speeds, progress, uncertainty=args.uncertainty)
    factor = options.correct(args, data, engine)
    manifolds = all_switched(description, data)
    texts = [
        factor,
        compare_table(data),
        added_text(data, engine.speeds) + "\n" + verdict(data, engine.speeds),
        with_blank_line(choke_text(data, engine)),
        *map(switched_text, manifolds),
        _uncertainty(data) if args.uncertainty else "",
        with_blank_line(ledger_table(data)) if args.verbose else "",
    ]
    args.stem = args.command
    write_curves(args, texts, data, engine.speeds, manifolds)


def _uncertainty(data) -> str:
    worst = float(data.ve_uncertainty.max())
    return (
        f"numerical uncertainty of VE: at most {100 * worst:.2f} % (grid convergence index from three meshes)"
    )
