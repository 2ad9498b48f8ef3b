"""Two results or engine files side by side: before and after."""

import numpy as np
import pytest
import xarray as xr
from tests import made_up
from tests.conftest import CLASSROOM, DEMO
from tests.printed import command, right_aligned, rows_of, texts_of

import aircolumn
from aircolumn.curves.change import changed_input, changed_keys

RPM = ("--rpm", "2500", "3000", "3500", "4000")


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    """(before, after): the middle runner is longer, and the cam closes later."""
    folder = tmp_path_factory.mktemp("change")
    text = DEMO.read_text()
    for old, new in (
        ("middle: {length: 430 mm}", "middle: {length: 480 mm}"),
        ("closes_abdc: 44 deg", "closes_abdc: 48 deg"),
    ):
        assert text.count(old) == 1
        text = text.replace(old, new)
    (folder / "after.yaml").write_text(text)
    return DEMO, folder / "after.yaml"


@pytest.fixture(scope="module")
def ran(files, tmp_path_factory):
    """Results of the file before, the file after."""
    out = tmp_path_factory.mktemp("ran")
    with made_up.in_place():
        command("compare", files[0], *RPM, out=out / "before")
        return command("change", out / "before", files[1], out=out / "o"), out


def due(file, runner, figure):
    engine = aircolumn.load(file).with_runner(runner)
    speeds = (2500.0, 3000.0, 3500.0, 4000.0)
    return np.array([made_up.point(engine, n).figures[figure] for n in speeds])


def test_what_changed_is_listed(ran):
    said = ran[0].said
    assert "What differs, before -> after:" in said
    assert "  intake.valve.closes_abdc: 44 deg -> 48 deg" in said
    assert "  runners.middle.length: 430 mm -> 480 mm" in said


def test_table_and_files(ran, files):
    """At the speeds both have: the folder's four, of the ten in the file."""
    data = xr.load_dataset(ran[0].out / "change.nc")
    assert list(data.rpm.values) == [2500.0, 3000.0, 3500.0, 4000.0]
    assert list(data.runner.values) == ["short", "middle", "long"]
    was, now = (due(f, "middle", "torque") for f in files)
    middle = data.torque.sel(runner="middle").values
    assert middle == pytest.approx(np.array([was, now]))
    text = ran[0].said[ran[0].said.index("\nmiddle\n") :]
    headings, rows = right_aligned(text, "rpm")
    assert headings[4:7] == ["torque before N m", "after N m", "change"]
    assert [row[4:7] for row in rows] == [
        [f"{a:.1f}", f"{b:.1f}", f"{b - a:+.1f}"] for a, b in zip(was, now, strict=True)
    ]
    table = [r for r in rows_of(ran[0].out / "change.csv") if r["runner"] == "middle"]
    assert [float(r["torque after [N m]"]) for r in table] == pytest.approx(now)
    assert [float(r["ve before [%]"]) for r in table] == pytest.approx(100 * due(files[0], "middle", "ve"))


def test_mean_over_the_range_of_interest(ran, files):
    """The side that was computed here has added speeds; its mean is over all it has."""
    data = xr.load_dataset(ran[0].out / "change.nc")
    assert list(data.mean_torque.attrs["range"]) == [2500.0, 4000.0]
    was = due(files[0], "middle", "torque")
    mean = np.trapezoid(was, [2500.0, 3000.0, 3500.0, 4000.0]) / 1500.0
    found = data.mean_torque.sel(runner="middle").values
    assert found[0] == pytest.approx(mean)
    assert f"{mean:.1f} N m before, {found[1]:.1f} N m after" in ran[0].said


def test_drawn(ran, files):
    top, middle, low = ran[0].pictures["change.png"].axes
    was, now = (due(f, "middle", "torque") for f in files)
    heights = [list(line.get_ydata()) for line in top.lines]
    assert pytest.approx(list(was)) in heights
    assert pytest.approx(list(now)) in heights
    assert pytest.approx(list(now - was)) in [list(x.get_ydata()) for x in middle.lines]
    points = 100 * (due(files[1], "middle", "ve") - due(files[0], "middle", "ve"))
    assert pytest.approx(list(points)) in [list(x.get_ydata()) for x in low.lines]
    assert {"short", "middle", "long"} <= set(texts_of(top))


def test_nothing_changed(tmp_path):
    with made_up.in_place():
        ran = command("change", DEMO, DEMO, *RPM, out=tmp_path / "o")
    assert "The two engine files say the same." in ran.said
    assert ran.said.count(": no change") == 3


