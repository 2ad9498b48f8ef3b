"""The filling account against engines written out by hand."""

import csv

import numpy as np
import pytest
from tests.conftest import DEMO

from aircolumn import load
from aircolumn.cli import main
from aircolumn.curves.curve import curve
from aircolumn.curves.tuning.filling_account import EFFECTS, REST, filling_account, no_backflow, no_valve_loss
from aircolumn.engine.model.operating_point import operating_point
from aircolumn.engine.model.valves import discharge_tables

TEXT = DEMO.read_text()


TABLE = TEXT[TEXT.index("      lift_ratio:") : TEXT.index("\nexhaust:")]


def changed(*pairs, text=TEXT):
    for old, new in pairs:
        assert old in text
        text = text.replace(old, new, 1)
    return text


def loaded(folder, text):
    path = folder / "engine.yaml"
    path.write_text(text)
    return load(path)


BENCH = """      bench:
        depression: 28 inH2O
        lift: [2 mm, 4 mm, 6 mm, 8 mm, 10 mm]
        flow: [60 cfm, 115 cfm, 155 cfm, 180 cfm, 190 cfm]
"""


def test_account_adds_up_and_knows_the_signs(demo):
    speeds = [1500.0, 3000.0, 4500.0]
    data = filling_account(demo.engine, speeds)
    assert list(data.entry.values) == [*EFFECTS, REST]
    assert np.allclose(data.account.sum("entry"), data.ve - 1.0, atol=1e-12)
    assert np.array_equal(data.ve, curve(demo.engine, speeds).ve)
    entry = {str(e): data.account.sel(entry=e).values for e in data.entry.values}
    assert np.all(entry["heating in runner and port"] < 0.0)
    assert np.all(entry["heating in the cylinder"] < 0.0)
    backflow = entry["backflow through the intake valve"]  # least once ram fills the cylinder
    assert np.all(backflow < 0.0)
    assert backflow.argmax() == 2
    assert entry["ram and waves in the intake"].argmax() == 2
    assert np.all(entry[REST] < 0.0)


#: effect: what the engine file says instead, each on top of those before.
BARE_DISCHARGE = """      reference: geometric
      lift_ratio: [0.0, 1.0]
      forward: [1.0, 1.0]
      reverse: [0.0, 0.0]
"""


WITHOUT = {
    "heating in runner and port": [
        ("    wall_temperature: 45 degC\n", "    wall_temperature: 45 degC\n    heat_factor: 0\n"),
        ("    wall_temperature: 90 degC\n", "    wall_temperature: 90 degC\n    heat_factor: 0\n"),
    ],
    "heating in the cylinder": [("mixture: {", "cylinder_walls: {exchange_factor: 0}\nmixture: {")],
    "fuel vapour and its cooling": [
        ("delivery: port", "delivery: direct, charge_cooling: 0, injection_start: 0 deg")
    ],
    "backflow through the intake valve": [
        ("reverse:    [0.68, 0.66, 0.61, 0.56, 0.51, 0.46]", "reverse: [0, 0, 0, 0, 0, 0]"),
    ],
    "throttle, plenum, mouth and pipe losses": [
        ("  throttle: {bore: 72 mm, shaft: 9 mm} ", "  # no throttle "),
        ("  plenum: {volume: 6 L}", "  # no plenum"),
        ("    heat_factor: 0\n  port", "    heat_factor: 0\n    friction_factor: 0\n  port"),
        ("    heat_factor: 0\n  valve", "    heat_factor: 0\n    friction_factor: 0\n  valve"),
        ("radius: 8 mm}", "radius: 8 mm, loss: 0}"),
    ],
    "intake valve losses": [
        (
            "      reference: curtain\n      lift_ratio: [0.05, 0.10, 0.15, 0.20, 0.25, 0.30]\n"
            "      forward:    [0.70, 0.68, 0.64, 0.59, 0.54, 0.48]\n"
            "      reverse: [0, 0, 0, 0, 0, 0]\n",
            BARE_DISCHARGE,
        ),
    ],
    "ram and waves in the intake": [
        ("    length: 430 mm\n    bore: {from: 46 mm, to: 42 mm}\n", "    length: 24 mm\n    bore: 38 mm\n"),
        ("radius: 8 mm, loss: 0}", "radius: 8 mm, loss: 0, end_correction: false}"),
        ("    length: 90 mm\n    bore: {to: 38 mm} ", "    length: 24 mm\n    bore: 38 mm "),
    ],
    "waves and back pressure in the exhaust": [
        ("port: {length: 80 mm, bore: 38 mm,", "port: {length: 40 mm, bore: 38 mm, friction_factor: 0,"),
        (
            "primary: {length: 200 mm, bore: 38 mm, wall_temperature: 450 degC}",
            "primary: {length: 40 mm, bore: 38 mm, friction_factor: 0, wall_temperature: 450 degC}\n"
            "  outlet: {pressure: 99 kPa}",
        ),
    ],
}


