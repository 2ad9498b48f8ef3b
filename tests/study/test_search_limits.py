"""What a search keeps to, what it says where nothing does, and what it refuses before computing."""

from math import pi

import numpy as np
import pytest
from tests.conftest import DEMO, ROOT
from tests.studies import analytic, plan_of
from tests.study.test_search import SEARCH, searched

from aircolumn.cli import main
from aircolumn.engine.description.reader import load
from aircolumn.engine.model.breathing import gas_velocity, mach_index
from aircolumn.engine.model.piping import wall_volume
from aircolumn.errors import ComputationError
from aircolumn.questions.search.limits import Limit
from aircolumn.questions.search.search import RunnerSearch
from aircolumn.questions.search.text import search_text


def climb_and_top(rpm, length, bore):
    """Most torque where length and bore are free; the top wants short runners."""
    climb = 200.0 + 0.1 * (length - 200.0) - (bore - 42.0) ** 2
    top = 260.0 - 0.2 * (length - 200.0)
    return np.where(rpm < 3900.0, climb, top)


TOP = "search:\n  aim: {of: torque, at: 3000 rpm}\n  limits: [{at: 4000 rpm, at_least: 200 N m}]\n"


def test_search_keeps_limits(tmp_path, monkeypatch):
    """At least 200 N m at the top: the best lies on the limit."""
    analytic(monkeypatch, climb_and_top)
    found = searched(tmp_path, SEARCH + TOP)
    assert found.best.margins[0] >= 0.0
    assert found.values[0] == pytest.approx(500.0, abs=12.0)
    assert found.values[1] == pytest.approx(42.0, abs=0.7)
    (less, below), (more, above) = found.beside["length"]
    assert (less, more) == ("20 mm less", "20 mm more")
    assert below.fits
    assert not above.fits


def told(folder, text):
    """(the search, what it says)."""
    search = RunnerSearch(plan_of(folder, text), None, None)
    found = search.run()
    return found, search_text(search, found)


def test_where_nothing_keeps_the_limits_the_nearest_is_told_and_by_which(tmp_path, monkeypatch):
    """290 N m at the top, where 260 is all there is, at 200 mm."""
    analytic(monkeypatch, climb_and_top)
    found, said = told(tmp_path, SEARCH + TOP.replace("200 N m", "290 N m"))
    assert not found.best.fits
    assert found.values[0] == pytest.approx(200.0, abs=1.0)
    assert said.startswith("No curve computed keeps all limits. The nearest: length 200 mm")
    assert "torque at 4000 rpm: 260.0 N m, at least 290.0 N m asked: NOT KEPT" in said


def test_what_stopped_better_ones_is_told(tmp_path, monkeypatch):
    analytic(monkeypatch, climb_and_top)
    found, said = told(tmp_path, SEARCH + TOP)
    better = [d for d in found.known if d.aims[0] > found.best.aims[0]]
    assert better
    most = max(better, key=lambda d: d.aims[0])
    assert "Better, but a limit stops them:" in said
    assert f"{most.aims[0]:.4g} N m with length {most.values[0]:.4g} mm" in said
    assert f"torque at 4000 rpm {most.figures[0]:.1f} N m, at least 200.0 N m" in said


def test_a_limit_against_a_candidate(tmp_path, monkeypatch):
    """97 % of what the short runner has at 4000 rpm, 250 N m: 242.5, kept down to 287.5 mm."""
    analytic(monkeypatch, climb_and_top, stands=lambda rpm, name: np.where(rpm < 3900.0, 200.0, 250.0))
    found, said = told(tmp_path, SEARCH + TOP.replace("200 N m", "97 % of short"))
    assert found.best.levels[0] == pytest.approx(242.5)
    assert found.values[0] == pytest.approx(287.5, abs=3.0)
    assert "torque at 4000 rpm: 242.5 N m, at least 97 % of short, 242.5 N m asked" in said


def test_limits_hold_on_half_size_cells_too(tmp_path, monkeypatch):
    """Finer cells take 2 N m from the top: the best makes room for it and holds there."""

    def torque(rpm, length, bore, refinement=1.0):
        return climb_and_top(rpm, length, bore) - np.where(rpm < 3900.0, 0.0, 2.0 * (refinement - 1.0))

    analytic(monkeypatch, torque)
    found = searched(tmp_path, SEARCH + TOP)
    assert found.recheck.figures[0] >= 200.0 - 1e-9
    assert found.best.figures[0] >= 202.0 - 1e-6
    assert found.values[0] == pytest.approx(490.0, abs=12.0)


