"""Walls that follow a heat balance with their surroundings."""

from math import pi

import numpy as np
import pytest
from tests.conftest import DEMO

from aircolumn import load
from aircolumn.engine.description.surrounded import AROUND
from aircolumn.engine.model.assembly import build
from aircolumn.engine.model.geometry import geometry_of
from aircolumn.engine.model.operating_point import march_to_cycle, operating_point
from aircolumn.engine.uncertain.alternatives import K
from aircolumn.engine.uncertain.inputs import assumed
from aircolumn.errors import InputError

PRIMARY = "primary: {length: 200 mm, bore: 38 mm, wall_temperature: 450 degC}"


def engine_with(folder, surroundings):
    text = DEMO.read_text()
    assert PRIMARY in text
    new = PRIMARY.replace("wall_temperature: 450 degC", surroundings)
    path = folder / "engine.yaml"
    path.write_text(text.replace(PRIMARY, new))
    return load(path).engine


def test_what_the_gas_gives_the_outside_takes(tmp_path):
    around = "surroundings: {temperature: 60 degC, coefficient: 40 W/m2/K}"
    engine = engine_with(tmp_path, around)
    g = geometry_of(engine)
    run = build(engine).ready(angle=g.intake_seats)
    march_to_cycle(engine, run, 4000.0, g)
    before = run.blocks.duct_heat.copy()
    omega = 4000.0 * pi / 30.0
    run.march(4.0 * pi / omega, omega=omega)
    duct = run.ducts["exhaust 1"]
    mean = duct.declared.layout.cell_means(duct.declared.wall.coefficient)
    c = duct.inside[mean == 40.0]  # cells with surroundings all along them
    given = (before - run.blocks.duct_heat)[c] * omega / (4.0 * pi)  # W from the gas
    area = pi * run.mesh.diameter[c] * run.mesh.dx[c]
    taken = 40.0 * area * (run.mesh.wall[c] - 333.15)
    assert given == pytest.approx(taken, rel=0.01)
    assert np.all((run.mesh.wall[c] > 500.0) & (run.mesh.wall[c] < 1200.0))
    # The cell over the end of the port, whose wall has a given temperature.
    c, share = next((c, m / 40.0) for c, m in zip(duct.inside, mean, strict=True) if 0.0 < m < 40.0)
    port = duct.declared.wall.temperature(0.0)
    own = (run.mesh.wall[c] - (1.0 - share) * port) / share
    given = (before - run.blocks.duct_heat)[c] * omega / (4.0 * pi)
    area = pi * run.mesh.diameter[c] * run.mesh.dx[c]
    assert given == pytest.approx(40.0 * area * (own - 333.15), rel=0.01)


def test_strong_cooling_is_a_given_temperature(tmp_path):
    around = "surroundings: {temperature: 450 degC, coefficient: 20000 W/m2/K}"
    cooled = operating_point(engine_with(tmp_path, around), 3000.0).figures
    given = operating_point(load(DEMO).engine, 3000.0).figures
    assert cooled["ve"] == pytest.approx(given["ve"], rel=1e-3)


def test_a_wall_that_is_not_stated_has_usual_surroundings(tmp_path):
    """Of headers at full load: 500 to 700 degC (common practice, no source)."""
    engine = engine_with(tmp_path, "heat_factor: 2")
    assert engine.exhaust.primary.surroundings.coefficient == AROUND["exhaust.primary"][1]
    assert "surroundings" not in engine.exhaust.primary.model_fields_set
    g = geometry_of(engine)
    run = build(engine).ready(angle=g.intake_seats)
    march_to_cycle(engine, run, 4000.0, g)
    wall = run.mesh.wall[run.ducts["exhaust 1"].inside]
    assert 770.0 < wall.max() < 1000.0
    assert engine_with(tmp_path, "heat_factor: 0").exhaust.primary.surroundings is None
    one = next(iter(load(tmp_path / "engine.yaml").candidates.values()))
    assert not [row for row in assumed(one) if row.key == "exhaust.walls"]
    bare = DEMO.read_text().replace(", wall_temperature: 450 degC", "")
    (tmp_path / "engine.yaml").write_text(bare)
    one = next(iter(load(tmp_path / "engine.yaml").candidates.values()))
    (row,) = [row for row in assumed(one) if row.key == "exhaust.walls"]
    written = row.change(one.data, K)["exhaust"]["primary"]["surroundings"]
    assert written == {"temperature": "333.15 K", "coefficient": "320 W/m2/K"}


@pytest.mark.parametrize(
    ("surroundings", "said"),
    [
        (
            "wall_temperature: 80 degC, surroundings: {temperature: 60 degC, coefficient: 9 W/m2/K}",
            "not both",
        ),
        ("surroundings: {temperature: 60 degC}", "coefficient: this key is missing"),
        (
            "surroundings: {temperature: 60 degC, coefficient: 9 W}",
            "is not a unit of heat-transfer",
        ),
    ],
)
def test_wrong_surroundings(surroundings, said, tmp_path):
    with pytest.raises(InputError) as error:
        engine_with(tmp_path, surroundings)
    assert said in str(error.value)
