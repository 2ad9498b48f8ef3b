"""Random engines, by seed: what a study or a curious user may ask for.

``wild(seed)`` spans far more than one would build: steps, cones and throats in runner and exhaust,
megaphones, throttles nearly shut, plenums from a fraction of the displacement to twenty times.
``plausible(seed)`` is what one would: full throttle, a plenum of 0.5 to 4 displacements, gentle
pipes. Both give (Engine, speed in rev/min). ``python -m tests.random_engines wild 500`` marches
them and prints the shares.
"""

import sys
import time
from collections import Counter
from pathlib import Path

import numpy as np

from aircolumn.curves.points import compute_points
from aircolumn.engine.description.reader import described
from aircolumn.engine.description.source import Source

LIFT_RATIO = [0.05, 0.10, 0.15, 0.20, 0.25, 0.30]
FORWARD = np.array([0.70, 0.68, 0.64, 0.59, 0.54, 0.48])
ORDERS = {1: [1], 2: [1, 2], 3: [1, 3, 2], 4: [1, 3, 4, 2], 5: [1, 2, 4, 5, 3], 6: [1, 5, 3, 6, 2, 4]}


def mm(value) -> str:
    """A length in metres as the engine file writes it."""
    return f"{1e3 * value:.3f} mm"


def wild(seed: int):
    """An engine out of wide ranges and a speed up to 25 m/s of mean piston speed."""
    data, speed = wild_data(seed)
    return _checked(data, seed, "wild"), speed


def wild_data(seed: int) -> tuple[dict, float]:
    """(data of the file of a wild engine, speed)."""
    rng = np.random.default_rng([seed, 1])
    bore, stroke, cylinders = _bottom(rng, rng.choice([1, 2, 3, 4, 5, 6, 8, 10, 12]))
    intake_bore = bore * rng.uniform(0.35, 0.55)
    exhaust_bore = bore * rng.uniform(0.3, 0.5)
    data = _engine(rng, bore, stroke, cylinders, intake_bore, exhaust_bore)
    length = np.exp(rng.uniform(np.log(0.05), np.log(1.5)))
    data["intake"]["runner"] |= {"sections": _wild_pipe(rng, length, intake_bore)}
    data["exhaust"]["primary"] |= {"sections": _wild_exhaust(rng, exhaust_bore)}
    if rng.random() < 0.85:
        plenum = np.exp(rng.uniform(np.log(0.2), np.log(50.0)))
        angle = 90.0 if rng.random() < 0.4 else rng.uniform(3.0, 90.0)
        _breathe(data, plenum, bore * rng.uniform(0.5, 0.9) * np.sqrt(0.5 * cylinders + 0.5), angle)
    speed = rng.uniform(1.0, 25.0) * 30.0 / stroke
    return data, float(np.clip(speed, 300.0, 20000.0))


def legal_data(seed: int) -> tuple[dict, float]:
    """(data of the file of a wild engine with candidates, and some with what stands ahead of the plenum,
    behind the primaries or in place of the plenum's volume, speed)."""
    data, speed = wild_data(seed)
    rng = np.random.default_rng([seed, 3])
    intake, exhaust = data["intake"], data["exhaust"]
    bore = intake["runner"]["sections"][-1]["bore"]["to"]
    data["runners"] = {"own": {}, "plain": {"length": mm(rng.uniform(0.1, 0.7)), "bore": bore}}
    if "throttle" in intake:
        wide = intake["throttle"]["bore"]
        things = [{"filter": {"pressure_drop": "1 kPa", "flow": "150 g/s"}}]
        things += [
            {"pipe": {"length": mm(rng.uniform(0.05, 0.6)), "bore": wide, "wall_temperature": "30 degC"}}
        ]
        if rng.random() < 0.4:
            intake["inlet"] = things[: rng.integers(1, 3)]
    wider = f"{1.7 * float(exhaust['primary']['sections'][-1]['bore']['to'].split()[0]):.1f} mm"
    if rng.random() < 0.4 and 1 < data["engine"]["cylinders"] <= 4:
        exhaust["collector"] = {"length": "400 mm", "bore": wider, "wall_temperature": "350 degC"}
    elif rng.random() < 0.2:
        volume = f"{rng.uniform(2.0, 20.0):.1f} L"
        exhaust["silencer"] = {"volume": volume, "pressure_drop": "8 kPa", "flow": "100 g/s"}
    return data, speed


