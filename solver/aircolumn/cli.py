"""The command line. Exit codes: 0 done, 1 could not compute, 2 bad input, 130 interrupted."""

import argparse
import gc
import os
import sys
from contextlib import contextmanager
from importlib import import_module
from pathlib import Path
from threading import Thread

# The points share the cores among themselves; linear algebra that starts threads of its own, which
# then wait in a busy loop, only takes time from them. Read by numpy when it is loaded.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from aircolumn import __version__
from aircolumn.errors import ComputationError, InputError, RequestError

CAUTION = """\
A prediction is not a clearance to run. Spinning engines and dynamometers, fuel, backfire and
printed parts under heat and vacuum can hurt people; keep to rotational-speed and valve-train
limits, emissions law and local codes, and leave tests to qualified hands."""

#: What the map varies, and its usual range.
MAP_RANGE = {"length": ("200 mm", "900 mm"), "bore": ("34 mm", "50 mm")}


def main(argv=None) -> int:
    """Run the command in ``argv``; returns the exit code."""
    args = _parser().parse_args(argv)
    try:
        args.run(args)
    except (InputError, RequestError) as error:
        print(f"{error}", file=sys.stderr)
        return 2
    except ComputationError as error:
        print(f"could not compute: {error}", file=sys.stderr)
        return 1
    except OSError as error:
        print(f"could not write: {error}", file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        kept = "run the same command to go on" if args.command == "study" else "nothing was written"
        print(f"\ninterrupted; {kept}", file=sys.stderr)
        return 130
    return 0


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="aircolumn",
        description="Which intake runner fills the cylinder best, and at which engine speed.",
        epilog=CAUTION,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action="version", version=f"aircolumn {__version__}")
    commands = parser.add_subparsers(required=True, metavar="COMMAND")
    look = _add(commands, "check", _check, "read and check an engine file, print derived figures")
    look.add_argument(
        "--out", type=Path, metavar="DIR", help="write each runner's area schedule there (CSV)"
    )
    one = _add(commands, "curve", _curve, "VE, torque and power of one engine over speed")
    many = _add(commands, "compare", _compare, "all runners of the file side by side")
    why = _add(commands, "account", _account, "why VE is not 1: what each effect takes or gives")
    chart = _add(
        commands, "map", _map, "VE over speed and runner length or bore, beside rules of thumb"
    )
    chart.add_argument(
        "--vary",
        choices=list(MAP_RANGE),
        default="length",
        help="what of the runner (default length)",
    )
    for name, k in (("--from", 0), ("--to", 1)):
        usual = ", ".join(f"{r[k]} for {v}" for v, r in MAP_RANGE.items())
        chart.add_argument(
            name, dest=name[2:] + "_", metavar="SIZE", help=f"with its unit (default {usual})"
        )
    chart.add_argument("--steps", type=int, default=15, metavar="N", help="sizes (default 15)")
    told = _add(commands, "explain", _explain, "why the humps of the VE curve lie where they do")
    told.add_argument("--runner", help="only this candidate")
    cycle = _add(commands, "trace", _trace, "one cycle by crank angle: pressures, waves, flows")
    cycle.add_argument("--rpm", type=float, required=True, metavar="N", help="speed of the cycle")
    cycle.add_argument("--out", type=Path, metavar="DIR", help="folder for results")
    measured = _add(
        commands, "pull", _pull, "measured pulls: correct, compare, lay the prediction over"
    )
    measured.add_argument(
        "data", nargs="+", metavar="RUNNER=DATA.csv", help="data file of a runner; two to compare"
    )
    measured.add_argument(
        "--standard", default="j1349", metavar="NAME", help=f"one of {_standards()} (default j1349)"
    )
    measured.add_argument(
        "--fit", nargs="+", default=[], metavar="UNKNOWN",
        help="calibrate on the first runner, test on the second: discharge, fmep, walls, cam",
    )  # fmt: skip
    measured.add_argument("--out", type=Path, metavar="DIR", help="folder for results")
    _add_atmosphere(commands)
    many_engines = _add(
        commands, "study", _study, "sweep, search, sensitivity or tolerance of any keys; resumable"
    )
    many_engines.add_argument(
        "--workers", type=int, metavar="N", help="threads (default: all cores)"
    )
    many_engines.add_argument(
        "--scheduler", metavar="ADDRESS", help="Dask scheduler to compute on: tcp://host:8786"
    )
    many_engines.add_argument(
        "--out", type=Path, metavar="DIR", help="folder for the points and results"
    )
    for command in (one, why, cycle):
        command.add_argument("--runner", help="candidate to use instead of intake.runner")
    many.add_argument(
        "--uncertainty",
        action="store_true",
        help="compute on three meshes and show the numerical uncertainty of VE (5 times slower)",
    )
    for command in (one, many, why, chart, told):
        command.add_argument(
            "--rpm", nargs="+", type=float, metavar="N", help="speeds instead of the file's"
        )
        command.add_argument(
            "--out", type=Path, metavar="DIR", help="folder for results (default: by file name)"
        )
    for command in (one, many):
        command.add_argument(
            "--standard", metavar="NAME", help=f"also correct torque and power to {_standards()}"
        )
        command.add_argument(
            "--verbose", action="store_true", help="also print the mass and energy ledgers"
        )
    return parser


