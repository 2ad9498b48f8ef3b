"""Parts that differ by cylinder: filled in, built, checked, and kept by every what-if."""

import numpy as np
import pytest
from tests.conftest import DEMO
from tests.edited import demo_with

import aircolumn
from aircolumn.cli import main
from aircolumn.curves.tuning import filling_account as account
from aircolumn.curves.tuning.tuning_map import with_bore, with_length
from aircolumn.engine.model.assembly import build
from aircolumn.engine.model.geometry import geometry_of
from aircolumn.engine.model.operating_point import operating_point
from aircolumn.measured.calibration import UNKNOWNS

RUNNER = ("    wall_temperature: 45 degC\n", "{length: 500 mm, wall_temperature: 80 degC}", 2)
VALVE = ("    closes_abdc: 44 deg\n", "{closes_abdc: 60 deg}", 3)


def written(folder, *differing, change=()):
    """The rescue engine with parts of single cylinders behind given lines."""
    pairs = [(line, f"{line}    by_cylinder: {{{number}: {part}}}\n") for line, part, number in differing]
    return demo_with(folder, *pairs, *change)


def test_what_is_not_repeated_is_that_of_all(tmp_path):
    engine = aircolumn.load(written(tmp_path, RUNNER, VALVE)).engine
    two, one = engine.of_cylinder(2).intake.runner, engine.of_cylinder(1).intake.runner
    assert (two.length, two.wall_temperature) == (0.5, pytest.approx(353.15))
    assert (one.length, one.wall_temperature) == (0.43, pytest.approx(318.15))
    assert two.bore == one.bore
    assert two.entry == one.entry
    shuts = [geometry_of(engine.of_cylinder(k)).intake_closes for k in (1, 2, 3)]
    assert shuts == [584.0, 584.0, 600.0]
    assert engine.why_cylinders_differ == "intake.runner.by_cylinder"


def test_each_cylinder_is_built_of_its_own_parts(tmp_path):
    engine = aircolumn.load(written(tmp_path, RUNNER, VALVE)).engine
    net, plain = build(engine), build(aircolumn.load(DEMO).engine.changed(model="manifold"))
    lengths = [
        net.ducts[net.intake(k)].shape.length - plain.ducts[plain.intake(k)].shape.length for k in range(1, 5)
    ]
    assert lengths == pytest.approx([0.0, 0.07, 0.0, 0.0])
    later = [c.ivc - net.cylinders[0].ivc for c in net.cylinders]
    assert later == [0.0, 0.0, pytest.approx(16.0, abs=1.5), 0.0]  # a longer lobe's ramp is longer
    wall = net.ducts[net.intake(2)].wall.temperature
    assert wall(0.25) == pytest.approx(353.15)
    # All march from one crank angle: cylinders of the same phase would hold the same.
    assert [c.start_volume for c in net.cylinders] == [c.start_volume for c in plain.cylinders]


def test_cylinders_breathe_by_their_own_parts(tmp_path):
    """Cylinder 3 shuts later and pushes back at low speed, cylinder 2 has the longer runner."""
    engine = aircolumn.load(written(tmp_path, RUNNER, VALVE)).engine
    point = operating_point(engine, 2000.0)
    ve = point.ve_cylinder
    assert ve[2] < ve[0] - 0.03
    assert abs(ve[1] - ve[0]) > 0.005
    assert ve[3] == pytest.approx(ve[0], abs=0.01)
    assert point.figures["mass_error"] < 1e-10


def test_equal_parts_said_twice_change_nothing(tmp_path):
    same = ("    wall_temperature: 45 degC\n", "{length: 430 mm}", 2)
    point = operating_point(aircolumn.load(written(tmp_path, same)).engine, 3000.0)
    whole = operating_point(aircolumn.load(DEMO).engine.changed(model="manifold"), 3000.0)
    assert point.ve_cylinder == pytest.approx(whole.ve_cylinder, rel=1e-12)


def test_a_candidate_keeps_what_it_does_not_change(tmp_path):
    """One length for all takes the length of single cylinders with it, and leaves the rest."""
    description = aircolumn.load(written(tmp_path, RUNNER))
    short = description.runners["short"]
    assert short.length == 0.29
    assert short.of_cylinder(2).length == 0.29
    assert short.of_cylinder(2).wall_temperature == pytest.approx(353.15)