def test_two_single_curves_whatever_they_are_called(tmp_path):
    with made_up.in_place():
        for name in ("short", "long"):
            command("curve", DEMO, "--runner", name, *RPM, out=tmp_path / name)
        ran = command("change", tmp_path / "short", tmp_path / "long", out=tmp_path / "o")
    data = xr.load_dataset(ran.out / "change.nc")
    assert list(data.runner.values) == ["short, long"]
    one, other = (due(DEMO, n, "torque") for n in ("short", "long"))
    assert data.torque.values[:, 0] == pytest.approx(np.array([one, other]))


@pytest.mark.parametrize(
    ("before", "more", "said"),
    [
        ("empty", (), "has no origin.json: it is not a folder of results"),
        ("none.yaml", (), "cannot be read"),
        ("classroom", ("--runner", "middle"), "no runner 'middle' is in both"),
    ],
)
def test_what_cannot_be_set_side_by_side(before, more, said, tmp_path):
    (tmp_path / "empty").mkdir()
    text = CLASSROOM.read_text().replace("  middle:", "  medium:")
    (tmp_path / "classroom").write_text(text)
    with made_up.in_place():
        ran = command("change", tmp_path / before, DEMO, *RPM, *more, out=tmp_path / "o")
    assert ran.code == 2
    assert said in ran.complaints
    assert not (tmp_path / "o").exists()


def test_a_folder_without_curves(tmp_path):
    with made_up.in_place():
        command("map", DEMO, "--steps", "2", *RPM, out=tmp_path / "m")
        ran = command("change", tmp_path / "m", DEMO, *RPM, out=tmp_path / "o")
        alone = command("change", tmp_path / "m", DEMO, out=tmp_path / "o")
    assert ran.code == 0  # other speeds than there: both are computed
    assert alone.code == 2
    assert "holds no curves; run curve, compare or report first" in alone.complaints


@pytest.mark.parametrize(
    ("name", "raw", "said"),
    [
        ("origin.json", b"{", "origin.json is damaged"),
        ("origin.json", b'{"file": 7}', "origin.json is damaged"),
        ("origin.json", b'{"file": "../../../etc/passwd"}', "cannot be read"),
        ("compare.nc", b"CDF", "compare.nc is damaged"),
        ("compare.nc", b"", "compare.nc is damaged"),
    ],
)
def test_damaged_results(name, raw, said, ran, tmp_path):
    import shutil

    shutil.copytree(ran[1] / "before", tmp_path / "b")
    (tmp_path / "b" / name).write_bytes(raw)
    with made_up.in_place():
        again = command("change", tmp_path / "b", DEMO, out=tmp_path / "o")
    assert again.code == 2
    assert said in again.complaints


def test_every_file_that_an_engine_reads_is_compared(tmp_path):
    """An area schedule, a candidate's own file, and a plus_minus; keys alone are the same."""
    names = ("a", "b")
    for name, area, bore, wide in zip(names, (1200, 1000), (86, 87), (2, 3), strict=True):
        folder = tmp_path / name
        folder.mkdir()
        (folder / "area.csv").write_text(f"distance [mm],area [mm2]\n0,1400\n200,1300\n400,{area}\n")
        text = CLASSROOM.read_text().partition("\nrunners:")[0]
        (folder / "other.yaml").write_text(text.replace("bore: 86 mm", f"bore: {bore} mm", 1))
        text = text.replace("closes_abdc: 48 deg", f"closes_abdc: {{value: 48 deg, plus_minus: {wide} deg}}")
        more = "candidates:\n  drawn: {intake.runner.area_schedule: area.csv}\n  other: other.yaml\n"
        (folder / "e.yaml").write_text(
            f"{text}\n{more}speeds: {{from: 3000 rpm, to: 4000 rpm, step: 500 rpm}}\n"
        )
    before, after = (aircolumn.load(tmp_path / name / "e.yaml").source for name in names)
    assert before.data == after.data
    found = changed_input(before, after)
    assert ("intake.valve.closes_abdc.plus_minus", "2 deg", "3 deg") in found
    assert ("area.csv, line 4", "400,1200", "400,1000") in found
    assert [key for key, _, _ in found if key.startswith("other.yaml, line ")]
    with made_up.in_place():
        ran = command("change", *(tmp_path / n / "e.yaml" for n in names), out=tmp_path / "o")
    assert "  area.csv, line 4: 400,1200 -> 400,1000" in ran.said


def test_changed_keys():
    old = {"a": {"b": "1 mm", "c": [1, 2]}, "gone": True}
    new = {"a": {"b": "2 mm", "c": [1, 2]}, "come": {"d": [1, {"e": 2}]}}
    assert changed_keys(old, new) == [
        ("a.b", "1 mm", "2 mm"),
        ("gone", "True", "-"),
        ("come", "-", "{d: [1, {e: 2}]}"),
    ]
