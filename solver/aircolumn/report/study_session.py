"""A study from plan to results: which question was asked, what it computes, writes and says."""

from collections.abc import Callable
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from time import monotonic

from aircolumn.errors import RequestError
from aircolumn.report import study_plots as plots
from aircolumn.report import study_report as report
from aircolumn.report.files import write_netcdf
from aircolumn.study.aims import check_aim
from aircolumn.study.search import Search
from aircolumn.study.sensitivity import need_salib, sensitivity
from aircolumn.study.store import Store
from aircolumn.study.sweep import sweep
from aircolumn.study.tolerance import tolerance
from aircolumn.summary import interest_range

STORE = "points.sqlite"


@dataclass(frozen=True)
class StudyOutcome:
    """What to print, and a function that writes tables and pictures into a folder."""

    text: str
    write: Callable


@contextmanager
def run_study(plan, folder, executor, progress=None):
    """Compute a plan with the store of points in ``folder`` (made if need be); yields a
    StudyOutcome. Raises what the plan's question raises."""
    _check(plan)
    folder = Path(folder)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise RequestError(f"--out {folder} cannot be a folder: {error.strerror}") from None
    store = Store(folder / STORE)
    try:
        before, start = store.count(), monotonic()
        ask = next((f for name, f in _QUESTIONS.items() if getattr(plan.study, name)), _sweep)
        outcome = ask(plan, store, executor, progress)
        fresh, seconds = store.count() - before, monotonic() - start
        rate = f", {fresh / seconds:.1f} a second" if fresh and seconds > 0.0 else ""
        head = f"{fresh} points computed{rate}; {before} were in {folder / STORE}"
        if store.others():
            head += (
                f"\n{store.others()} of them belong to another engine file, study or solver version"
                " and are not used"
            )
        yield StudyOutcome(f"{head}\n\n{outcome.text}", outcome.write)
    finally:
        store.close()


def _check(plan):
    """What can be wrong with the question, before anything is written. Raises RequestError."""
    if plan.study.search is not None:
        Search(plan, None, None)
    if plan.study.sensitivity is not None:
        need_salib()
        _sensitivity_aim(plan)


def _sweep(plan, store, executor, progress):
    data, failures, _ = sweep(plan, store, executor, progress)

    def write(folder):
        write_netcdf(data, folder / "study.nc")
        report.write_sweep(data, folder / "study.csv")
        report.write_failures(plan, failures, folder / "failed.csv")
        plots.plot_sweep(plan, data, folder)

    return StudyOutcome(report.sweep_text(plan, data, failures), write)


def _search(plan, store, executor, progress):
    search = Search(plan, store, executor, progress)
    found = search.run()

    def write(folder):
        report.write_known(search, found, folder / "study.csv")
        plots.plot_search(search, found, folder / "study")

    return StudyOutcome(report.search_text(search, found), write)


def _sensitivity(plan, store, executor, progress):
    aim = _sensitivity_aim(plan)
    indices = sensitivity(plan, aim, store, executor, progress)

    def write(folder):
        report.write_indices(indices, folder / "study.csv")
        plots.plot_indices(plan, aim, indices, folder / "study")

    return StudyOutcome(report.sensitivity_text(aim, indices), write)


def _sensitivity_aim(plan):
    interest = interest_range(plan.engine.speeds, plan.speeds)
    return check_aim(plan.study.sensitivity.aim, plan.speeds, interest)


def _tolerance(plan, store, executor, progress):
    band = tolerance(plan, store, executor, progress)

    def write(folder):
        report.write_band(band, folder / "study.csv")
        plots.plot_band(plan, band, folder / "study")

    return StudyOutcome(report.tolerance_text(plan, band), write)


_QUESTIONS = {"search": _search, "sensitivity": _sensitivity, "tolerance": _tolerance}
