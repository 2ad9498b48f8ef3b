"""Results in one set of units, on the screen, in pictures and in CSV files; NetCDF stays SI."""

import csv
import re
from contextlib import suppress
from itertools import pairwise
from time import process_time

import numpy as np
import pint
import pytest
import xarray as xr
from hypothesis import given
from hypothesis import strategies as st
from tests import made_up
from tests.conftest import CLASSROOM, DEMO
from tests.machine import allowed
from tests.made_up_pulls import write
from tests.printed import command, right_aligned, rows_of
from tests.studies import HEAD, SPEEDS

import aircolumn
from aircolumn.display_units import KINDS, SETS, choose, chosen, counted, unit
from aircolumn.engine.description.units import UNITS, to_si
from aircolumn.errors import clean, printable
from aircolumn.output.data_files import harmless

#: kind: what its units are to pint, the SI unit first (a reference library)
PINT = {
    "torque": ("N*m", "N*m", "lbf*ft"),
    "power": ("W", "kW", "hp"),
    "mean pressure": ("Pa", "bar", "psi"),
    "pressure": ("Pa", "kPa", "psi"),
    "depression": ("Pa", "kPa", "inH2O"),
    "length": ("m", "mm", "in"),
    "area": ("m^2", "mm^2", "in^2"),
    "volume": ("m^3", "cm^3", "in^3"),
    "large volume": ("m^3", "L", "in^3"),
    "volume flow": ("m^3/s", "L/s", "cfm"),
    "temperature": ("K", "degC", "degF"),
    "velocity": ("m/s", "m/s", "ft/s"),
    "air flow": ("kg/s", "g/s", "lb/min"),
    "fuel per work": ("kg/J", "g/kWh", "lb/hp/hour"),
    "work": ("J", "kJ", "Btu"),
    "mass": ("kg", "mg"),
    "energy": ("J", "J"),
    "temperature difference": ("delta_degC", "delta_degC", "delta_degF"),
}


@pytest.fixture(scope="module")
def library():
    units = pint.UnitRegistry(cache_folder=None)
    units.define("PS = 735.49875 * watt")  # 75 kgf m/s
    units.define("cfm = foot**3 / minute")
    if "inH2O" not in units:
        units.define("inH2O = 249.08891 * pascal")
    return units


@pytest.fixture(autouse=True)
def metric_again():
    yield
    choose(None)


@pytest.mark.parametrize("kind", PINT)
def test_units_against_a_unit_library(kind, library):
    si, *names = PINT[kind]
    assert len(names) == len(KINDS[kind])
    for shown, name in zip(KINDS[kind], names, strict=True):
        for value in (0.3, 291.7, 5.1e5):
            due = library.Quantity(value, si).to(name).magnitude
            assert float(shown.of(value)) == pytest.approx(due, rel=1e-5)  # horsepowers differ less


#: kind: its SI unit to pint, as the program uses it (angles in degrees, speeds in rev/min)
SI = {
    "length": "m",
    "area": "m^2",
    "volume": "m^3",
    "volume flow": "m^3/s",
    "pressure": "Pa",
    "temperature": "K",
    "temperature difference": "delta_degC",
    "angle": "deg",
    "speed of rotation": "revolution/minute",
    "heat-transfer coefficient": "W/m^2/K",
    "share": "dimensionless",
    "torque": "N*m",
    "power": "W",
    "mass": "kg",
    "density": "kg/m^3",
    "velocity": "m/s",
    "mass flow": "kg/s",
    "time": "s",
    "voltage": "V",
    "specific energy": "J/kg",
    "pressure per speed": "Pa*s/m",
    "pressure per speed squared": "Pa*s^2/m^2",
}
#: what pint calls otherwise, or takes for something else
OTHERWISE = {
    "%": "percent",
    "cc": "cm^3",
    "ccm": "cm^3",
    "cu in": "inch^3",
    "cid": "inch^3",
    "ci": "inch^3",
    "sq in": "inch^2",
    "r/min": "revolution/minute",
    "rev/min": "revolution/minute",
    "1/min": "revolution/minute",
    "Hz": "revolution/s",
    "1/s": "revolution/s",
    "rev/s": "revolution/s",
    "kg m": "kgf*m",
    "lbs": "lb",
    "Nm": "N*m",
    "Btu/lb": "Btu_it/lb",
    "torr": "mmHg",
    "W/m2K": "W/m^2/K",
    "litre": "liter",
}


