"""``report``: what was computed, or measured, as one page for a browser."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property, partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from aircolumn.commands import options
from aircolumn.commands.datasets import netcdf, with_gaps
from aircolumn.commands.options import option, positional, switch
from aircolumn.commands.results import Answer, Origin
from aircolumn.curves.against import Gain, gains
from aircolumn.curves.choice import choice_of
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
from aircolumn.study.bands.kept import KeptBands, bands_in_short, kept_bands
from aircolumn.study.executors import Cores

if TYPE_CHECKING:
    import xarray as xr

    from aircolumn.fuelling.session import ControlTable, UsersOwn
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
    options.Tuned,
    options.Keeps,
    options.EngineFile,
):
    """What ``report`` is asked."""

    file: Path = positional(type=Path, metavar="FILE", help="engine file, or study file (YAML)")
    data: Sequence[str] = positional(
        nargs="*", metavar="RUNNER=DATA.csv", help="data file of a runner; two to compare"
    )
    bands: bool = switch(
        "also say how sure the comparison is, computing it where aircolumn bands has not (what it has is"
        " shown anyway)"
    )
    study: Sequence[Path] = option(
        nargs="+",
        type=Path,
        default=[],
        metavar="STUDY",
        help="study files of the same engine; takes what aircolumn study has computed, or computes it",
    )
    fuelling: str | None = option(
        metavar="RUNNER",
        help="also show the control unit's table of this runner (with --table: made from the tuned one)",
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
        if request.data or request.bands or request.study or request.fuelling:
            raise RequestError(
                "a study's page has no pulls, bands, tables or further studies: name the engine file"
            )
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
    kept: KeptBands | None
    session: Session | None
    studies: list[tuple[Plan, StudyAnswer]]
    table: ControlTable | None
    figures: Sequence[str] | None

    def parts(self) -> dict[str, tuple[str, Callable[[], dict]]]:
        """Name of a part that stands on its own: its heading, and what makes it."""
        from aircolumn.output.pull.page import measured  # slow to load
        from aircolumn.questions.answer import studied

        found: dict[str, tuple[str, Callable[[], dict]]] = {}
        if self.session is not None:
            found["pulls"] = "Measured pulls", partial(measured, self.session)
        if self.table is not None:
            from aircolumn.output.fuelling.page import fuelled

            engine = self.description.with_runner(self.table.name)
            found["fuelling"] = "Table of the control unit", partial(fuelled, self.table, engine)
        for k, (plan, answer) in enumerate(self.studies, 1):
            found[f"study{k}"] = f"Study: {plan.source.path.name}", partial(studied, plan, answer)
        return found

    @cached_property
    def paths(self) -> dict[str, list]:
        """What the air passes, by candidate."""
        return {name: flow_path(self.description.with_runner(name)) for name in self.description.runners}

    @cached_property
    def gains(self) -> list[Gain]:
        """Torque of the others against the choice."""
        names = [str(n) for n in self.data.runner.values]
        choice = choice_of(self.data, self.description.engine.speeds)
        base = choice.best[0] if choice is not None else names[0]
        return gains(self.data, base, self.description.engine.speeds) if len(names) > 1 else []

    def texts(self) -> dict[str, Any]:
        """What the page says, in the units chosen."""
        from aircolumn.output.bands.page import sure  # slow to load
        from aircolumn.output.check.drawing import sizes_table
        from aircolumn.output.curves.page import figures_tables, gains_table, recommendation
        from aircolumn.output.explain.answer import ReasonsFound
        from aircolumn.output.page.content import open_keys, told

        reasons, d = ReasonsFound.of(self.explanations).runners, self.description
        return {
            **recommendation(self.data, d.engine.speeds, self.kept),
            "gains": gains_table(self.data, self.gains) if self.gains else [],
            "against": self.gains[0].base if self.gains else "",
            "tables": figures_tables(self.data, self.figures),
            "sizes": sizes_table(self.paths),
            "sure": [] if self.bands is None else sure(self.bands),
            "open": open_keys(d.candidates.values(), self.bands.next.every if self.bands else ()),
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
        from aircolumn.output.curves.page import curve_charts, gains_chart
        from aircolumn.output.page.content import part
        from aircolumn.output.page.write import in_all_units
        from aircolumn.output.trace.page import cycle

        d = self.description
        span = interest(d.engine.speeds, self.data.rpm.values)
        ve, torque, power = curve_charts(self.data, span)
        against = [gains_chart(self.data, self.gains, span)] if self.gains else []
        return {
            "question": f"Which runner, for the range that matters? {len(self.paths)} candidates.",
            "texts": in_all_units(self.texts),
            "parts": [part(name, heading, make()) for name, (heading, make) in self.parts().items()],
            "sure_charts": [] if self.bands is None else sure_charts(self.bands),
            "ranked": self.bands is not None,
            "gaps": gaps_text(self.data).splitlines()[1:],
            "drawing": layout_svg(self.paths, folder),
            "charts": [torque, *against, power, ve],
            "cycles": [cycle(name, one) for name, one in self.cycles.items()],
        }

    @property
    def files(self) -> list[AsRead]:
        """The files that the page is of, as they were read."""
        files = [*self.description.source.files, *(f for plan, _ in self.studies for f in plan.source.files)]
        pulls = () if self.session is None else self.session.files.values()
        files += [] if self.table is None else self.table.files
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
    plans, tables = [read_study(path) for path in request.study], _tables(request, description)
    with request.progress() as progress:
        data = compare(description, speeds, progress)
        bands, kept = _bands(description, request.bands, progress)
        found = Found(
            description,
            data,
            *_cycles(description, data),
            bands,
            kept,
            _measured(description, pulls, request, progress) if pulls else None,
            [(plan, _answer(plan, progress)) for plan in plans],
            _fuelled(description, request.fuelling, tables, progress),
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


def _tables(request: Request, description: Description) -> UsersOwn | None:
    """The tables that a runner's is made from, None if none is asked for. Raises RequestError, InputError for
    what cannot be made, before anything is computed."""
    if request.fuelling is None:
        if request.table or request.lambda_table:
            raise RequestError("--table and --lambda-table go with --fuelling: name the runner")
        return None
    from aircolumn.fuelling.session import manifolds_asked  # slow to load

    own = request.tables_there()
    manifolds_asked(description, request.fuelling, own)
    return own


def _fuelled(
    description: Description, name: str | None, own: UsersOwn | None, progress: Any
) -> ControlTable | None:
    """The control unit's table, from the points in the folder of ``fuelling``, with the usual number of
    cases (made if need be)."""
    if name is None:
        return None
    from aircolumn.fuelling.session import control_table  # slow to load

    return control_table(description, name, folder_of(description.path, "fuelling"), own, progress=progress)


def _answer(plan: Plan, progress: Any) -> StudyAnswer:
    """A study's answer, from the points in the folder of ``study`` (made if need be)."""
    from aircolumn.questions.session import answer

    return answer(plan, folder_of(plan.source.path, "study"), Cores(None), progress)


def _bands(description: Description, asked: bool, progress: Any) -> tuple[HowSure | None, KeptBands | None]:
    """How sure the comparison is, from the points in the folder of ``bands``, with the speeds and the engines
    that were asked for there; without bands of the file as it is, only if they are asked for."""
    from aircolumn.curves.speeds import speeds_of
    from aircolumn.study.bands.session import USUAL, how_sure

    folder = folder_of(description.path, "bands")
    kept = kept_bands(description, folder)
    current = kept if kept is not None and not kept.outdated else None
    if current is None and not asked:
        return None, kept
    speeds = speeds_of(description.engine) if current is None else np.array(current.rpm)
    count, base = (USUAL, None) if current is None else (current.asked, current.against)
    found = how_sure(description, speeds, folder, None, count, base, progress)
    return found, bands_in_short(found, description)


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
    with request.progress() as progress:
        found = _answer(plan, progress)

    def content(_: Path) -> dict[str, Any]:
        made = studied(plan, found)
        texts = in_all_units(lambda: told(studied(plan, found)))
        return {"question": made["question"], "charts": made["charts"], "texts": texts}

    write = _page_writer(request, own, plan.engine, plan.files, content)
    return Answer([request.what_to_do], write, plan.files, *missing_points(found), result=request.written)
