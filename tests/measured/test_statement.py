"""Torque is taken as it was meant: never corrected twice, never silently as observed where a log speaks of a
correction."""

import numpy as np
import pytest
from tests.conftest import DEMO
from tests.measured.test_logs import UP, torque
from tests.printed import command

from aircolumn.engine.description.measured import Measured
from aircolumn.errors import InputError
from aircolumn.measured.atmosphere import Atmosphere, factor
from aircolumn.measured.logs.reading import read_pulls
from aircolumn.measured.measured_curve import mean_of_pulls, measured_curve

AIR = Atmosphere(98.2e3, 299.15, 0.41)
WEATHER = ",Baro (kPa),Air Temp (C),Humidity (%)"
FACTORS = {name: float(factor(name, AIR)) for name in ("j1349", "j607", "din70020", "iso1585")}
#: headings by what they say: (of torque, of power or none, of the factor or none)
EXPORTS = {
    "factor alone": ("Torque (Nm)", "", "CF"),
    "factor, another word": ("Torque (Nm)", "", "Corr. Factor"),
    "corrected": ("Corrected Torque (Nm)", "", "CF"),
    "ctorque": ("SAE CTorque (Nm)", "", "CF"),
    "corrected power too": ("Corr Torque (Nm)", "Corr Power (kW)", "CF"),
    "korrigiert": ("Drehmoment korr. [Nm]", "Leistung korr. [kW]", "Korrekturfaktor"),
    "corrigé": ("Couple corrigé (Nm)", "", "Facteur de correction"),
    "corretta": ("Coppia corretta [Nm]", "", "Fattore di correzione"),
    "corregido": ("Par corregido (Nm)", "", "Factor de corrección"),
    "gecorrigeerd": ("Koppel gecorrigeerd (Nm)", "", "Correctiefactor"),
}
NAMES = {"j1349": "SAE", "j607": "STP", "din70020": "DIN", "iso1585": "EEC"}


def written(tmp_path, heads, rows):
    path = tmp_path / "export.csv"
    path.write_text(
        "\n".join([heads, *(",".join(f"{x:.4f}" for x in r) for r in rows)]) + "\n", encoding="utf-8"
    )
    return path


def weather():
    return (1e-3 * AIR.pressure, AIR.temperature - 273.15, 100.0 * AIR.humidity)


def observed(path, demo, notes=None):
    file = read_pulls(path, notes or demo.engine.pull)
    curve = measured_curve(file, demo.with_runner("long"), "long", "j1349")
    return file, mean_of_pulls(curve.observed) / torque(curve.rpm)


@pytest.mark.parametrize("standard", FACTORS)
@pytest.mark.parametrize("name", EXPORTS)
def test_exports_with_a_factor(name, standard, demo, tmp_path):
    """Forty exports: torque with the factor in it, the factor beside it (the old reading corrected again: +2
    to +6 %)."""
    head, of_power, of_factor = EXPORTS[name]
    f, heads, rows = FACTORS[standard], f"RPM,{head}", []
    heads += f",{of_power}" * bool(of_power) + f",{of_factor}{WEATHER}"
    for n, t in UP:
        power = [t * f * n * np.pi / 30e3] if of_power else []
        rows.append((n, t * f, *power, round(f, 3), *weather()))
    file, share = observed(written(tmp_path, heads, rows), demo)
    assert share == pytest.approx(1.0, abs=2e-3)
    assert file.stated == "factor"
    assert "corrected by" in file.statement.why


@pytest.mark.parametrize("standard", FACTORS)
def test_a_named_standard(standard, demo, tmp_path):
    f = FACTORS[standard]
    for head in (
        f"{NAMES[standard]} Torque (Nm)",
        f"Torque {NAMES[standard]} [Nm]",
        f"Torque (Nm, {NAMES[standard]})",
    ):
        rows = [(n, t * f, *weather()) for n, t in UP]
        path = written(tmp_path, f'RPM,"{head}"{WEATHER}', rows)
        file, share = observed(path, demo)
        assert file.stated == standard
        assert share == pytest.approx(1.0, abs=1e-3)


def test_observed_and_corrected_side_by_side(demo, tmp_path):
    """The observed column is used, whatever stands first; so it is if power alone is corrected."""
    f = FACTORS["j607"]
    rows = [(n, t * f, t, *weather()) for n, t in UP]
    for heads in ("STP Torque (Nm),Torque (Nm)", "Corrected Torque (Nm),Observed Torque (Nm)"):
        file, share = observed(written(tmp_path, f"RPM,{heads}{WEATHER}", rows), demo)
        assert (file.stated, share) == ("observed", pytest.approx(1.0, abs=1e-3))
    rows = [(n, t, t * f * n * np.pi / 30e3, *weather()) for n, t in UP]
    file, share = observed(written(tmp_path, f"RPM,Torque (Nm),STP Power (kW){WEATHER}", rows), demo)
    assert (file.stated, share) == ("observed", pytest.approx(1.0, abs=1e-3))
    assert "times torque x speed" in file.statement.why


