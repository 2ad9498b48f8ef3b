"""What the engine file says about pulls where the data cannot, and columns that stand in."""

import numpy as np
import pytest
from tests import made_up
from tests.conftest import DEMO
from tests.made_up_pulls import AIR, HIDDEN, SPEEDS, dry, figures, j1349, section, write
from tests.printed import command, left_aligned, right_aligned, rows_of

import aircolumn
from aircolumn.measured.calibration import with_values


def test_single_pulls_say_that_nothing_is_proved(demo, tmp_path):
    paths = []
    for name in ("long", "short"):
        path = write(tmp_path, demo, name, drop=("oil [degC]", "humidity [%]"))
        lines = path.read_text().splitlines(keepends=True)
        path.write_text("".join(lines[: 2 + SPEEDS.size]))
        paths.append(f"{name}={path}")
    with made_up.in_place():
        ran = command("pull", DEMO, *paths, out=tmp_path / "o")
    words = " ".join(ran.said.split())
    assert "Not logged, so it cannot be shown that they were the same: oil." in words
    assert "No pull was repeated, so it cannot be shown that a difference in torque is real." in words
    assert "Torque corrected to SAE J1349; one pull, so no interval." in words
    assert "drifts" not in words
    assert "repeated pulls it may mean nothing" in words or "is comparable" in words
    assert "humidity is neither logged nor stated: intake.ambient is taken" in words
    _, rows = right_aligned(section(ran, "long, measured and predicted"), "rpm")
    assert {row[2] for row in rows} == {"-"}
    table = left_aligned(section(ran, "Like for like?"), "channel")
    assert ["oil", "8 K", "", "", "not logged"] in table


def with_notes(folder, notes):
    path = folder / "engine.yaml"
    path.write_text(f"{DEMO.read_text()}\npull: {notes}\n")
    return path


def test_air_stated_in_the_engine_file(demo, tmp_path):
    data = write(tmp_path, demo, "long", drop=("inlet air [degC]", "barometer [kPa]", "humidity [%]"))
    engine = with_notes(tmp_path, "{barometer: 98 kPa, inlet_air: 28 degC, humidity: 35 %}")
    with made_up.in_place():
        command("pull", engine, f"long={data}", out=tmp_path / "o")
    (row, *_) = rows_of(tmp_path / "o" / "pull.csv")
    found = [float(row[h]) for h in ("pressure [kPa]", "temperature [degC]", "humidity [%]", "correction")]
    assert found == pytest.approx([98.0, 28.0, 35.0, j1349("long")], rel=2e-4)


def test_lambda_alone_is_an_air_fuel_ratio(demo, tmp_path):
    from aircolumn.measured.measured_curve import stoichiometric_of

    path = write(tmp_path, demo, "long")
    stoichiometric = stoichiometric_of(demo.engine)
    assert 14.0 < stoichiometric < 15.0
    lines = path.read_text().replace(",AFR,", ",lambda,").splitlines()
    cells = [line.split(",") for line in lines]
    for row in cells[2:]:
        row[5] = f"{float(row[5]) / stoichiometric:.12g}"
    path.write_text("\n".join(map(",".join, cells)) + "\n")
    with made_up.in_place():
        command("pull", DEMO, f"long={path}", out=tmp_path / "o")
    (row, *_) = rows_of(tmp_path / "o" / "pull.csv")
    assert float(row["air-fuel ratio"]) == pytest.approx(13.02, rel=1e-9)


@pytest.mark.parametrize("fuel", ["gasoline", "e85"])
def test_a_gauge_that_shows_lambda_times_a_ratio(demo, tmp_path, fuel):
    """13.02 on a gauge that has 14.7 at lambda 1 is lambda 0.886 of any fuel; not stated, the
    column is kilograms, and for a fuel far from 14.7 the report asks."""
    from aircolumn.measured.measured_curve import stoichiometric_of

    path = write(tmp_path, demo, "long")
    text = DEMO.read_text().replace("fuel: gasoline", f"fuel: {fuel}")
    stated = "pull: {columns: {air_fuel_ratio: {name: AFR, at_lambda_one: 14.7}}}\n"
    said = {}
    for name, more in (("plain", ""), ("stated", stated)):
        (tmp_path / f"{name}.yaml").write_text(text + more)
        with made_up.in_place():
            ran = command("pull", tmp_path / f"{name}.yaml", f"long={path}", out=tmp_path / name)
        (row, *_) = rows_of(tmp_path / name / "pull.csv")
        said[name] = float(row["air-fuel ratio"]), ran.said
    own = stoichiometric_of(aircolumn.load(tmp_path / "stated.yaml").engine)
    assert said["plain"][0] == pytest.approx(13.02, rel=1e-9)
    assert said["stated"][0] == pytest.approx(13.02 * own / 14.7, rel=1e-7)
    assert f"14.7 on the gauge is lambda 1, which is {own:.2f} of this fuel" in said["stated"][1]
    asked = "if the gauge shows lambda times a fixed ratio" in " ".join(said["plain"][1].split())
    assert asked == (fuel == "e85")


