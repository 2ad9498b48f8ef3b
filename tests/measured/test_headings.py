"""Blocks of headings as loggers and labs write them (made up from common practice): each is read, or answered
by what is missing and what comes nearest."""

from typing import get_args

import numpy as np
import pytest
from tests.conftest import DEMO
from tests.edited import demo_with
from tests.machine import allowed
from tests.printed import command

import aircolumn
from aircolumn.engine.description.measured import ChannelName, Measured
from aircolumn.errors import InputError
from aircolumn.measured.logs.channels import CHANNELS
from aircolumn.measured.logs.columns import NAMES, understood
from aircolumn.measured.logs.days import as_one_file
from aircolumn.measured.logs.guess import guessed
from aircolumn.measured.logs.reading import read_pulls
from aircolumn.measured.repeats import planned_test, pulls_needed

RPM, TORQUE = (2000.0, 2500.0, 3000.0, 3500.0), 200.0  # N m
POWER = [TORQUE * n * np.pi / 30e3 for n in RPM]  # kW
#: headings, and factors from rev/min, N m and kW to what stands below them ("": another column)
BLOCKS = [
    ("n [1/min];M [Nm]", "nM"),
    ("n / min-1;Md / Nm;Pe / kW", "nMP"),
    ("Drehzahl [U/min];Drehmoment [Nm];Leistung [kW]", "nMP"),
    ("Motordrehzahl (1/min);Motormoment (Nm)", "nM"),
    ("Drehzahl;Moment;Luftdruck;Ansauglufttemperatur\nU/min;Nm;mbar;°C", "nMbt"),
    ("n_mot [Upm];Md [Nm];Öltemperatur [°C];Kühlmitteltemperatur [°C]", "nMtt"),
    ("Zeit [s];Drehzahl [1/min];Leistung [PS]", "tnS"),
    ("Lauf;Drehzahl U/min;Bremsmoment Nm", "1nM"),
    ("Régime [tr/min];Couple [Nm]", "nM"),
    ("Régime moteur (tr/min);Puissance (ch)", "nS"),
    ("Temps [s];Régime;Couple moteur;Pression atmosphérique\ns;tr/min;N.m;hPa", "tnMb"),
    ("regime tr/min;couple daNm", "nD"),
    ("Giri motore [giri/min];Coppia [Nm]", "nM"),
    ("Regime [rpm];Potenza [CV];Temperatura olio [°C]", "nSt"),
    ("Régimen [rpm];Par motor [Nm];Potencia [kW]", "nMP"),
    ("Velocidad [rpm];Par [kgm]", "nK"),
    ("RPM,Torque (lb-ft),Power (hp)", "nLH"),
    ("Engine Speed [rpm],Torque [ft·lb]", "nL"),
    ("EngSpd,EngTrq\nrpm,Nm", "nM"),
    ("eng_rpm;brake_torque_Nm;lambda", "nMl"),
    ("Time (sec),RPM,TQ Nm,AFR,Oil Temp (F)", "tnMaf"),
    ("# logger export\n\nRun\tSpeed [rpm]\tTq [Nm]", "1nM"),
    ("Engine RPM|Corrected power kW|Baro kPa", "nPk"),
    ("n;P\n1/min;kW", "nP"),
    ("N [r/min];T [Nm]", "nM"),
    ("n_mot;M_d [Nm];P_e [kW]", "nMP"),
    ('"Drehzahl [min⁻¹]";"Moment [N·m]"', "nM"),
    ("Messung;Zeit in s;Drehzahl in 1/min;Drehmoment in Nm", "1tnM"),
    ("Umdrehungen;Kraft [N]", None),
    ("Speed [km/h];Drehmoment [Nm]", None),
    ("rpm;Md", None),
    ("λ;n [1/min];M [Nm]", "lnM"),
]
FIGURES = {
    "n": RPM,
    "M": [TORQUE] * 4,
    "P": POWER,
    "S": [p / 0.73549875 for p in POWER],
    "H": [p / 0.745699872 for p in POWER],
    "L": [TORQUE / 1.3558179483] * 4,
    "D": [TORQUE / 10.0] * 4,
    "K": [TORQUE / 9.80665] * 4,
    "t": [22.0, 23.0, 24.0, 25.0],
    "f": [180.0, 181.0, 182.0, 183.0],
    "b": [985.0] * 4,
    "k": [98.5] * 4,
    "l": [0.9] * 4,
    "a": [13.0] * 4,
    "1": [1.0] * 4,
}


