"""``report``: what was computed, or measured, as one page for a browser."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from aircolumn.commands import options
from aircolumn.commands.datasets import netcdf, with_gaps
from aircolumn.commands.options import option, positional, switch
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
from aircolumn.errors import RequestError
from aircolumn.measured.pull_to_xarray import pull_dataset
from aircolumn.output.curves.text import gaps_text
from aircolumn.output.folders import folder_of
from aircolumn.output.page.content import check_libraries
from aircolumn.output.page.own import users_own
from aircolumn.questions.read import read_study
from aircolumn.study.executors import Cores

if TYPE_CHECKING:
    import xarray as xr

    from aircolumn.measured.session import Session
    from aircolumn.questions.session import StudyAnswer
    from aircolumn.study.bands.session import HowSure
    from aircolumn.study.plan import Plan


@dataclass(frozen=True)
class Page:
    """Where the page is."""

    page: Path


@dataclass(frozen=True)
class Request(
    options.Corrected,
    options.ShownFigures,
    options.AskedSpeeds,
    options.Pulls,
    options.Writes,
    options.EngineFile,
):
    """What ``report`` is asked."""

    file: Path = positional(type=Path, metavar="FILE", help="engine file, or study file (YAML)")
    data: Sequence[str] = positional(
        nargs="*", metavar="RUNNER=DATA.csv", help="data file of a runner; two to compare"
    )
    bands: bool = switch(
        "also say how sure the comparison is; takes what aircolumn bands has computed, or computes it"
    )
    study: Sequence[Path] = option(
        nargs="+",
        type=Path,
        default=[],
        metavar="STUDY",
        help="study files of the same engine; takes what aircolumn study has computed, or computes it",
    )
    heading: str = option(default="", metavar="TEXT", help="in place of the engine's title")
    notes: Path | None = option(type=Path, metavar="FILE", help="text file, shown under the heading")
    logo: Path | None = option(type=Path, metavar="IMAGE", help="PNG, JPEG or SVG beside the heading")

    def written(self) -> Page:
        """Where the page is."""
        return Page(self.out / "report.html")

    @property
    def what_to_do(self) -> str:
        """What is said at the end."""
        return f"open {self.out}/report.html in a browser"


def run(request: Request) -> Answer[Page]:
    """The page of a comparison, with pulls, studies and doubts if asked for; or of a study alone."""
    check_libraries()
    own = users_own(request.heading, request.notes, request.logo)  # what is wrong is told before computing
    if is_study(request.file):
        if request.data or request.bands or request.study:
            raise RequestError("a study's page has no pulls, bands or further studies: name the engine file")
        return _of_study(request, own)
    return _of_runners(request, own)


def _page_writer(
    request: Request,
    own: dict[str, Any],
    engine: Engine,
    sources: Iterable[AsRead],
    content: Callable[[Path], dict[str, Any]],
) -> Callable[[Path, Origin], None]:
    """Writes the page; own: what is the user's; content: what is not the same on every page, made in the
    folder of results."""

    def write(folder: Path, origin: Origin) -> None:
        from aircolumn.output.page.write import write_page  # slow to load

        title, whole = engine.title or request.file.name, {**content(folder), **own}
        write_page(folder / "report.html", title, origin, engine, sources, whole)

    return write


@dataclass(frozen=True)
class Found:
    """All that a page shows of an engine file: curves, what explains them, and what else was asked for."""

    description: Description
    data: xr.Dataset
    explanations: dict[str, list]
    cycles: dict[str, xr.Dataset]
    bands: HowSure | None
    session: Session | None
    studies: list[tuple[Plan, StudyAnswer]]
    figures: Sequence[str] | None

    def parts(self) -> dict[str, tuple[str, Callable[[], dict]]]:
        """Name of a part that stands on its own: its heading, and what makes it."""
        from aircolumn.output.pull.page import measured  # slow to load
        from aircolumn.questions.answer import studied

        found: dict[str, tuple[str, Callable[[], dict]]] = {}
        if self.session is not None:
            found["pulls"] = "Measured pulls", partial(measured, self.session)
        for k, (plan, answer) in enumerate(self.studies, 1):
            found[f"study{k}"] = f"Study: {plan.source.path.name}", partial(studied, plan, answer)
        return found

    def texts(self) -> dict[str, Any]:
        """What the page says, in the units chosen."""
        from aircolumn.output.bands.page import sure  # slow to load
        from aircolumn.output.curves.page import figures_table, recommendation
        from aircolumn.output.explain.answer import ReasonsFound
        from aircolumn.output.page.content import told

        reasons = ReasonsFound.of(self.explanations).runners
        return {
            **recommendation(self.data, self.description.engine.speeds),
            "table": figures_table(self.data, self.figures),
            "sure": [] if self.bands is None else sure(self.bands),
            "reasons": {
                name: [{"verdict": r.verdict, "figures": " ".join(r.figures)} for r in found]
                for name, found in reasons.items()
            },
            "parts": {name: told(make()) for name, (_, make) in self.parts().items()},
        }

    def content(self, folder: Path) -> dict[str, Any]:
        """What is not the same on every page."""
        from aircolumn.output.bands.page import sure_charts  # slow to load
        from aircolumn.output.check.drawing import layout_svg
        from aircolumn.output.curves.page import curve_charts
        from aircolumn.output.page.content import HINT, MODEST, part
        from aircolumn.output.page.write import in_all_units
        from aircolumn.output.trace.page import cycle

        d = self.description
        paths = {name: flow_path(d.with_runner(name)) for name in d.runners}
        return {
            "question": f"Which runner, for the range that matters? {len(paths)} candidates.",
            "texts": in_all_units(self.texts),
            "parts": [part(name, heading, make()) for name, (heading, make) in self.parts().items()],
            "sure_charts": [] if self.bands is None else sure_charts(self.bands),
            "doubts": [*MODEST, *([] if self.bands else HINT)],
            "gaps": gaps_text(self.data).splitlines()[1:],
            "drawing": layout_svg(paths, folder),
            "charts": curve_charts(self.data, interest(d.engine.speeds, self.data.rpm.values)),
            "cycles": [cycle(name, one) for name, one in self.cycles.items()],
        }

    @property
    def files(self) -> list[AsRead]:
        """The files that the page is of, as they were read."""
        files = [*self.description.source.files, *(f for plan, _ in self.studies for f in plan.source.files)]
        pulls = () if self.session is None else self.session.files.values()
        return [*files, *(file for pull in pulls for file in pull.files)]


def _of_runners(request: Request, own: dict[str, Any]) -> Answer[Page]:
    """The comparison and what is behind it."""
    description = request.read()
    engine = description.engine
    request.check_standard(engine)
    request.check_figures()
    speeds = request.asked(engine)
    if request.next is not None and not request.data:
        raise RequestError("--next takes the pulls of the last manifold: name its data file")
    pulls = options.data_by_runner(request.data, description) if request.data else []
    plans = [read_study(path) for path in request.study]
    with Progress(None) as progress:
        data = compare(description, speeds, progress)
        found = Found(
            description,
            data,
            *_cycles(description, data),
            _bands(description, progress) if request.bands else None,
            _measured(description, pulls, request, progress) if pulls else None,
            [(plan, _answer(plan, progress)) for plan in plans],
            request.figures,
        )
    request.correct(data, engine)
    page = _page_writer(request, own, engine, found.files, found.content)

    def write(folder: Path, origin: Origin) -> None:
        netcdf(data, folder / "report.nc", origin)
        if found.session is not None:
            netcdf(pull_dataset(found.session), folder / "report-pulls.nc", origin)
        page(folder, origin)

    return with_gaps([request.what_to_do], data, write, description.source.files, request.written)


def _measured(
    description: Description, data: list[tuple[str, Path]], request: Request, progress: Any
) -> Session:
    """Measured pulls and the prediction laid over them."""
    from aircolumn.measured.session import measure
    from aircolumn.study.bands.next_manifold import next_manifold

    session = measure(description, data, request.standard or "", progress=progress)
    if request.next is not None:
        folder = folder_of(description.path, "pull")
        session.next = next_manifold(description, session, request.next, folder, progress=progress)
    return session


def _answer(plan: Plan, progress: Any) -> StudyAnswer:
    """A study's answer, from the points in the folder of ``study`` (made if need be)."""
    from aircolumn.questions.session import answer

    return answer(plan, folder_of(plan.source.path, "study"), Cores(None), progress)


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


def _of_study(request: Request, own: dict[str, Any]) -> Answer[Page]:
    """A study alone."""
    from aircolumn.output.page.content import told
    from aircolumn.output.page.write import in_all_units
    from aircolumn.questions.answer import missing_points, studied

    plan = read_study(request.file)
    request.choose_units(plan.description)
    with Progress(None) as progress:
        found = _answer(plan, progress)

    def content(_: Path) -> dict[str, Any]:
        made = studied(plan, found)
        texts = in_all_units(lambda: told(studied(plan, found)))
        return {"question": made["question"], "charts": made["charts"], "texts": texts}

    write = _page_writer(request, own, plan.engine, plan.files, content)
    return Answer([request.what_to_do], write, plan.files, *missing_points(found), result=request.written)
