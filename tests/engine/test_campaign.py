"""Random engines: the solver arrives at a balanced result, or says in a sentence why not."""

import numpy as np
import pytest
from tests.random_engines import campaign, plausible, wild

from aircolumn.engine.model.assembly import build
from aircolumn.engine.model.geometry import geometry_of
from aircolumn.engine.model.operating_point import operating_point
from aircolumn.errors import MarchError
from aircolumn.flow.arrays.ends import ENERGY


def check_points(points):
    """Every result is one: finite, positive, balanced."""
    for seed, point in points.items():
        f = point.figures
        assert 0.0 < f["ve"] < 1.8, seed
        assert f["mass_error"] < 1e-9, seed
        assert f["energy_error"] < 1e-9, seed
        lost = [k for k, v in f.items() if k != "bsfc" and not np.isfinite(v)]
        assert not lost, (seed, lost)


@pytest.mark.slow
def test_a_few_of_all_kinds():
    points, reasons = campaign(plausible, range(6))
    assert not reasons
    check_points(points)
    points, reasons = campaign(wild, range(6))
    assert not reasons
    check_points(points)


@pytest.mark.slow
@pytest.mark.parametrize(("make", "count", "share"), [(plausible, 200, 1.0), (wild, 500, 0.995)])
def test_campaign(make, count, share):
    points, reasons = campaign(make, range(count))
    print(f"{len(points)} of {count} {make.__name__} engines converge; {reasons}")
    check_points(points)
    for reason in reasons.values():
        assert "rpm" in reason
    assert len(points) >= share * count


@pytest.mark.parametrize("seed", [70435, 70437, 70529, 70784, 70788, 71007, 80467, 80973, 90848])
def test_cold_starts_that_broke_down(seed):
    """A throttle so wide that it renews its small plenum within a step (70435), or gas that meets a
    nearly shut valve, or a sudden step (80467, 80973), faster than sound, or a valve that begins to
    shut (90848): each was no longer a number within its first cycles."""
    point = operating_point(*wild(seed))
    check_points({seed: point})


@pytest.mark.parametrize(("seed", "piston_speed", "coarser"), [(49, 18.0, 4.0), (57, 23.0, 8.0)])
def test_cold_starts_that_broke_down_on_coarse_cells(seed, piston_speed, coarser):
    """A port of a single cell: where fresh gas came in, the line of limited slope went beyond the node
    at the other end, and the burned share that left there grew from step to step."""
    engine = plausible(seed)[0]
    intake, exhaust = engine.cells
    cells = {"intake_cell": coarser * intake, "exhaust_cell": coarser * exhaust}
    engine = engine.changed(model="manifold", numerics=engine.numerics.changed(**cells))
    rpm = piston_speed * 30.0 / engine.block.stroke
    check_points({seed: operating_point(engine, rpm)})


def test_a_volume_that_is_no_number_stops_the_march_at_once(demo):
    """It made its valve a wall, and 174 more cycles were marched before a message that misled."""
    engine = demo.with_runner("middle")
    run = build(engine, 0.35, 3000.0).ready(geometry_of(engine).intake_seats)
    run.march(1e-3, omega=314.0)
    run.blocks.volumes[0, run.volume("cylinder 1"), ENERGY] = np.nan
    before = run.steps
    with pytest.raises(MarchError, match="no longer a number in volume 'cylinder 1'"):
        run.march(1e-2, omega=314.0)
    assert run.steps <= before + 1


def test_a_duct_that_is_no_number_is_named(demo):
    engine = demo.with_runner("middle")
    run = build(engine, 0.35, 3000.0).ready(geometry_of(engine).intake_seats)
    run.march(1e-3, omega=314.0)
    duct = run.ducts["exhaust 1"]
    run.nodes.p[duct.nodes[3]] = np.nan
    run.cells.energy[duct.nodes[3]] = np.nan
    with pytest.raises(MarchError, match=r"in duct 'exhaust 1', \d+ mm from its beginning|volume"):
        run.march(1e-2, omega=314.0)
