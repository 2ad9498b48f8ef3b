"""``account``: why VE is not 1."""

from aircolumn.commands import options
from aircolumn.commands.progress import Progress
from aircolumn.commands.results import netcdf, results
from aircolumn.curves.speeds import chosen_speeds
from aircolumn.curves.tuning.filling_account import EFFECTS, filling_account
from aircolumn.output.account.files import write_account
from aircolumn.output.account.text import account_table


def arguments(parser):
    """FILE, runner, speeds."""
    options.engine_file(parser)
    options.runner(parser)
    options.speeds(parser)
    options.folder(parser)


def run(args):
    """Compute, print, write."""
    engine, name = options.chosen_engine(args)
    speeds = chosen_speeds(engine, args.rpm)
    with Progress(len(speeds) * 2 * len(EFFECTS)) as progress:
        data = filling_account(engine, speeds, progress)
    texts = [options.runner_line(args, name), account_table(data)]
    data.attrs["runner"] = name
    with results(args, texts, data) as folder:
        from aircolumn.output.account.pictures import plot_account  # slow to load

        write_account(data, folder / f"{args.stem}.csv")
        netcdf(args, data, folder / f"{args.stem}.nc")
        plot_account(data, folder / args.stem)