def in_pint(name: str, kind: str) -> str:
    """A unit in the library's spelling."""
    name = name.replace("in Hg", "inHg").replace("in H2O", "inH2O")
    if name in OTHERWISE:
        return OTHERWISE[name]
    top, *rest = name.split("/", 1)
    top = OTHERWISE.get(top, top)
    for power in "23":
        top = re.sub(rf"^(\w*[a-zA-Z]){power}$", rf"\1^{power}", top) if top != "inH2O" else top
        rest = [re.sub(rf"([a-zA-Z]){power}", rf"\1^{power}", r) for r in rest]
    text = "/".join([top.replace(" ", "*"), *(r.replace(" ", "*") for r in rest)])
    text = re.sub(r"s2\b", "s^2", text)
    if kind == "temperature difference" and name != "K":
        return f"delta_{name}"
    return text.replace("lbs", "lb").replace("sec", "s").replace("hr", "hour")


def test_every_unit_of_the_file_against_a_unit_library(library):
    assert set(SI) == set(UNITS)
    for kind, units in UNITS.items():
        for name in units:
            for value in (0.25, 37.0):
                due = library.Quantity(value, in_pint(name, kind)).to(SI[kind]).magnitude
                found = to_si(f"{value} {name}", kind)
                assert found == pytest.approx(due, rel=2e-5), (kind, name)


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("50 Hz", "speed of rotation", 3000.0),
        ("50 1/s", "speed of rotation", 3000.0),
        ("430 mm", "length", 0.43),
        ("  430   mm ", "length", 0.43),
        ("5e2mm^2", "area", 5e-4),
        ("2 N*m", "torque", 2.0),
        ("9 bar*s^2/m^2", "pressure per speed squared", 9e5),
        ("25 W/(m^2*K)", "heat-transfer coefficient", 25.0),
    ],
)
def test_spellings_that_are_read(text, kind, value):
    assert to_si(text, kind) == pytest.approx(value)


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("4 %", "angle"),
        ("2 mm/mm", "angle"),
        ("40 deg", "share"),
        ("1 kWh", "torque"),
        ("20 delta_degC", "temperature"),
        ("430 9**9**9**9", "length"),
        ("1 J", "torque"),
        ("430 mm*10**100000000", "length"),
        ("1 " + 20000 * " " + "x", "length"),
        ("1e400 mm", "length"),
        ("1e305 MPa", "pressure"),
    ],
)
def test_what_is_no_unit_of_the_kind_is_refused_at_once(text, kind):
    start = process_time()
    with pytest.raises(ValueError, match="is not"):
        to_si(text, kind)
    assert process_time() - start < allowed(0.5)


@given(st.text(max_size=80), st.sampled_from(sorted(UNITS)))
def test_any_text_is_a_finite_number_or_refused(text, kind):
    with suppress(ValueError):
        assert np.isfinite(to_si(text, kind))


@given(st.text())
def test_what_is_shown_is_one_line_that_can_be_printed(text):
    assert printable(text).isprintable()
    assert clean(text).count("\n") == text.count("\n")
    cell = harmless(text)
    assert cell[:1] not in ("=", "@", "\t", "\r")
    assert printable(text) in (cell, cell[1:])


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
        ran = command("compare", DEMO, "--units", "us", "--rpm", "2500", "3500", "4500", out=tmp_path / "o")
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
    "trace": ("trace", DEMO, "--rpm", "3000"),
    "map": ("map", CLASSROOM, "--steps", "3"),
    "explain": ("explain", DEMO, "--runner", "long"),
    "check": ("check", DEMO),
    "account": ("account", DEMO, "--rpm", "3000"),
}


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
            HEAD + SPEEDS + "vary: {intake.runner.bore: {plus_minus: 0.02 in}}\ntolerance: {count: 8}\n"
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
