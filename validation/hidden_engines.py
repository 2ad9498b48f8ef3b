"""Do bands hold engines that differ from their file in all at once?
``python -m validation.hidden_engines 200``

For three invented engines, as many hidden ones as asked for: all of them fit the file, and differ in what it
leaves out by laws that are not those of engine/uncertain. What stands ahead of the throttle is drawn anew
(none; pipes; two pipes with a step; an airbox with or without a filter, long snorkels), lobes are harmonic,
polynomial or flat-nosed and lean to one side, the charge burns along a half cosine, walls take heat by
another law and factor, discharge coefficients have a bulge somewhere, ports a narrow place or a bowl,
primaries another collector; whatever else is unsure is drawn evenly within its 95 % half-width. Printed are
the shares of torque levels and of differences between runners that lie in their 95 % band, of differences
"beyond doubt" that have the wrong sign, of true differences above 3 % that are called, and the widths of the
bands; and how far a runner's torque is off if it is predicted from the file alone, and from the pull of
another (study/bands/next_manifold.py), with the share that lies in the latter's band."""

from __future__ import annotations

import sys
import tempfile
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path

import numpy as np
from scipy.special import ndtri

import aircolumn
from aircolumn.engine.description.places import value_at, with_value
from aircolumn.engine.description.reader import Description, described
from aircolumn.engine.model.operating_point import operating_point
from aircolumn.engine.uncertain.alternatives import K, OneOf, Scaled, Waisted
from aircolumn.engine.uncertain.inputs import all_unsure
from aircolumn.engine.uncertain.unsure import ABOVE, WITHIN
from aircolumn.errors import ComputationError, InputError
from aircolumn.flow.cylinder import burn
from aircolumn.flow.cylinder.burn import wiebe_share
from aircolumn.study.bands.next_manifold import quotient
from aircolumn.study.bands.session import USUAL, how_sure
from aircolumn.study.bands.verdict import AHEAD, BEHIND

ROOT = Path(__file__).resolve().parent.parent
SPEEDS = {
    "rescue-four": (1500, 2000, 2500, 3000, 3500, 4500, 5500),
    "classroom-single": (1500, 2500, 3500, 4500, 5500),
}
NEW = "new-four"  # as `aircolumn new` writes it
SPEEDS[NEW] = (2000, 3000, 4000, 5000, 6000)
CELLS = 3.0  # of the usual: an error of about 0.1 %
MUCH = 0.03  # of torque: a difference that should be called


def description_of(name: str, folder: Path) -> Description:
    """One of the base engines."""
    if name != NEW:
        return aircolumn.load(ROOT / "configs" / f"{name}.yaml")
    from aircolumn.cli import main

    path = folder / "new.yaml"
    words = ["--cylinders", "4", "--valves", "4", "--displacement", "2.0 L", "--peak", "6000 rpm"]
    if not path.exists():
        from contextlib import redirect_stdout
        from io import StringIO

        with redirect_stdout(StringIO()):
            main(["new", str(path), *words])
    return aircolumn.load(path)


# --- one hidden engine


def hidden(description: Description, rng: np.random.Generator) -> dict[str, dict]:
    """The data of every candidate of one engine that fits the file."""
    found, drawn = {}, {}
    common = rng.integers(2**32)
    for name, one in description.candidates.items():
        data = one.data
        for row in all_unsure(one):
            number = drawn.setdefault(row.one, rng.uniform(-K, K))
            if row.way == ABOVE:  # evenly over what it may be more
                number = ndtri(0.5 + 0.5 * WITHIN * abs(number) / K)
            if not isinstance(row.change, (OneOf, Scaled, Waisted)) and ".lift." not in row.one:
                data = row.apply(data, float(number))
        same = np.random.default_rng(common)  # all candidates are of one engine
        for change in (_inlet, _lobes, _discharge, _ports, _collector, _heat):
            data = change(data, one.engine, same)
        found[name] = data
    return found


def _mm(metres: float) -> str:
    return f"{1e3 * metres:.4f} mm"


