"""Tables of control units: read, and written back as they were but for the values."""

import numpy as np
import pytest

from aircolumn.errors import InputError
from aircolumn.fuelling.table_file import read_user_table

RPM, KPA = [1000, 2500, 4000], [40, 70, 100]
VE = np.array([[61.2, 70.5, 78.0], [66.4, 80.1, 91.3], [70.0, 88.8, 102.5]])  # (rpm, kPa)


def shape(corner, across, down, values, cut=",", end="\n", comma=False):
    """A table as text."""

    def said(value, form="g"):
        return f"{value:{form}}".replace(".", "," if comma else ".")

    rows = [cut.join([corner, *(said(v) for v in across)])]
    rows += [cut.join([said(d), *(said(v, ".1f") for v in row)]) for d, row in zip(down, values, strict=True)]
    return end.join([*rows, ""])


PSI = [round(v / 6.894757, 3) for v in KPA]
#: name: (text or bytes, load unit asked for or None)
SHAPES = {
    "speeds down": (shape("rpm \\ kPa", KPA, RPM, VE), None),
    "speeds across": (shape("kPa/rpm", RPM, KPA, VE.T), None),
    "highest load on top": (shape("MAP kPa", RPM, KPA[::-1], VE.T[::-1]), None),
    "semicolons and decimal commas": (shape("kPa", KPA, RPM, VE, ";", comma=True), None),
    "tabs, another system's line ends": (shape("kPa", KPA, RPM, VE, "\t", "\r\n"), None),
    "titles around it": (
        "VE table, base map\nunits: rpm, bar\n"
        + shape("", [k / 100 for k in KPA], RPM, VE, "\t")
        + "\nsaved on a Monday; 1 2 3\n",
        None,
    ),
    "psi, asked for": (shape("", PSI, RPM, VE), "psi"),
    "UTF-16 of a spreadsheet": (shape("rpm\\kPa", KPA, RPM, VE, "\t", "\r\n").encode("utf-16"), None),
}


def write(folder, content):
    path = folder / "ve.csv"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return path


@pytest.mark.parametrize("name", SHAPES)
def test_every_shape_is_read_and_written_back(name, tmp_path):
    content, unit = SHAPES[name]
    path = write(tmp_path, content)
    table = read_user_table(path, unit)
    assert table.rpm.tolist() == RPM
    assert table.loads == pytest.approx(1e3 * np.array(KPA), rel=1e-4)
    assert not table.by_opening
    assert table.values == pytest.approx(VE / 100.0)
    assert table.written(table.values) == path.read_bytes()
    assert table.written(np.full(VE.shape, np.nan)) == path.read_bytes()
    more = table.written(1.1 * table.values)
    path.write_bytes(more)
    assert read_user_table(path, unit).values == pytest.approx(1.1 * VE / 100.0, abs=6e-4)
    assert len(more.splitlines()) == len(content.splitlines())


def test_throttle_openings_and_shares(tmp_path):
    content = shape("rpm \\ %", [5, 20, 100], RPM, VE / 100.0).replace("0.6", "0.61")
    table = read_user_table(write(tmp_path, content))
    assert table.by_opening
    assert table.loads.tolist() == [0.05, 0.2, 1.0]
    assert not table.per_cent
    assert table.values.max() < 1.2


GOOD = shape("rpm \\ kPa", KPA, RPM, VE)
#: what is wrong: (text, what the message must say)
WRONG = {
    "a speed out of order": (GOOD.replace("2500,", "5000,"), "ve.csv:4:1: the figures along a side"),
    "a speed twice": (GOOD.replace("2500,", "1000,"), "ve.csv:3:1: the figures along a side"),
    "a hole": (GOOD.replace("80.1", ""), "ve.csv:3:11: an empty cell"),
    "text": (GOOD.replace("80.1", "n/a"), "ve.csv:3:11: 'n/a' is not a number"),
    "two units": (GOOD.replace("kPa", "kPa psi"), "kPa and psi stand there"),
    "no unit": (GOOD.replace("kPa", "MAP"), "nothing says in which unit the loads are"),
    "a share among per cent": (GOOD.replace("80.1", "0.8"), "ve.csv:3:11: 0.8 among per cent"),
    "a short line": (
        GOOD.replace(",80.1", ""),
        "ve.csv:3:1: 3 cells, where the first line of the table has 4",
    ),
    "no speeds": (shape("kPa", KPA, [1, 2, 3], VE), "which side holds engine speeds"),
    "no table": ("nothing\nof the kind\n", "a table is expected"),
}


@pytest.mark.parametrize("name", WRONG)
def test_wrong_tables_are_told_with_line_and_cell(name, tmp_path):
    text, said = WRONG[name]
    with pytest.raises(InputError) as error:
        read_user_table(write(tmp_path, text))
    assert said in str(error.value)


def test_a_unit_of_load_that_there_is_not(tmp_path):
    with pytest.raises(InputError, match="'stone' is no unit of load"):
        read_user_table(write(tmp_path, GOOD), "stone")