def test_limits_that_need_no_curve_cost_none(tmp_path, monkeypatch):
    """At most 45 m/s in the narrowest place: what breaks it is never computed."""
    looked = analytic(monkeypatch, climb_and_top)
    engine = load(DEMO).engine
    asked = "{of: gas_velocity, at_most: 80 m/s}, {of: runner_length, at_most: 400 mm}"
    text = TOP.replace("{at: 4000 rpm, at_least: 200 N m}", asked)
    found, said = told(tmp_path, SEARCH.replace("38 mm", "30 mm") + text)
    assert found.best.fits
    assert found.values[0] == pytest.approx(400.0, abs=1.0)
    assert all(values[0] <= 400.0 + 1e-6 for values, _, _ in looked)
    least = np.sqrt(engine.block.bore**2 * 2.0 * engine.block.stroke * 4000.0 / 60.0 / 80.0)
    assert all(values[1] >= 1e3 * least - 1e-6 for values, _, _ in looked if least > 0.038)
    assert "cases were not computed; the nearest to the best" in said


def test_where_no_engine_keeps_a_limit_that_needs_no_curve_nothing_is_computed(tmp_path, monkeypatch):
    looked = analytic(monkeypatch, climb_and_top)
    text = TOP.replace("{at: 4000 rpm, at_least: 200 N m}", "{of: mach_index, at_most: 0.1}")
    with pytest.raises(ComputationError, match="keeps the limits that need no curve; the nearest"):
        searched(tmp_path, SEARCH + text)
    assert not looked


def test_figures_of_an_engine_by_hand():
    """Piston area times mean piston speed over the area there, and over valve area and sound speed; the wall
    of a cone as what lies between two cones."""
    engine = load(DEMO).engine
    piston, speed = 0.25 * pi * 0.089**2, 2.0 * 0.1 * 4500.0 / 60.0
    narrowest = 0.25 * pi * 0.038**2
    assert gas_velocity(engine, 4500.0) == pytest.approx(piston * speed / narrowest, rel=1e-9)
    assert mach_index(engine, 4500.0) == pytest.approx(0.75 * mach_index(engine, 6000.0))

    def cone(a, b):
        return pi / 12.0 * 0.43 * (a * a + a * b + b * b)

    due = cone(0.046 + 0.006, 0.042 + 0.006) - cone(0.046, 0.042)
    assert wall_volume(engine.intake.runner, 0.003) == pytest.approx(due, rel=1e-12)


@pytest.mark.slow
def test_the_wall_that_is_weighed_against_the_solid_that_is_made():
    """Of the runner under the bonnet: its solid without flanges, by its triangles."""
    pytest.importorskip("manifold3d")
    from aircolumn.part.runner import runner_part
    from aircolumn.part.sweep import MM

    engine = load(ROOT / "configs" / "rescue-four-bonnet.yaml").engine
    bare = engine.changed(part=engine.part.changed(port_flange=None, plenum_flange=None))
    entry = bare.intake.runner.entry.changed(shape="sharp", radius=None)
    bare = bare.with_intake(runner=bare.intake.runner.changed(entry=entry))
    made = runner_part(bare).solid().volume() / MM**3
    assert wall_volume(bare.intake.runner, bare.part.wall) == pytest.approx(made, rel=0.01)


