"""Files as laboratories have them: cycles side by side, channels at several rates, conversions, wheels."""

import numpy as np
import pytest

from aircolumn.engine.description.traces import Traces
from aircolumn.errors import InputError
from aircolumn.measured.traces.cycles import AT, cycles_of
from aircolumn.measured.traces.table import read_trace_table

ANGLE = np.arange(-180.0, 540.0, 1.0)


def pressure(angle, factor=1.0):
    """Some cylinder pressure, kPa, highest at 10 deg."""
    return 100.0 + factor * 3000.0 * np.exp(-(((angle - 10.0 + 360.0) % 720.0 - 360.0) ** 2) / 800.0)


def test_cycles_side_by_side(tmp_path):
    """An angle and five columns without headings: each is a cycle; the file says what to write."""
    factors = [1.0, 0.9, 1.1, 0.95, 1.05, 1.0, 1.0, 1.0, 1.0, 1.0]
    columns = [ANGLE, *(pressure(ANGLE, f) for f in factors), ANGLE * 0.0]
    path = tmp_path / "raw.txt"
    path.write_text("".join("\t".join(f"{v:.4f}" for v in row) + "\n" for row in zip(*columns, strict=True)))
    with pytest.raises(
        InputError, match=r'columns: \["crank angle \[deg\]", "p cyl \[bar\] \(11 cycles\)"\]'
    ):
        read_trace_table(path)
    named = ["crank angle [deg]", "p cyl [kPa] (10 cycles)", "mean"]
    found = cycles_of(read_trace_table(path, named), Traces(columns=named), 1000.0)
    assert found.count in (9, 10)  # a cycle of this file begins at -180 deg, one of ours at 0
    at_peak = found.readings[0][:3, 20] - 100e3
    assert at_peak / 3e6 == pytest.approx([1.0, 0.9, 1.1], rel=1e-6)
    assert found.mean[0, 20] == found.mean[0].max()
    with pytest.raises(InputError, match="names 11 columns, the first row has 12"):
        read_trace_table(path, named[:2])
    path.write_text(path.read_text().replace("\n", "\t\r\n"))  # a separator ends every row
    again = read_trace_table(path, named)
    assert cycles_of(again, Traces(columns=named), 1000.0).readings == pytest.approx(found.readings)
    assert not again.left


def test_a_slower_channel_in_text(tmp_path):
    """Every fourth row has a second pressure: it is taken between them by straight lines."""
    angle = np.arange(0.0, 4 * 720.0, 1.0)
    slow = 100.0 + 5.0 * np.sin(np.radians(angle))
    rows = [
        f"{a:.1f},{pressure(a):.4f},{s:.5f}" if k % 4 == 0 else f"{a:.1f},{pressure(a):.4f},"
        for k, (a, s) in enumerate(zip(angle, slow, strict=True))
    ]
    path = tmp_path / "t.csv"
    path.write_text("crank angle [deg],p cyl [kPa],p port [kPa]\n" + "\n".join(rows) + "\n")
    found = cycles_of(read_trace_table(path), Traces(), 1000.0)
    assert found.names == ["p cyl", "p port"]
    assert found.mean[1] == pytest.approx(
        1e5 + 5e3 * np.sin(np.radians(AT)), abs=100.0
    )  # nothing follows the last
    holes = path.read_text().replace(rows[8], rows[8].rpartition(",")[0] + ",")  # one is missing
    path.write_text(holes)
    assert "p port [kPa]" in read_trace_table(path).left


def test_channels_at_their_own_rates(tmp_path):
    """TDMS says how far apart readings are, MDF when each was taken."""
    nptdms, asammdf = pytest.importorskip("nptdms"), pytest.importorskip("asammdf")
    time = np.arange(0.0, 0.5, 1e-4)
    angle = 6.0 * 3000.0 * time
    slow = 100.0 + 5.0 * np.sin(np.radians(angle[::5]))
    with nptdms.TdmsWriter(tmp_path / "t.tdms") as file:
        parts = [
            ("crank angle", angle, 1e-4, ""),
            ("p cyl", pressure(angle), 1e-4, "kPa"),
            ("p port", slow, 5e-4, "kPa"),
        ]
        file.write_segment(
            [
                nptdms.ChannelObject("log", name, values, {"unit_string": unit, "wf_increment": step})
                for name, values, step, unit in parts
            ]
        )
    with asammdf.MDF() as file:
        file.append([asammdf.Signal(angle, time, name="crank angle", unit="deg"),
                     asammdf.Signal(pressure(angle), time, name="p cyl", unit="kPa")])  # fmt: skip
        file.append([asammdf.Signal(slow, time[::5], name="p port", unit="kPa")])
        file.save(tmp_path / "t.mf4")
    due = 1e5 + 5e3 * np.sin(np.radians(AT))
    for name in ("t.tdms", "t.mf4"):
        found = cycles_of(read_trace_table(tmp_path / name), Traces(), 3000.0)
        assert found.names == ["p cyl", "p port"]
        assert found.mean[1] == pytest.approx(due, abs=60.0), name


def test_a_conversion_that_cannot_be_evaluated_is_told(tmp_path):
    asammdf = pytest.importorskip("asammdf")
    time = np.arange(0.0, 0.5, 1e-3)
    with asammdf.MDF() as file:
        file.append(
            [asammdf.Signal(time, time, name="p cyl", unit="kPa", conversion={"formula": "foo(X1)+"})]
        )
        file.save(tmp_path / "t.mf4")
    with pytest.raises(InputError, match=r"'p cyl': its conversion 'foo\(X1\)\+' cannot be evaluated"):
        read_trace_table(tmp_path / "t.mf4")


@pytest.mark.parametrize(("wheel", "teeth", "missing"), [("60-2", 60, 2), ("36-1", 36, 1)])
def test_usual_wheels(tmp_path, wheel, teeth, missing):
    time = np.arange(0.0, 0.2, 2e-5)
    angle = 6.0 * 3000.0 * time
    place = angle % 360.0 / (360.0 / teeth)
    signal = ((place % 1.0 < 0.5) & (np.floor(place) < teeth - missing)).astype(float)
    rows = zip(time, signal, pressure(angle), strict=True)
    path = tmp_path / "t.csv"
    path.write_text("time [s],mark,p cyl [kPa]\n" + "".join(f"{t:.6f},{m:.0f},{p:.4f}\n" for t, m, p in rows))
    found = cycles_of(read_trace_table(path), Traces(wheel=wheel), 3000.0)
    peak = AT[int(np.argmax(found.mean[0]))] % 360.0
    assert peak == pytest.approx(10.0, abs=1.0)
    assert found.marks_at is None
    with pytest.raises(InputError, match="others are between them"):
        cycles_of(read_trace_table(path), Traces(), 3000.0)


def test_a_saturated_transducer_is_told(tmp_path):
    angle = np.arange(0.0, 5 * 720.0, 0.5)
    cut = np.minimum(pressure(angle), 2000.0)
    path = tmp_path / "t.csv"
    path.write_text(
        "crank angle [deg],p cyl [kPa]\n" + "".join(f"{a},{p:.4f}\n" for a, p in zip(angle, cut, strict=True))
    )
    with pytest.raises(
        InputError, match=r"p cyl \[kPa\]: stands at its highest .* for 30 deg of every cycle"
    ):
        cycles_of(read_trace_table(path), Traces(), 1000.0)
