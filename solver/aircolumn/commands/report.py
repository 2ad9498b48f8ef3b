"""``report``: the comparison and what is behind it as one page for a browser."""

from aircolumn.commands import options
from aircolumn.commands.progress import Progress
from aircolumn.commands.results import netcdf, results
from aircolumn.curves.curve import compare
from aircolumn.curves.labelled import shown_ve
from aircolumn.curves.summary import interest_range, peak
from aircolumn.engine.flow_path import flow_path
from aircolumn.page.write import check_libraries, page
from aircolumn.report.caution import CAUTION
from aircolumn.report.tables import gaps_text
from aircolumn.tuning.explain import explain
from aircolumn.tuning.trace import trace


def arguments(parser):
    """FILE, speeds."""
    options.engine_file(parser)
    options.speeds(parser)
    options.only_given(parser)
    options.folder(parser)


def run(args):
    """Compute, write."""
    check_libraries()
    description = options.read(args)
    speeds = options.asked_speeds(args, description.engine)
    with Progress(None) as progress:
        data = compare(description, speeds, progress)
        told, cycles = _cycles(description, data)
    with results(args, [f"open {args.out}/report.html in a browser"], data) as folder:
        netcdf(args, data, folder / "report.nc")
        content = _content(args, description, data, told, cycles, folder)
        (folder / "report.html").write_text(page(content))


def _cycles(description, data):
    """What explains each runner, and its cycle at the highest hump (or VE)."""
    told, cycles = {}, {}
    for name in description.runners:
        engine = description.with_runner(name)
        ve = data.ve.sel(runner=name).values
        known = ve == ve
        if not known.any():
            continue
        rpm = data.rpm.values[known]
        told[name] = explain(engine, rpm, ve[known])
        humps = [(e.ve, cycle) for e, _, cycle in told[name] if e.kind == "hump"]
        best = max(humps, key=lambda h: h[0], default=(0.0, None))[1]
        cycles[name] = trace(engine, peak(rpm, ve[known]).rpm) if best is None else best
    return told, cycles


def _content(args, description, data, told, cycles, folder) -> dict:
    """What the template names."""
    from aircolumn.page import content
    from aircolumn.report.layout_plot import layout_svg

    engine = description.engine
    paths = {name: flow_path(description.with_runner(name)) for name in description.runners}
    span = interest_range(engine.speeds, data.rpm.values)
    return {
        "title": engine.title or description.path.name,
        "names": list(description.runners),
        "origin": args.origin,
        "source": args.file.read_text(),
        "advice": content.recommendation(data, engine.speeds),
        "gaps": gaps_text(data).splitlines()[1:],
        "drawing": layout_svg(paths, folder),
        "curves": content.curves(data),
        "cycles": [content.cycle(name, cycle) for name, cycle in cycles.items()],
        "reasons": content.reasons(told),
        "defaults": content.left_to_defaults(engine),
        "span": span,
        "every": content.EVERY,
        "density": f"{shown_ve(data)[1]} density",
        "caution": CAUTION,
    }