def plausible(seed: int):
    """An engine one would build and a mean piston speed from 4 to 23 m/s."""
    rng = np.random.default_rng([seed, 2])
    bore, stroke, cylinders = _bottom(rng, rng.choice([1, 2, 3, 4, 5, 6, 8, 10, 12]))
    displacement = 1e3 * cylinders * np.pi / 4 * bore**2 * stroke
    intake_bore, exhaust_bore = bore * rng.uniform(0.4, 0.5), bore * rng.uniform(0.36, 0.46)
    data = _engine(rng, bore, stroke, cylinders, intake_bore, exhaust_bore)
    runner = rng.uniform(0.1, 0.8)
    taper = {"from": mm(intake_bore * rng.uniform(1.0, 1.15)), "to": mm(intake_bore)}
    data["intake"]["runner"] |= {"length": mm(runner), "bore": taper}
    wider = exhaust_bore * rng.uniform(1.0, 1.1)
    length = rng.uniform(0.3, 1.2)
    primary = [{"length": mm(length), "bore": mm(wider)}]  # a step at the port is the normal case
    if rng.random() < 0.3:
        primary += [_cone(wider, wider * rng.uniform(1.05, 1.3), rng.uniform(0.03, 0.2))]
        primary += [{"length": mm(rng.uniform(0.2, 0.6)), "bore": primary[-1]["bore"]["to"]}]
    data["exhaust"]["primary"] |= {"sections": primary}
    _breathe(
        data, displacement * rng.uniform(0.5, 4.0), bore * rng.uniform(0.75, 0.95) * cylinders**0.35, 90.0
    )
    speed = rng.uniform(4.0, 23.0) * 30.0 / stroke
    return _checked(data, seed, "plausible"), float(np.clip(speed, 300.0, 20000.0))


def _bottom(rng, cylinders):
    bore = rng.uniform(0.04, 0.15)
    return bore, bore * rng.uniform(0.6, 1.6), int(cylinders)


def _engine(rng, bore, stroke, cylinders, intake_bore, exhaust_bore) -> dict:
    """All but the pipes' shapes and the plenum."""
    order = ORDERS.get(cylinders, list(range(1, cylinders + 1)))
    two = rng.random() < 0.6
    intake_valve = bore * (rng.uniform(0.34, 0.40) if two else rng.uniform(0.42, 0.50))
    exhaust_valve = intake_valve * rng.uniform(0.8, 0.9)
    valve = {"count": 2 if two else 1, "stem": mm(0.06 * bore), "seat_width": mm(0.015 * bore)}
    intake_port, exhaust_port = bore * rng.uniform(0.8, 1.3), bore * rng.uniform(0.6, 1.2)
    return {
        "engine": {
            "cylinders": cylinders,
            "bore": mm(bore),
            "stroke": mm(stroke),
            "rod": mm(stroke * rng.uniform(1.45, 2.0)),
            "compression_ratio": float(rng.uniform(7.0, 15.0)),
            "firing_order": order,
        },
        "intake": {
            "ambient": {
                "pressure": f"{rng.uniform(90, 103):.2f} kPa",
                "temperature": f"{rng.uniform(0, 40):.1f} degC",
                "humidity": f"{rng.uniform(0, 100):.0f} %",
            },
            "runner": {
                "entry": {"shape": "bellmouth", "radius": mm(0.1 * intake_bore)},
                "wall_temperature": "45 degC",
            },
            "port": {
                "length": mm(intake_port),
                "wall_temperature": "90 degC",
                "bore": {"to": mm(intake_bore * rng.uniform(0.85, 1.0))},
            },
            "valve": valve
            | {
                "diameter": mm(intake_valve),
                "opens_btdc": f"{rng.uniform(-5, 45):.1f} deg",
                "closes_abdc": f"{rng.uniform(25, 75):.1f} deg",
                "lift": {"maximum": mm(intake_valve * rng.uniform(0.22, 0.33)), "events_at": "0.05 mm"},
                "discharge": _discharge(rng),
            },
        },
        "exhaust": {
            "valve": valve
            | {
                "diameter": mm(exhaust_valve),
                "opens_bbdc": f"{rng.uniform(25, 75):.1f} deg",
                "closes_atdc": f"{rng.uniform(-5, 45):.1f} deg",
                "lift": {"maximum": mm(exhaust_valve * rng.uniform(0.22, 0.33)), "events_at": "0.05 mm"},
                "discharge": _discharge(rng),
            },
            "port": {"length": mm(exhaust_port), "bore": mm(exhaust_bore), "wall_temperature": "250 degC"},
            "primary": {"wall_temperature": "450 degC"},
        },
        "mixture": {
            "relative_air_fuel_ratio": float(rng.uniform(0.85, 1.05)),
            "delivery": str(rng.choice(["premixed", "port", "direct"])),
        },
        "combustion": {"ca50": "9 deg", "duration_10_90": f"{rng.uniform(20, 35):.1f} deg"},
    }


