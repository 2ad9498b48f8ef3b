"""``curve``: one engine over speed."""

from aircolumn.commands import options
from aircolumn.commands.progress import Progress
from aircolumn.commands.results import write_curves
from aircolumn.curves.curve import curve
from aircolumn.output.check.inlet import choke_text
from aircolumn.output.curves.text import added_text, curve_table, ledger_table
from aircolumn.output.tables import with_blank_line


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
    engine, name = options.chosen_engine(args)
    options.check_asked_standard(args, engine)
    speeds = options.asked_speeds(args, engine)
    with Progress(None) as progress:
        data = curve(engine, speeds, progress)
    texts = [
        options.runner_line(args, name),
        options.correct(args, data, engine),
        curve_table(data) + added_text(data, engine.speeds),
        with_blank_line(choke_text(data, engine)),
        with_blank_line(ledger_table(data)) if args.verbose else "",
    ]
    write_curves(args, texts, data.expand_dims(runner=[name]), engine.speeds)
