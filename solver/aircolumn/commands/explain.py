"""``explain``: why the humps of the VE curve lie where they do."""

from aircolumn.commands import options
from aircolumn.commands.progress import Progress
from aircolumn.commands.results import end_with_gaps, results
from aircolumn.curves.curve import curve
from aircolumn.curves.labelled import failed_points
from aircolumn.errors import clean
from aircolumn.report.caution import CAUTION
from aircolumn.report.tables import wrapped
from aircolumn.tuning.explain import explain


def arguments(parser):
    """FILE, runner, speeds."""
    options.engine_file(parser)
    options.runner(parser, "only this candidate")
    options.speeds(parser)
    options.only_given(parser)
    options.folder(parser)


def run(args):
    """Compute, print, write."""
    description = options.read(args)
    names = list(description.runners) if args.runner is None else [args.runner]
    engines = {name: options.candidate(args, description, name) for name in names}
    speeds = options.asked_speeds(args, description.engine)
    curves, told, gaps, done = {}, {}, [], 0
    with Progress(None) as progress:
        for name, engine in engines.items():
            data = curve(engine, speeds, lambda n, _, b=done: progress(b + n, 0))
            gaps += [(name, *gap[1:]) for gap in failed_points(data)]
            rpm, ve = data.rpm.values, data.ve.values
            curves[name], told[name] = (rpm, ve), explain(engine, rpm, ve)
            done += rpm.size
    # slow to load
    from aircolumn.report.explain_report import explain_text, plot_events, plot_explanation

    text = explain_text(told, curves)
    said = [text, *(f"{name}, {rpm:.0f} rpm: {why}" for name, rpm, why in gaps)]
    stem = options.stem(args)
    with results(args, said) as folder:
        (folder / f"{stem}.txt").write_text(f"{clean(text)}\n\n{wrapped(CAUTION, 80)}\n")
        plot_explanation(curves, told, description.engine.title, folder / stem)
        for name, items in told.items():
            if items:
                plot_events(name, items, folder / f"explain-{name}-events")
    end_with_gaps(len(gaps), done)