def _inlet(data: dict, engine, rng) -> dict:
    throttle, block = engine.intake.throttle, engine.block
    if "inlet" in data["intake"] or throttle is None:
        return data
    volume = 0.25 * np.pi * block.bore**2 * block.stroke * block.cylinders
    flow = f"{1e3 * 1.2 * volume * engine.speeds.stop / 120.0:.4g} g/s"

    def pipe(low=0.08, high=0.6):
        bore = throttle.bore * rng.uniform(0.88, 1.15)
        return {
            "pipe": {
                "length": _mm(np.exp(rng.uniform(np.log(low), np.log(high)))),
                "bore": {"from": _mm(bore * rng.uniform(0.95, 1.05)), "to": _mm(bore)},
                "wall_temperature": f"{rng.uniform(20, 50):.0f} degC",
            }
        }

    element = {
        "filter": {"pressure_drop": f"{np.exp(rng.uniform(np.log(0.25), np.log(1.8))):.3f} kPa", "flow": flow}
    }
    box = {"airbox": {"volume": f"{1e3 * volume * np.exp(rng.uniform(np.log(1.0), np.log(4.0))):.3f} L"}}
    ways = (
        None,
        [pipe()],
        [pipe(), pipe()],
        [element, pipe()],
        [pipe(), box, element, pipe()],
        [pipe(0.2, 0.7), box, pipe()],
        [element, box, pipe()],
    )
    chosen = ways[rng.choice(len(ways), p=(0.15, 0.15, 0.05, 0.15, 0.25, 0.15, 0.1))]
    return data if chosen is None else with_value(data, ("intake", "inlet"), chosen)


def lobe(kind: int, s: np.ndarray, rng) -> np.ndarray:
    """Lift over the highest, for s from -1 to 1 seat to seat."""
    if kind == 0:  # harmonic
        return (0.5 * (1.0 + np.cos(np.pi * s))) ** rng.uniform(1.0, 1.5)
    if kind == 1:  # polynomial 2-p-q-r: lift, velocity and acceleration zero at the seats
        p, q, r = 2 * rng.integers(3, 6), 0, 0
        q, r = p + 4, p + 10
        powers = np.array([2, p, q, r])
        rows = np.array([powers**0, powers, powers * (powers - 1), powers * (powers - 1) * (powers - 2)])
        c = np.linalg.solve(rows.astype(float), [-1.0, 0.0, 0.0, 0.0])
        return np.clip(1.0 + sum(a * np.abs(s) ** n for a, n in zip(c, powers, strict=True)), 0.0, None)
    flat = rng.uniform(2.0, 2.4)  # flat-nosed, with ramps
    ramp = 0.012 * np.clip(1.0 - np.abs(s), 0.0, 0.06) / 0.06
    inner = np.clip(1.0 - np.abs(s / 0.94) ** flat, 0.0, None) ** rng.uniform(1.7, 2.3)
    return np.minimum(ramp + (1.0 - 0.012) * inner, 1.0)


def _lobes(data: dict, engine, rng) -> dict:
    for side in ("intake", "exhaust"):
        valve = getattr(engine, side).valve
        lift, kind, lean = valve.lift, rng.integers(3), rng.uniform(-0.04, 0.04)
        shape = np.random.default_rng(rng.integers(2**32))
        if lift.angle is not None:
            continue
        opens, closes = engine.intake_events() if side == "intake" else engine.exhaust_events()
        s = np.linspace(-1.0, 1.0, 1601)
        curve = lobe(kind, s, shape)
        share = lift.events_lift / lift.highest
        reach = np.interp(-share, -curve[800:], s[800:])  # s at which the events hold
        angle = 0.5 * (closes - opens) / reach * (s + lean * (1.0 - s * s))
        edges = np.interp([-reach, reach], s, angle)
        angle += 0.5 * (opens + closes) - edges.mean()
        angle = 0.5 * (opens + closes) + (angle - 0.5 * (opens + closes)) * (closes - opens) / np.ptp(edges)
        rows = slice(None, None, 20)
        table = {
            "angle": [f"{min(a - angle[0], 360.0):.4f} deg" for a in angle[rows]],
            "lift": [f"{1e3 * lift.highest * c:.5f} mm" for c in curve[rows]],
            "lash": f"{1e3 * lift.lash:.3f} mm",
        }
        group = {
            k: v
            for k, v in data[side]["valve"].items()
            if not k.startswith(("opens", "closes", "centre", "duration"))
        }
        events = (
            {"opens_btdc": f"{360.0 - angle[0]:.4f} deg", "closes_abdc": f"{angle[-1] - 540.0:.4f} deg"}
            if side == "intake"
            else {"opens_bbdc": f"{180.0 - angle[0]:.4f} deg", "closes_atdc": f"{angle[-1] - 360.0:.4f} deg"}
        )
        data = with_value(data, (side, "valve"), {**group, **events, "lift": table})
    return data


