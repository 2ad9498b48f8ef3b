"""``check``: what follows from an engine file before anything is marched."""

from dataclasses import dataclass
from functools import partial
from pathlib import Path

from aircolumn.commands import options
from aircolumn.commands.options import option
from aircolumn.commands.results import Answer, Origin
from aircolumn.display_units import unit
from aircolumn.engine.description.area_schedule import write_area_schedule
from aircolumn.engine.model.flow_path import flow_path
from aircolumn.engine.model.piping import perimeters, pipe_shape
from aircolumn.output.check.answer import CheckFound
from aircolumn.output.check.text import check_text


@dataclass(frozen=True)
class Request(options.EngineFile):
    """What ``check`` is asked."""

    out: Path | None = option(
        type=Path, metavar="DIR", help="write a drawing and each runner's area schedule (CSV) there"
    )


def run(request: Request) -> Answer[CheckFound]:
    """Derived figures; a drawing and area schedules."""
    description = request.read()
    text = check_text(description)

    def write(folder: Path, origin: Origin) -> None:
        from aircolumn.output.check.drawing import plot_layout  # slow to load
        from aircolumn.output.check.valve_lift import plot_valve_lift

        paths = {name: flow_path(description.with_runner(name)) for name in description.runners}
        for name, runner in description.runners.items():
            shape = pipe_shape(runner)
            write_area_schedule(folder / f"{name}-area.csv", shape, unit("length").name, perimeters(runner))
        title = description.engine.title or description.path.name
        plot_layout(paths, title, folder / "layout")
        plot_valve_lift(description.engine, title, folder / "valve-lift")

    return Answer([text], write, description.source.files, result=partial(CheckFound.of, description))