def test_every_what_if_reaches_every_cylinder(tmp_path):
    engine = aircolumn.load(written(tmp_path, RUNNER, VALVE)).engine
    odd = {2: "runner", 3: "valve"}

    def of(changed, number):
        return getattr(changed.of_cylinder(number).intake, odd[number])

    assert of(account.no_pipe_heat(engine), 2).heat_factor == 0.0
    assert of(account.no_flow_losses(engine), 2).friction_factor == 0.0
    assert of(account.no_flow_losses(engine), 2).entry.loss == 0.0
    assert of(account.no_flow_losses(engine), 2).length == 0.5
    assert of(account.no_backflow(engine), 3).discharge.reverse[-1] == 0.0
    assert of(account.no_valve_loss(engine), 3).discharge.forward == [1.0, 1.0]
    assert of(account.no_valve_loss(engine), 3).closes_abdc == 60.0
    assert of(account.no_intake_waves(engine), 2).length < 0.05
    assert of(with_length(engine, 0.3), 2).length == 0.3
    assert of(with_length(engine, 0.3), 2).wall_temperature == pytest.approx(353.15)
    assert of(with_bore(engine, 0.04), 2).bore.end == 0.04
    assert of(UNKNOWNS["walls"].apply(engine, 10.0), 2).wall_temperature == pytest.approx(363.15)
    assert of(UNKNOWNS["discharge"].apply(engine, 0.9), 3).discharge.factor == 0.9
    assert of(UNKNOWNS["cam"].apply(engine, 2.0), 3).closes_abdc == 62.0


def test_check_says_who_differs(tmp_path, capsys):
    assert main(["check", str(written(tmp_path, RUNNER, VALVE))]) == 0
    out = capsys.readouterr().out
    assert "cylinder 2 differs        intake.runner (length, wall_temperature)" in out
    assert "cylinder 3 differs        intake.valve (closes_abdc)" in out
    assert "cylinder 1 differs" not in out


#: what is wrong: (line, part, cylinder), where, what the message must say
WRONG = {
    "no such cylinder": (
        (RUNNER[0], "{length: 0.5 m}", 5),
        "intake.runner.by_cylinder.5",
        "cylinders 1 to 4",
    ),
    "no number": ((RUNNER[0], "{length: 0.5 m}", "two"), "intake.runner.by_cylinder", "number"),
    "a strange key": (
        (RUNNER[0], "{lenth: 0.5 m}", 2),
        "intake.runner.by_cylinder.2.lenth",
        "did you mean 'length'?",
    ),
    "out of range": ((RUNNER[0], "{length: 50 m}", 2), "intake.runner.by_cylinder.2.length", "at most 5 m"),
    "a valve too large": (
        (VALVE[0], "{diameter: 95 mm}", 3),
        "intake.valve.by_cylinder.3.diameter",
        "larger than the cylinder bore",
    ),
    "shut before open": (
        (VALVE[0], "{opens_btdc: -300 deg}", 3),
        "intake.valve.by_cylinder.3",
        "the valve closes before it opens",
    ),
    "nested": (
        (RUNNER[0], "{by_cylinder: {1: {length: 1 m}}}", 2),
        "intake.runner",
        "by_cylinder cannot stand inside by_cylinder",
    ),
    "no group": (
        (RUNNER[0], "500 mm", 2),
        "intake.runner.by_cylinder.2",
        "a group of 'key: value' lines is expected here",
    ),
}


@pytest.mark.parametrize("name", WRONG)
def test_wrong_parts(name, tmp_path):
    part, where, said = WRONG[name]
    path = written(tmp_path, part)
    with pytest.raises(aircolumn.InputError) as error:
        aircolumn.load(path)
    text = str(error.value)
    assert said in text
    assert where in text
    line = 1 + next(k for k, row in enumerate(path.read_text().splitlines()) if "by_cyl" in row)
    assert f"{path}:{line}" in text or f"{path}:{line - 1}" in text or name == "nested"


def test_single_model_cannot_stand_for_cylinders_that_differ(tmp_path):
    path = written(tmp_path, VALVE, change=[("title:", "model: single\ntitle:")])
    with pytest.raises(aircolumn.InputError, match="by_cylinder makes them differ"):
        aircolumn.load(path)


def test_exhaust_parts_of_a_cylinder(tmp_path):
    line = next(r for r in DEMO.read_text().splitlines() if r.startswith("  primary:"))
    own = line.replace("{", "{by_cylinder: {4: {length: 700 mm}}, ")
    engine = aircolumn.load(written(tmp_path, change=[(line, own)])).engine
    net = build(engine)
    lengths = [net.ducts[net.exhaust(k)].shape.length for k in range(1, 5)]
    assert np.ptp(lengths[:3]) == 0.0
    assert lengths[3] > lengths[0]
    assert engine.why_cylinders_differ == "exhaust.primary.by_cylinder"
