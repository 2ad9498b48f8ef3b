"""``check``: what follows from an engine file before anything is marched."""

from aircolumn.commands import options
from aircolumn.display_units import unit
from aircolumn.engine.description.area_schedule import write_area_schedule
from aircolumn.engine.model.flow_path import flow_path
from aircolumn.engine.model.piping import pipe_shape
from aircolumn.output.check.text import check_text
from aircolumn.output.folders import write_origin
from aircolumn.output.replace import result_folder
from aircolumn.output.tables import wrapped


def arguments(parser):
    """FILE and a folder for the drawing and area schedules."""
    options.engine_file(parser)
    options.folder(parser, "write a drawing and each runner's area schedule (CSV) there")


def run(args):
    """Print; write."""
    description = options.read(args)
    if args.out is None:
        print(wrapped(check_text(description)))
        return
    written = _write(args, description)
    print(wrapped(f"{check_text(description)}\nwritten to {args.out}: {', '.join(written)}"))


def _write(args, description) -> list[str]:
    """The names of what was written."""
    from aircolumn.output.check.drawing import plot_layout  # slow to load
    from aircolumn.output.check.valve_timing import plot_valve_lift

    paths = {name: flow_path(description.with_runner(name)) for name in description.runners}
    with result_folder(args.out) as folder:
        for name, runner in description.runners.items():
            write_area_schedule(folder / f"{name}-area.csv", pipe_shape(runner), unit("length").name)
        title = description.engine.title or description.path.name
        plot_layout(paths, title, folder / "layout")
        plot_valve_lift(description.engine, title, folder / "valve-lift")
        write_origin(args.origin, args.kept, args.out, folder)
        return sorted(p.name for p in folder.iterdir())
