"""Whatever is narrow, short or stepped is seen, whatever the size of the cells."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from tests.conftest import DEMO

from aircolumn import GasState, Network, Shape, perfect_gas, straight
from aircolumn.engine.description.pipes import PipePerCylinder, Runner
from aircolumn.engine.description.reader import load
from aircolumn.engine.model.operating_point import operating_point
from aircolumn.flow.duct.division import divide, sudden_changes

WALL = {"wall_temperature": "45 degC"}
ENTRY = {"entry": {"shape": "bellmouth", "radius": "8 mm"}}


def piece(length, start, end=None) -> dict:
    """A section of an engine file, mm."""
    end = start if end is None else end
    return {"length": f"{length} mm", "bore": {"from": f"{start} mm", "to": f"{end} mm"}}


def ve(engine, rpm, refinement=1.0, **intake) -> float:
    """VE in per cent."""
    engine = engine.with_intake(**intake)
    return 100.0 * operating_point(engine, rpm, refinement).figures["ve"]


def with_throat(cone, shift):
    """A runner of 42 mm with a throat of 20 mm between two cones, moved along by ``shift``; mm."""
    before = 200.0 - cone + shift
    sections = [
        piece(before, 42),
        piece(cone, 42, 20),
        piece(cone, 20, 42),
        piece(430.0 - before - 2 * cone, 42),
    ]
    return Runner.model_validate({"sections": sections, **ENTRY, **WALL})


@pytest.mark.parametrize("cone", [6.0, 2.0])
def test_a_throat_costs_the_same_wherever_it_stands(cone):
    """Cells are 12 mm. (Sampled at nodes, it cost from 0 to 43 points as it was moved.)"""
    engine = load(DEMO).engine
    found = [ve(engine, 4500.0, runner=with_throat(cone, shift)) for shift in range(0, 11, 2)]
    assert np.ptp(found) < 0.5
    assert found[0] < 0.65 * 100.0  # the flow through 20 mm is choked for most of the stroke
    finer = ve(engine, 4500.0, 2.0, runner=with_throat(cone, 4.0))
    assert abs(found[2] - finer) < 0.1


@pytest.mark.slow
@pytest.mark.parametrize("cone", [6.0, 2.0])
def test_a_throat_converges(cone):
    engine = load(DEMO).engine
    found = [ve(engine, 4500.0, r, runner=with_throat(cone, 5.0)) for r in (1.0, 2.0, 4.0, 8.0)]
    assert np.abs(np.diff(found)).max() < 0.1


def wavy(seed):
    """A runner as a probe measures it: one bore every 3 mm, four waves and some noise."""
    rng = np.random.default_rng(seed)
    x = np.arange(0.0, 431.0, 3.0)
    bore = 44.0 - 2.0 * x / 430.0 + 0.1 * rng.standard_normal(x.size)
    for _ in range(4):
        length, height = rng.uniform(20.0, 150.0), rng.uniform(0.25, 0.8)
        bore += height * np.sin(2 * np.pi * x / length + rng.uniform(0.0, 6.0))
    sections = [piece(3.0, a, b) for a, b in pairwise(bore)]
    return Runner.model_validate({"sections": sections, **ENTRY, **WALL})


@pytest.mark.parametrize("seed", [3, 5])
def test_a_measured_runner_is_resolved(seed):
    engine, runner = load(DEMO).engine, wavy(seed)
    assert abs(ve(engine, 4500.0, runner=runner) - ve(engine, 4500.0, 4.0, runner=runner)) < 0.3


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(8))
def test_measured_runners_are_resolved_at_other_speeds(seed):
    engine, runner = load(DEMO).engine, wavy(seed)
    for rpm in (2500.0, 6000.0):
        fine = ve(engine, rpm, 4.0, runner=runner)
        assert abs(ve(engine, rpm, runner=runner) - fine) < 0.3


def test_a_choke_in_the_port_is_resolved():
    """38 to 33 to 38 mm over 30 mm near the valve, shifted. (It varied by 2 points.)"""
    engine = load(DEMO).engine

    def choke(shift):
        sections = [piece(60 + shift, 38), piece(15, 38, 33), piece(15, 33, 38), piece(30 - shift, 38)]
        return PipePerCylinder.model_validate({"sections": sections, "wall_temperature": "90 degC"})

    runner = Runner.model_validate({**piece(430, 46, 38), **ENTRY, **WALL})
    found = [ve(engine, 5500.0, runner=runner, port=choke(s)) for s in (0, 2, 4, 6, 8, 10)]
    assert np.ptp(found) < 0.5
    fine = ve(engine, 5500.0, 2.0, runner=runner, port=choke(4))
    assert abs(found[2] - fine) < 0.3


def test_a_short_step_between_two_stages_converges():
    """46 to 42 mm over 1 mm: a step. (It gave 90.66, 89.54, 90.93 on finer and finer cells.)"""
    sections = [piece(215, 46), piece(1, 46, 42), piece(214, 42)]
    runner = Runner.model_validate({"sections": sections, **ENTRY, **WALL})
    found = [ve(load(DEMO).engine, 2500.0, r, runner=runner) for r in (1.0, 2.0)]
    assert abs(found[0] - found[1]) < 0.1


def test_volumes_are_kept():
    """Cells and lumped throats together hold what the shape holds."""
    shape = straight(0.2, 0.042).then(straight(0.002, 0.042, 0.02))
    shape = shape.then(straight(0.002, 0.02, 0.042)).then(straight(0.2, 0.042, 0.05))
    shape = shape.then(straight(0.3, 0.04))
    reaches, changes = divide(shape, 0.012)
    assert len(changes) == 2  # the throat, and the step from 50 to 40 mm
    assert sum(r.volumes().sum() for r in reaches) == pytest.approx(shape.volume(), rel=1e-12)
    assert changes[0].throat == pytest.approx(np.pi / 4 * 0.02**2)
    # ... and have its inertia: a step keeps more air in the narrow bore than a cone does.
    inertance = sum(r.shape.inertance() for r in reaches) + sum(c.inertance for c in changes)
    assert inertance == pytest.approx(shape.inertance(), rel=0.01)


bores = st.lists(st.floats(0.02, 0.06), min_size=3, max_size=12)
lengths = st.lists(st.floats(1e-3, 0.1), min_size=11, max_size=11)


@settings(max_examples=150, deadline=None)
@given(bores, lengths, st.sampled_from([0.003, 0.012, 0.04]))
def test_any_shape_is_divided(bores, lengths, cell):
    """Nothing overlaps or is lost, cells rise, the narrowest place is at a node or in a throat."""
    x = np.concatenate([[0.0], np.cumsum(lengths[: len(bores) - 1])])
    shape = Shape(x, np.array(bores))
    assume(shape.length >= 4.0 * cell)  # fewer cells are not asked for
    reaches, changes = divide(shape, cell)
    assert len(reaches) == len(changes) + 1
    volume = sum(r.volumes().sum() for r in reaches)
    if shape.distance[1] >= cell and shape.length - shape.distance[-2] >= cell:
        assert volume == pytest.approx(shape.volume(), rel=1e-9)
    narrowest = min(
        min(r.shape.area(r.edges).min() for r in reaches), min((c.throat for c in changes), default=1.0)
    )
    assert narrowest < 1.15 * np.pi / 4 * min(bores) ** 2
    for reach in reaches:
        assert np.all(np.diff(reach.edges) > 0.0)
        assert np.diff(reach.edges).max() < 1.6 * cell + 1e-9


def test_what_is_sudden_does_not_look_at_cells():
    assert sudden_changes(straight(0.1, 0.04, 0.05)) == []
    (change,) = sudden_changes(straight(0.2, 0.038).then(straight(0.3, 0.042)))
    assert (change.position, change.loss_forward) == (pytest.approx(0.2), 0.0)
    assert change.loss_back == pytest.approx(0.5 * (1 - (38 / 42) ** 2))
    # A bellmouth that is part of the shape narrows without loss (Idelchik: 0.03 at r/D > 0.2).
    turn = np.linspace(0.0, np.pi / 2, 12)
    x = np.append(0.015 * (1 - np.cos(turn)), 0.3)
    d = np.append(0.042 + 0.03 * (1 - np.sin(turn)), 0.042)
    (mouth,) = sudden_changes(Shape(x, d))
    assert mouth.loss_forward < 0.01


def test_steps_keep_mass_and_energy_and_small_waves():
    """Closed at both ends, with a step, a throat and a cone between: nothing is lost."""
    shape = straight(0.3, 0.04).then(straight(0.2, 0.03)).then(straight(0.003, 0.03, 0.02))
    shape = shape.then(straight(0.003, 0.02, 0.035)).then(straight(0.2, 0.035, 0.05))
    net = Network(perfect_gas())
    net.duct(
        "pipe",
        shape,
        60,
        GasState(pressure=lambda x: 1e5 * (1 + 0.2 * (x < 0.2)), temperature=300.0),
    )
    net.closed("pipe", "left")
    net.closed("pipe", "right")
    run = net.ready()
    before = run.held("pipe")
    run.march(0.02)
    after = run.held("pipe")
    assert after.mass == pytest.approx(before.mass, rel=1e-12)
    assert after.energy == pytest.approx(before.energy, rel=1e-12)


@pytest.mark.parametrize("ratio", [1.1, 2.0, 5.0])
def test_a_choked_throat_settles(ratio):
    """From rest against any pressure ratio, states stay positive and flow becomes steady."""
    shape = straight(0.2, 0.042).then(straight(0.015, 0.02)).then(straight(0.2, 0.042))
    net = Network(perfect_gas())
    net.reservoir("before", 1e5 * ratio, 300.0)
    net.reservoir("behind", 1e5, 300.0)
    net.duct("pipe", shape, 40, GasState(pressure=1e5, temperature=300.0))
    net.opening("pipe", "left", "before")
    net.opening("pipe", "right", "behind")
    run = net.ready()
    for _ in range(40):
        run.march(0.005)
        assert run.profile("pipe").p.min() > 0.0
    p = run.profile("pipe")
    flow = p.rho * p.u * p.area
    assert np.ptp(flow) < 2e-3 * flow.mean()
