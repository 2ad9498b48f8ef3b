"""What the page shows of a study."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import numpy as np

from aircolumn.display_units import unit
from aircolumn.output.page.charts import SPEED, chart, known, line, look
from aircolumn.output.study.pictures import axis_words, cut_of, mean_torque, shown_curves
from aircolumn.output.study.text import aim_text, answer_text, best_on_average, no_effect_text
from aircolumn.study.aims import KINDS, aim_words
from aircolumn.study.session import Searched, Sensitive
from aircolumn.study.sweep import Sweep, best_per_speed

if TYPE_CHECKING:
    import xarray as xr

    from aircolumn.study.axes import Axis
    from aircolumn.study.plan import Plan
    from aircolumn.study.session import StudyAnswer
    from aircolumn.study.tolerance import Band


def studied(plan: Plan, answer: StudyAnswer) -> dict:
    """{question, answer, facts, charts, text} of a study.session.StudyAnswer."""
    text = answer_text(plan, answer)
    kind = type(answer.result)
    pages: dict[type, Callable] = {Sweep: _sweep, Searched: _search, Sensitive: _sensitivity}
    question, texts, charts = pages.get(kind, _tolerance)(plan, answer.result)
    return {
        "question": question,
        "answer": texts or text.splitlines()[0],
        "facts": [],
        "charts": charts,
        "text": text,
    }


def _sweep(plan: Plan, result: Sweep) -> tuple[str, str, list[dict[str, Any]]]:
    data = result.data
    charts = [_best(data), *_maps(plan, data), _family(plan, data)]
    varied = " and ".join(axis_words(a).partition(",")[0] for a in plan.axes)
    texts = "\n".join(filter(None, (best_on_average(plan, data), no_effect_text(plan, data))))
    return f"What does a change of {varied} do?", texts, charts


def _best(data: xr.Dataset) -> dict:
    values, _ = best_per_speed(data)
    return chart(
        "torque",
        "The most torque at each speed",
        "brake torque",
        "torque",
        [line("best at each speed", data.rpm.values, values, look(0))],
    )


def _number(axis: Axis) -> dict:
    return {"title": axis_words(axis), "kind": None}


def _map(
    name: str,
    label: str,
    x: dict[str, Any],
    y: dict[str, Any],
    z_title: str,
    kind: str,
    trace: dict[str, Any],
) -> dict:
    return {
        "id": name,
        "label": label,
        "x": x,
        "y": y,
        "spans": [],
        "traces": [{**trace, "z": {"title": z_title, "kind": kind, "values": known(trace["z"])}}],
    }


def _maps(plan: Plan, data: xr.Dataset) -> list[dict]:
    """VE over speed and the first key; mean torque over the first two."""
    shape = plan.grid_shape()
    numeric = [a for a in plan.axes if a.values and not isinstance(a.values[0], str)]
    if not shape or not numeric or numeric[0] is not plan.axes[0] or data.sizes["rpm"] < 2:
        return []
    first, rpm = plan.axes[0], data.rpm.values
    cut, texts = cut_of(plan, data)
    at = f" at {texts}" if texts else ""
    made = [
        _map(
            "map",
            f"Volumetric efficiency{at}",
            SPEED,
            _number(first),
            "volumetric efficiency",
            "share",
            {"x": known(rpm), "y": known(first.values), "z": cut.ve.values},
        )
    ]
    if len(shape) > 1 and numeric[1:] and numeric[1] is plan.axes[1] and min(shape[:2]) > 1:
        second = plan.axes[1]
        mean, span = mean_torque(plan, data)
        label = f"Mean torque {span.words}"
        made.append(
            _map(
                "mean",
                label,
                _number(second),
                _number(first),
                "mean torque",
                "torque",
                {"x": known(second.values), "y": known(first.values), "z": mean},
            )
        )
    return made


def _family(plan: Plan, data: xr.Dataset) -> dict:
    cut, texts = cut_of(plan, data) if plan.grid_shape() else (data, "")
    rows = cut.torque.values.reshape(-1, data.sizes["rpm"])
    names = plan.axes[0].values if plan.grid_shape() else plan.case_names
    title = "brake torque" + (f" ({texts})" if texts else "")
    return chart(
        "family",
        "Torque of single cases",
        title,
        "torque",
        [
            line(
                names[k] if isinstance(names[k], str) else f"{names[k]:.4g}",
                data.rpm.values,
                rows[k],
                look(n),
            )
            for n, k in enumerate(shown_curves(len(rows)))
        ],
    )


def _search(plan: Plan, result: Searched) -> tuple[str, str, list[dict[str, Any]]]:
    search, found = result.search, result.found
    aim, kind = search.aims[0], KINDS[search.aims[0].of]
    values = np.array([k.aims[0] for k in found.known])
    fits = np.array([k.fits for k in found.known])
    charts = []
    for k, axis in enumerate(plan.axes):
        x = np.array([plan.scaled([p.share])[0][k] for p in found.known], dtype=float)
        label = f"The aim against {axis_words(axis)}"
        charts.append(
            chart(
                f"aim{k}",
                label,
                aim_words(aim),
                kind,
                [
                    line("computed", x[fits], values[fits], look(0), "markers"),
                    line("breaks a limit", x[~fits], values[~fits], {**look(1), "mark": "x"}, "markers"),
                    line(
                        "the best",
                        [found.values[k]],
                        [found.best.aims[0]],
                        {**look(2), "mark": "star"},
                        "markers",
                    ),
                ],
                x=_number(axis),
            )
        )
    if found.front:
        second = search.aims[1]
        charts.append(
            chart(
                "front",
                "The trade-off",
                aim_words(second),
                KINDS[second.of],
                [
                    line(
                        "no curve better in both",
                        [k.aims[0] for k in found.front],
                        [k.aims[1] for k in found.front],
                        look(0),
                    ),
                ],
                x={"title": aim_words(aim), "kind": kind},
            )
        )
    texts = f"{aim_text(aim, found.best.aims[0])} with {plan.case_words(found.values)}"
    return f"Which values give the best {aim_words(aim)}?", f"Best: {texts}.", charts


def _sensitivity(plan: Plan, result: Sensitive) -> tuple[str, str, list[dict[str, Any]]]:
    i, aim = result.indices, aim_words(result.aim)
    names = [axis_words(a).partition(",")[0] for a in plan.axes]
    bars = [
        {"name": name, "x": names, "y": known(values), "mode": "bars", "error": known(wide), **look(k)}
        for k, (name, values, wide) in enumerate(
            (("first order", i.first, i.first_wide), ("total", i.total, i.total_wide))
        )
    ]
    made = chart(
        "indices",
        "Sobol indices",
        f"share of the variance of {aim}",
        "number",
        bars,
        x={"title": "", "kind": None},
    )
    most = names[int(np.argmax(i.total))]
    share = f"{100 * max(i.total):.0f} % of the variance, its interactions included"
    return f"What decides {aim}?", f"Most: {most} ({share}).", [made]


def _tolerance(plan: Plan, band: Band) -> tuple[str, str, list[dict[str, Any]]]:
    edges = {"colour": "#8a93a3", "dash": "solid", "mark": "circle"}
    made = chart(
        "torque",
        "Torque within the tolerance",
        "brake torque",
        "torque",
        [
            line("least", band.rpm, band.torque_low, edges, "lines"),
            line("most", band.rpm, band.torque_high, edges, "lines", fill=True),
            line("as drawn", band.rpm, band.torque, look(0)),
        ],
    )
    spans = ", ".join(f"{axis_words(a).partition(',')[0]} +-{a.high:g} {a.unit}" for a in plan.axes)
    off = np.maximum(band.torque_high - band.torque, band.torque - band.torque_low)
    worst = int(np.argmax(off))
    texts = f"Torque moves by at most {unit('torque').said(off[worst])}, at {band.rpm[worst]:.0f} rpm."
    return f"What does {spans} do to the torque?", texts, [made]
