"""Where an engine runs, and the standard it is compared by: what they bring, and what they leave alone."""

import pytest
from tests.conftest import DEMO

from aircolumn import load
from aircolumn.engine.description.installed import BACK, DROP, REFERENCE_AIR
from aircolumn.engine.description.reader import described
from aircolumn.engine.description.units import to_si
from aircolumn.engine.model.operating_point import operating_point
from aircolumn.engine.uncertain.inputs import assumed
from aircolumn.errors import InputError
from aircolumn.measured.atmosphere import STANDARDS, Atmosphere, factor
from aircolumn.output.check.text import check_text

AMBIENT = "  ambient: {pressure: 99 kPa, temperature: 25 degC, humidity: 40 %}\n"


def written(folder, head="", *changes):
    text = DEMO.read_text()
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    path = folder / "engine.yaml"
    path.write_text(f"{head}\n{text}")
    return load(path)


def test_a_vehicle_breathes_through_filter_and_silencer(tmp_path):
    engine = written(tmp_path, "installation: vehicle").engine
    kinds = [next(iter(one.model_dump(exclude_none=True))) for one in engine.intake.inlet]
    assert kinds == ["pipe", "airbox", "filter", "pipe"]
    assert engine.intake.inlet[2].filter.pressure_drop == 1e3 * DROP["vehicle"]
    outlet, top = engine.exhaust.outlet, engine.speeds.stop
    assert outlet.pressure_at(top, 99e3) == pytest.approx(99e3 + 1e3 * BACK["vehicle"])
    assert outlet.pressure_at(0.5 * top, 99e3) == pytest.approx(99e3 + 250.0 * BACK["vehicle"])


def test_open_pipes_have_neither(tmp_path):
    engine = written(tmp_path, "installation: open").engine
    assert engine.intake.inlet is None
    assert engine.exhaust.outlet.pressure_at(6000.0, 99e3) == 99e3


def test_each_installation_costs_torque(tmp_path):
    """In this order on any engine (common practice, no source)."""
    found = {
        place: operating_point(written(tmp_path, f"installation: {place}").engine, 5500.0).figures["torque"]
        for place in ("open", "test-stand", "vehicle")
    }
    assert found["open"] > 1.005 * found["test-stand"] > 1.01 * found["vehicle"]


def test_what_is_stated_stays(tmp_path):
    own = ("exhaust:\n", "exhaust:\n  outlet: {pressure: 103 kPa}\n")
    inlet = ("intake:\n", "intake:\n  inlet: null\n")
    engine = written(tmp_path, "installation: vehicle", own, inlet).engine
    assert engine.intake.inlet is None
    assert engine.exhaust.outlet.pressure_at(3000.0, 99e3) == 103e3


def test_what_it_brings_has_spreads_of_its_own(tmp_path):
    def keys(head):
        one = next(iter(written(tmp_path, head).candidates.values()))
        return [row.key for row in assumed(one)]

    told, untold = keys("installation: vehicle"), keys("")
    assert "exhaust.outlet.pressure" in untold
    assert "intake.inlet" in untold
    assert "exhaust.outlet.pressure" not in told
    assert "intake.inlet" not in told
    assert sum("of the installation" in key for key in told) == 2
    assert not any("of the installation" in key for key in untold + keys("installation: open"))


@pytest.mark.parametrize("head", ["installation: vehicle", "rating: iso1585", "rating: j607"])
def test_data_of_a_case_can_be_read_again(tmp_path, head):
    description = written(tmp_path, head, *([(AMBIENT, "")] if "rating" in head else []))
    data = next(iter(description.candidates.values())).data
    again = described(description.source.with_data(data)).engine
    assert again.intake.ambient == description.engine.intake.ambient
    assert again.exhaust.outlet == description.engine.exhaust.outlet


def test_check_says_what_came(tmp_path):
    text = check_text(written(tmp_path, "installation: vehicle"))
    assert "vehicle: exhaust.outlet: back pressure 15 kPa at 6000 rpm" in text
    text = check_text(written(tmp_path, "rating: iso1585", (AMBIENT, "")))
    assert "iso1585: intake.ambient: pressure 99 kPa, temperature 25 degC" in text


@pytest.mark.parametrize("name", STANDARDS)
def test_at_its_own_air_a_standard_corrects_nothing(name):
    """60 degF are 519.67 degR, J607 has 520: hence the tolerance of a third of a thousandth."""
    air = REFERENCE_AIR[name]
    p, t = to_si(air["pressure"], "pressure"), to_si(air["temperature"], "temperature")
    assert factor(name, Atmosphere(p, t, 0.0)) == pytest.approx(1.0, abs=7e-4)


@pytest.mark.parametrize(
    ("head", "changes", "said"),
    [
        ("rating: iso1585", (), "leave out intake.ambient, or the rating"),
        ("rating: iso", ((AMBIENT, ""),), "rating"),
        ("installation: garage", (), "installation"),
        ("", (("exhaust:\n", "exhaust:\n  outlet: {back_pressure: 5 kPa}\n"),), "needs the engine speed"),
        (
            "",
            (("exhaust:\n", "exhaust:\n  outlet: {back_pressure: 5 kPa, at: 6000 rpm, pressure: 1 bar}\n"),),
            "not both",
        ),
    ],
)
def test_wrong_ones_are_told(tmp_path, head, changes, said):
    with pytest.raises(InputError, match=said):
        written(tmp_path, head, *changes)