def block(folder, head, kinds, name="log.csv"):
    separator = max(";\t|,", key=head.splitlines()[-1].count)
    rows = zip(*(FIGURES[k] for k in kinds), strict=True)
    lines = [separator.join(f"{v:.6f}" for v in row) for row in rows]
    path = folder / name
    path.write_text("\n".join([head, *lines]) + "\n", encoding="utf-8")
    return path


def test_there_are_thirty():
    assert len(BLOCKS) >= 30


@pytest.mark.parametrize(("head", "kinds"), BLOCKS)
def test_read_or_answered(head, kinds, tmp_path):
    notes = Measured.model_validate({"stated": "observed"})
    if kinds is not None:
        found = read_pulls(block(tmp_path, head, kinds), notes).pulls[0].readings
        assert found["rpm"] == pytest.approx(np.array(RPM), abs=1e-3)
        assert found["torque"] == pytest.approx(np.full(4, TORQUE), rel=1e-5)
        return
    path = block(tmp_path, head, "nM")
    with pytest.raises(InputError) as told:
        read_pulls(path, notes)
    said = str(told.value)
    assert "torque" in said or "engine speed" in said
    assert "nearest" in said or "names no unit" in said or "not a unit" in said, said


def test_every_channel_has_a_name_and_can_be_mapped():
    assert set(NAMES) == set(CHANNELS) == set(get_args(ChannelName))


@pytest.mark.parametrize(
    ("heading", "below", "channel"),
    [
        ("Injector pulse width [ms]", "", "pulse_width"),
        ("PW", "ms", "pulse_width"),
        ("PW [kW]", "", "power"),
        ("Einspritzzeit [ms]", "", "pulse_width"),
        ("Temps d'injection (ms)", "", "pulse_width"),
        ("Injector duty [%]", "", None),
        ("Time [ms]", "", "time"),
    ],
)
def test_pulse_widths_and_what_is_near_them(heading, below, channel):
    assert guessed(heading, below)[0] == channel


def test_columns_says_what_is_missing_and_what_is_near(tmp_path):
    path = block(tmp_path, "n [1/min];Torqe [Nm];Luftdruck [mbar];Bemerkung", "nMbl")
    found = understood(path, Measured())
    assert [(h.channel, h.unit) for h in found.headings[:3:2]] == [("rpm", "rpm"), ("barometer", "mbar")]
    assert found.missing["torque"] == "Torqe [Nm]"
    assert "torque or power is not in it" in found.refused
    assert found.missing["coolant"] == ""
    assert not found.usable


def test_the_mapping_is_read_back(tmp_path):
    """pull --columns, its file corrected and named in the engine file; then the log is read."""
    log = block(tmp_path, "Umdrehungen [1/min];Bremse [Nm];Öl", "nMt")
    shown = command("pull", DEMO, log, "--columns", out=tmp_path / "o", only_given=False)
    assert shown.code == 0, shown.complaints
    assert "missing: engine speed (needed)" in shown.said
    mapping = (shown.out / "pull-columns.yaml").read_text(encoding="utf-8")
    assert "#  rpm:" in mapping
    rpm, torque = "{name: 'Umdrehungen [1/min]', unit: rpm}", "{name: 'Bremse [Nm]'}"
    (tmp_path / "cell.yaml").write_text(f"columns:\n  rpm: {rpm}\n  torque: {torque}\n")
    path = demo_with(tmp_path)
    path.write_text(path.read_text() + "\npull: {columns: cell.yaml}\n")
    notes = aircolumn.load(path).engine.pull
    assert read_pulls(log, notes).pulls[0].readings["torque"] == pytest.approx(np.full(4, TORQUE))
    assert understood(log, notes).usable
    (tmp_path / "cell.yaml").write_text("columns: {rpm: x}\nmore: 1\n")
    with pytest.raises(InputError, match=r"cell\.yaml.*one group 'columns:'"):
        aircolumn.load(path)