def test_without_a_range_of_interest_means_are_over_all_speeds(pull_files, tmp_path):
    rows = [r for r in DEMO.read_text().splitlines() if "interest_" not in r]
    (tmp_path / "e.yaml").write_text("\n".join(rows) + "\n")
    with made_up.in_place():
        data = f"long={pull_files['long']}"
        ran = command("pull", tmp_path / "e.yaml", data, out=tmp_path / "o")
    assert f"From {SPEEDS[0]:.0f} to {SPEEDS[-1]:.0f} rpm" in ran.said
    assert len(ran.pictures["pull.png"].axes) == 3  # nothing to compare with


def test_torque_from_power(demo, pull_files, tmp_path):
    """P = T omega; 1 kW = 1000 W."""
    lines = pull_files["long"].read_text().replace("torque [N m]", "power [kW]").splitlines()
    cells = [line.split(",") for line in lines]
    for row in cells[2:-1]:
        row[3] = f"{float(row[3]) * float(row[2]) * np.pi / 30.0 * 1e-3:.12g}"
    path = tmp_path / "power.csv"
    path.write_text("\n".join(map(",".join, cells)) + "\n")
    with made_up.in_place():
        for name, data in (("one", path), ("other", pull_files["long"])):
            ran = command("pull", DEMO, f"long={data}", out=tmp_path / name)
            assert ("- torque from power and speed" in ran.said) == (name == "one")
    one, other = (rows_of(tmp_path / n / "pull.csv") for n in ("one", "other"))
    for a, b in zip(one, other, strict=True):
        assert float(a["torque observed [N m]"]) == pytest.approx(float(b["torque observed [N m]"]), rel=1e-9)


def test_stated_and_wanted_standards_and_missing_prediction(demo, pull_files, tmp_path):
    engine = with_notes(tmp_path, "{stated: j607}")
    with made_up.in_place(missing=(3000.0,)):
        ran = command(
            "pull", engine, f"long={pull_files['long']}", "--standard", "iso1585", out=tmp_path / "o"
        )
    assert ran.code == 1
    assert "long: torque is corrected to SAE J607: so states the engine file (pull.stated)." in ran.said
    assert "Torque corrected to ISO 1585, spark ignition" in " ".join(ran.said.split())
    assert "  no prediction at 3000 rpm: at 3000 rpm made up to fail" in ran.said
    t, pd = AIR["long"][1], dry("long")
    j607 = 29.92 * 3386.389 / pd * ((1.8 * (t - 273.15) + 492.0) / 520.0) ** 0.5
    iso = (99e3 / pd) ** 1.2 * ((t - 0.15) / 298.0) ** 0.6
    true = figures(with_values(demo.with_runner("long"), HIDDEN), "long", "torque")
    for row, written in zip(rows_of(tmp_path / "o" / "pull.csv"), true, strict=True):
        assert float(row["torque observed [N m]"]) == pytest.approx(written / j607, rel=2e-4)
        assert float(row["torque corrected [N m]"]) == pytest.approx(written / j607 * iso, rel=2e-4)
        assert float(row["correction"]) == pytest.approx(iso, rel=2e-4)
        assert (row["torque predicted, corrected [N m]"] == "") == (row["rpm"] == "3000")


def test_many_omissions_are_told_as_ranges_of_lines(demo, tmp_path):
    path = write(tmp_path, demo, "long")
    path.write_text(path.read_text() + "3,1,2\n" * 15)
    with made_up.in_place():
        ran = command("pull", DEMO, f"long={path}", out=tmp_path / "o")
    assert "left out: 16 rows, 0 single cells" in ran.said
    assert "  lines 36 to 51: " in ran.said or "  lines 37 to 51: " in ran.said
    assert len(rows_of(tmp_path / "o" / "omitted.csv")) == 2
