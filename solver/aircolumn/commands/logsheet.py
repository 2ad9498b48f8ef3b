"""``logsheet``: what to log for a comparison that proves something."""

from dataclasses import dataclass
from functools import partial
from pathlib import Path

from aircolumn.commands import options
from aircolumn.commands.options import option
from aircolumn.commands.results import Answer, Origin
from aircolumn.engine.description.units import to_si
from aircolumn.errors import RequestError
from aircolumn.measured.repeats import planned_test
from aircolumn.output.logsheet.files import write_blank_log, write_blank_traces
from aircolumn.output.logsheet.text import checklist


@dataclass(frozen=True)
class Request(options.Writes, options.EngineFile):
    """What ``logsheet`` is asked."""

    show: str = option(
        default="1 %", metavar="SHARE", help="difference of torque to be shown (default: 1 %%)"
    )
    scatter: str = option(
        default="0.5 %", metavar="SHARE", help="of torque from pull to pull (default: 0.5 %%)"
    )


@dataclass(frozen=True)
class PlanFound:
    """How many pulls of each manifold, and in which order."""

    pulls_of_each: int
    order: list[str]
    pulls: list[int]


def run(request: Request) -> Answer[PlanFound]:
    """A checklist, and a blank log for every manifold."""
    description = request.read()
    engine = description.engine
    show, scatter = (
        _share(text, name) for text, name in ((request.show, "show"), (request.scatter, "scatter"))
    )
    plan = planned_test(list(description.candidates), show, scatter)
    text = checklist(engine, plan, show, scatter)

    def write(folder: Path, origin: Origin) -> None:
        (folder / "logsheet.txt").write_text(f"{text}\n", encoding="utf-8")
        for name in description.candidates:
            write_blank_log(folder / f"logsheet-{name}.csv", name)
        if engine.traces.channels:
            write_blank_traces(folder / "logsheet-traces.csv", engine)

    return Answer(
        [text], write, description.source.files, result=partial(PlanFound, plan.each, plan.order, plan.blocks)
    )


def _share(text: str, name: str) -> float:
    """A share from 0.01 to 50 %. Raises RequestError."""
    try:
        value = to_si(text, "share")
    except ValueError as error:
        raise RequestError(f"--{name}: {error}") from None
    if not 1e-4 <= value <= 0.5:
        raise RequestError(f"--{name} {text}: from 0.01 % to 50 %")
    return value
