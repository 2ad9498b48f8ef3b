"""Tables of figures as spreadsheets and loggers write them: the same encodings, separators and decimal commas
for pulls, traces, schedules and drives."""

import numpy as np
import pytest

from aircolumn.engine.description.area_schedule import schedule_in
from aircolumn.engine.description.cells import has_decimal_comma
from aircolumn.engine.description.drive_log import ranges_in
from aircolumn.engine.description.text_file import AsRead
from aircolumn.engine.description.text_table import encoding_of, table_text
from aircolumn.errors import InputError
from aircolumn.measured.logs.reading import read_pulls
from aircolumn.measured.traces.table import read_trace_table

ENCODINGS = ("utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252")
#: separator and decimal sign
STYLES = ((",", "."), (";", ","), ("\t", ","), (";", "."))


def written(path, rows, separator, sign, encoding):
    """A table: headings, then figures."""
    lines = [separator.join(rows[0])]
    lines += [separator.join(f"{x:.3f}".replace(".", sign) for x in row) for row in rows[1:]]
    path.write_bytes(("\n".join(lines) + "\n").encode(encoding))
    return path


@pytest.mark.parametrize("encoding", ENCODINGS)
@pytest.mark.parametrize(("separator", "sign"), STYLES)
def test_the_same_table_however_it_is_written(tmp_path, encoding, separator, sign):
    angle = np.arange(0.0, 720.0, 2.0)
    trace = [("angle [°]", "p runner [kPa]"), *zip(angle, 100.0 + 5.0 * np.sin(angle / 40.0), strict=True)]
    table = read_trace_table(written(tmp_path / "trace.csv", trace, separator, sign, encoding))
    assert list(table.columns) == ["angle [°]", "p runner [kPa]"]
    assert table.columns["p runner [kPa]"] == pytest.approx([row[1] for row in trace[1:]], abs=6e-4)

    rpm = np.linspace(2000.0, 6000.0, 200)
    pull = [("time [s]", "speed [1/min]", "torque [Nm]", "coolant [°C]")]
    pull += zip(
        np.arange(200) / 10.0, rpm, 200.0 - ((rpm - 4200.0) / 300.0) ** 2, 0.0 * rpm + 85.5, strict=True
    )
    file = read_pulls(written(tmp_path / "pull.csv", pull, separator, sign, encoding))
    (found,) = file.pulls
    assert len(found.lines) == 200

    schedule = [("distance [mm]", "area [mm2]"), (0.0, 1500.5), (120.25, 1250.0), (300.0, 1100.0)]
    path = written(tmp_path / "area.csv", schedule, separator, sign, encoding)
    stations = schedule_in(AsRead(path, path.read_bytes()))
    assert [s[0] for s in stations] == pytest.approx([0.0, 0.12025, 0.3])

    drive = [
        ("time s", "engine speed °/rpm"),
        *zip(np.arange(60.0), np.linspace(2010.0, 2580.0, 60), strict=True),
    ]
    path = written(tmp_path / "drive.csv", drive, separator, sign, encoding)
    assert len(ranges_in(AsRead(path, path.read_bytes()), None)) == 6


def test_three_digits_behind_every_comma():
    """Each figure by itself might be thousands; where a semicolon sets cells apart it is not."""
    assert has_decimal_comma(["0,000", "100,125", "1,250"], ";")
    assert not has_decimal_comma(["0,000", "100,125", "1,250"], ",")


def test_which_encoding():
    for kind in ENCODINGS[2:]:
        assert encoding_of(("speed [1/min], °C\n" * 20).encode(kind)) == kind
    assert encoding_of(b"speed, torque\n") == "utf-8-sig"
    assert encoding_of(b"") == "utf-8-sig"


def test_bytes_that_are_no_text_are_refused(tmp_path):
    with pytest.raises(InputError, match="zero bytes"):
        table_text(tmp_path / "x.csv", b"a,b\n1,\0\0\n2,3\n")
