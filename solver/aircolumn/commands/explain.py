"""``explain``: why the humps of the VE curve lie where they do."""

from dataclasses import dataclass
from functools import partial
from pathlib import Path

from aircolumn.commands import options
from aircolumn.commands.options import option
from aircolumn.commands.results import Answer, Origin, write_text
from aircolumn.curves.curve import compare
from aircolumn.curves.to_xarray import failed_points, own_curve
from aircolumn.curves.tuning.explain import explain
from aircolumn.output.curves.text import not_located
from aircolumn.output.explain.answer import ReasonsFound
from aircolumn.output.explain.text import explain_text
from aircolumn.output.tables import with_blank_line


@dataclass(frozen=True)
class Request(options.AskedSpeeds, options.Keeps, options.OneRunner):
    """What ``explain`` is asked."""

    runner: str | None = option(help="only this candidate")


def run(request: Request) -> Answer[ReasonsFound]:
    """What made the humps and dips of each runner."""
    description = request.read()
    if request.runner is not None:
        options.check_candidate(description, request.runner, request.file)
        description = description.only(request.runner)
    speeds = request.asked(description.engine)
    curves, explanations = {}, {}
    with request.progress() as progress:
        data = compare(description, speeds, progress)
        for name in description.runners:
            one = own_curve(data, name)
            rpm, ve = one.rpm.values, one.ve.values
            curves[name] = rpm, ve
            explanations[name] = explain(description.with_runner(name), rpm, ve)
    text = explain_text(explanations, curves)
    failed = failed_points(data)
    gaps = [f"{name}, {rpm:.0f} rpm: {why}" for name, rpm, why in failed]
    stem = request.stem("explain")

    def write(folder: Path, origin: Origin) -> None:
        from aircolumn.output.explain.pictures import plot_events, plot_explanation  # slow to load

        write_text(folder / f"{stem}.txt", text)
        plot_explanation(curves, explanations, description.engine.title, folder / stem)
        for name, items in explanations.items():
            if items:
                plot_events(name, items, folder / f"explain-{name}-events")

    texts = [text, *(with_blank_line(t) for t in (not_located(data), data.attrs["cells"])), *gaps]
    missing, result = len(failed), partial(ReasonsFound.of, explanations)
    return Answer(texts, write, description.source.files, missing, data.ve.size, result=result)
