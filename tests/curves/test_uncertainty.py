"""The printed numerical uncertainty holds what a far finer mesh gives."""

import re

import numpy as np
import pytest
from tests.conftest import CLASSROOM, DEMO

from aircolumn.curves.uncertainty import LEVELS, grid_convergence
from aircolumn.engine.description.reader import load
from aircolumn.engine.model.operating_point import operating_point


def scaled(tmp_path, file, factor, changes=()):
    """The engine of ``file`` with all its lengths times ``factor``, and lines of it changed."""
    text = file.read_text()
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new)
    text = re.sub(r"([\d.]+) mm", lambda m: f"{float(m[1]) * factor:.6g} mm", text)
    text = re.sub(r"([\d.]+) L\b", lambda m: f"{float(m[1]) * factor**3:.6g} L", text)
    path = tmp_path / "engine.yaml"
    path.write_text(text)
    return load(path).engine


def test_index_of_known_series():
    """Second and first order series: the error and the safety factor of Roache."""
    for order in (1.0, 2.0):
        f = [1.0 + 0.01 * h**order for h in (2.0, 1.0, 0.5)]
        error = 0.01 / f[1]
        assert grid_convergence(*f) == pytest.approx(1.25 * error, rel=1e-9)
        both = grid_convergence(*f, repeat=error)
        assert both == pytest.approx(np.hypot(1.25, 1.0) * error, rel=1e-9)
    # Turning back and forth, or not converging: three times the larger change.
    assert grid_convergence(1.00, 1.01, 1.00) >= 3.0 * 0.01 / 1.01
    assert grid_convergence(1.03, 1.02, 1.00) >= 3.0 * 0.02
    assert grid_convergence(1.0, 1.0, 1.0) == 0.0
    assert grid_convergence(1.03, 1.00, 1.01) == pytest.approx(3.0 * 0.015 / 0.5)
    # More than second order: as second, with the larger factor.
    third = [1.0 + 0.01 * h**3 for h in (2.0, 1.0, 0.5)]
    change = (third[1] - third[2]) / third[1]
    assert grid_convergence(*third) == pytest.approx(3.0 * change / (1.0 - 0.25), rel=1e-9)
    values = grid_convergence(np.ones(3), np.ones(3), [1.0, 1.1, np.nan])
    assert values.shape == (3,)
    assert np.isnan(values[2])


#: name: file, factor, changes, speed in rev/min. Slow speeds and much overlap converge slowest:
#: gas of the exhaust and of the runner then mix in the ports.
ENGINES = {
    "50 cc": (CLASSROOM, 0.464, (), 4000.0),
    "125 cc, slow, much overlap": (
        CLASSROOM,
        0.63,
        (("opens_btdc: 4 deg", "opens_btdc: 35 deg"), ("closes_atdc: 6 deg", "closes_atdc: 35 deg")),
        1500.0,
    ),
    "500 cc": (CLASSROOM, 1.0, (), 3500.0),
    "1 litre four": (DEMO, 0.74, (), 3000.0),
    "2.5 litre four": (DEMO, 1.0, (), 2500.0),
    "15 litre four": (DEMO, 1.82, (), 1800.0),
}


@pytest.mark.slow
@pytest.mark.parametrize("name", ENGINES)
def test_uncertainty_holds_a_mesh_eight_times_finer(tmp_path, name):
    file, factor, changes, rpm = ENGINES[name]
    engine = scaled(tmp_path, file, factor, changes)
    ve = [operating_point(engine, rpm, level).figures["ve"] for level in LEVELS]
    finest = operating_point(engine, rpm, 8.0).figures["ve"]
    stated = float(grid_convergence(*ve, engine.numerics.repeat_within))
    true = abs(finest / ve[1] - 1.0)
    print(f"{name}: VE {100 * ve[1]:.2f} %, stated {100 * stated:.3f} %, true {100 * true:.3f} %")
    assert true <= stated
    assert stated < 0.01  # and says something
