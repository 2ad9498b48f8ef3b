"""Results in one set of units, on the screen, in pictures and in CSV files; NetCDF stays SI."""

import csv
from itertools import pairwise

import numpy as np
import pytest
import xarray as xr
from tests import made_up
from tests.conftest import CLASSROOM, DEMO
from tests.made_up_pulls import write
from tests.printed import command, right_aligned, rows_of
from tests.studies import HEAD, SPEEDS

import aircolumn
from aircolumn.description.units import registry
from aircolumn.shown import KINDS, SETS, choose, chosen, counted, unit

#: kind: what its units are to pint, the SI unit first (a reference library)
PINT = {
    "torque": ("N*m", "N*m", "lbf*ft"), "power": ("W", "kW", "hp"),
    "mean pressure": ("Pa", "bar", "psi"), "pressure": ("Pa", "kPa", "psi"),
    "depression": ("Pa", "kPa", "inH2O"), "length": ("m", "mm", "in"),
    "area": ("m^2", "mm^2", "in^2"), "volume": ("m^3", "cm^3", "in^3"),
    "large volume": ("m^3", "L", "in^3"), "volume flow": ("m^3/s", "L/s", "cfm"),
    "temperature": ("K", "degC", "degF"), "velocity": ("m/s", "m/s", "ft/s"),
    "air flow": ("kg/s", "g/s", "lb/min"), "fuel per work": ("kg/J", "g/kWh", "lb/hp/hour"),
    "work": ("J", "kJ", "Btu"), "mass": ("kg", "mg"), "energy": ("J", "J"),
    "temperature difference": ("delta_degC", "delta_degC", "delta_degF"),
}  # fmt: skip


@pytest.fixture(autouse=True)
def metric_again():
    yield
    choose(None)


@pytest.mark.parametrize("kind", PINT)
def test_units_against_a_unit_library(kind):
    si, *names = PINT[kind]
    assert len(names) == len(KINDS[kind])
    for shown, name in zip(KINDS[kind], names, strict=True):
        for value in (0.3, 291.7, 5.1e5):
            due = registry().Quantity(value, si).to(name).magnitude
            assert float(shown.of(value)) == pytest.approx(due, rel=1e-5)  # horsepowers differ less


def test_what_is_chosen_first_counts():
    choose(None, "us", "metric")
    assert chosen() == "us"
    assert unit("power").said(745.7) == "1.0 hp"
    choose("metric", "us")
    assert unit("power").said(745.7) == "0.7 kW"
    choose(None, None)
    assert chosen() == SETS[0]


def test_no_minus_zero_and_no_false_plural():
    assert unit("torque").number(-0.04) == "0.0"
    assert unit("torque").number(-0.04, sign="+") == "+0.0"
    assert counted(1, "row") == "1 row"
    assert counted(0, "row") == "0 rows"


def with_line(folder, line):
    path = folder / "engine.yaml"
    path.write_text(f"{DEMO.read_text()}\n{line}\n")
    return path


@pytest.fixture
def no_wish(monkeypatch):
    monkeypatch.delenv("AIRCOLUMN_UNITS", raising=False)
    return monkeypatch


def heads(ran) -> list[str]:
    return right_aligned(ran.said, "rpm")[0]


def test_option_before_environment_before_file(no_wish, tmp_path):
    file, rpm = with_line(tmp_path, "units: us"), ("--rpm", "3000", "4000")
    assert aircolumn.load(file).units == "us"
    with made_up.in_place():
        assert "torque lbf ft" in heads(command("curve", file, *rpm, out=tmp_path / "a"))
        no_wish.setenv("AIRCOLUMN_UNITS", "metric")
        assert "torque N m" in heads(command("curve", file, *rpm, out=tmp_path / "b"))
        ran = command("curve", file, *rpm, "--units", "us", out=tmp_path / "c")
        assert "torque lbf ft" in heads(ran)


