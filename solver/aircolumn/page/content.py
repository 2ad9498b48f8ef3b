"""What the page shows, as plain data: curves, cycles, sentences, what was assumed."""

import numpy as np

from aircolumn.curves.labelled import shown_ve
from aircolumn.curves.summary import TIE, interest_range, mean_over
from aircolumn.description.parts import Part
from aircolumn.description.reference import default_of, meaning_of
from aircolumn.report.plots import STYLES
from aircolumn.report.reasons import sentences
from aircolumn.report.tables import leader, verdict
from aircolumn.report.trace_plots import EVENT_NAMES

EVERY = 2.0  # deg between the angles of a cycle that is shown
DASHES = ("solid", "dash", "dashdot", "dot", "longdashdot")
MARKS = ("circle", "square", "triangle-up", "diamond", "triangle-down")


def curves(data) -> list[dict]:
    """{name, colour, dash, mark, rpm, ve, torque, power} of every runner (SI)."""
    ve, _ = shown_ve(data)
    found = []
    for k, name in enumerate(data.runner.values):
        one = data.sel(runner=name)
        found.append({
            "name": str(name),
            "colour": STYLES[k % len(STYLES)]["color"],
            "dash": DASHES[(k + k // len(DASHES)) % len(DASHES)],
            "mark": MARKS[k % len(MARKS)] + ("-open" if k >= len(MARKS) else ""),
            "rpm": data.rpm.values.tolist(),
            **{key: _known(one[figure].values)
               for key, figure in (("ve", ve), ("torque", "torque"), ("power", "power"))},
        })  # fmt: skip
    return found


def _known(values) -> list:
    """Numbers for JSON: what could not be computed is null."""
    return [float(v) if np.isfinite(v) else None for v in values]


def cycle(name: str, data) -> dict:
    """A cycle of one runner for the moving wave: pressures in kPa over the plenum's mean."""
    angles = np.arange(0.0, 720.0, EVERY)
    reference = data.attrs["reference_pressure_Pa"]
    at = data.interp(angle=angles)
    stroke = at.volume.values - at.volume.values.min()
    return {
        "name": name,
        "rpm": float(data.attrs["rpm"]),
        "distance": np.round(1e3 * data.distance.values, 1).tolist(),
        **{key: np.round(1e-3 * (at[key].values.T - reference), 1).tolist()
           for key in ("p", "forward", "backward")},
        "piston": np.round(stroke / stroke.max(), 3).tolist(),
        **{side: np.round(at[f"{side}_area"].values / at[f"{side}_area"].values.max(), 3).tolist()
           for side in ("intake", "exhaust")},
        "events": sorted(_events(data), key=lambda event: event[1]),
    }  # fmt: skip


def _events(data) -> list:
    """[short name, crank angle in degrees] of each valve event."""
    return [[short, float(data.attrs[key] % 720.0)] for key, short in EVENT_NAMES.items()]


def reasons(told) -> dict[str, list[str]]:
    """Why each runner's humps and hollows are there, in sentences."""
    return {name: [" ".join(sentences(e.kind, c)) for e, c, _ in items]
            for name, items in told.items()}  # fmt: skip


def recommendation(data, speeds) -> dict:
    """{answer, facts}: which runner for the range that matters, and what that rests on."""
    rpm = data.rpm.values
    span = interest_range(speeds, rpm) or (float(rpm[0]), float(rpm[-1]))
    means = np.array([mean_over(rpm, data.torque.sel(runner=n).values, *span)
                      for n in data.runner.values])  # fmt: skip
    best, where = leader(means), f"from {span[0]:.0f} to {span[1]:.0f} rpm"
    if best >= 0:
        second = np.sort(means[np.isfinite(means)])[-2]
        answer = (f"{data.runner.values[best]} has the most torque {where}: {means[best]:.1f} N m"
                  f" on average, {means[best] - second:.1f} N m more than the next.")  # fmt: skip
    else:
        answer = (f"No runner leads {where} by more than the {100 * TIE:g} % that the curves can"
                  " tell.")  # fmt: skip
    return {"answer": answer, "facts": verdict(data, speeds).splitlines()}


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
                yield key, default, meaning_of(type(part), field.alias or name)
