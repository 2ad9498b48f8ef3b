"""What is one choice among published ones and is not varied by ``bands``: what it moves differences by.
``python -m validation.left_out_laws validation/left_out_laws.md``

Three invented engines with three runners each; every row changes one law or adds one group that a file may
leave out, and tells by how much the differences between runners then move, in per cent of torque: the mean
over speeds and the most. What moves them by more than 0.3 % on average is varied (engine/uncertain).
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
from scipy.interpolate import PchipInterpolator

from aircolumn.curves.points import compute_points
from aircolumn.engine.description.places import value_at, with_value
from aircolumn.engine.description.reader import described
from aircolumn.flow.cylinder import burn
from validation.hidden_engines import SPEEDS, description_of, half_cosine

CELLS = 2.0  # of the usual
RUNNER = ("intake", "runner")
Change = Callable[[dict, Any], dict]


def torque(description, name: str, change: Change) -> np.ndarray:
    """Torque (runners, speeds) with a change of every candidate's data."""
    jobs, runners = [], list(description.candidates)
    for k, one in enumerate(description.candidates.values()):
        engine = described(description.source.with_data(change(one.data, one.engine))).engine
        engine = engine.changed(numerics=engine.numerics.changed(cell_scale=CELLS))
        jobs += [((k, n), engine, float(n), 1.0) for n in SPEEDS[name]]
    found, failed = compute_points(jobs)
    assert not failed, failed
    return np.array([[found[k, n].figures["torque"] for n in SPEEDS[name]] for k in range(len(runners))])


def same(data: dict, engine: Any) -> dict:
    """As it is."""
    return data


def put(path: tuple, value: Any) -> Change:
    """Put a value at a path."""
    return lambda data, engine: with_value(data, path, value)


def finer_discharge(data: dict, engine: Any) -> dict:
    """Monotone cubics (Fritsch & Carlson) in place of straight lines between the points of discharge."""
    for side in ("intake", "exhaust"):
        path = (side, "valve", "discharge")
        table = dict(value_at(data, path))
        d = getattr(engine, side).valve.discharge
        x = np.array(d.lift_ratio)
        fine = np.linspace(x[0], x[-1], 41)
        for key in ("forward", "reverse"):
            values = getattr(d, key)
            if values is not None:
                table[key] = [float(v) for v in PchipInterpolator(x, values)(fine)]
        table["lift_ratio"] = [float(v) for v in fine]
        data = with_value(data, path, table)
    return data


def falling_discharge(data: dict, engine: Any) -> dict:
    """Beyond the last point the coefficient goes on as between the last two, in place of staying."""
    for side in ("intake", "exhaust"):
        path = (side, "valve", "discharge")
        table = dict(value_at(data, path))
        d = getattr(engine, side).valve.discharge
        x = [*d.lift_ratio, d.lift_ratio[-1] + 0.1]
        for key in ("forward", "reverse"):
            v = getattr(d, key)
            if v is not None:
                slope = (v[-1] - v[-2]) / (d.lift_ratio[-1] - d.lift_ratio[-2])
                table[key] = [*v, max(v[-1] + 0.1 * slope, 0.05)]
        table["lift_ratio"] = x
        data = with_value(data, path, table)
    return data


def bent(data: dict, engine: Any) -> dict:
    """A bend of 90 degrees in every runner."""
    runner = engine.intake.runner
    first = runner.first_bore or runner.last_bore
    pipe = {k: v for k, v in data["intake"]["runner"].items() if k not in ("length", "bore")}
    middle = 0.5 * (first + runner.last_bore)

    def mm(value: float) -> str:
        return f"{1e3 * value:.4f} mm"

    half = mm(0.5 * runner.total_length)
    pipe["sections"] = [
        {"length": half, "bore": {"from": mm(first), "to": mm(middle)}},
        {"length": half, "bore": {"to": mm(runner.last_bore)}},
    ]
    pipe["sections"][0] |= {"bend_angle": "90 deg", "bend_radius": mm(1.5 * middle)}
    return with_value(data, ("intake", "runner"), pipe)


def bent_more(data: dict, engine: Any) -> dict:
    """The bend with a third more loss: so far do published fits differ."""
    return with_value(bent(data, engine), (*RUNNER, "bend_factor"), 1.33)


def as_log(data: dict, engine: Any) -> dict:
    """The plenum's volume as a pipe along which the runners stand, one and a half bores apart."""
    if engine.intake.plenum is None or engine.block.cylinders == 1:
        return data
    n, volume = engine.block.cylinders, engine.intake.plenum.volume
    pitch = 1.2 * engine.block.bore
    length = (n + 0.5) * pitch
    bore = np.sqrt(4.0 * volume / (np.pi * length))
    log = {
        "length": f"{1e3 * length:.2f} mm",
        "bore": f"{1e3 * bore:.2f} mm",
        "runners_at": [f"{1e3 * pitch * (k + 0.75):.2f} mm" for k in range(n)],
        "heat_factor": 0,
    }
    return with_value(data, ("intake", "plenum"), {"log": log})


def all_cylinders(data: dict, engine: Any) -> dict:
    """Every cylinder computed, as the log has them."""
    return {**data, "model": "manifold"} if engine.block.cylinders > 1 else data


@contextmanager
def other_burn() -> Iterator[None]:
    """The charge burns along half a cosine."""
    usual = burn.wiebe_share
    burn.wiebe_share = half_cosine
    try:
        yield
    finally:
        burn.wiebe_share = usual


@contextmanager
def nothing() -> Iterator[None]:
    """As it is."""
    yield


#: what: (base, change, patch of a law)
ROWS: dict[str, tuple[Change, Change, Callable]] = {
    "burn: half a cosine for the Wiebe law": (same, same, other_burn),
    "burn: lengthened by residual gas (residual_factor 2)": (
        same,
        put(("combustion", "residual_factor"), 2.0),
        nothing,
    ),
    "discharge: cubics between points": (same, finer_discharge, nothing),
    "discharge: falls on beyond the last point": (same, falling_discharge, nothing),
    "mouth: thickness of its rim": (same, put((*RUNNER, "entry", "wall_thickness"), "4 mm"), nothing),
    "varied, as it moves more: bends by a third": (bent, bent_more, nothing),
    "varied, as it moves more: plenum a log of its volume": (all_cylinders, as_log, nothing),
}


def main(path: str | None) -> None:
    """Compute and print, or write the table."""
    heads = " | ".join(f"{n}: mean, most" for n in SPEEDS)
    lines = [f"| what is changed | {heads} |", "|---|" + "---|" * len(SPEEDS)]
    with tempfile.TemporaryDirectory() as place:
        described_ones = {name: description_of(name, Path(place)) for name in SPEEDS}
        for what, (base, change, patch) in ROWS.items():
            cells = []
            for name, description in described_ones.items():
                before = torque(description, name, base)
                with patch():
                    after = torque(description, name, change)
                gaps = [(t - t[-1])[:-1] / before[-1] for t in (before, after)]
                moved = 100.0 * np.abs(gaps[1] - gaps[0])
                cells.append(f"{moved.mean():.2f}, {moved.max():.2f} %")
            lines.append(f"| {what} | " + " | ".join(cells) + " |")
            print(lines[-1], flush=True)
    if path is not None:
        head = (
            "# What laws that are not varied move differences between runners by\n\nMade by `python -m"
            " validation.left_out_laws validation/left_out_laws.md`; in per cent of torque, at the\nspeeds of"
            " `validation/hidden_engines.py`.\n\n"
        )
        Path(path).write_text(head + "\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main(sys.argv[1] if len(sys.argv) > 1 else None)
