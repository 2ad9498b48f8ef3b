"""The cause that explain names first is the one that a counterfactual run bears out."""

import numpy as np
import pytest
from tests.conftest import CLASSROOM, DEMO, ROOT, throttled
from tests.engine.test_log_plenum import log_engine
from tests.flow.test_branches import collected

from aircolumn.curves.points import compute_points
from aircolumn.curves.tuning.explain import beside, explain
from aircolumn.curves.tuning.silenced import silent_exhaust, silent_mouth
from aircolumn.curves.tuning.trace import trace
from aircolumn.curves.tuning.tuning_map import with_length
from aircolumn.engine.description.reader import load
from aircolumn.engine.model.assembly import build
from aircolumn.engine.model.geometry import geometry_of
from aircolumn.engine.model.operating_point import converged
from aircolumn.output.explain.sentences import SMALL, verdict_on

STUDENT = ROOT / "configs" / "student-four.yaml"


def boosted(folder):
    text = DEMO.read_text()
    supply = "intake:\n  supply: {pressure: 180 kPa, temperature: 50 degC}\n"
    for old, new in (("intake:\n", supply), ("exhaust:\n", "exhaust:\n  outlet: {pressure: 160 kPa}\n")):
        assert old in text
        text = text.replace(old, new, 1)
    (folder / "boost.yaml").write_text(text)
    return load(folder / "boost.yaml").with_runner("middle")


def shorter_primary(engine, length):
    primary = engine.exhaust.primary.changed(length=length)
    return engine.changed(exhaust=engine.exhaust.changed(primary=primary))


ENGINES = {
    "short": lambda _: load(DEMO).with_runner("short"),
    "long": lambda _: load(DEMO).with_runner("long"),
    "part throttle": lambda _: throttled(load(DEMO).with_runner("middle"), 25.0),
    "boost": boosted,
    "log": log_engine,
    "collector": lambda folder: collected(folder, "15 deg"),
    "restrictor, short": lambda _: load(STUDENT).with_runner("short"),
    "restrictor, long": lambda _: load(STUDENT).with_runner("long"),
    "single, long": lambda _: with_length(load(CLASSROOM).engine, 0.8),
    "single, short": lambda _: with_length(load(CLASSROOM).engine, 0.2),
    "exhaust tuned": lambda _: shorter_primary(load(CLASSROOM).engine, 1.4),
    "manifold": lambda _: load(ROOT / "configs" / "rescue-four-manifold.yaml").engine,
}


def curve_of(engine):
    """Speeds and VE, every 250 rpm (500 from 4000 rpm on for the engine that turns fast)."""
    fast = engine.block.stroke < 0.06
    rpm = np.arange(4000.0, 12001.0, 500.0) if fast else np.arange(1500.0, 6001.0, 250.0)
    found, _ = compute_points([(n, engine, float(n), 1.0) for n in rpm])
    known = np.array([n for n in rpm if n in found])
    return known, np.array([found[n].figures["ve"] for n in known])


def without(engine, rpm, side):
    """VE with one side silent, from a run of its own."""
    cycle = trace(engine, rpm)
    change = (
        silent_mouth(engine, float(cycle.attrs["reference_pressure_Pa"]))
        if side == "intake"
        else silent_exhaust(engine, float(cycle.exhaust_p.mean()))
    )
    return converged(engine, rpm, change=change)[2].figures["ve"]


@pytest.mark.slow
@pytest.mark.parametrize("name", ENGINES)
def test_the_cause_named_first_is_the_counterfactuals(name, tmp_path):
    """Silencing the side named first takes more off the difference between a hump and the dip
    beside it than silencing the other; where no wave is named, neither takes SMALL of it."""
    engine = ENGINES[name](tmp_path)
    told = explain(engine, *curve_of(engine))
    assert told
    for k, (e, c, _) in enumerate(told):
        near, n = beside(told, k)
        if near is None:
            continue
        text = verdict_on(e.kind, c, (near, n))[1]
        total = c.ve - n.ve
        takes = {}
        for side in ("intake", "exhaust"):
            left = without(engine, e.rpm, side) - without(engine, near.rpm, side)
            takes[side] = (total - left) / total
        print(name, e.kind, e.rpm, {s: f"{v:.2f}" for s, v in takes.items()}, text)
        first = max(takes, key=takes.__getitem__)
        if abs(takes["intake"] - takes["exhaust"]) < 0.05 or abs(takes[first] - SMALL) < 0.03:
            continue  # too near to call
        if takes[first] < SMALL:
            assert text.startswith("No wave makes this")
        elif first == "intake":
            assert text.startswith("The intake wave")
        else:
            assert text.startswith("The exhaust")


def test_silence_is_silence(demo):
    """No wave comes back from a silent mouth or a silent exhaust: what arrives stays small."""
    engine = demo.with_runner("long")
    loud = trace(engine, 3500.0)
    p, e = float(loud.attrs["reference_pressure_Pa"]), float(loud.exhaust_p.mean())
    mouth, exhaust = silent_mouth(engine, p), silent_exhaust(engine, e)

    def both(network):
        mouth(network)
        exhaust(network)

    quiet = trace(engine, 3500.0, both)
    arriving = [float(np.abs(c.forward.isel(distance=-1) - p).max()) for c in (loud, quiet)]
    assert arriving[1] < 0.35 * arriving[0]
    shut = quiet.exhaust_area.values == 0.0
    assert np.ptp(quiet.exhaust_p.values[shut]) < 0.5 * np.ptp(loud.exhaust_p.values[shut])


def test_what_a_silent_end_met_goes_on_without_it(tmp_path):
    """All primaries leave a collector, all runners a log: what is left is closed or goes on."""
    engine = collected(tmp_path, "15 deg")
    net = build(engine)
    silent_exhaust(engine, 1e5)(net)
    assert all(
        net.ends[net.exhaust(k), "right"].kind == net.ends["collector 1", "left"].kind for k in net.computed
    )
    log = log_engine(tmp_path)
    net = build(log)
    silent_mouth(log)(net)
    for k in range(1, 5):
        assert net.ends[f"log {k}", "right"].partner == (f"log {k + 1}", "left")
        assert net.ends[f"log {k + 1}", "left"].partner == (f"log {k}", "right")
    net.ready(geometry_of(log).intake_seats)  # and it can be laid out
