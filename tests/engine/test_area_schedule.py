"""Area schedules: a shape from a table, and back."""

import numpy as np
import pytest
from tests.conftest import DEMO

from aircolumn.cli import main
from aircolumn.engine.description.area_schedule import read_area_schedule, write_area_schedule
from aircolumn.engine.description.reader import load
from aircolumn.engine.model.piping import pipe_shape
from aircolumn.errors import InputError
from aircolumn.flow.duct.geometry import Shape

TABLE = "# as measured\ndistance [mm],area [mm2]\n0,1661.9\n\n100,1600\n430,1385.4\n"


def engine_with_schedule(folder, table=TABLE):
    (folder / "shape.csv").write_text(table)
    text = DEMO.read_text()
    for old, new in (
        ("    bore: {from: 46 mm, to: 42 mm}\n", ""),
        ("    length: 430 mm\n", "    area_schedule: shape.csv\n"),
        ("middle: {length: 430 mm}", "middle: {}"),
        ("{length: 290 mm}", "{length: 290 mm, bore: 46 mm}"),
        ("{length: 650 mm}", "{length: 650 mm, bore: 46 mm}"),
    ):
        assert old in text
        text = text.replace(old, new)
    (folder / "engine.yaml").write_text(text)
    return folder / "engine.yaml"


def test_round_trip_keeps_the_shape(tmp_path):
    shape = Shape(np.array([0.0, 0.07, 0.43]), np.array([0.046, 0.0441, 0.042]))
    write_area_schedule(tmp_path / "a.csv", shape)
    points = np.array([p[:2] for p in read_area_schedule(tmp_path / "a.csv")])
    assert points[:, 0] == pytest.approx(shape.distance, abs=1e-12)
    assert points[:, 1] == pytest.approx(shape.diameter, rel=1e-10)


def test_units_and_bore_column(tmp_path):
    (tmp_path / "a.csv").write_text("bore [in],distance [cm]\n2,0\n1,25.4\n")
    assert np.allclose(
        [p[:2] for p in read_area_schedule(tmp_path / "a.csv")], [(0.0, 0.0508), (0.254, 0.0254)]
    )


def test_engine_file_with_a_schedule(tmp_path):
    description = load(engine_with_schedule(tmp_path))
    shape = pipe_shape(description.runners["middle"])
    assert shape.length == pytest.approx(0.43)
    assert 1e6 * shape.area(0.1) == pytest.approx(1600.0)
    assert pipe_shape(description.runners["short"]).length == pytest.approx(0.29)


def test_check_writes_what_can_be_read(tmp_path, capsys):
    assert main(["check", str(DEMO), "--out", str(tmp_path / "out")]) == 0
    points = [p[:2] for p in read_area_schedule(tmp_path / "out" / "long-area.csv")]
    assert points[-1] == pytest.approx((0.65, 0.042))
    assert "long-area.csv" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("table", "place", "said"),
    [
        ("", "shape.csv:1:", "the file is empty"),
        ("distance,area\n0,1\n", "shape.csv:1:", "two columns are expected"),
        ("distance [mm],area [mm2]\n0,1600\n", "shape.csv:2:", "at least two lines"),
        ("distance [mm],area [mm2]\n", "shape.csv:1:", "at least two lines"),
        (TABLE.replace("0,1661.9", "5,1661.9"), "shape.csv:3:", "first distance must be 0"),
        (TABLE.replace("100,", "430,"), "shape.csv:6:", "must rise"),
        (TABLE.replace("1600", "wide"), "shape.csv:5:", "area: 'wide mm2' is not a number"),
        (TABLE.replace("1600", "-3"), "shape.csv:5:", "area: '-3': must be greater than 0"),
        (TABLE.replace("100,1600", "100"), "shape.csv:5:", "1 values"),
        (TABLE.replace("[mm2]", "[kPa]"), "shape.csv:3:", "is not a unit of area"),
        (TABLE.replace("1600", "16000000"), "engine.yaml:", "out of range"),
    ],
)
def test_wrong_table(table, place, said, tmp_path):
    path = engine_with_schedule(tmp_path, table)
    with pytest.raises(InputError) as error:
        load(path)
    assert place in str(error.value)
    assert said in str(error.value)


def test_schedule_beside_a_length(tmp_path):
    path = engine_with_schedule(tmp_path)
    path.write_text(path.read_text().replace("shape.csv\n", "shape.csv\n    length: 3 mm\n"))
    with pytest.raises(InputError, match="no length, bore or sections beside it"):
        load(path)


def test_missing_table(tmp_path):
    path = engine_with_schedule(tmp_path)
    (tmp_path / "shape.csv").unlink()
    with pytest.raises(InputError, match="cannot be read"):
        load(path)


@pytest.mark.parametrize(("lines", "fits"), [(2000, True), (2001, False)])
def test_so_many_lines_and_no_more(tmp_path, lines, fits):
    rows = "".join(f"{k},1600\n" for k in range(lines - 1))
    (tmp_path / "s.csv").write_text(f"distance [mm],area [mm2]\n{rows}")
    if fits:
        assert len(read_area_schedule(tmp_path / "s.csv")) == lines - 1
    else:
        with pytest.raises(InputError, match="at most 2000"):
            read_area_schedule(tmp_path / "s.csv")
