"""What the page shows, as plain data: curves, cycles, sentences, what was assumed."""

import numpy as np

from aircolumn.curves.labelled import shown_figure, shown_ve
from aircolumn.curves.summary import TIE, interest_range, runner_mean
from aircolumn.description.parts import Part
from aircolumn.description.reference import default_of
from aircolumn.page import charts
from aircolumn.report.reasons import figures, verdict_on
from aircolumn.report.tables import leader, not_located, verdict
from aircolumn.report.trace_plots import EVENT_NAMES
from aircolumn.shown import unit
from aircolumn.tuning.explain import beside

EVERY = 2.0  # deg between the angles of a cycle that is shown
MODEST = (
    "The shape of a curve and the difference between runners are worth more than its level, which"
    " moves with what the file leaves to assumptions (listed below).",
    f"Differences under {100 * TIE:g} % are treated as a tie.",
)
HINT = (
    "aircolumn compare --uncertainty gives the numerical uncertainty; a measured pull (aircolumn"
    " pull) tells what the engine does.",
)


def curve_charts(data, span) -> list[dict]:
    """VE, torque and power of every runner, as they were asked for."""
    ve, density = shown_ve(data)
    (torque, stated), (power, _) = shown_figure(data, "torque"), shown_figure(data, "power")
    return [
        charts.chart(name, f"{what[0].upper()}{what[1:]} against engine speed", title, kind, [
            charts.line(runner, data.rpm.values, data[figure].sel(runner=runner).values,
                        charts.look(k))
            for k, runner in enumerate(data.runner.values)
        ], span=span)
        for name, what, title, kind, figure in (
            ("ve", "volumetric efficiency", f"volumetric efficiency ({density} density)", "share",
             ve),
            ("torque", "torque", f"brake torque ({stated})", "torque", torque),
            ("power", "power", f"brake power ({stated})", "power", power),
        )
    ]  # fmt: skip


def cycle(name: str, data) -> dict:
    """A cycle of one runner for the moving wave: pressures in hPa over the plenum's mean, whole
    numbers, as the page should be small."""
    angles = np.arange(0.0, 720.0, EVERY)
    reference = data.attrs["reference_pressure_Pa"]
    at = data.interp(angle=angles)
    stroke = at.volume.values - at.volume.values.min()
    return {
        "name": name,
        "rpm": float(data.attrs["rpm"]),
        "distance": np.round(data.distance.values, 4).tolist(),
        **{key: np.round(0.01 * (at[key].values.T - reference)).astype(int).tolist()
           for key in ("p", "forward", "backward")},
        "piston": np.round(stroke / stroke.max(), 3).tolist(),
        **{side: np.round(at[f"{side}_area"].values / at[f"{side}_area"].values.max(), 3).tolist()
           for side in ("intake", "exhaust")},
        "events": sorted(_events(data), key=lambda event: event[1]),
    }  # fmt: skip


def _events(data) -> list:
    """[short name, crank angle in degrees] of each valve event."""
    return [[short, float(data.attrs[key] % 720.0)] for key, short in EVENT_NAMES.items()]


def reasons(told) -> dict[str, list[dict[str, str]]]:
    """Why each runner's humps and hollows are there: a verdict, and the figures behind it."""
    return {
        name: [
            {
                "verdict": " ".join(verdict_on(e.kind, c, beside(items, k))),
                "figures": " ".join(figures(c)),
            }
            for k, (e, c, _) in enumerate(items)
        ]
        for name, items in told.items()
    }


def recommendation(data, speeds) -> dict:
    """{answer, facts}: which runner for the range that matters, and what that rests on."""
    rpm = data.rpm.values
    span = interest_range(speeds, rpm) or (float(rpm[0]), float(rpm[-1]))
    figure, stated = shown_figure(data, "torque")
    torque = unit("torque")
    means = np.array([runner_mean(data, figure, n, span) for n in data.runner.values])
    several = span[0] < span[1]
    where = f"from {span[0]:.0f} to {span[1]:.0f} rpm" if several else f"at {rpm[0]:.0f} rpm"
    best = leader(means)
    if best >= 0:
        second = np.sort(means[np.isfinite(means)])[-2]
        mean = f"{torque.said(means[best])}{' on average' if several else ''}"
        answer = (f"{data.runner.values[best]} makes the most torque {where}: {mean} ({stated}),"
                  f" {torque.said(means[best] - second)} more than the next.")  # fmt: skip
    else:
        answer = (f"No runner leads {where}: the best are within {100 * TIE:g} % of each other,"
                  " which is treated as a tie.")  # fmt: skip
    facts = [*verdict(data, speeds).splitlines(), not_located(data)]
    return {"answer": answer, "facts": [fact for fact in facts if fact]}


def left_to_defaults(engine: Part) -> list[tuple[str, str, str]]:
    """(key, value, meaning) of everything the file leaves to its default."""
    return list(_defaults(engine, ""))


def _defaults(part: Part, place: str):
    for name, field in type(part).model_fields.items():
        value = getattr(part, name)
        key = f"{place}.{field.alias or name}".lstrip(".")
        if isinstance(value, Part):
            yield from _defaults(value, key)
        elif name not in part.model_fields_set:
            default = default_of(field)
            if default:
                yield key, default, field.description