VARY = f"engine: {DEMO}\nvary:\n  intake.runner.length: {{from: 300 mm, to: 500 mm}}\n"
RPM = "speeds: {from: 2500 rpm, to: 5500 rpm, step: 500 rpm}\n"
#: what is wrong: (the study but for its engine, what the message must say)
WRONG = {
    "the same aim twice": ("search: {second_aim: {of: mean_torque}}", "aim and second_aim are the same"),
    "the same aim, once by the file's range": (
        "search: {second_aim: {of: mean_torque, from: 2500 rpm, to: 4000 rpm}}",
        "both aims are the mean torque from 2500 to 4000 rpm",
    ),
    "least above most": (
        "search: {limits: [{at: 4000 rpm, at_least: 200 N m}, {at: 4000 rpm, at_most: 190 N m}]}",
        "no engine keeps both: torque at 4000 rpm at least 200.0 N m and torque at 4000 rpm at most 190",
    ),
    "power against torque at one speed": (
        "search: {limits: [{of: power, at: 5000 rpm, at_least: 110 kW}, {at: 5000 rpm, at_most: 200 N m}]}",
        "no engine keeps both: power at 5000 rpm at least 110.0 kW",
    ),
    "a mean above the peak": (
        "search: {limits: [{of: mean_torque, at_least: 210 N m}, {of: peak_torque, at_most: 200 N m}]}",
        "no engine keeps both",
    ),
    "a range that is empty": (
        "search: {limits: [{of: least_torque, from: 3000 rpm, to: 3000 rpm, at_least: 150 N m}]}",
        "'to' must be above 'from'",
    ),
    "a range beyond the speeds": (
        "search: {limits: [{of: least_torque, from: 2000 rpm, to: 3000 rpm, at_least: 150 N m}]}",
        "the aim needs 2000 rpm, the study computes 2500 to 5500 rpm",
    ),
    "no bound": ("search: {limits: [{of: peak_power}]}", "give at_least or at_most"),
    "two bounds": (
        "search: {limits: [{at: 4000 rpm, at_least: 1 N m, at_most: 9 N m}]}",
        "give at_least or at_most",
    ),
    "kilowatts of torque": ("search: {limits: [{at: 4000 rpm, at_least: 90 kW}]}", "is not a unit of torque"),
    "against nobody": (
        "search: {limits: [{of: peak_power, at_least: 97 % of stock}]}",
        "no runner 'stock'; there are: short, middle, long",
    ),
    "mass without density": (
        "search: {limits: [{of: runner_mass, at_most: 300 g}]}",
        "runner_mass needs part.density",
    ),
    "length at a speed": (
        "search: {limits: [{of: runner_length, at: 3000 rpm, at_most: 400 mm}]}",
        "the same at every speed",
    ),
    "a limit that there is not": ("search: {limits: [{of: noise, at_most: 3 m}]}", "limits.0.of"),
    "over something else": ("search: {over: all}", "write bands, or"),
    "over with two aims": ("search: {over: bands, second_aim: {of: flatness}}", "over goes with one aim"),
    "too few engines": ("search: {over: {engines: 4}}", "from 16 to 1024"),
}
#: of the varied keys: (lines under vary, what the message must say)
WRONG_KEYS = {
    "an empty span": ("intake.plenum.volume: {from: 4 L, to: 4 L}", "'to' must be above 'from'"),
    "units mixed": ("intake.plenum.volume: {choices: [4 L, 300 in3]}", "write all values in one unit"),
    "one size": ("intake.plenum.volume: {choices: [4 L]}", "give two or more values to choose among"),
    "no size": ("intake.plenum.volume: {choices: []}", "give at least one value"),
    "sizes and a span": (
        "intake.plenum.volume: {choices: [4 L, 5 L], from: 3 L}",
        "choices stands alone",
    ),
    "a runner that there is not": ("runner: [short, huge]", "no runner 'huge'"),
    "a span of runners": ("runner: {from: 1, to: 2}", "name candidates here"),
    "a key of another runner": (
        "runner: [short, middle]\n  runners.long.length: {from: 300 mm, to: 400 mm}",
        "varies 'long', which is not among the runners short, middle",
    ),
}


@pytest.mark.parametrize("name", [*WRONG, *WRONG_KEYS])
def test_wrong_searches_are_told_before_computing(name, tmp_path, capsys):
    if name in WRONG:
        asked, said = WRONG[name]
        text = f"{VARY}{RPM}{asked}\n"
    else:
        keys, said = WRONG_KEYS[name]
        text = f"{VARY}  {keys}\n{RPM}search: {{}}\n"
    path = tmp_path / "study.yaml"
    path.write_text(text)
    assert main(["study", str(path), "--out", str(tmp_path / "o")]) == 2
    told = capsys.readouterr().err
    assert said in told
    assert "Traceback" not in told
    assert not (tmp_path / "o").exists()


def test_bounds_as_they_are_written():
    at = {"of": "power", "at": "5500 rpm"}
    assert Limit.model_validate({**at, "at_least": "110 kW"}).bound.value == pytest.approx(110e3)
    share = Limit.model_validate({**at, "at_least": "97 % of stock two"}).bound
    assert (share.value, share.of) == (pytest.approx(0.97), "stock two")
    assert Limit.model_validate({"of": "mach_index", "at_most": 0.5}).bound.value == 0.5
    assert Limit.model_validate({"of": "flatness", "at_least": "90 %"}).bound.value == pytest.approx(0.9)
    assert Limit.model_validate({"of": "runner_mass", "at_most": "250 g"}).bound.value == pytest.approx(0.25)
