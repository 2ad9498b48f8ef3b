"""The engine file with fitted values loads as the fitted engine, whatever the file looks like."""

import pytest
from tests.conftest import CLASSROOM, DEMO, ROOT
from tests.made_up_pulls import HIDDEN

import aircolumn
from aircolumn.engine.description.rewrite import changed_values, rewritten
from aircolumn.measured.calibration import with_values

VALUES = HIDDEN | {"walls": 7.5}
#: what is written into the demo's file: (old, new)
EDITS = {
    "as it is": (),
    "walls of single cylinders": (
        (
            "    wall_temperature: 90 degC\n",
            "    wall_temperature: 90 degC\n    by_cylinder: {2: {wall_temperature: 70 degC}}\n",
        ),
    ),
    "a candidate with walls of its own": (("  long: {", "  long: {wall_temperature: 60 degC, "),),
    "surroundings": (
        (
            "    wall_temperature: 45 degC\n",
            "    surroundings: {temperature: 60 degC, coefficient: 25 W/m2/K}\n",
        ),
    ),
}


def edited(folder, pairs, text):
    for old, new in pairs:
        assert old in text, old
        text = text.replace(old, new)
    path = folder / "engine.yaml"
    path.write_text(text)
    return aircolumn.load(path)


def same(one, other):
    """Two checked parts, numbers to the digits that are written."""
    if isinstance(one, dict):
        assert one.keys() == other.keys()
        for key in one:
            same(one[key], other[key])
    elif isinstance(one, list):
        for a, b in zip(one, other, strict=True):
            same(a, b)
    elif isinstance(one, float):
        assert one == pytest.approx(other, rel=1e-5, abs=1e-9)
    else:
        assert one == other


@pytest.mark.parametrize("name", EDITS)
def test_it_loads_as_the_fitted_engine(name, tmp_path):
    description = edited(tmp_path, EDITS[name], DEMO.read_text())
    text = rewritten(description, lambda e: with_values(e, VALUES), "fitted")
    assert text.startswith("# fitted\n")
    (tmp_path / "elsewhere").mkdir()
    (tmp_path / "elsewhere" / "fitted.yaml").write_text(text)
    again = aircolumn.load(tmp_path / "elsewhere" / "fitted.yaml")
    assert list(again.runners) == list(description.runners)
    assert again.switchable == description.switchable
    for runner in description.runners:
        due = with_values(description.with_runner(runner), VALUES)
        same(again.with_runner(runner).model_dump(), due.model_dump())


def test_a_shape_in_another_folder_is_still_found(tmp_path):
    (tmp_path / "shape.csv").write_text("distance [mm],bore [mm]\n0,42\n190,36\n")
    text = (ROOT / "configs" / "student-four.yaml").read_text()
    sizes = "    length: 190 mm\n    bore: {from: 42 mm, to: 36 mm}\n"
    text = text[: text.index("\nrunners:")]
    description = edited(tmp_path, [(sizes, "    area_schedule: shape.csv\n")], text)
    (tmp_path / "elsewhere").mkdir()
    (tmp_path / "elsewhere" / "fitted.yaml").write_text(
        rewritten(description, lambda e: with_values(e, VALUES), "fitted")
    )
    again = aircolumn.load(tmp_path / "elsewhere" / "fitted.yaml").engine
    same(again.model_dump(), with_values(description.engine, VALUES).model_dump())


def test_changed_values_are_written_with_their_units():
    engine = aircolumn.load(CLASSROOM).engine
    changed = dict(changed_values(engine, with_values(engine, {"fmep": 0.12e5, "cam": 2.0})))
    assert changed.pop(("friction", "constant")).endswith(" kPa")
    assert all(value.endswith(" deg") for value in changed.values())
    assert {path[-1] for path in changed} == {"opens_btdc", "closes_abdc"}
