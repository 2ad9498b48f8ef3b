"""``explain``: why the humps of the VE curve lie where they do."""

from aircolumn.commands import options
from aircolumn.commands.progress import Progress
from aircolumn.commands.results import end_with_gaps, results, write_said
from aircolumn.curves.curve import compare
from aircolumn.curves.to_xarray import failed_points, own_curve
from aircolumn.curves.tuning.explain import explain
from aircolumn.output.curves.text import not_located
from aircolumn.output.tables import with_blank_line


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
    if args.runner is not None:
        options.candidate(args, description, args.runner)
        description = description.only(args.runner)
    speeds = options.asked_speeds(args, description.engine)
    curves, explanations = {}, {}
    with Progress(None) as progress:
        data = compare(description, speeds, progress)
        for name in description.runners:
            one = own_curve(data, name)
            rpm, ve = one.rpm.values, one.ve.values
            curves[name], explanations[name] = (rpm, ve), explain(description.with_runner(name), rpm, ve)
    # slow to load
    from aircolumn.output.explain.pictures import plot_events, plot_explanation
    from aircolumn.output.explain.text import explain_text

    text = explain_text(explanations, curves)
    gaps = [f"{name}, {rpm:.0f} rpm: {why}" for name, rpm, why in failed_points(data)]
    texts = [text, with_blank_line(not_located(data)), *gaps]
    stem = options.stem(args)
    with results(args, texts) as folder:
        write_said(folder / f"{stem}.txt", text)
        plot_explanation(curves, explanations, description.engine.title, folder / stem)
        for name, items in explanations.items():
            if items:
                plot_events(name, items, folder / f"explain-{name}-events")
    end_with_gaps(len(gaps), data.ve.size)
