"""The engine file with fitted values loads as the fitted engine, whatever the file looks like."""

import re
from types import SimpleNamespace

import numpy as np
import pytest
from tests import made_up
from tests.conftest import CLASSROOM, DEMO, ROOT
from tests.made_up_pulls import HIDDEN, section
from tests.printed import command, left_aligned
from tests.spoiled import as_yaml

import aircolumn
from aircolumn.engine.description.rewrite import changed_values, rewritten
from aircolumn.errors import InputError
from aircolumn.measured.calibration import with_values
from aircolumn.output.pull.text import fitted_section
from aircolumn.study.bands.cases import Cases

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


def test_what_was_fitted_is_kept_and_read_again(pulled, tmp_path):
    """Values as printed, each with its own plus_minus (narrower than that of the joint intervals), and
    the correlation; bands draw from it."""
    again = aircolumn.load(pulled.out / "rescue-four-fitted.yaml")
    table = left_aligned(section(pulled, "Calibration on long"), "unknown")[1:]
    printed = {row[0]: row for row in table}
    spreads = {path[1]: spread for path, spread in again.source.spreads.items()}
    assert list(again.fitted.values) == ["discharge", "fmep", "cam"] == list(spreads) == list(printed)
    assert again.fitted.values["discharge"] == pytest.approx(HIDDEN["discharge"], abs=0.02)
    assert again.fitted.values["cam"] == pytest.approx(HIDDEN["cam"], abs=1.5)
    for name, factor in (("discharge", 1.0), ("cam", 1.0), ("fmep", 0.01)):  # kPa to bar
        wide = float(str(spreads[name]).split()[0]) * factor
        joint = float(re.findall(r"[\d.]+", printed[name][3])[-1])
        assert 0.5 * joint < wide < joint
    assert list(again.fitted.correlation) == ["discharge-fmep", "discharge-cam", "fmep-cam"]
    matrix = again.fitted.matrix
    assert np.all(np.diag(matrix) == 1.0)
    assert np.all(np.linalg.eigvalsh(matrix) > 0.0)
    assert Cases.of(again).names[-3:] == ["fitted.discharge", "fitted.fmep", "fitted.cam"]
    with made_up.in_place():
        done = command("bands", again.path, "--cases", "40", out=tmp_path / "o")
    assert done.code == 0
    assert "3 that were fitted to pulls" in " ".join(done.said.split())


def test_plus_minus_stays_beside_what_was_not_fitted(tmp_path):
    pairs = [
        ("compression_ratio: 9.2", "compression_ratio: {value: 9.2, plus_minus: 0.2}"),
        ("closes_abdc: 44 deg", "closes_abdc: {value: 44 deg, plus_minus: 2 deg}"),
        ("  long: {length: 650 mm}", "  long: {length: {value: 650 mm, plus_minus: 2 mm}}"),
    ]
    description = edited(tmp_path, pairs, DEMO.read_text())
    (tmp_path / "f.yaml").write_text(rewritten(description, lambda e: with_values(e, VALUES), "fitted"))
    kept = aircolumn.load(tmp_path / "f.yaml").source.spreads
    assert kept == {("engine", "compression_ratio"): 0.2, ("runners", "long", "length"): "2 mm"}


TRUE = {("cam", "discharge"): 0.5, ("cam", "fmep"): -0.1, ("discharge", "fmep"): 0.3}


@pytest.mark.parametrize(
    "order", [["discharge", "fmep", "cam"], ["cam", "discharge", "fmep"], ["fmep", "cam", "discharge"]]
)
@pytest.mark.parametrize("old", [False, True], ids=["pairs", "rows"])
def test_correlations_go_with_their_names(order, old, tmp_path):
    """In whatever order a fit was asked for; also as rows in that order, as files of version 0.2 do."""
    matrix = np.array([[1.0 if a == b else TRUE.get((a, b), TRUE.get((b, a))) for b in order] for a in order])
    found = SimpleNamespace(
        values=dict.fromkeys(order, 1.0), alone=dict.fromkeys(order, 0.1), correlation=matrix
    )
    section = fitted_section(found)
    if old:
        section["correlation"] = matrix.tolist()
    (tmp_path / "f.yaml").write_text(DEMO.read_text() + as_yaml({"fitted": section}))
    cases = Cases.of(aircolumn.load(tmp_path / "f.yaml"))
    names, read = list(cases.fitted), cases.correlation[-3:, -3:]
    for (a, b), due in TRUE.items():
        assert read[names.index(a), names.index(b)] == due


@pytest.mark.parametrize(
    ("section", "due"),
    [
        ("fmep: {value: 12 kPa, plus_minus: 20 %}", 2400.0),
        ("fmep: {value: -12 kPa, plus_minus: 20 %}", 2400.0),
        ("cam: {value: 2 deg, plus_minus: 50 %}", 1.0),
        ("discharge: {value: 1.02, plus_minus: 3 %}", 0.0306),
        ("walls: {value: 20 K, plus_minus: 5 K}", 5.0),
    ],
)
def test_a_share_of_what_was_fitted_is_one(section, due, tmp_path):
    (tmp_path / "f.yaml").write_text(f"{DEMO.read_text()}fitted: {{{section}}}\n")
    ((_, deviation),) = Cases.of(aircolumn.load(tmp_path / "f.yaml")).fitted.values()
    assert 1.96 * deviation == pytest.approx(due, rel=1e-4)


THREE = (
    "{cam: {value: 1 deg, plus_minus: 1 deg}, discharge: {value: 1, plus_minus: 0.1},"
    " fmep: {value: 1 kPa, plus_minus: 1 kPa},"
)


@pytest.mark.parametrize(
    ("section", "said"),
    [
        ("{discharge: 0.95}", "plus_minus is missing"),
        ("{turbo: {value: 1, plus_minus: 0.1}}", "unknown key"),
        ("{cam: {value: 1 deg, plus_minus: 1 deg}, correlation: [[1, 0]]}", "correlation needs 1 rows of 1"),
        (
            "{cam: {value: 1 deg, plus_minus: 1 deg}, discharge: {value: 1, plus_minus: 0.1},"
            " correlation: [[1, 0.5], [0.2, 1]]}",
            "correlation must be symmetric",
        ),
        (f"{THREE} correlation: {{cam-fmep: 0.9, fmep-discharge: 0.9, cam-discharge: -0.9}}}}", "below 0"),
        (f"{THREE} correlation: {{cam-luck: 0.9}}}}", "'cam-luck' is not a pair of fitted values"),
        (f"{THREE} correlation: {{cam-cam: 0.9}}}}", "'cam-cam' is not a pair"),
        (f"{THREE} correlation: {{cam-fmep: 0.9, fmep-cam: 0.9}}}}", "'fmep-cam' stands there twice"),
        (
            "{walls: {value: 20 K, plus_minus: 50 %}}",
            "a temperature has no percentage; write it in K, as 10 K",
        ),
        ("{fmep: {value: 0 kPa, plus_minus: 50 %}}", "'50 %' of 0 kPa is nothing; write it as 2 kPa"),
    ],
)
def test_wrong_fitted_section(section, said, tmp_path):
    with pytest.raises(InputError, match=said):
        edited(tmp_path, [("mixture: {", f"fitted: {section}\n\nmixture: {{")], DEMO.read_text())
