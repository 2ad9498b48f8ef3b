"""``report``: what was computed, or measured, as one page for a browser."""

from __future__ import annotations

from argparse import ArgumentParser
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from aircolumn.commands import options
from aircolumn.commands.datasets import netcdf, with_gaps
from aircolumn.commands.progress import Progress
from aircolumn.commands.results import Answer, Origin
from aircolumn.curves.curve import compare
from aircolumn.curves.interest import interest
from aircolumn.curves.summary import peak
from aircolumn.curves.to_xarray import own_curve
from aircolumn.curves.tuning.explain import explain
from aircolumn.curves.tuning.trace import trace
from aircolumn.engine.description.engine_file import Engine
from aircolumn.engine.description.reader import Description, is_study
from aircolumn.engine.description.text_file import AsRead
from aircolumn.engine.model.flow_path import flow_path
from aircolumn.output.curves.gaps import gaps_text
from aircolumn.output.folders import folder_of
from aircolumn.output.page.libraries import check_libraries

if TYPE_CHECKING:
    import xarray as xr

    from aircolumn.study.bands.session import HowSure


@dataclass(frozen=True)
class Request(options.Corrected, options.AskedSpeeds, options.EngineFile):
    """FILE, data files, bands, speeds, standard."""

    data: Sequence[str]
    bands: bool
    out: Path

    @property
    def stem(self) -> str:
        """What files of results are called."""
        return "report-pulls" if self.data else "report"

    def page(self) -> dict[str, str]:
        """Where the page is."""
        return {"page": f"{self.out}/{self.stem}.html"}

    @property
    def what_to_do(self) -> str:
        """What is said at the end."""
        return f"open {self.out}/{self.stem}.html in a browser"


def arguments(parser: ArgumentParser) -> None:
    """FILE, data files, bands, speeds, standard."""
    options.engine_file(parser, "engine file, or study file (YAML)")
    options.data_files(parser, "*")
    parser.add_argument(
        "--bands",
        action="store_true",
        help="also say how sure the comparison is; takes what aircolumn bands has computed, or computes it",
    )
    options.speeds_alone_or_located(parser)
    options.standard(parser)
    options.folder(parser)


def run(request: Request) -> Answer:
    """The page of a comparison, of measured pulls or of a study."""
    check_libraries()
    if is_study(request.file):
        return _of_study(request)
    return _of_pulls(request) if request.data else _of_runners(request)


def _page_writer(
    request: Request, engine: Engine, sources: Iterable[AsRead], content: Callable[[Path], dict[str, Any]]
) -> Callable[[Path, Origin], None]:
    """Writes the page; content: what is not the same on every page, made in the folder of results."""

    def write(folder: Path, origin: Origin) -> None:
        from aircolumn.output.page.write import write_page  # slow to load

        title = engine.title or request.file.name
        write_page(folder / f"{request.stem}.html", title, origin, engine, sources, content(folder))

    return write


def _of_runners(request: Request) -> Answer:
    """The comparison and what is behind it."""
    description = request.read()
    engine = description.engine
    request.check_standard(engine)
    speeds = request.asked(engine)
    with Progress(None) as progress:
        data = compare(description, speeds, progress)
        explanations, cycles = _cycles(description, data)
        found = _bands(description, progress) if request.bands else None
    request.correct(data, engine)

    def content(folder: Path) -> dict[str, Any]:
        from aircolumn.output.bands.page import sure  # slow to load
        from aircolumn.output.check.drawing import layout_svg
        from aircolumn.output.curves.page import curve_charts, recommendation
        from aircolumn.output.explain.page import reasons
        from aircolumn.output.page.content import HINT, MODEST
        from aircolumn.output.trace.page import cycle

        paths = {name: flow_path(description.with_runner(name)) for name in description.runners}
        span = interest(engine.speeds, data.rpm.values)
        return {
            "question": f"Which runner, for the range that matters? {len(paths)} candidates.",
            **recommendation(data, engine.speeds),
            **({} if found is None else sure(found)),
            "doubts": [*MODEST, *HINT],
            "gaps": gaps_text(data).splitlines()[1:],
            "drawing": layout_svg(paths, folder),
            "charts": curve_charts(data, span),
            "cycles": [cycle(name, one) for name, one in cycles.items()],
            "reasons": reasons(explanations),
        }

    page = _page_writer(request, engine, description.source.files, content)

    def write(folder: Path, origin: Origin) -> None:
        netcdf(data, folder / f"{request.stem}.nc", origin)
        page(folder, origin)

    return with_gaps([request.what_to_do], data, write, description.source.files, request.page)


def _bands(description: Description, progress: Any) -> HowSure:
    """How sure the comparison is, from the points in the folder of ``bands`` (made if need be)."""
    from aircolumn.curves.speeds import speeds_of
    from aircolumn.study.bands.session import how_sure

    speeds = speeds_of(description.engine)
    return how_sure(description, speeds, folder_of(description.path, "bands"), progress=progress)


def _cycles(description: Description, data: xr.Dataset) -> tuple[dict[str, list], dict[str, xr.Dataset]]:
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


def _of_pulls(request: Request) -> Answer:
    """Measured pulls and the prediction laid over them."""
    from aircolumn.measured.pull_to_xarray import pull_dataset
    from aircolumn.measured.session import measure
    from aircolumn.output.pull.page import measured

    description = request.read()
    data = options.data_by_runner(request.data, description)
    standard = request.standard or options.USUAL_STANDARD
    with Progress(None) as progress:
        session = measure(description, data, standard, progress=progress)
    sources = [*description.source.files, *(pulls.file for pulls in session.files.values())]
    page = _page_writer(request, description.engine, sources, lambda _: measured(session))

    def write(folder: Path, origin: Origin) -> None:
        netcdf(pull_dataset(session), folder / f"{request.stem}.nc", origin)
        page(folder, origin)

    files, gaps = description.source.files, session.gaps()
    return Answer([request.what_to_do], write, files, *gaps, result=request.page)


def _of_study(request: Request) -> Answer:
    """A study's answer, from the points in the folder of ``study`` (made if need be)."""
    from aircolumn.output.study.page import studied
    from aircolumn.output.study.text import missing_points
    from aircolumn.study.executors import Cores
    from aircolumn.study.plan import read_study
    from aircolumn.study.session import answer

    plan = read_study(request.file)
    request.choose_units(plan.description)
    with Progress(None) as progress:
        found = answer(plan, folder_of(request.file, "study"), Cores(None), progress)
    write = _page_writer(request, plan.engine, plan.files, lambda _: studied(plan, found))
    gaps = missing_points(found)
    return Answer([request.what_to_do], write, plan.files, *gaps, result=request.page)