def _standards() -> str:
    from aircolumn.dyno.atmosphere import STANDARDS

    return ", ".join(STANDARDS)


def _add_atmosphere(commands):
    text = "torque or power by every atmosphere standard, from one of them or as observed"
    command = commands.add_parser("atmosphere", help=text, description=text.capitalize() + ".")
    command.add_argument("value", metavar="VALUE", help="with its unit: '250 N m', '180 hp'")
    command.add_argument(
        "--stated", default="observed", metavar="NAME",
        help=f"what VALUE is stated at: observed (default), {_standards()}",
    )  # fmt: skip
    command.add_argument("--pressure", required=True, metavar="P", help="barometer: '97.5 kPa'")
    command.add_argument(
        "--temperature", required=True, metavar="T", help="of the inlet air: '30 degC'"
    )
    command.add_argument("--humidity", default="0 %", metavar="H", help="relative: '40 %%'")
    command.set_defaults(run=_atmosphere, command="atmosphere")


def _add(commands, name, run, text):
    command = commands.add_parser(name, help=text, description=text[0].upper() + text[1:] + ".")
    command.add_argument("file", type=Path, metavar="FILE", help="engine file (YAML)")
    command.set_defaults(run=run, command=name)
    return command


def _load(path):
    from aircolumn.description.reader import load

    return load(path)


def _check(args):
    from aircolumn.report.check import check_text

    description = _load(args.file)
    print(check_text(description))
    if args.out is not None:
        _write_schedules(args.out, description)


@contextmanager
def _results(args):
    """Yield the scratch folder of the results; afterwards say what was written, and the caution."""
    from aircolumn.report.files import result_folder

    out = args.out or Path(f"{args.file.stem}-{args.command}")
    with result_folder(out) as folder:
        yield folder
        names = sorted(p.name for p in folder.iterdir())
    print(f"\nwritten to {out}: {', '.join(names)}\n{CAUTION}")


def _write_schedules(out, description):
    from aircolumn.description.area_schedule import write_area_schedule
    from aircolumn.piping import pipe_shape
    from aircolumn.report.files import result_folder

    with result_folder(out) as folder:
        for name, runner in description.runners.items():
            write_area_schedule(folder / f"{name}-area.csv", pipe_shape(runner))
    print(f"written to {out}: {', '.join(f'{n}-area.csv' for n in description.runners)}")


def _engine(args):
    """The engine of the file with the runner asked for."""
    description = _load(args.file)
    if args.runner is None:
        return description.engine
    return _candidate(args, description, args.runner)


def _candidate(args, description, name):
    if name not in description.runners:
        known = ", ".join(description.runners)
        raise RequestError(f"no runner '{name}' in {args.file}; there are: {known}")
    return description.with_runner(name)


