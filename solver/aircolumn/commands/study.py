"""``study``: sweep, search, sensitivity or tolerance of any keys; resumable."""

from dataclasses import dataclass
from functools import partial
from pathlib import Path

from aircolumn.commands import options
from aircolumn.commands.options import option, positional
from aircolumn.commands.progress import Progress
from aircolumn.commands.results import Answer, Origin, write_text
from aircolumn.errors import RequestError
from aircolumn.questions.answer import (
    StudyFound,
    answer_text,
    counts_text,
    missing_points,
    write_study_tables,
)
from aircolumn.questions.read import read_study
from aircolumn.questions.session import answer
from aircolumn.study.executors import Cluster, Cores


@dataclass(frozen=True)
class Request(options.Workers, options.GoesOn, options.EngineFile):
    """What ``study`` is asked."""

    file: Path = positional(type=Path, metavar="FILE", help="study file (YAML)")
    scheduler: str | None = option(metavar="ADDRESS", help="Dask scheduler to compute on: tcp://host:8786")


def run(request: Request) -> Answer[StudyFound]:
    """The answer of a study, from the points in its folder and those computed now."""
    plan = read_study(request.file)
    request.choose_units(plan.description)
    request.check_workers()
    if request.workers is not None and request.scheduler is not None:
        raise RequestError("--workers is for this machine; a scheduler has its own")
    executor = Cluster(request.scheduler) if request.scheduler else Cores(request.workers)
    try:
        with Progress(None) as progress:
            found = answer(plan, request.out, executor, progress)
    finally:
        executor.close()
    text = answer_text(plan, found)

    def write(folder: Path, origin: Origin) -> None:
        from aircolumn.questions.answer import plot_answer  # slow to load

        write_text(folder / "study.txt", text)
        write_study_tables(plan, found, folder, origin)
        plot_answer(plan, found, folder)

    texts, result = [counts_text(found) + "\n", text], partial(StudyFound.of, plan, found)
    missing, of = missing_points(found)
    return Answer(texts, write, plan.files, missing, of, replaced=found.kind.replaced, result=result)
