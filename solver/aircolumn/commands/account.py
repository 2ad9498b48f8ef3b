"""``account``: why VE is not 1."""

from aircolumn.commands import options
from aircolumn.commands.progress import Progress
from aircolumn.commands.results import gaps_told, results
from aircolumn.curves.speeds import chosen_speeds
from aircolumn.report.files import write_account, write_netcdf
from aircolumn.report.tables import account_table
from aircolumn.tuning.filling_account import EFFECTS, filling_account


def arguments(parser):
    """FILE, runner, speeds."""
    options.engine_file(parser)
    options.runner(parser)
    options.speeds(parser)
    options.folder(parser)


def run(args):
    """Compute, print, write."""
    engine = options.chosen_engine(args)
    speeds = chosen_speeds(engine, args.rpm)
    with Progress(len(speeds) * (len(EFFECTS) + 1)) as progress:
        data = filling_account(engine, speeds, progress)
    print(account_table(data))
    from aircolumn.report.plots import plot_account  # loaded during the march

    with gaps_told(data), results(args) as folder:
        write_account(data, folder / "account.csv")
        write_netcdf(data, folder / "account.nc")
        plot_account(data, folder / "account")