def _curve(args):
    _check_standard(args.standard)
    engine = _engine(args)
    from aircolumn.curves import check_speeds, curve, speeds_of
    from aircolumn.report.tables import curve_table, ledger_table

    speeds = speeds_of(engine) if args.rpm is None else check_speeds(args.rpm)
    with _Progress(len(speeds)) as progress:
        data = curve(engine, speeds, progress)
    _correct(args, data, engine)
    print(curve_table(data))
    if args.verbose:
        print("\n" + ledger_table(data))
    data = data.expand_dims(runner=[args.runner or "runner"])
    with _gaps_told(data):
        _write(args, data, engine.speeds, "curve")


def _explain(args):
    description = _load(args.file)
    names = list(description.runners) if args.runner is None else [args.runner]
    engines = {name: _candidate(args, description, name) for name in names}
    from aircolumn.curves import check_speeds, curve, failed_points, speeds_of
    from aircolumn.report.explain_report import explain_text, plot_explanation
    from aircolumn.tuning.explain import explain

    speeds = speeds_of(description.engine) if args.rpm is None else check_speeds(args.rpm)
    curves, told, gaps = {}, {}, []
    with _Progress(len(names) * len(speeds)) as progress:
        for k, (name, engine) in enumerate(engines.items()):
            before = k * len(speeds)
            data = curve(engine, speeds, lambda n, _, b=before: progress(b + n, 0))
            gaps += [(name, *gap[1:]) for gap in failed_points(data)]
            ve = data.ve.values
            curves[name], told[name] = (speeds, ve), explain(engine, speeds, ve)
    text = explain_text(told)
    print(text)
    with _results(args) as folder:
        (folder / "explain.txt").write_text(f"{text}\n\n{CAUTION}\n")
        plot_explanation(curves, told, description.engine.title, folder / "explain")
    for name, rpm, why in gaps:
        print(f"{name}, {rpm:.0f} rpm: {why}")
    _end_with_gaps(len(gaps), len(names) * len(speeds))


def _map(args):
    engine = _load(args.file).engine
    import numpy as np

    from aircolumn.curves import check_speeds, speeds_of
    from aircolumn.description.units import to_si
    from aircolumn.report.files import write_map, write_netcdf
    from aircolumn.report.plots import plot_map
    from aircolumn.report.tables import map_table
    from aircolumn.tuning.tuning_map import tuning_map

    try:
        usual = MAP_RANGE[args.vary]
        first, last = to_si(args.from_ or usual[0], "length"), to_si(args.to_ or usual[1], "length")
    except ValueError as error:
        raise RequestError(f"--from and --to: {error}") from None
    if not 2 <= args.steps <= 200 or last <= first:
        raise RequestError("--steps must be from 2 to 200, and --to greater than --from")
    speeds = speeds_of(engine) if args.rpm is None else check_speeds(args.rpm)
    sizes = np.linspace(first, last, args.steps)
    with _Progress(len(sizes) * len(speeds)) as progress:
        data = tuning_map(engine, sizes, speeds, progress, vary=args.vary)
    print(map_table(data))
    with _gaps_told(data), _results(args) as folder:
        write_map(data, folder / "map.csv")
        write_netcdf(data, folder / "map.nc")
        plot_map(data, folder / "map")


def _trace(args):
    engine = _engine(args)
    from aircolumn.curves import check_speeds
    from aircolumn.report.files import write_netcdf, write_series
    from aircolumn.report.trace_plots import plot_trace
    from aircolumn.tuning.trace import trace

    (rpm,) = check_speeds(args.rpm)
    with _Progress(1):
        data = trace(engine, float(rpm))
    print(f"VE {100 * data.attrs['ve']:.1f} % (trapped air, ambient reference) at {rpm:.0f} rpm")
    with _results(args) as folder:
        write_series(data, folder / "trace.csv")
        write_netcdf(data, folder / "trace.nc")
        plot_trace(data, folder)


