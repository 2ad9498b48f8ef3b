"""Data files as loggers write them, well and badly."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from aircolumn.engine.description.measured import Measured
from aircolumn.errors import InputError
from aircolumn.measured.logs import log_table
from aircolumn.measured.logs.reading import read_pulls
from aircolumn.measured.measured_curve import at_speeds

LBF_FT = 1.3558179483
PLAIN = "rpm,torque [N m]\n" + "".join(f"{n},{200 + k}\n" for k, n in enumerate(range(2000, 4001, 250)))


def written(tmp_path, text, name="data.csv", encoding="utf-8"):
    path = tmp_path / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode(encoding))
    return path


def test_semicolons_decimal_commas_units_row_and_title(tmp_path):
    text = (
        "Cell 3\n# a comment\n\nRun #;Engine Speed;Tq;Power;λ;Oil Temp °F;Time\n"
        ";1/min;lb-ft;hp;;;s\n1;2000;150,5;57,31;0,88;203;0\n1;2100;151,5;60,58;0,88;203;0,5\n"
        "1;2200;152,5;63,88;0,88;203;1,0\n2;2000;149,5;56,93;0,89;205;0\n"
        "2;2100;150,5;60,18;0,89;205;0,5\n2;2200;151,5;63,46;0,89;205;1\n"
    )
    for encoding in ("utf-8", "utf-16"):
        file = read_pulls(written(tmp_path, text, encoding=encoding))
        assert [len(p.lines) for p in file.pulls] == [3, 3]
        first = file.pulls[0].readings
        assert first["torque"] == pytest.approx(LBF_FT * np.array([150.5, 151.5, 152.5]))
        assert first["oil"] == pytest.approx(368.15)
        assert first["lambda"] == pytest.approx(0.88)
        assert list(file.pulls[1].lines) == [9, 10, 11]
        assert file.columns["power"].unit == "hp"
        assert not file.omitted


def test_degree_sign_of_old_loggers(tmp_path):
    text = PLAIN.replace("]", "],oil [°C]", 1).replace("\n2", ",90\n2")
    text = text.replace(",oil [°C],90", ",oil [°C]").rstrip("\n") + ",90\n"
    file = read_pulls(written(tmp_path, text, encoding="cp1252"))
    assert file.pulls[0].readings["oil"] == pytest.approx(363.15)


def test_columns_named_in_the_engine_file(tmp_path):
    notes = Measured.model_validate(
        {
            "columns": {"rpm": "n_mot", "torque": {"name": "Md", "unit": "N m"}},
            "stated": "din70020",
        }
    )
    text = "n_mot\tMd\tT_x\n2000\t200\t1\n2500\t210\t1\n3000\t205\t1\n"
    file = read_pulls(written(tmp_path, text), notes)
    assert file.columns["torque"].how == "mapped"
    assert file.stated == "din70020"
    assert list(file.unused) == ["T_x"]
    assert file.pulls[0].readings["torque"] == pytest.approx([200, 210, 205])


def test_pulls_by_repeated_headings_and_by_restarting_speed(tmp_path):
    sweep = "".join(f"{n},{200 + n / 100}\n" for n in range(2000, 5001, 500))
    again = read_pulls(written(tmp_path, f"rpm,torque Nm\n{sweep}rpm,torque Nm\n{sweep}"))
    assert [len(p.lines) for p in again.pulls] == [7, 7]
    assert "2 pulls (the headings are repeated), from lines 2, 10" in again.remarks
    restart = read_pulls(written(tmp_path, f"rpm,torque Nm\n{sweep}\n{sweep}{sweep}"))
    assert [len(p.lines) for p in restart.pulls] == [7, 7, 7]
    assert "3 pulls (the speed starts again), from lines 2, 10, 17" in restart.remarks
    rows = sweep.splitlines(keepends=True)
    shuffled = read_pulls(written(tmp_path, "rpm,torque Nm\n" + "".join(rows[::3] + rows[1::3] + rows[2::3])))
    assert len(shuffled.pulls) == 1


def test_part_load_rows_are_left_out_and_said(tmp_path):
    text = "rpm,tq Nm,throttle %\n1800,90,40\n2000,200,96\n2500,210,100\n3000,205,100\n"
    file = read_pulls(written(tmp_path, text))
    assert [(o.line, o.whole_row) for o in file.omitted] == [(2, True)]
    assert file.omitted[0].reason == "throttle less than 95 % open: not full load"


def test_unit_of_a_mapped_column_in_any_spelling(tmp_path):
    notes = Measured.model_validate({"columns": {"torque": {"name": "Md", "unit": "lb-ft"}}})
    file = read_pulls(written(tmp_path, "rpm,Md\n2000,100\n2500,101\n3000,102\n"), notes)
    assert file.pulls[0].readings["torque"] == pytest.approx(LBF_FT * np.array([100, 101, 102]))


def test_power_stands_in_for_a_missing_torque(tmp_path):
    text = "rpm,torque [N m],power [kW]\n2000,200,41.888\n2500,,52.360\n3000,200,62.832\n"
    file = read_pulls(written(tmp_path, text))
    assert file.pulls[0].readings["torque"] == pytest.approx([200.0] * 3, rel=1e-4)
    assert not any(o.whole_row for o in file.omitted)


def test_a_sweep_of_two_rows_is_left_out_row_by_row(tmp_path):
    sweep = "".join(f"1,{n},200\n" for n in range(2000, 5001, 500))
    file = read_pulls(written(tmp_path, f"pull,rpm,tq Nm\n{sweep}2,2000,200\n2,2500,200\n"))
    assert len(file.pulls) == 1
    assert [(o.line, o.last, o.whole_row, o.reason) for o in file.omitted] == [
        (9, 10, True, "a pull of only 2 rows")
    ]


def test_a_throttle_that_cannot_be_says_nothing(tmp_path):
    text = "rpm,tq Nm,throttle %\n1800,90,-3\n2000,200,-6\n2500,210,106\n3000,205,104\n3500,200,99\n"
    file = read_pulls(written(tmp_path, text))
    assert [(o.line, o.whole_row) for o in file.omitted] == [(2, True), (3, False), (4, False)]


#: column: least and greatest reading that is taken; beyond, a cell (of rpm and torque: a row) is
#: left out
LIMITS = {
    "rpm": (100.0, 30000.0),
    "torque [N m]": (0.0, 10000.0),
    "power [kW]": (0.0, 5000.0),
    "lambda": (0.5, 2.0),
    "AFR": (3.0, 60.0),
    "fuel flow [kg/s]": (0.0, 1.0),
    "air flow [kg/s]": (0.0, 10.0),
    "spark [deg]": (-60.0, 80.0),
    "coolant [K]": (230.0, 450.0),
    "oil [K]": (230.0, 500.0),
    "inlet air [K]": (220.0, 400.0),
    "barometer [kPa]": (50.0, 120.0),
    "humidity [%]": (0.0, 100.0),
    "time [s]": (-1e6, 1e11),
}


@pytest.mark.parametrize("column", LIMITS)
def test_limits_of_sound_readings(column, tmp_path):
    low, high = LIMITS[column]
    step = 1e-3 * (high - low)
    heads = ["rpm", "torque [N m]"] + [column] * (column not in ("rpm", "torque [N m]"))
    if column == "power [kW]":
        heads.remove("torque [N m]")

    def kept(value):
        rows = [
            {"rpm": n, "torque [N m]": 200.0, column: 0.5 * (low + high)}
            for n in (2000.0, 3000.0, 4000.0, 5000.0)
        ]
        if column == "rpm":
            rows = [{**r, "rpm": n} for r, n in zip(rows, (2e3, 3e3, 4e3, 5e3), strict=True)]
        rows[1][column] = value
        lines = [",".join(heads), *(",".join(f"{r[h]:.10g}" for h in heads) for r in rows)]
        return not read_pulls(written(tmp_path, "\n".join(lines) + "\n")).omitted

    assert kept(low + step)
    assert kept(high - step)
    assert not kept(low - step)
    assert not kept(high + step)


#: what is wrong: (file content, what the message must say)
UNUSABLE = {
    "empty": ("", "holds no data"),
    "comments only": ("# nothing\n\n# here\n", "holds no data"),
    "MATLAB": (
        b"MATLAB 5.0 MAT-file, Platform: GLNXA64",
        "a MATLAB file, which is not read here; save it as CSV",
    ),
    "spreadsheet": (b"PK\x03\x04rest", "save it as CSV"),
    "binary": (b"\x89PNG\r\n\x00\x00", "zero bytes"),
    "no headings": ("2000,200\n2500,210\n3000,205\n", "no line of headings"),
    "no torque": ("rpm,oil [degC]\n2000,90\n2500,91\n3000,91\n", "no line of headings"),
    "no unit": ("rpm,torque\n2000,200\n2500,210\n3000,205\n", "names no unit"),
    "unit of another kind": (
        "rpm,torque [kPa]\n2000,200\n2500,210\n3000,205\n",
        "is not a unit of torque",
    ),
    "two torques": (
        "rpm,torque Nm,brake torque Nm\n2000,1,2\n2500,1,2\n3000,1,2\n",
        "both read as",
    ),
    "corrected by what": (
        "rpm,corrected torque [N m]\n2000,200\n2500,210\n3000,205\n",
        "pull.stated",
    ),
    "power against torque": (
        "rpm,torque [N m],power [hp]\n2000,200,90\n2500,210,110\n3000,205,130\n",
        "one of the units must be wrong",
    ),
    "points and commas": (
        "rpm;torque Nm\n2000;200,5\n2500;210.5\n3000;205,5\n3500;206.5\n",
        "decimal commas",
    ),
    "hardly a row": ("rpm,torque [N m]\n2000,abc\n2500,210\n3000,\n", "only 1 rows"),
    "speeds of a lorry": ("rpm,torque [N m]\n20,200\n25,210\n30,205\n", "100 to 30000 rpm"),
}


@pytest.mark.parametrize("name", UNUSABLE)
def test_unusable_files_are_refused_with_a_reason(name, tmp_path):
    content, said = UNUSABLE[name]
    with pytest.raises(InputError) as error:
        read_pulls(written(tmp_path, content))
    assert said in str(error.value)
    assert "data.csv:" in str(error.value)


def test_a_file_too_large_to_be_a_pull_is_not_read(tmp_path, monkeypatch):
    monkeypatch.setattr(log_table, "LARGEST_FILE", 10)
    with pytest.raises(InputError, match=r"data\.csv:1:1: \d+ bytes; at most 10 bytes are read"):
        read_pulls(written(tmp_path, PLAIN))


def test_headings_are_looked_for_in_the_first_200_lines(tmp_path):
    for above, found in ((199, True), (200, False)):
        text = "".join(f"note {k}\n" for k in range(above)) + PLAIN
        if found:
            assert read_pulls(written(tmp_path, text)).pulls
        else:
            with pytest.raises(InputError, match="no line of headings"):
                read_pulls(written(tmp_path, text))


def test_values_between_rows(tmp_path):
    """Few rows: a straight line between the nearest on both sides, equal speeds as their mean;
    three about a speed: a line through them."""
    rpm, torque = np.array([2400.0, 2400.0, 2600.0]), np.array([200.0, 202.0, 211.0])
    assert at_speeds(rpm, torque, [2500.0], 150.0) == pytest.approx([206.0])
    rpm, torque = np.array([2440.0, 2500.0, 2560.0]), np.array([200.0, 209.0, 206.0])
    assert at_speeds(rpm, torque, [2500.0], 250.0) == pytest.approx([205.0])


def test_missing_file_and_missing_column(tmp_path):
    with pytest.raises(InputError, match="cannot be read"):
        read_pulls(tmp_path / "none.csv")
    notes = Measured.model_validate({"columns": {"torque": "Md"}})
    with pytest.raises(InputError, match="no column 'Md'"):
        read_pulls(written(tmp_path, PLAIN), notes)


#: what is spoiled: (old, new, line left out, reason)
SPOILED = {
    "text": ("2500,202", "2500,abc", 4, "no valid torque"),
    "cell missing": ("2500,202", "2500", 4, "1 cells where 2"),
    "cell too many": ("2500,202", "2500,202,7", 4, "3 cells where 2"),
    "no speed": ("2500,202", ",202", 4, "no engine speed"),
    "infinite": ("2500,202", "2500,inf", 4, "no valid torque"),
    "impossible torque": ("2500,202", "2500,1e9", 4, "no valid torque"),
    "impossible speed": ("2500,202", "-2500,202", 4, "no engine speed"),
}


@pytest.mark.parametrize("name", SPOILED)
def test_bad_rows_are_left_out_by_line_number(name, tmp_path):
    old, new, line, reason = SPOILED[name]
    assert old in PLAIN
    file = read_pulls(written(tmp_path, PLAIN.replace(old, new)))
    assert [o.line for o in file.omitted] == [line]
    assert reason in file.omitted[0].reason
    assert 2500.0 not in file.pulls[0].readings["rpm"]
    assert len(file.pulls[0].lines) == 8


NUMBERS = st.lists(
    st.tuples(st.integers(1000, 8000), st.integers(-400, 9999).map(lambda v: v / 10)),
    min_size=3,
    max_size=40,
)


@settings(max_examples=60, deadline=None)
@given(rows=NUMBERS, separator=st.sampled_from(";\t|"), comma=st.booleans(), data=st.data())
def test_what_is_written_is_read_back(rows, separator, comma, data, tmp_path_factory):
    """Every row is either in a pull or in the omissions, with its own value and line."""
    lines, due = [f"# log\nspeed [rpm]{separator}torque [Nm]"], {}
    for rpm, torque in rows:
        if data.draw(st.integers(0, 4)) == 0:
            lines.append(data.draw(st.sampled_from(["", "# pause", f"??{separator}x"])))
        number = f"{torque:.1f}"
        lines.append(f"{rpm}{separator}{number.replace('.', ',') if comma else number}")
        due[sum(line.count("\n") + 1 for line in lines)] = (rpm, torque)
    path = written(tmp_path_factory.mktemp("p"), "\n".join(lines) + "\n")
    if sum(torque > 0.0 for _, torque in rows) < 3:
        with pytest.raises(InputError, match="rows can be used"):
            read_pulls(path)
        return
    try:
        file = read_pulls(path)
    except InputError as error:
        told = str(error)
        if "no pull has 3 rows" in told:  # sweeps of two rows are none
            return
        raise
    read = {
        int(n): (p.readings["rpm"][k], p.readings["torque"][k])
        for p in file.pulls
        for k, n in enumerate(p.lines)
    }
    left = {n for o in file.omitted for n in range(o.line, max(o.last, o.line) + 1)}
    assert set(due) == set(read) | (left & set(due))
    for n, values in read.items():
        assert values == pytest.approx(due[n])
    bad = [k for k, line in enumerate("\n".join(lines).split("\n"), 1) if line.startswith("??")]
    assert set(bad) <= left


@settings(max_examples=150, deadline=None)
@given(noise=st.binary(max_size=200), at=st.integers(0, 200))
def test_any_bytes_end_in_a_result_or_a_clear_error(noise, at, tmp_path_factory):
    raw = PLAIN.encode()
    path = written(tmp_path_factory.mktemp("p"), raw[:at] + noise + raw[at:])
    try:
        file = read_pulls(path)
    except InputError as error:
        problem = error
        assert str(path) in str(problem)
    else:
        assert all(np.isfinite(p.readings["torque"]).any() for p in file.pulls)


def test_a_heading_without_an_end_is_read_at_once(tmp_path):
    from time import process_time

    for heading in ("torque" + " " * 200_000 + "x", "(" * 200_000, "rpm [" + "a" * 200_000):
        path = tmp_path / "d.csv"
        path.write_text(f"rpm,{heading}\n2000,1\n2100,2\n")
        start = process_time()
        with pytest.raises(InputError):
            read_pulls(path)
        assert process_time() - start < 1.0


@pytest.mark.parametrize(
    "head",
    [
        "EngSpd;Tq;Pwr\n1/min;Nm;kW",
        "n [1/min];M [Nm];P [kW]",
        "n/min-1;M/Nm;P/kW",
        "n {rpm};Torque <Nm>;x",
        "Eng Speed (rpm);M in Nm;x",
        "n;M;P\n1/min;Nm;kW",
        "rpm;torque [kN m];x",
    ],
)
def test_headings_as_labs_write_them(head, tmp_path):
    scale = 1e-3 if "kN" in head else 1.0
    rows = "".join(f"{n};{scale * 200};{200 * n * np.pi / 30e3:.4f}\n" for n in (2000, 2500, 3000))
    file = read_pulls(written(tmp_path, f"Lab 3 - group B;;\n{head}\n{rows}"))
    assert file.pulls[0].readings["torque"] == pytest.approx(200.0, rel=1e-4)
    assert list(file.pulls[0].readings["rpm"]) == [2000.0, 2500.0, 3000.0]


def test_the_nearest_line_and_what_it_lacks_are_told(tmp_path):
    rows = "2000;200\n2500;201\n3000;202\n"
    path = written(tmp_path, f"Lab 3 - group B;;\nRPM;Mx\n{rows}")
    with pytest.raises(InputError) as error:
        read_pulls(path)
    assert (
        ":2:1: no line of headings with engine speed and torque or power: 'RPM;Mx' is nearest,"
        " but torque or power is not in it" in str(error.value)
    )
    notes = Measured.model_validate({"columns": {"torque": {"name": "M", "unit": "N m"}}})
    with pytest.raises(InputError, match=r"torque \('M' by pull\.columns\) or power is not in it"):
        read_pulls(path, notes)
    rows = rows.replace("\n", ";90;80;1\n")
    text = f"EngSpd;Tq;OilT [C];H2O [C];Elapsed [s]\n1/min;Nm;;;\n{rows}"
    assert {"oil", "coolant", "time"} <= set(read_pulls(written(tmp_path, text)).columns)