def test_several_days_are_one(tmp_path):
    first = block(tmp_path, "n [1/min];M [Nm];Luftdruck [mbar];Lambda", "nMbl", "monday.csv")
    second = block(tmp_path, "n [1/min];M [Nm];Luftdruck [mbar]", "nMb", "tuesday.csv")
    found = as_one_file([read_pulls(path) for path in (first, second)])
    assert len(found.pulls) == 2
    assert [f.path.name for f in found.files] == ["monday.csv", "tuesday.csv"]  # for a page's inputs
    assert "lambda" not in found.columns
    assert found.pulls[1].readings["barometer"] == pytest.approx(np.full(4, 98.5e3))
    assert "2 files together: monday.csv (1 pull), tuesday.csv (1 pull)" in found.remarks
    assert "not in all of them, so not used: lambda" in found.remarks


def test_pulls_needed_by_formula():
    """2 (1.95996 + 0.84162)^2 = 15.698 (tables of the normal distribution)."""
    assert pulls_needed(1.0, 1.0) == 16
    assert pulls_needed(1.0, 0.5) == 4
    assert pulls_needed(1.0, 0.1) == 3
    plan = planned_test(["a", "b"], 0.01, 0.01)
    assert (plan.order, plan.blocks) == (["a", "b", "a"], [8, 16, 8])


def test_log_sheets_are_read_back(tmp_path):
    found = command(
        "logsheet", DEMO, "--show", "0.5 %", "--scatter", "0.4 %", out=tmp_path / "o", only_given=False
    )
    assert found.code == 0, found.complaints
    assert "11 pulls of each manifold" in found.said
    assert "short: 5 pulls again" in found.said or "short: 6 pulls" in found.said
    blank = (found.out / "logsheet-long.csv").read_text()
    rows = "".join(f"1,{k},{n},200,0.9,20,90,95,25,99,40,100,200,15\n" for k, n in enumerate(RPM))
    (tmp_path / "filled.csv").write_text(blank + rows)
    read = read_pulls(tmp_path / "filled.csv")
    assert len(read.columns) == 14
    assert not read.unused
    for units in ("us",):
        us = command("logsheet", DEMO, "--units", units, out=tmp_path / units, only_given=False)
        (tmp_path / "us.csv").write_text((us.out / "logsheet-long.csv").read_text() + rows)
        assert len(read_pulls(tmp_path / "us.csv").columns) >= 12


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--show", "0.05 %"], "takes 1570 pulls of each manifold"),
        (["--show", "1"], "has no unit"),
        (["--scatter", "80 %"], "from 0.01 % to 50 %"),
    ],
)
def test_wrong_log_sheets(tmp_path, arguments, said):
    found = command("logsheet", DEMO, *arguments, out=tmp_path / "o", only_given=False)
    assert found.code == 2
    assert said in found.complaints


@pytest.mark.slow
def test_a_million_rows(tmp_path):
    """Read and cut into cycles within 5 s and 1 GB (0.7 s and 0.4 GB where this was written)."""
    import subprocess
    import sys

    rng = np.random.default_rng(0)
    table = np.column_stack([0.5 * np.arange(1_000_000), 99.0 + rng.normal(size=(1_000_000, 3))])
    path = tmp_path / "long.csv"
    head = "crank angle [deg],p cyl [kPa],p port [kPa],p plenum [kPa]"
    np.savetxt(path, table, delimiter=",", header=head, comments="", fmt="%.4f")
    script = (
        "import sys, time; from aircolumn.engine.description.traces import Traces;"
        "from aircolumn.measured.traces.table import read_trace_table as r;"
        "from aircolumn.measured.traces.cycles import cycles_of;"
        "start = time.process_time(); n = cycles_of(r(sys.argv[1]), Traces(), 4000.0).count;"
        # VmHWM, as ru_maxrss of a process begins with that of the one it was started from.
        "peak = [x.split()[1] for x in open('/proc/self/status') if x.startswith('VmHWM')][0];"
        "print(n, time.process_time() - start, peak)"
    )
    run = [sys.executable, "-c", script, str(path)]
    found = subprocess.run(run, capture_output=True, text=True, timeout=allowed(60.0))
    count, seconds, kilobytes = found.stdout.split()
    assert count == "694", found.stderr
    assert float(seconds) < 5.0
    assert float(kilobytes) < 1e6