def _account(args):
    engine = _engine(args)
    from aircolumn.curves import check_speeds, speeds_of
    from aircolumn.report.files import write_account, write_netcdf
    from aircolumn.report.plots import plot_account
    from aircolumn.report.tables import account_table
    from aircolumn.tuning.filling_account import EFFECTS, filling_account

    speeds = speeds_of(engine) if args.rpm is None else check_speeds(args.rpm)
    with _Progress(len(speeds) * (len(EFFECTS) + 1)) as progress:
        data = filling_account(engine, speeds, progress)
    print(account_table(data))
    with _gaps_told(data), _results(args) as folder:
        write_account(data, folder / "account.csv")
        write_netcdf(data, folder / "account.nc")
        plot_account(data, folder / "account")


def _compare(args):
    _check_standard(args.standard)
    description = _load(args.file)
    from aircolumn.curves import check_speeds, compare, speeds_of
    from aircolumn.report.tables import compare_table, ledger_table, verdict

    engine = description.engine
    speeds = speeds_of(engine) if args.rpm is None else check_speeds(args.rpm)
    count = len(speeds) * len(description.runners) * (3 if args.uncertainty else 1)
    with _Progress(count) as progress:
        data = compare(description, speeds, progress, uncertainty=args.uncertainty)
    _correct(args, data, engine)
    print(compare_table(data))
    print("\n" + verdict(data, engine.speeds))
    if args.uncertainty:
        worst = float(data.ve_uncertainty.max())
        print(
            f"numerical uncertainty of VE: at most {100 * worst:.2f} % (grid convergence index from"
            " three meshes)"
        )
    if args.verbose:
        print("\n" + ledger_table(data))
    with _gaps_told(data):
        _write(args, data, engine.speeds, "compare")


@contextmanager
def _gaps_told(data):
    """Print the points that could not be computed; once the results are written, the command ends
    as one that could not compute everything."""
    from aircolumn.curves import failed_points
    from aircolumn.report.tables import gaps_text

    failed = failed_points(data)
    if failed:
        print("\n" + gaps_text(data))
    yield
    _end_with_gaps(len(failed), data.ve.size)


def _end_with_gaps(missing: int, total: int):
    if missing:
        raise ComputationError(f"{missing} of {total} points; the others are written")


def _pull(args):
    description = _load(args.file)
    from aircolumn.dyno.overlay import FAILURE
    from aircolumn.dyno.session import measure
    from aircolumn.report.pull_plots import plot_pull
    from aircolumn.report.pull_report import session_text, write_tables

    with _Progress(None) as progress:
        session = measure(
            description, _data_files(args, description), args.standard, args.fit, progress
        )
    text = session_text(session)
    print(text)
    with _results(args) as folder:
        (folder / "pull.txt").write_text(f"{text}\n\n{CAUTION}\n")
        write_tables(session, folder)
        plot_pull(session, folder / "pull")
    reasons = [why for o in session.overlays.values() for why in o.predicted[FAILURE]]
    _end_with_gaps(sum(map(bool, reasons)), len(reasons))


def _data_files(args, description) -> dict:
    """Runner name to data file, from RUNNER=DATA.csv (a file alone: the only runner's)."""
    data = {}
    for text in args.data:
        name, _, path = text.rpartition("=")
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


def _study(args):
    from aircolumn.study.plan import read_study

    plan = read_study(args.file)
    if args.workers is not None and not 1 <= args.workers <= 1024:
        raise RequestError("--workers must be from 1 to 1024")
    if args.workers is not None and args.scheduler is not None:
        raise RequestError("--workers is for this machine; a scheduler has its own")
    args.out = args.out or Path(f"{args.file.stem}-study")
    from aircolumn.report.study_session import run_study
    from aircolumn.study.executors import Cluster, Threads

    executor = Cluster(args.scheduler) if args.scheduler else Threads(args.workers)
    try:
        with _Progress(None) as progress, run_study(plan, args.out, executor, progress) as outcome:
            progress.__exit__()
            print(outcome.text)
            with _results(args) as folder:
                (folder / "study.txt").write_text(f"{outcome.text}\n\n{CAUTION}\n")
                outcome.write(folder)
    finally:
        executor.close()


