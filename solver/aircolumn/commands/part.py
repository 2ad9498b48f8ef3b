"""``part``: the runner as a shape to be made."""

from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from aircolumn.commands import options
from aircolumn.commands.options import option, switch
from aircolumn.commands.results import Answer, Origin
from aircolumn.errors import RequestError
from aircolumn.output.part.answer import PartFound

if TYPE_CHECKING:
    from aircolumn.part.made import Made


@dataclass(frozen=True)
class Request(options.Writes, options.OneRunner):
    """What ``part`` is asked."""

    bank: int | None = option(type=int, metavar="N", help="N runners side by side, at space.spacing")
    manifold: bool = switch("the runners of all cylinders (or of --bank) with their plenum")


def run(request: Request) -> Answer[PartFound]:
    """Solids of one runner, a bank or a manifold."""
    description, engine, name = request.chosen()
    if request.bank is not None and not 2 <= request.bank <= 16:
        raise RequestError(f"--bank {request.bank}: from 2 to 16 runners")
    from aircolumn.output.part.text import part_text
    from aircolumn.part.made import BANK, MANIFOLD, RUNNER, make

    kind = MANIFOLD if request.manifold else BANK if request.bank else RUNNER
    made = make(engine, kind, request.bank or engine.block.cylinders)
    title = f"{engine.title or description.path.name}, {name}"

    def write(folder: Path, origin: Origin) -> None:
        _write(made, title, folder / request.stem("part"))

    result = partial(PartFound.of, made, name)
    return Answer([part_text(made, name)], write, description.source.files, result=result)


def _write(made: "Made", title: str, base: Path) -> None:
    """Meshes, centre line, area schedule, views and drawing."""
    from aircolumn.output.part.drawing import draw_sheet
    from aircolumn.output.part.files import write_meshes, write_route, write_schedule
    from aircolumn.output.part.views import plot_views
    from aircolumn.part.sweep import stations

    part, count = made.part, len(made.pieces)
    names = [""] if count == 1 else [f"-{k}-of-{count}" for k in range(1, count + 1)]
    solids = {name: piece.solid for name, piece in zip(names, made.pieces, strict=True)}
    write_meshes(solids, base, part.part.allowance)
    air = {"": made.air, "-with-bellmouth": made.mouth} if part.lip else {"": made.air}
    write_meshes(air, base.with_name(f"{base.name}-air"), part.part.allowance)
    write_route(base.with_name(f"{base.name}-route.csv"), part.passage.line)
    s = stations(part.passage, 0.0, part.end)
    section = part.passage.section(s)
    around = None if part.passage.is_round else section.perimeter
    write_schedule(base.with_name(f"{base.name}-area.csv"), s, section.area, around)
    plot_views(list(solids.values()), title, base.with_name(f"{base.name}-views"))
    draw_sheet(made, title, base.with_name(f"{base.name}-drawing"))
