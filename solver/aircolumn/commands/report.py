"""``report``: what was computed, or measured, as one page for a browser."""

from aircolumn.commands import options
from aircolumn.commands.progress import Progress
from aircolumn.commands.results import end_with_gaps, netcdf, results
from aircolumn.curves.curve import compare
from aircolumn.curves.summary import interest_range, peak
from aircolumn.curves.to_xarray import own_curve
from aircolumn.curves.tuning.explain import explain
from aircolumn.curves.tuning.trace import trace
from aircolumn.display_units import chosen
from aircolumn.engine.description.reader import is_study
from aircolumn.engine.model.flow_path import flow_path
from aircolumn.errors import clean, printable
from aircolumn.output.caution import CAUTION
from aircolumn.output.folders import folder_of
from aircolumn.output.page.write import check_libraries, page
from aircolumn.output.tables import gaps_text


def arguments(parser):
    """FILE, data files, speeds, standard."""
    options.engine_file(parser, "engine file, or study file (YAML)")
    options.data_files(parser, "*")
    options.speeds(parser)
    options.only_given(parser)
    options.standard(parser)
    options.folder(parser)


def run(args):
    """Compute, write."""
    check_libraries()
    args.stem = f"{args.command}-pulls" if args.data else args.command
    if is_study(args.file):
        _of_study(args)
    elif args.data:
        _of_pulls(args)
    else:
        _of_runners(args)


def _said(args) -> list[str]:
    return [f"open {args.out}/{args.stem}.html in a browser"]


def _write(args, folder, engine, content):
    """The page; content: what is not the same on every page."""
    from aircolumn.output.page import charts
    from aircolumn.output.page.content import MODEST, left_to_defaults
    from aircolumn.output.trace.page import EVERY

    common = {
        "title": engine.title or args.file.name,
        "origin": args.origin,
        "defaults": left_to_defaults(engine),
        "doubts": MODEST,
        "every": EVERY,
        "units": charts.units(),
        "chosen": chosen(),
        "caution": CAUTION,
        "gaps": [],
        "cycles": [],
    }
    whole = {**common, **content}
    whole["sources"] = [(printable(name), _shown(text)) for name, text in whole["sources"]]
    whole["text"] = _shown(whole.get("text", ""))
    (folder / f"{args.stem}.html").write_text(page(whole), encoding="utf-8", errors="backslashreplace")


def _sources(files) -> list[tuple[str, str]]:
    """(name, text) of files as they were read."""
    return [(file.path.name, file.text) for file in files]


def _shown(text: str) -> str:
    return clean(text.expandtabs(4).replace("\r\n", "\n"))


def _of_runners(args):
    """The comparison and what is behind it."""
    from aircolumn.output.check.drawing import layout_svg
    from aircolumn.output.curves.page import curve_charts, recommendation
    from aircolumn.output.explain.page import reasons
    from aircolumn.output.page.content import HINT, MODEST
    from aircolumn.output.trace.page import cycle

    description = options.read(args)
    engine = description.engine
    options.check_asked_standard(args, engine)
    speeds = options.asked_speeds(args, engine)
    with Progress(None) as progress:
        data = compare(description, speeds, progress)
        explanations, cycles = _cycles(description, data)
    options.correct(args, data, engine)
    paths = {name: flow_path(description.with_runner(name)) for name in description.runners}
    span = interest_range(engine.speeds, data.rpm.values)
    with results(args, _said(args), data) as folder:
        netcdf(args, data, folder / f"{args.stem}.nc")
        _write(
            args,
            folder,
            engine,
            {
                "question": f"Which runner, for the range that matters? {len(paths)} candidates.",
                **recommendation(data, engine.speeds),
                "doubts": [*MODEST, *HINT],
                "gaps": gaps_text(data).splitlines()[1:],
                "drawing": layout_svg(paths, folder),
                "charts": curve_charts(data, span),
                "cycles": [cycle(name, one) for name, one in cycles.items()],
                "reasons": reasons(explanations),
                "sources": _sources(args.kept),
            },
        )


def _cycles(description, data):
    """What explains each runner, and its cycle at the highest hump (or VE)."""
    explanations, cycles = {}, {}
    for name in description.runners:
        engine = description.with_runner(name)
        one = own_curve(data, name)
        ve = one.ve.values
        known = ve == ve
        if not known.any():
            continue
        rpm = one.rpm.values[known]
        explanations[name] = explain(engine, rpm, ve[known])
        humps = [(e.ve, cycle) for e, _, cycle in explanations[name] if e.kind == "hump"]
        best = max(humps, key=lambda h: h[0], default=(0.0, None))[1]
        cycles[name] = trace(engine, peak(rpm, ve[known]).rpm) if best is None else best
    return explanations, cycles


def _of_pulls(args):
    """Measured pulls and the prediction laid over them."""
    from aircolumn.measured.pull_to_xarray import pull_dataset
    from aircolumn.measured.session import measure
    from aircolumn.output.pull.page import measured

    description = options.read(args)
    data = options.chosen_data(args, description)
    with Progress(None) as progress:
        session = measure(description, data, args.standard or options.USUAL_STANDARD, progress=progress)
    files = [*args.kept, *(pulls.file for pulls in session.files.values())]
    with results(args, _said(args)) as folder:
        netcdf(args, pull_dataset(session), folder / f"{args.stem}.nc")
        _write(args, folder, description.engine, {**measured(session), "sources": _sources(files)})
    end_with_gaps(*session.gaps())


def _of_study(args):
    """A study's answer, from the points in the folder of ``study`` (made if need be)."""
    from aircolumn.output.study.page import studied
    from aircolumn.output.study.text import missing_points
    from aircolumn.study.executors import Threads
    from aircolumn.study.plan import read_study
    from aircolumn.study.session import answer

    plan = read_study(args.file)
    options.choose_units(args, plan.description)
    with Progress(None) as progress:
        found = answer(plan, folder_of(args.file, "study"), Threads(None), progress)
    args.kept = plan.files
    with results(args, _said(args)) as folder:
        _write(args, folder, plan.engine, {**studied(plan, found), "sources": _sources(plan.files)})
    end_with_gaps(*missing_points(found))
