"""The answer of a study on the screen, in files, on the page and as plain data."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Generic, TypeVar

from aircolumn.curves.interest import interest
from aircolumn.display_units import counted
from aircolumn.output.curves.text import sparse_words
from aircolumn.output.data_files import write_netcdf
from aircolumn.study.cells import cells_text

if TYPE_CHECKING:
    from aircolumn.questions.session import StudyAnswer
    from aircolumn.study.plan import Plan


def counts_text(answer: StudyAnswer) -> str:
    """What was computed now and what was there before."""
    rate = ""
    if answer.fresh and answer.seconds > 0.0:
        rate = f" ({answer.fresh / answer.seconds:.1f} per second)"
    fresh = counted(answer.fresh, "point")
    text = f"{fresh} computed{rate}, {answer.before} taken from {answer.store}"
    if answer.aside:
        text += (
            f"\n{answer.store} was damaged and is now called {answer.aside.name}; points that"
            " could still be read were kept, the others computed again"
        )
    elif answer.damaged:
        texts = counted(answer.damaged, "damaged point")
        text += f"\n{answer.store} held {texts}: computed again"
    if answer.others:
        text += (
            f"\n{answer.others} points there belong to another engine file, study or solver version"
            " and are not used"
        )
    return text


def answer_text(plan: Plan, answer: StudyAnswer) -> str:
    """The answer; the same however often the study was stopped."""
    kind = answer.kind
    text, again = kind.text(plan, answer.result), kind.again(answer.result)
    cells = "" if answer.cells.final is None else str(answer.cells.final)
    if again:
        cells = cells_text(answer.cells, again)
    span = interest(plan.engine.speeds, plan.speeds)
    sparse = sparse_words(span, plan.speeds) if span is not None else ""
    sparse = "" if kind.tells_sums else sparse
    note = f"The mean {span.words} is {sparse}." if span and sparse else ""
    return "\n\n".join(filter(None, (text.rstrip("\n"), note, cells)))


def missing_points(answer: StudyAnswer) -> tuple[int, int]:
    """(how many points of the answer failed, of how many)."""
    return answer.kind.missing(answer.result)


def write_study_tables(plan: Plan, answer: StudyAnswer, folder: Path, origin: dict[str, str]) -> None:
    """study.csv and study.nc, and failed.csv if points failed, into ``folder``; origin: attributes
    that say where they come from."""
    data = answer.kind.tables(plan, answer.result, folder)
    # The date would make a study that was stopped differ from one that was not.
    write_netcdf(
        data.assign_attrs({k: v for k, v in origin.items() if k in ("version", "file")}), folder / "study.nc"
    )


def plot_answer(plan: Plan, answer: StudyAnswer, folder: Path) -> list:
    """The pictures of an answer into ``folder``."""
    return answer.kind.draw(plan, answer.result, folder)


def studied(plan: Plan, answer: StudyAnswer) -> dict:
    """{question, answer, facts, charts, text} of an answer, for the page."""
    text = answer_text(plan, answer)
    question, texts, charts = answer.kind.page(plan, answer.result)
    return {
        "question": question,
        "answer": (texts or text.splitlines()[0]).splitlines(),
        "facts": [],
        "charts": charts,
        "text": text,
    }


Found = TypeVar("Found")


@dataclass(frozen=True)
class StudyFound(Generic[Found]):
    """What was asked, and the answer (questions/*/question.py): values of the varied keys as the study writes
    them, figures in SI."""

    question: str
    fresh_points: int
    points_from_store: int
    answer: Found

    @classmethod
    def of(cls, plan: Plan, found: StudyAnswer) -> StudyFound:
        """The answer to a plan."""
        return cls(found.kind.name, found.fresh, found.before, found.kind.plain(plan, found.result))