def test_observed_says_so_and_a_factor_of_one_corrects_nothing(demo, tmp_path):
    for head in ("Uncorrected torque (Nm)", "Drehmoment gemessen [Nm]", "Couple non corrigé (Nm)"):
        rows = [(n, t, 1.05, *weather()) for n, t in UP]
        file, share = observed(written(tmp_path, f"RPM,{head},CF{WEATHER}", rows), demo)
        assert (file.stated, share) == ("observed", pytest.approx(1.0, abs=1e-3))
    rows = [(n, t, 1.0, *weather()) for n, t in UP]
    file, share = observed(written(tmp_path, f"RPM,Torque (Nm),CF{WEATHER}", rows), demo)
    assert file.statement.why == "torque is observed: the column 'CF' is 1 in every row"


def test_nothing_speaks_of_a_correction(demo, tmp_path):
    file, _ = observed(written(tmp_path, "RPM,Torque (Nm)", UP), demo)
    assert file.statement.why == "torque is taken as observed: nothing in the log speaks of a correction"


REFUSED = {
    "no standard": (
        "RPM,Corrected torque (Nm)",
        1.0,
        "says that torque is corrected, but not by which standard",
    ),
    "no formula here": ("RPM,JIS Torque (Nm)", 1.0, "by a standard that has no formula here"),
    "no match": (f"RPM,Torque (Nm),CF{WEATHER}", 1.12, "it cannot be told whether torque has it"),
    "no weather": ("RPM,Torque (Nm),CF", 1.03, "without barometer and inlet temperature"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_cannot_be_told_is_refused_with_what_to_state(name, demo, tmp_path):
    heads, f, said = REFUSED[name]
    rows = [
        (n, t * f, *([f] if "CF" in heads else []), *(weather() if "Baro" in heads else ())) for n, t in UP
    ]
    path = written(tmp_path, heads, rows)
    with pytest.raises(InputError) as error:
        read_pulls(path, demo.engine.pull)
    assert said in str(error.value)
    assert "pull.stated" in str(error.value)
    if "CF" in heads:
        notes = Measured.model_validate({"stated": "factor"})
        _, share = observed(path, demo, notes)
        assert share == pytest.approx(1.0, abs=1e-3)


def test_each_file_may_be_stated(demo, tmp_path):
    path = written(
        tmp_path, f"RPM,Torque (Nm){WEATHER}", [(n, t * FACTORS["j607"], *weather()) for n, t in UP]
    )
    notes = Measured.model_validate({"stated": {"export.csv": "j607", "other.csv": "observed"}})
    file, share = observed(path, demo, notes)
    assert share == pytest.approx(1.0, abs=1e-3)
    assert file.statement.why == "torque is corrected to SAE J607: so states the engine file (pull.stated)"


def test_wheel_torque(demo, tmp_path):
    """Levels are not compared unless the losses are stated; a gear shows in power against torque."""
    rows = [(n, 0.85 * t * 3.73, 0.85 * t * n * np.pi / 30e3) for n, t in UP]
    path = written(tmp_path, "RPM,Wheel Torque (Nm),Wheel Power (kW)", rows)
    file, share = observed(path, demo)
    assert share == pytest.approx(0.85, abs=1e-3)
    assert file.wheel
    assert not file.level_known
    assert any("3.73 times power over engine speed" in r for r in file.remarks)
    notes = Measured.model_validate({"wheel": {"losses": "15 %"}})
    file, share = observed(path, demo, notes)
    assert file.level_known
    assert share == pytest.approx(1.0, abs=1e-3)
    ran = command("pull", DEMO, f"long={path}", out=tmp_path / "o")
    words = " ".join(ran.said.split())
    assert "Its level cannot be compared with the prediction" in words
    assert "Prediction off by" not in words


#: torque as it is labelled, over what it is: (unit in the heading, factor of the figures, what is said)
STRANGE = {
    "N m as kgf m": ("kgm", 1.0, "it is N m, not kgf m"),
    "kgf m as N m": ("Nm", 1.0 / 9.80665, "it is kgf m, not N m"),
    "of one cylinder": ("Nm", 0.2, "part load, torque at the wheels, another displacement"),
    "ten times": ("Nm", 10.0, "another displacement"),
}


@pytest.mark.parametrize("name", STRANGE)
def test_what_no_engine_does_is_said_and_not_compared(name, tmp_path):
    unit, f, said = STRANGE[name]
    path = written(tmp_path, f"RPM,Torque ({unit})", [(n, t * f) for n, t in UP])
    ran = command("pull", DEMO, f"long={path}", out=tmp_path / "o")
    assert ran.code == 2
    assert "mean effective pressure" in ran.complaints
    assert said in ran.complaints
    assert "Nothing is compared" in ran.complaints
