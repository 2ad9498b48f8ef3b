"""``explore``: a page with sliders for one key or two of the engine, between engines that were computed."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import closing
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np

from aircolumn.commands import options
from aircolumn.commands.options import option
from aircolumn.commands.progress import Progress
from aircolumn.commands.results import Answer, Origin
from aircolumn.curves.tuning.trace import trace
from aircolumn.engine.description.engine_file import Engine
from aircolumn.engine.description.given import check_speeds
from aircolumn.engine.description.reader import Description
from aircolumn.errors import RequestError
from aircolumn.output.page.content import check_libraries
from aircolumn.study.executors import Cores
from aircolumn.study.explore import FEWEST_SPEEDS, Explored, explore, explore_plan
from aircolumn.study.store import store_in

SHORTER, LONGER = 0.7, 1.2  # times the shortest and the longest candidate
NARROWER, WIDER = 0.88, 1.12  # times the runner's bore
WAVES = 5  # engines along the first key whose waves are shown


@dataclass(frozen=True)
class Request(options.Workers, options.GivenSpeeds, options.GoesOn, options.OneRunner):
    """What ``explore`` is asked."""

    vary: Sequence[Sequence[str]] = option(
        nargs=3,
        action="append",
        default=[],
        metavar=("KEY", "FROM", "TO"),
        help="a key of the engine file and its span, once or twice (default: runner length and bore)",
    )


@dataclass(frozen=True)
class ExploredPage:
    """The page; relative errors between computed engines, by figure; points computed in all."""

    page: Path
    errors: dict[str, float]
    points: int


def run(request: Request) -> Answer[ExploredPage]:
    """The page, from the points in its folder and those computed now."""
    check_libraries()
    description, engine, _ = request.chosen()
    request.check_workers()
    plan = explore_plan(
        request.file, _spans(request, description, engine), _speeds(request, engine), request.runner
    )
    with closing(store_in(request.out)) as store, Progress(None) as progress:
        found = explore(plan, store, Cores(request.workers), progress)
    off = 100 * found.errors["torque"]
    said = (
        f"{found.points} points. Torque between computed engines is within {off:.2g} % at 95 of 100 held-out"
        f" points.\nopen {request.out}/explore.html in a browser"
    )

    def write(folder: Path, origin: Origin) -> None:
        from aircolumn.output.page.explore_page import explore_content
        from aircolumn.output.page.write import write_page  # slow to load
        from aircolumn.output.trace.page import cycle

        content = explore_content(found)
        content["cycles"] = [cycle(name, one) for name, one in _waves(found)]
        title = description.engine.title or request.file.name
        sources = description.source.files
        write_page(folder / "explore.html", title, origin, engine, sources, content)

    result = partial(ExploredPage, request.out / "explore.html", found.errors, found.points)
    return Answer([said], write, description.source.files, result=result)


def _spans(request: Request, description: Description, engine: Engine) -> dict[str, tuple[str, str]]:
    """Keys and their spans, as asked for or around the candidates. Raises RequestError."""
    if len(request.vary) > 2:
        raise RequestError("--vary may stand once or twice")
    if request.vary:
        return {key: (low, high) for key, low, high in request.vary}
    lengths = [r.total_length for r in description.runners.values()]
    bore = engine.intake.runner.last_bore
    return {
        "intake.runner.length": (_mm(SHORTER * min(lengths)), _mm(LONGER * max(lengths))),
        "intake.runner.bore": (_mm(NARROWER * bore), _mm(WIDER * bore)),
    }


def _mm(metres: float) -> str:
    return f"{1e3 * metres:.0f} mm"


def _speeds(request: Request, engine: Engine) -> Sequence[float]:
    """Speeds asked for, or the file's, at least FEWEST_SPEEDS of them."""
    if request.rpm is not None:
        return list(check_speeds(request.rpm))
    s = engine.speeds
    count = max(FEWEST_SPEEDS, round((s.stop - s.start) / s.step) + 1)
    return [float(n) for n in np.linspace(s.start, s.stop, count).round(6)]


def _waves(found: Explored) -> list[tuple]:
    """(name, cycle) of engines along the first key, each at the speed of its highest VE."""
    waves = []
    rest = [0.5] * (len(found.plan.axes) - 1)
    for share in np.linspace(0.0, 1.0, WAVES):
        (values,) = found.plan.scaled([[share, *rest]])
        engine = found.plan.case(values).engine
        if engine is None:
            continue
        top = int(np.argmax(found.at("ve", [[share, *rest]])[0]))
        axis = found.plan.axes[0]
        name = f"{axis.name} {values[0]:.4g} {axis.unit}".rstrip()
        waves.append((name, trace(engine, float(found.rpm[top]))))
    return waves
