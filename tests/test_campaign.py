"""Random engines: the solver arrives at a balanced result, or says in a sentence why not."""

import numpy as np
import pytest
from tests.random_engines import campaign, plausible, wild


def check_points(points):
    """Every result is one: finite, positive, balanced."""
    for seed, point in points.items():
        f = point.figures
        assert 0.0 < f["ve"] < 1.8, seed
        assert f["mass_error"] < 1e-9, seed
        assert f["energy_error"] < 1e-9, seed
        lost = [k for k, v in f.items() if k != "bsfc" and not np.isfinite(v)]
        assert not lost, (seed, lost)


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