def test_unknown_units_are_refused(no_wish, tmp_path, capsys):
    file = with_line(tmp_path, "units: imperial")
    assert command("check", file, out=tmp_path / "o").code == 2
    with pytest.raises(aircolumn.InputError, match="units: 'imperial' is not known here"):
        aircolumn.load(file)
    no_wish.setenv("AIRCOLUMN_UNITS", "si")
    ran = command("curve", DEMO, out=tmp_path / "o")
    assert ran.code == 2
    assert ran.complaints == "AIRCOLUMN_UNITS is 'si'; use metric or us\n"
    assert not (tmp_path / "o").exists()


def test_the_same_unit_on_screen_in_the_picture_and_in_the_table(no_wish, tmp_path):
    with made_up.in_place():
        ran = command("compare", DEMO, "--units", "us", "--rpm", "2500", "3500", "4500",
                      out=tmp_path / "o")  # fmt: skip
    data = xr.load_dataset(tmp_path / "o" / "compare.nc")
    assert data.torque.attrs["units"] == "N m"
    row = rows_of(tmp_path / "o" / "compare.csv")[0]
    pounds = float(data.torque[0, 0]) * 0.7375621493
    assert float(row["torque [lbf ft]"]) == pytest.approx(pounds)
    assert float(row["bmep [psi]"]) == pytest.approx(float(data.bmep[0, 0]) / 6894.757293)
    assert f"{pounds:.1f}" in ran.said
    assert "mean torque from 2500 to 4000 rpm, lbf ft" in ran.said
    _, torque, power = ran.pictures["compare.png"].axes
    assert torque.get_ylabel() == "brake torque, lbf ft\n(observed)"
    assert power.get_ylabel() == "brake power, hp\n(observed)"
    drawn = [y for line in torque.lines for y in np.ravel(line.get_ydata())]
    assert min(abs(np.array(drawn, dtype=float) - pounds)) < 1e-6


COMMANDS = {
    "trace": ("trace", DEMO, "--rpm", "3000"), "map": ("map", CLASSROOM, "--steps", "3"),
    "explain": ("explain", DEMO, "--runner", "long"), "check": ("check", DEMO),
    "account": ("account", DEMO, "--rpm", "3000"),
}  # fmt: skip


def said_and_drawn(ran) -> str:
    """Everything a reader sees: text, pictures, tables."""
    texts = [ran.said]
    for fig in ran.pictures.values():
        for panel in fig.axes:
            texts += [panel.get_title(), panel.get_xlabel(), panel.get_ylabel()]
            texts += [t.get_text() for t in panel.texts]
    for table in ran.out.glob("*.csv"):
        if table.name.endswith("-area.csv"):  # to be read again, by this or by another program
            continue
        with open(table, newline="") as file:
            texts += next(csv.reader(file))
    return "\n".join(texts)


@pytest.mark.parametrize("name", [*COMMANDS, "pull", "tolerance"])
def test_no_metric_unit_is_left_anywhere(name, no_wish, tmp_path, demo):
    arguments = COMMANDS.get(name)
    if name == "pull":
        arguments = ("pull", DEMO, f"long={write(tmp_path, demo, 'long')}")
    if name == "tolerance":
        (tmp_path / "s.yaml").write_text(
            HEAD + SPEEDS + "vary: {intake.runner.bore: {plus_minus: 0.02 in}}\n"
            "tolerance: {count: 8}\n"
        )
        arguments = ("study", tmp_path / "s.yaml")
    with made_up.in_place():
        ran = command(*arguments, "--units", "us", out=tmp_path / "o")
    assert ran.code == 0
    text = said_and_drawn(ran)
    if name == "pull":  # what the logger wrote is told as it wrote it
        text = text[text.index("long, measured and predicted") :]
    words = text.replace("[", " ").replace("]", " ").replace(",", " ").replace("(", " ").split()
    assert not {"kPa", "kW", "mm", "bar", "m/s", "mm2", "cm3", "g/s", "degC"} & set(words)
    assert not any(a == "N" and b == "m" for a, b in pairwise(words))
    assert {"lbf", "hp", "psi", "in", "ft/s", "VE"} & set(words)