def _discharge(data: dict, engine, rng) -> dict:
    for side in ("intake", "exhaust"):
        d = getattr(engine, side).valve.discharge
        at, wide, height = rng.uniform(0.05, 0.3), rng.uniform(0.05, 0.15), rng.uniform(-0.08, 0.08)
        level, back = rng.uniform(0.96, 1.04), rng.uniform(0.88, 1.05)
        if d.forward is None:
            continue
        x = np.array(d.lift_ratio)
        bulge = level * (1.0 + height * np.exp(-(((x - at) / wide) ** 2)))
        table = {**data[side]["valve"]["discharge"], "factor": 1.0, "tilt": 0.0}
        table["forward"] = [round(float(v), 5) for v in np.array(d.forward) * bulge]
        reverse = np.array(d.reverse or d.forward) * bulge * (1.0 if d.reverse else back)
        table["reverse"], table["reverse_factor"] = [round(float(v), 5) for v in reverse], 1.0
        data = with_value(data, (side, "valve", "discharge"), table)
    return data


def _ports(data: dict, engine, rng) -> dict:
    for side in ("intake", "exhaust"):
        path = (side, "port")
        port, stated = getattr(engine, side).port, value_at(data, path)
        kind, depth, at = rng.integers(3), rng.uniform(0.0, 0.09), rng.uniform(0.35, 0.75)
        if "length" not in stated or "bore" not in stated:
            continue
        before = engine.intake.runner.last_bore if side == "intake" else None
        first, last = port.first_bore or before or port.last_bore, port.last_bore
        middle = (0.5 * (first + last)) * (1.0 - depth if kind == 0 else 1.0 + depth if kind == 1 else 1.0)
        pipe = {k: v for k, v in stated.items() if k not in ("length", "bore")}
        pipe["sections"] = [
            {"length": _mm(at * port.length), "bore": {"from": _mm(first), "to": _mm(middle)}},
            {"length": _mm((1.0 - at) * port.length), "bore": {"to": _mm(last)}},
        ]
        data = with_value(data, path, pipe)
    return data


def _collector(data: dict, engine, rng) -> dict:
    x, n = engine.exhaust, engine.block.cylinders
    there, length, wide = rng.random() < 0.5, rng.uniform(0.25, 0.8), rng.uniform(1.5, 1.95)
    if "collector" in data["exhaust"] or n == 1 or n > 4 or not there:
        return data
    pipe = {"length": _mm(length), "bore": _mm(wide * x.primary.last_bore), "wall_temperature": "350 degC"}
    return with_value(data, ("exhaust", "collector"), pipe)


def _heat(data: dict, engine, rng) -> dict:
    law = rng.choice(["woschni", "annand", "hohenberg"], p=(0.4, 0.3, 0.3))
    walls = {
        **data.get("cylinder_walls", {}),
        "model": str(law),
        "factor": float(np.exp(rng.uniform(np.log(0.75), np.log(1.35)))),
        "exchange_factor": float(np.exp(rng.uniform(np.log(0.55), np.log(1.9)))),
    }
    return with_value(data, ("cylinder_walls",), walls)


def half_cosine(angle: np.ndarray, start: float, total: float, form: float) -> np.ndarray:
    """A burn along half a cosine, with the half burn and the 10 to 90 % duration of the Wiebe law in whose
    place it stands."""
    fine = np.linspace(0.0, total, 4001)
    share = wiebe_share(start + fine, start, total, form)
    tenth, half, most = (start + np.interp(x, share, fine) for x in (0.1, 0.5, 0.9))
    whole = (most - tenth) / (np.arccos(-0.8) - np.arccos(0.8)) * np.pi
    z = np.clip((np.asarray(angle, dtype=float) - half) / whole + 0.5, 0.0, 1.0)
    return 0.5 * (1.0 - np.cos(np.pi * z))


# --- truth and verdict


def truth(job: tuple[str, str, int]) -> np.ndarray | None:
    """Torque (runners, speeds) of one hidden engine; None where there can be none."""
    name, folder, seed = job
    description = description_of(name, Path(folder))
    rng = np.random.default_rng([seed, len(name)])
    burn.wiebe_share = half_cosine if rng.random() < 0.6 else wiebe_share
    table = []
    try:
        for data in hidden(description, rng).values():
            engine = described(description.source.with_data(data)).engine
            engine = engine.changed(numerics=engine.numerics.changed(cell_scale=CELLS))
            table.append([operating_point(engine, float(n)).figures["torque"] for n in SPEEDS[name]])
    except (ComputationError, InputError) as error:
        print(f"{name} {seed}: {error}", file=sys.stderr)
        return None
    return np.array(table)


