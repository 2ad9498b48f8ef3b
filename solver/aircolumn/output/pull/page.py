"""What the page shows of measured pulls."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from aircolumn.engine.description.base import required
from aircolumn.measured.atmosphere import title_of
from aircolumn.output.page.charts import band, chart, line, look
from aircolumn.output.pull.next_text import next_sentences
from aircolumn.output.pull.read_text import AT_THE_WHEELS, statement_line
from aircolumn.output.pull.text import off_text, session_text
from aircolumn.output.pull.verdict_text import difference, in_range, verdict_sentences, who_wins

if TYPE_CHECKING:
    from aircolumn.measured.session import Session
    from aircolumn.study.bands.next_manifold import NextManifold


def measured(s: Session) -> dict:
    """{question, answer, facts, charts, text} of a dyno.session.Session."""
    names = list(s.overlays)
    texts = in_range(s, *names) if s.verdict is not None else []
    off = [
        f"{name}, predicted minus measured: {off_text(o)}" if off_text(o) else f"{name}: {AT_THE_WHEELS}"
        for name, o in s.overlays.items()
    ]
    facts = [statement_line(name, f) for name, f in s.files.items()]
    if s.verdict is not None:
        facts += [*verdict_sentences(s.verdict), *who_wins(s.verdict, names)]
    foretold = [] if s.next is None else next_sentences(s.next)
    answer, *rest = [*foretold, *texts, *off]
    facts += [text for text in rest if text not in texts]
    return {
        "question": "What did the pulls show, and does the prediction agree?",
        "answer": [answer],
        "facts": facts,
        "charts": _charts(s),
        "text": session_text(s),
    }


def _charts(s: Session) -> list[dict]:
    title = title_of(s.standard)
    made = [
        _overlaid(s, "ve", "volumetric efficiency (referred to the air drawn in)", "share"),
        _overlaid(s, "torque", f"brake torque ({title})", "torque"),
        chart(
            "off",
            "Prediction error",
            "torque: predicted minus measured",
            "share",
            [
                line(name, o.curve.rpm[~o.curve.between], o.torque_off[~o.curve.between], look(k))
                for k, (name, o) in enumerate(s.overlays.items())
            ],
        ),
    ]
    if s.verdict is not None:
        made.append(_difference(s))
    if s.next is not None:
        made.append(_next(s.next, title))
    return made


def _next(n: NextManifold, title: str) -> dict:
    traces = band(n.name, n.rpm, n.torque, 1, own=True)
    what = f"{n.name}, predicted from the pull of {n.measured}"
    return chart("next", what, f"brake torque ({title})", "torque", traces)


def _overlaid(s: Session, what: str, title: str, kind: str) -> dict:
    traces = []
    for k, (name, o) in enumerate(s.overlays.items()):
        rpm, values, read = o.curve.rpm, getattr(o, what), ~o.curve.between
        more = {}
        if what == "torque" and np.isfinite(o.torque_half_width).all():
            more = {"error": o.torque_half_width[read].tolist()}
        traces.append(line(f"{name}, measured", rpm[read], values[read], look(k), "markers", **more))
        if not read.all():
            hollow = {**look(k), "mark": look(k)["mark"] + "-open"}
            texts = f"{name}, on a line between readings"
            traces.append(line(texts, rpm[~read], values[~read], hollow, "markers"))
        predicted = getattr(o, f"{what}_predicted")
        traces.append(line(f"{name}, predicted", rpm, predicted, look(k), "lines"))
    return chart(what, f"{title[0].upper()}{title[1:]}, measured and predicted", title, kind, traces)


def _difference(s: Session) -> dict:
    v, (a, b) = required(s.verdict), list(s.overlays)
    more = {} if np.isnan(v.least).any() else {"error": v.least.tolist()}
    return chart(
        "difference",
        "Difference in torque",
        f"torque: {a} less {b}",
        "torque",
        [
            line(
                "measured (bars: smallest significant difference)" if more else "measured",
                v.rpm,
                v.torque,
                look(0),
                "markers",
                **more,
            ),
            line("predicted", v.rpm, difference(s, "torque_predicted"), look(1), "lines"),
        ],
    )
