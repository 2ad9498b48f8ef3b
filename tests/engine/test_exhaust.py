"""The exhaust as built: primaries that differ, collectors that merge again, a silencer."""

import numpy as np
import pytest
from tests.conftest import DEMO

import aircolumn
from aircolumn.cli import main
from aircolumn.engine.model.assembly import build
from aircolumn.engine.model.operating_point import converged, operating_point

RPM = 3500.0
PAIRS = "collector: {groups: [[1, 4], [2, 3]], length: 400 mm, bore: 45 mm, wall_temperature: 400 degC}"
MERGE = "merge: {length: 900 mm, bore: 55 mm, wall_temperature: 350 degC}"
SILENCER = "silencer: {volume: 9 L, pressure_drop: 15 kPa, flow: 110 g/s}"


def engine_with(folder, *lines):
    """The rescue engine with more lines in its exhaust."""
    rows = DEMO.read_text().splitlines()
    k = next(i for i, r in enumerate(rows) if r.startswith("  primary:"))
    rows[k + 1 : k + 1] = [f"  {line}" for line in lines]
    path = folder / "engine.yaml"
    path.write_text("\n".join(rows) + "\n")
    return aircolumn.load(path).engine


def test_four_two_one_is_built_as_described(tmp_path):
    """Two junctions of pairs, one of both; only the last pipe opens to the air."""
    net = build(engine_with(tmp_path, PAIRS, MERGE))
    assert {"collector 1", "collector 2", "merge"} < set(net.ducts)
    to_outlet = [name for (name, _), end in net.ends.items() if end.volume == net.OUTLET]
    assert to_outlet == ["merge"]
    merge, collector = net.ducts["merge"].shape, net.ducts["collector 1"].shape
    assert merge.length > 0.9  # with the air behind its mouth
    assert collector.length == pytest.approx(0.4)


def test_four_two_one_runs_and_balances(tmp_path):
    f = operating_point(engine_with(tmp_path, PAIRS, MERGE), RPM).figures
    assert f["cylinders_computed"] == 4.0
    assert f["mass_error"] < 1e-10
    assert f["energy_error"] < 1e-10
    assert 0.7 < f["ve"] < 1.2


@pytest.mark.slow
def test_a_merge_of_no_length_but_its_bore_is_one_collector(tmp_path):
    """Pairs that meet at once, 10 mm behind, breathe like four that meet in one place."""
    short = PAIRS.replace("400 mm", "15 mm").replace("45 mm", "55 mm")
    one = "collector: {length: 915 mm, bore: 55 mm, wall_temperature: 350 degC}"
    two, four = (
        operating_point(engine_with(tmp_path, *lines), RPM).figures["ve"]
        for lines in ((short, MERGE), (one,))
    )
    assert two == pytest.approx(four, abs=0.01)


def test_unequal_primaries_make_cylinders_differ(tmp_path):
    engine = engine_with(tmp_path)
    lengths = [0.5, 0.7, 0.7, 0.9]
    differing = engine.changed(
        exhaust=engine.exhaust.changed(primary=engine.exhaust.primary.changed(lengths=lengths))
    )
    assert differing.why_cylinders_differ == "exhaust.primary.lengths"
    net = build(differing)
    plain = build(engine.changed(model="manifold"))
    own = engine.exhaust.primary.total_length
    for k, length in enumerate(lengths, 1):
        more = net.ducts[net.exhaust(k)].shape.length - plain.ducts[plain.exhaust(k)].shape.length
        assert more == pytest.approx(length - own)
    point = operating_point(differing, RPM)
    two, three = point.ve_cylinder[1:3]
    assert two == pytest.approx(three, rel=2e-3)
    assert np.ptp(point.ve_cylinder) > 0.005


def test_silencer_loses_what_is_stated(tmp_path):
    """A throat of m / sqrt(2 rho dp); swings of the flow cost more than its mean would, and hotter
    gas than it is stated for does too."""
    engine = engine_with(tmp_path, SILENCER)
    assert engine.why_cylinders_differ == "exhaust.silencer"
    net = build(engine)
    (area,) = (a for one, other, a in net.orifices if one == "silencer")
    assert area == pytest.approx(0.110 / np.sqrt(2.0 * 99e3 / (288.0 * 673.15) * 15e3))
    assert net.volumes["silencer"].size == pytest.approx(9e-3)
    rpm = 5000.0
    _, run, point = converged(engine, rpm)
    omega = rpm * np.pi / 30.0
    record = run.march(4.0 * np.pi / omega, omega=omega, probes={})
    time, p = record.time, record.volumes["silencer"].p
    mean = np.trapezoid(p, time) / (time[-1] - time[0]) - 99e3
    flow = point.figures["air_flow"] + point.figures["fuel_flow"]
    hot = run.states.temperature[run.volume("silencer")] / 673.15
    assert 0.95 < mean / (15e3 * (flow / 0.110) ** 2 * hot) < 1.6
    assert point.figures["mass_error"] < 1e-9


def test_silencer_costs_torque_most_at_speed(tmp_path, demo):
    silenced = engine_with(tmp_path, SILENCER)

    def lost(rpm):
        found = (operating_point(e, rpm).figures["torque"] for e in (silenced, demo.engine))
        return 1.0 - np.divide(*found)

    assert 0.0 < lost(2000.0) < lost(5500.0)
    assert lost(5500.0) > 0.02


#: what is wrong: (lines, what the message must say)
WRONG = {
    "a merge of nothing": ((MERGE,), "a merge needs a collector with two or more groups"),
    "a merge of one": (
        ("collector: {length: 400 mm, bore: 45 mm, wall_temperature: 400 degC}", MERGE),
        "a merge needs a collector with two or more groups",
    ),
    "no first bore": (
        (PAIRS, MERGE.replace("bore: 55 mm", "bore: {to: 55 mm}")),
        "the merge's bore needs both",
    ),
    "a silencer without loss": (
        ("silencer: {volume: 9 L, flow: 1 g/s}",),
        "silencer.pressure_drop: this key is missing",
    ),
}


@pytest.mark.parametrize("name", WRONG)
def test_wrong_exhausts(name, tmp_path, capsys):
    lines, said = WRONG[name]
    with pytest.raises(aircolumn.InputError) as error:
        engine_with(tmp_path, *lines)
    assert said in str(error.value)
    assert f"{tmp_path / 'engine.yaml'}:" in str(error.value)


def test_lengths_for_each_cylinder(tmp_path, capsys):
    text = DEMO.read_text()
    row = next(r for r in text.splitlines() if r.startswith("  primary:"))
    path = tmp_path / "engine.yaml"
    path.write_text(text.replace(row, row.replace("{", "{lengths: [500 mm, 700 mm], ")))
    assert main(["check", str(path)]) == 2
    assert "exhaust.primary.lengths: 2 lengths for 4 cylinders" in capsys.readouterr().err