@dataclass
class Counted:
    """Counts over hidden engines."""

    levels: list[float]
    gaps: list[float]
    sure: int
    wrong: int
    large: int
    called: int
    width: float
    level_width: float
    alone: list[float]
    from_pull: list[float]
    held: list[float]


def counted(name: str, count: int, folder: Path, cases: int, pool: ProcessPoolExecutor) -> Counted:
    """Bands of a base engine against as many hidden ones."""
    description = description_of(name, folder)
    speeds = np.array(SPEEDS[name], dtype=float)
    found = how_sure(description, speeds, folder / name, count=cases)
    jobs = [(name, str(folder), seed) for seed in range(count)]
    tables = [t for t in pool.map(truth, jobs, chunksize=1) if t is not None]
    v, runners = found.verdict, found.curves.runners
    levels, gaps, sure, wrong, large, called = [], [], 0, 0, 0, 0
    alone: list[float] = []
    from_pull: list[float] = []
    held: list[float] = []
    for table in tables:
        for k, runner in enumerate(runners):
            band = v.bands[runner]
            levels.append(float(np.mean((band.low <= table[k]) & (table[k] <= band.high))))
        base = table[runners.index(v.base)]
        for a in v.against:
            gap = table[runners.index(a.runner)] - base
            gaps.append(float(np.mean((a.at.low <= gap) & (gap <= a.at.high))))
            said = np.array([1 if s == AHEAD else -1 if s == BEHIND else 0 for s in a.states])
            sure += int(np.sum(said != 0))
            wrong += int(np.sum(said * gap < 0))
            much = np.abs(gap) > MUCH * base
            large += int(np.sum(much))
            own = found.curves.own[runners.index(a.runner)]
            over = own / found.curves.own[runners.index(v.base)]
            there = table[runners.index(a.runner)]
            band = quotient(found.curves, a.runner, v.base, over)
            alone.append(float(np.sqrt(np.mean((own / there - 1.0) ** 2))))
            from_pull.append(float(np.sqrt(np.mean((base * over / there - 1.0) ** 2))))
            held.append(float(np.mean((band.low <= there / base) & (there / base <= band.high))))
            called += int(np.sum(much & (said * gap > 0)))
    widths = [np.mean((a.at.high - a.at.low) / v.bands[v.base].own) for a in v.against]
    wide = [np.mean((b.high - b.low) / b.own) for b in v.bands.values()]
    width, level_width = float(np.median(widths)), float(np.median(wide))
    return Counted(levels, gaps, sure, wrong, large, called, width, level_width, alone, from_pull, held)


def main(count: int, names: list[str], cases: int, workers: int) -> None:
    """Count and print."""
    every = []
    with (
        tempfile.TemporaryDirectory() as place,
        ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool,
    ):
        for name in names:
            c = counted(name, count, Path(place), cases, pool)
            every.append(c)
            print(
                f"{name}: levels inside {100 * np.mean(c.levels):.1f} %, differences"
                f" {100 * np.mean(c.gaps):.1f} %; beyond doubt {c.sure}, of these wrong {c.wrong}; above"
                f" {100 * MUCH:g} % {c.large}, called {100 * c.called / max(c.large, 1):.0f} %; width of"
                f" differences {100 * c.width:.1f} %, of levels {100 * c.level_width:.1f} %; another"
                " runner is off by"
                f" {100 * np.mean(c.alone):.1f} % from the file, by {100 * np.mean(c.from_pull):.1f} %"
                " from a pull,"
                f" whose band holds {100 * np.mean(c.held):.1f} %",
                flush=True,
            )
    sure, wrong = sum(c.sure for c in every), sum(c.wrong for c in every)
    large, called = sum(c.large for c in every), sum(c.called for c in every)
    print(
        f"all: levels {100 * np.mean([x for c in every for x in c.levels]):.1f} %, differences"
        f" {100 * np.mean([x for c in every for x in c.gaps]):.1f} %, wrong {wrong} of {sure} beyond doubt,"
        f" called {100 * called / max(large, 1):.0f} % of {large}"
    )


if __name__ == "__main__":
    import os

    main(
        int(sys.argv[1]) if len(sys.argv) > 1 else 200,
        sys.argv[4:] or list(SPEEDS),
        int(sys.argv[2]) if len(sys.argv) > 2 else USUAL,
        int(sys.argv[3]) if len(sys.argv) > 3 else os.cpu_count() or 1,
    )
