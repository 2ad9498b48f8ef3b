"""``curve``: one engine over speed."""

from aircolumn.commands import options
from aircolumn.commands.progress import Progress
from aircolumn.commands.results import tell_choke, write_curves
from aircolumn.curves.curve import curve
from aircolumn.report.tables import added_text, curve_table, ledger_table


def arguments(parser):
    """FILE, runner, speeds, standard."""
    options.engine_file(parser)
    options.runner(parser)
    options.speeds(parser)
    options.only_given(parser)
    options.folder(parser)
    options.correction_and_ledgers(parser)


def run(args):
    """Compute, print, write."""
    engine = options.chosen_engine(args)
    options.check_asked_standard(args, engine)
    speeds = options.asked_speeds(args, engine)
    with Progress(None) as progress:
        data = curve(engine, speeds, progress)
    options.correct(args, data, engine)
    print(curve_table(data) + added_text(data, engine.speeds))
    tell_choke(data, engine)
    if args.verbose:
        print("\n" + ledger_table(data))
    write_curves(args, data.expand_dims(runner=[args.runner or "runner"]), engine.speeds)
