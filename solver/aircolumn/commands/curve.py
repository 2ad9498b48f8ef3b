"""``curve``: one engine over speed."""

from dataclasses import dataclass

from aircolumn.commands import options
from aircolumn.commands.curve_files import curves_answer
from aircolumn.commands.results import Answer
from aircolumn.curves.curve import curve
from aircolumn.output.check.inlet import choke_text
from aircolumn.output.curves.answer import CurvesFound
from aircolumn.output.curves.text import computed_text, curve_table, ledger_table
from aircolumn.output.tables import with_blank_line


@dataclass(frozen=True)
class Request(
    options.Ledgers,
    options.Corrected,
    options.ShownFigures,
    options.AskedSpeeds,
    options.Keeps,
    options.OneRunner,
):
    """What ``curve`` is asked."""


def run(request: Request) -> Answer[CurvesFound]:
    """The curves of one engine."""
    description, engine, name = request.chosen()
    request.check_standard(engine)
    request.check_figures()
    speeds = request.asked(engine)
    with request.progress() as progress:
        data = curve(engine, speeds, progress)
    texts = [
        request.line(name),
        request.correct(data, engine),
        curve_table(data, request.figures) + computed_text(data, engine.speeds),
        with_blank_line(choke_text(data, engine)),
        with_blank_line(ledger_table(data)) if request.verbose else "",
    ]
    data = data.expand_dims(runner=[name])
    return curves_answer(texts, data, description, request.stem("curve"))
