"""``sections``: an area schedule from a mesh of an air column."""

from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np

from aircolumn.commands import options
from aircolumn.commands.options import option, positional
from aircolumn.commands.results import Answer, Origin
from aircolumn.display_units import choose
from aircolumn.engine.description.units import to_si
from aircolumn.errors import RequestError
from aircolumn.output.part.answer import SectionsFound

NEAR = "point near its {} end: 'X, Y, Z' with a unit each"


@dataclass(frozen=True)
class Request(options.Writes, options.EngineFile):
    """What ``sections`` is asked."""

    file: Path = positional(type=Path, metavar="FILE", help="closed mesh of the air in a runner (STL or 3MF)")
    unit: str | None = option(help="of length in the file (an STL file does not say): mm, in, cm, m")
    start: str | None = option(metavar="POINT", help=f"{NEAR.format('first')} (default: the larger end)")
    stop: str | None = option(metavar="POINT", help=NEAR.format("last"))
    allowance: float = option(
        type=float,
        default=1.0,
        help="by how much the mesh is larger than the part, for shrinkage of a mould or a print (default: 1)",
    )


def run(request: Request) -> Answer[SectionsFound]:
    """Areas along the centre line of a mesh."""
    choose(request.units)
    if not 0.8 <= request.allowance <= 1.2:
        raise RequestError(f"--allowance {request.allowance:g}: a factor from 0.8 to 1.2 is expected")
    start, stop = (_point(said) for said in (request.start, request.stop))
    from aircolumn.part.made import check_extra

    check_extra()
    from aircolumn.output.part.files import write_route, write_schedule
    from aircolumn.output.part.text import schedule_text
    from aircolumn.part.mesh_file import read_mesh
    from aircolumn.part.read_back import schedule_of

    mesh = read_mesh(request.file, request.unit)
    mesh.apply_scale(1.0 / request.allowance)
    found = schedule_of(mesh, start, stop)
    name = f"{request.file.stem}-area.csv"

    def write(folder: Path, origin: Origin) -> None:
        from aircolumn.output.part.pictures import plot_schedule

        write_schedule(folder / name, found.distance, found.area, found.perimeter)
        write_route(folder / f"{request.file.stem}-route.csv", found.line)
        plot_schedule(found, request.file.name, folder / "sections")

    text = schedule_text(found, request.file.name, name)
    return Answer([text], write, result=partial(SectionsFound.of, found))


def _point(said: str | None) -> "np.ndarray | None":
    """A point of the command line, m. Raises RequestError."""
    if said is None:
        return None
    parts = said.split(",")
    if len(parts) != 3:
        raise RequestError(f"'{said[:40]}' is not a point: write 'X, Y, Z', for example '0 mm, 0 mm, 120 mm'")
    try:
        return np.array([to_si(part.strip(), "length") for part in parts])
    except ValueError as error:
        raise RequestError(str(error)) from None