def test_each_entry_is_the_difference_of_two_engines_as_described(tmp_path, demo):
    """Engines written as files, without one thing after another: their VE, marched by themselves,
    differ by the entries."""
    assert list(WITHOUT) == list(EFFECTS)
    text, ve = TEXT, []
    engines = [loaded(tmp_path, text).engine]
    for pairs in WITHOUT.values():
        text = changed(*pairs, text=text)
        engines.append(loaded(tmp_path, text).engine)
    ve = [operating_point(e, 5000.0).figures["ve"] for e in engines]
    data = filling_account(demo.engine, [5000.0])
    for k, entry in enumerate(WITHOUT):
        due = ve[k] - ve[k + 1]
        first = data.account + data.swing  # in this order
        assert float(first.sel(entry=entry)[0]) == pytest.approx(due, abs=1e-5), entry
        assert abs(due) > 3e-4 or entry == "heating in the cylinder", entry
    assert float(data.account.sel(entry=REST)[0]) == pytest.approx(ve[-1] - 1.0, abs=1e-5)


def test_backflow_stays_away_when_valve_losses_go(tmp_path, demo):
    """Whatever comes after: nothing passes the intake valve backwards, for a table and a bench."""
    table, bench = demo.engine, loaded(tmp_path, changed((TABLE, BENCH))).engine
    for engine in (table, bench):
        closed = no_backflow(engine)
        assert not np.any(discharge_tables(closed.intake.valve)[2])
        assert np.any(discharge_tables(closed.intake.valve)[1])
        ratio, forward, reverse = discharge_tables(no_valve_loss(closed).intake.valve)
        assert np.array_equal(forward, np.ones(2))
        assert not np.any(reverse)
        ratio, forward, reverse = discharge_tables(no_valve_loss(engine).intake.valve)
        assert np.array_equal(reverse, np.ones(2))
        assert list(ratio) == [0.0, 1.0]


def test_account_of_an_engine_without_what_it_removes(demo):
    """No wall heat in the intake: removing it must do nothing."""
    i = demo.engine.intake
    cold = {k: getattr(i, k).model_copy(update={"heat_factor": 0.0}) for k in ("runner", "port")}
    engine = demo.engine.model_copy(update={"intake": i.model_copy(update=cold)})
    data = filling_account(engine, [3000.0])
    assert float(data.account.sel(entry="heating in runner and port")[0]) == 0.0


def test_account_command(tmp_path, capsys):
    out = tmp_path / "out"
    assert main(["account", str(DEMO), "--runner", "long", "--rpm", "3000", "--out", str(out)]) == 0
    text = capsys.readouterr().out
    assert "heating in runner and port" in text
    assert "not a clearance to run" in text
    names = sorted(p.name for p in out.iterdir())
    assert names == [
        *(f"account-long.{k}" for k in ("csv", "nc", "png", "svg")),
        "origin.json",
        "rescue-four.yaml",
    ]
    with open(out / "account-long.csv") as file:
        rows = list(csv.reader(file))
    (heads, values) = rows
    entries = [
        float(v)
        for h, v in zip(heads, values, strict=True)
        if h.endswith("[points of VE]") and not h.startswith("swing")
    ]
    assert heads[1] == "ve [%]"
    assert sum(entries) == pytest.approx(float(values[1]) - 100.0, abs=1e-3)
