"""Invented pulls and traces: read back they show what was put in; what cannot be made is refused."""

import numpy as np
import pytest
from tests.conftest import CLASSROOM

import aircolumn
from aircolumn import DynoCell, RequestError, invent_pulls, invent_traces
from aircolumn.measured.invented_pulls import true_curve
from aircolumn.measured.measured_curve import stoichiometric_of

SPEEDS = [2500.0, 3000.0, 3500.0, 4000.0]


@pytest.fixture(scope="module")
def description():
    return aircolumn.load(CLASSROOM)


@pytest.mark.parametrize("unit", ["N m", "lb-ft"])
def test_a_quiet_cell_shows_the_engine(tmp_path, description, unit):
    invent_pulls(
        tmp_path / "p.csv", description, SPEEDS, cell=DynoCell(0, 0, 0, 0, torque_unit=unit), pulls=2
    )
    read = aircolumn.read_pulls(tmp_path / "p.csv")
    assert len(read.pulls) == 2
    true = true_curve(description.engine, SPEEDS)
    for k, rpm in enumerate(SPEEDS):
        at = np.argmin(np.abs(read.pulls[0].readings["rpm"] - rpm))
        assert read.pulls[0].readings["torque"][at] == pytest.approx(true.torque[k], rel=5e-3)
    ratio = read.pulls[0].readings["air_fuel_ratio"].mean()
    assert ratio == pytest.approx(0.9 * stoichiometric_of(description.engine), abs=0.1)


def test_what_was_hidden_is_found(tmp_path, description):
    hidden = {"discharge": 0.95}
    invent_pulls(tmp_path / "p.csv", description.with_runner("middle"), SPEEDS, hidden)
    found = aircolumn.measure(description, {"middle": tmp_path / "p.csv"}, fit=["discharge"]).calibration
    assert abs(found.values["discharge"] - 0.95) < found.half_widths["discharge"] < 0.1


def test_the_same_seed_makes_the_same_file(tmp_path, description):
    made = []
    for seed in (1, 1, 2):
        invent_traces(tmp_path / "t.csv", description, 3000.0, ["p port"], cycles=2, seed=seed)
        made.append((tmp_path / "t.csv").read_text())
    assert made[0] == made[1] != made[2]
    assert made[0].startswith("# Invented")


def test_traces_show_gain_level_and_angle(tmp_path, description):
    """g p(angle - t) - d, with hardly any noise."""
    faults = {"tdc": 1.0, "gain p port": 1.02, "peg p port": 2000.0}
    invent_traces(tmp_path / "t.csv", description, 3000.0, ["p port"], faults, 40, {"p port": 1.0})
    session = aircolumn.measure_traces(description.engine, tmp_path / "t.csv", 3000.0)
    true = np.interp(np.arange(-1.0, 719.0, 0.5), np.arange(0.0, 720.0, 0.5), session.model.signals[0])
    off = session.cycles.mean[0] - (1.02 * true - 2000.0)
    assert np.abs(off[4:]).max() < 300.0  # levels wander by 300 Pa from cycle to cycle


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"hidden": {"dischage": 0.9}}, "did you mean 'discharge'"),
        ({"rpm": [2000.0, 3000.0]}, "at least 4 engine speeds"),
        ({"pulls": 0}, "pulls must be 1 to 100"),
        ({"cell": DynoCell(torque_unit="stone")}, "'stone' is no unit of torque"),
        ({"engine": 3}, "an Engine or a Description"),
    ],
)
def test_pulls_that_cannot_be_made(tmp_path, description, change, said):
    asked = {"path": tmp_path / "p.csv", "engine": description, "rpm": SPEEDS} | change
    with pytest.raises(RequestError, match=said):
        invent_pulls(**asked)
    assert not (tmp_path / "p.csv").exists()


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"channels": ["thermometer"]}, "'thermometer' names no place"),
        ({"hidden": {"peg p cyl": 1.0}}, "no fault 'peg p cyl'"),
        ({"noise": {"p": 1.0}}, "no channel 'p'"),
        ({"cycles": 0}, "cycles must be 1 to 1000"),
        ({"channels": ["runner 900 mm"]}, "beyond runner and port"),
    ],
)
def test_traces_that_cannot_be_made(tmp_path, description, change, said):
    asked = {"path": tmp_path / "t.csv", "engine": description, "rpm": 3000.0, "channels": ["p port"]}
    with pytest.raises(RequestError, match=said):
        invent_traces(**asked | change)
    assert not (tmp_path / "t.csv").exists()