def _atmosphere(args):
    from aircolumn.description.units import to_si
    from aircolumn.dyno.atmosphere import STATEMENTS, Atmosphere
    from aircolumn.report.atmosphere_report import atmosphere_table

    if args.stated not in STATEMENTS:
        raise RequestError(f"--stated '{args.stated}' is not known; use {', '.join(STATEMENTS)}")
    kinds = {"pressure": "pressure", "temperature": "temperature", "humidity": "share"}
    air = {}
    for name, kind in kinds.items():
        try:
            air[name] = to_si(getattr(args, name), kind)
        except ValueError as error:
            raise RequestError(f"--{name}: {error}") from None
    limits = {"pressure": (50e3, 120e3), "temperature": (223.15, 333.15), "humidity": (0.0, 1.0)}
    said = {"pressure": "50 to 120 kPa", "temperature": "-50 to 60 degC", "humidity": "0 to 100 %"}
    for name, (low, high) in limits.items():
        if not low <= air[name] <= high:
            raise RequestError(f"--{name} {getattr(args, name)} is not within {said[name]}")
    number, unit = _torque_or_power(args.value)
    print(atmosphere_table(number, unit, args.stated, Atmosphere(**air)))


def _torque_or_power(text) -> tuple[float, str]:
    """(number, unit) of a torque or power, in the user's own unit."""
    from aircolumn.description.units import split_quantity, to_si

    for kind in ("torque", "power"):
        try:
            to_si(text, kind)
            return split_quantity(text)
        except ValueError:
            continue
    raise RequestError(f"'{text}' is no torque or power with a unit, such as '250 N m' or '180 hp'")


def _check_standard(name):
    from aircolumn.dyno.atmosphere import check_standard

    if name is not None:
        check_standard(name)


def _correct(args, data, engine):
    """Add torque and power at the standard asked for."""
    if args.standard is None:
        return
    from aircolumn.dyno.atmosphere import STANDARDS, add_corrected

    ratio = add_corrected(data, engine, args.standard)
    print(f"{STANDARDS[args.standard].title}: observed x {ratio:.5f}\n")


def _write(args, data, speeds, command):
    from aircolumn.report.files import write_csv, write_netcdf
    from aircolumn.report.plots import plot_cylinders, plot_runners
    from aircolumn.report.tables import cylinders_table

    with _results(args) as folder:
        write_csv(data, folder / f"{command}.csv")
        write_netcdf(data, folder / f"{command}.nc")
        plot_runners(data, speeds, folder / command)
        if data.sizes["cylinder"] > 1:
            plot_cylinders(data, folder / f"{command}-cylinders")
            print("\nVE of each cylinder, %\n" + cylinders_table(data))


def _load_report():
    for module in ("xarray", "aircolumn.report.plots"):
        import_module(module)


class _Progress:
    """A progress bar on the terminal (none when the output is not one)."""

    def __init__(self, total: int | None):
        from aircolumn.compiled import is_compiled

        if not is_compiled():
            print("compiling the solver (first run only, about 20 s) ...", file=sys.stderr)
        from tqdm import tqdm

        self.bar = tqdm(total=total, unit="point", disable=None, leave=False)

    def __enter__(self):
        # The march lets go of the interpreter: load what the report needs meanwhile.
        Thread(target=_load_report, daemon=True).start()
        return self

    def __call__(self, done: int, total: int | None):
        if self.bar.total is None and total and done:  # stored points say nothing about the rate
            self.bar.initial = self.bar.n = done
        self.bar.total = total or self.bar.total
        self.bar.update(done - self.bar.n)

    def __exit__(self, *_):
        self.bar.close()


def run():
    """The process: main, with little garbage collection and without the interpreter's tidying up
    of compiled code at the end, a fifth of the time of a curve. All files are closed by then."""
    gc.set_threshold(100_000)
    sys.setswitchinterval(3e-4)  # a thread back from a march should not wait 5 ms for an import
    try:
        code = main()
    except SystemExit as stop:  # argparse
        code = stop.code
    sys.stderr.flush()
    try:
        sys.stdout.flush()
    except BrokenPipeError:
        code = 1
    os._exit(code if isinstance(code, int) else 0 if code is None else 2)
