"""``study``: sweep, search, sensitivity or tolerance of any keys; resumable."""

from argparse import ArgumentParser
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from aircolumn.commands import options
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
class Request(options.EngineFile):
    """FILE, where to compute."""

    out: Path
    workers: int | None
    scheduler: str | None


def arguments(parser: ArgumentParser) -> None:
    """FILE, where to compute."""
    options.engine_file(parser, "study file (YAML)")
    options.workers(parser)
    parser.add_argument(
        "--scheduler", metavar="ADDRESS", help="Dask scheduler to compute on: tcp://host:8786"
    )
    options.folder(parser, "folder for the points and results")
    parser.set_defaults(interrupted="run the same command to go on")


def run(request: Request) -> Answer[StudyFound]:
    """The answer of a study, from the points in its folder and those computed now."""
    plan = read_study(request.file)
    request.choose_units(plan.description)
    options.check_workers(request.workers)
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
    return Answer(texts, write, plan.files, *missing_points(found), result=result)