def _discharge(rng) -> dict:
    forward = FORWARD * rng.uniform(0.9, 1.05)
    return {
        "reference": "curtain",
        "lift_ratio": LIFT_RATIO,
        "forward": [float(c) for c in forward],
    }


def _breathe(data, plenum, throttle, angle):
    data["intake"]["throttle"] = {
        "bore": mm(throttle),
        "shaft": mm(min(0.12 * throttle, 0.03)),
        "angle": f"{angle:.2f} deg",
    }
    data["intake"]["plenum"] = {"volume": f"{plenum:.3f} L"}


def _cone(start, end, length) -> dict:
    return {"length": mm(length), "bore": {"from": mm(start), "to": mm(end)}}


def _wild_pipe(rng, length, bore) -> list:
    """A runner in one to five sections: straight, coned, stepped, with throats."""
    count = rng.integers(1, 6)
    shares = rng.dirichlet(np.full(count, 2.0))
    sections, last = [], bore * rng.uniform(0.9, 1.3)
    for share in shares:
        kind = rng.choice(["straight", "step", "cone", "throat"])
        piece = max(share * length, 0.005)
        if kind == "step":
            last = bore * rng.uniform(0.75, 1.4)
        end = bore * rng.uniform(0.75, 1.4) if kind == "cone" else last
        if kind == "throat":
            throat, short = last * rng.uniform(0.5, 0.95), rng.uniform(0.002, 0.03)
            sections += [_cone(last, throat, short), _cone(throat, last, short)]
        sections.append(_cone(last, end, piece))
        last = end
    return sections


def _wild_exhaust(rng, bore) -> list:
    """A primary: straight, stepped, with a short cone, or a megaphone of 2 to 8 degrees (half)."""
    first = bore * rng.uniform(0.95, 1.25)
    length = rng.uniform(0.1, 1.2)
    kind = rng.choice(["straight", "stepped", "cone", "megaphone"])
    sections = [_cone(first, first, length)]
    if kind == "stepped":
        for _ in range(rng.integers(1, 3)):
            wider = first * rng.uniform(1.02, 1.3)
            sections.append(_cone(wider, wider, rng.uniform(0.05, 0.6)))
            first = wider
    elif kind == "cone":
        wider = first * rng.uniform(1.1, 1.6)
        sections += [_cone(first, wider, rng.uniform(0.005, 0.2)), _cone(wider, wider, 0.3)]
    elif kind == "megaphone":
        slope = 2.0 * np.tan(np.radians(rng.uniform(2.0, 8.0)))
        piece = rng.uniform(0.1, 0.9)
        sections.append(_cone(first, min(first + slope * piece, 0.3), piece))
    return sections


def _checked(data, seed, kind):
    return described(Source(Path(f"{kind}-{seed}"), data)).engine


def campaign(make, seeds):
    """March engines on all cores; (points by seed, reasons of failure by seed)."""
    return compute_points([(seed, *make(seed), 1.0) for seed in seeds])


def main(kind: str, count: int, first: int = 0):
    """March ``count`` engines of a kind and print what became of them."""
    make = {"wild": wild, "plausible": plausible}[kind]
    start, words = time.process_time(), Counter()
    found, reasons = campaign(make, range(first, first + count))
    for seed, reason in reasons.items():
        print(f"{kind} {seed}: {reason}")
        words[reason.split("rpm ", 1)[1][:35]] += 1
    for seed, point in found.items():
        f = point.figures
        if f["alternation"] > 1e-3 or f["mass_error"] > 1e-9 or f["energy_error"] > 1e-9:
            print(
                f"{kind} {seed}: alternation {f['alternation']:.2g}, ledgers"
                f" {f['mass_error']:.1e} {f['energy_error']:.1e}"
            )
    failed = sum(words.values())
    print(
        f"{count - failed} of {count} {kind} engines converge"
        f" ({100 * (1 - failed / count):.1f} %), {time.process_time() - start:.0f} s CPU;"
        f" {dict(words)}"
    )


if __name__ == "__main__":
    main(sys.argv[1], *map(int, sys.argv[2:]))
