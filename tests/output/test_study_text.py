"""What a sweep prints, writes and draws, from the made-up engine."""

import re

import numpy as np
import pytest
import xarray as xr
from tests import made_up
from tests.output.test_curves_text import UNITS, in_csv
from tests.printed import lines_of, rows_of
from tests.studies import RPM, SPAN, SPEEDS, asked, torque_of

GRID = (
    "vary:\n  intake.runner.length: {from: 250 mm, to: 650 mm, steps: 5}\n"
    "  intake.runner.bore.to: [39 mm, 40 mm, 41 mm, 42 mm]\n"
)


@pytest.fixture(scope="module")
def swept(tmp_path_factory):
    return asked(tmp_path_factory.mktemp("sweep") / "s", GRID + SPEEDS)


LENGTHS, BORES = np.linspace(250.0, 650.0, 5), np.array([39.0, 40.0, 41.0, 42.0])


@pytest.fixture(scope="module")
def torques(swept):
    _, plan = swept
    return np.array([[torque_of(plan, (a, b)) for b in BORES] for a in LENGTHS])


def span(name, held, tried, unit=" mm"):
    """The values of the cases within 0.5 % of the most, in words."""
    if len(held) == len(tried):
        return f"any {name}"
    low, high = min(held), max(held)
    return f"{name} {low:.4g}{unit}" if low == high else f"{name} {low:.4g} to {high:.4g}{unit}"


def level_words(values):
    """The same for lengths and bores whose torque is ``values`` (5 x 4)."""
    i, j = np.nonzero(values >= 0.995 * values.max())
    lengths, bores = sorted(set(LENGTHS[i])), sorted(set(BORES[j]))
    return f"{span('length', lengths, LENGTHS)}, {span('bore_to', bores, BORES)}"


def test_sweep_printed(swept, torques):
    ran, _ = swept
    assert ran.code == 0
    head = ran.said.splitlines()[0]
    assert "belong to another" not in ran.said
    told = re.match(r"140 points computed \((\S+) per second\), 0 taken from .*points.sqlite$", head)
    assert 0.5 < float(told[1]) < 1e5
    text = ran.said[ran.said.index("Most torque at each speed") :]
    lines = text.splitlines()[3:10]
    for k, line in enumerate(lines):
        i, j = np.unravel_index(np.argmax(torques[:, :, k]), torques.shape[:2])
        rpm, torque, case = re.split(r"\s{2,}", line.strip())
        assert rpm == f"{RPM[k]:.0f}"
        assert torque == f"{torques[i, j, k]:.1f}"
        assert case == level_words(torques[:, :, k])
    assert len({line.split("length ")[1] for line in lines}) > 2
    (mean,) = re.findall(r"Most torque on average from 2500 to 4000 rpm: (\S+) N m with (.*)", text)
    at = np.isin(RPM, (2500.0, 3000.0, 3500.0, 4000.0))
    means = torques[:, :, at] @ np.array([0.5, 1.0, 1.0, 0.5]) / 3.0
    i, j = np.unravel_index(np.argmax(means), means.shape)
    assert mean[0] == f"{means.max():.1f}"
    case = level_words(means)
    ends = [
        n
        for n, k, axis in (("length", i, LENGTHS), ("bore_to", j, BORES))
        if len(axis) > 2 and k in (0, len(axis) - 1)
    ]
    tail = f" ({' and '.join(ends)}: at the edge of the range tried)" if ends else ""
    assert mean[1] == case + tail


def test_sweep_written(swept, torques):
    ran, plan = swept
    data = xr.load_dataset(ran.out / "study.nc")
    assert data.torque.dims == ("length", "bore_to", "rpm")
    assert (data.length.attrs["units"], data.bore_to.attrs["units"]) == ("mm", "mm")
    assert data.bore_to.attrs["long_name"] == "intake.runner.bore.to"
    np.testing.assert_allclose(data.torque.values, torques, rtol=1e-12)
    keys = ("length [mm]", "bore_to [mm]", "rpm")
    rows = {tuple(float(r[k]) for k in keys): r for r in rows_of(ran.out / "study.csv")}
    assert len(rows) == 140
    for a in LENGTHS:
        for b in BORES:
            for rpm in RPM:
                row = rows[a, b, rpm]
                point = made_up.point(plan.case((a, b)).engine, rpm).figures
                there = data.sel(length=a, bore_to=b, rpm=rpm)
                for name, unit in UNITS.items():
                    assert float(there[name]) == pytest.approx(point[name], rel=1e-12)
                    assert data[name].attrs["units"] == unit
                    stated = in_csv(row, name, unit)
                    assert stated == pytest.approx(point[name], rel=1e-9, abs=1e-14)
    assert not (ran.out / "failed.csv").exists()
    said = ran.said.split("\n\nwritten to")[0]
    answer = said[said.index("Most torque at") :]
    assert (ran.out / "study.txt").read_text().startswith(answer)  # no count, no rate


def test_sweep_drawn(swept, torques):
    ran, _ = swept
    ve, torque = ran.pictures["study-family.png"].axes
    lines = lines_of(torque)
    assert list(lines) == ["250", "350", "450", "550", "650"]
    for k, (x, y) in enumerate(lines.values()):
        assert list(x) == list(RPM)
        assert y == pytest.approx(torques[k, 3])  # the other key as in the best case: 42 mm
    caption = ran.pictures["study-family.png"]._supxlabel.get_text()
    assert caption.startswith("Curves by runner length, mm (bore_to 42 mm).")
    data = xr.load_dataset(ran.out / "study.nc")
    assert [y for _, y in lines_of(ve).values()] == [
        pytest.approx(100 * data.ve.values[k, 3]) for k in range(5)
    ]
    top, *below = ran.pictures["study-envelope.png"].axes
    assert lines_of(top)["best at each speed"][1] == pytest.approx(torques.max(axis=(0, 1)))
    best = [np.unravel_index(np.argmax(torques[:, :, k]), (5, 4)) for k in range(RPM.size)]
    assert list(below[0].lines[0].get_ydata()) == [LENGTHS[i] for i, _ in best]
    assert list(below[1].lines[0].get_ydata()) == [BORES[j] for _, j in best]
    for panel, values, axis in ((below[0], LENGTHS, 1), (below[1], BORES, 0)):
        for k, bar in enumerate(panel.collections[0].get_segments()):
            alike = (torques[:, :, k] >= 0.995 * torques[:, :, k].max()).any(axis=axis)
            assert bar[:, 0].tolist() == [RPM[k], RPM[k]]
            assert bar[:, 1].tolist() == [values[alike].min(), values[alike].max()]
    panels = [a for a in ran.pictures["study-contour.png"].axes if a.lines]
    failed, best = panels[0].lines
    assert not len(failed.get_xdata())
    x, y = best.get_data()
    assert list(x) == [RPM[k] for k in np.argmax(data.ve.values[:, 3], axis=1)]
    assert list(y) == list(LENGTHS)
    filled, ve = panels[0].collections[0], 100 * data.ve.values[:, 3]
    assert (filled.zmin, filled.zmax) == pytest.approx((ve.min(), ve.max()))
    mean = torques[:, :, 1:5]  # 2500 to 4000 rpm
    mean = (mean.sum(axis=2) - 0.5 * (mean[:, :, 0] + mean[:, :, -1])) / 3.0
    i, j = np.unravel_index(np.argmax(mean), mean.shape)
    assert panels[1].lines[0].get_data() == ([BORES[j]], [LENGTHS[i]])
    filled = panels[1].collections[0]
    assert (filled.zmin, filled.zmax) == pytest.approx((mean.min(), mean.max()))
    assert panels[1].get_title() == "Mean torque from 2500 to 4000 rpm"


def test_failures_are_listed(tmp_path):
    ran, _ = asked(tmp_path / "s", GRID + SPEEDS, missing=(3000.0,))
    assert ran.code == 1
    assert "20 of 140 points; the others are written" in ran.complaints
    assert "20 points failed, listed in failed.csv" in ran.said
    why = "at 3000 rpm made up to fail"
    assert f"  length 250 mm, bore_to 39 mm, 3000 rpm: {why}" in ran.said
    assert "  and 12 more" in ran.said
    rows = rows_of(ran.out / "failed.csv")
    assert [(float(r["length [mm]"]), float(r["bore_to [mm]"])) for r in rows] == [
        (a, b) for a in LENGTHS for b in BORES
    ]
    assert {(r["rpm"], r["reason"]) for r in rows} == {("3000", why)}
    text = ran.said[ran.said.index("Most torque") :].splitlines()
    assert re.split(r"\s{2,}", text[5].strip()) == ["3000", "-", "20 of 20", "all failed"]
    assert "all failed" not in text[4]


@pytest.mark.parametrize("asked_for", ["", "slice: {intake.plenum.volume: 4.3 L}\n"])
def test_a_grid_of_three_keys_is_cut_at_the_best(tmp_path, asked_for):
    """Or where the study says."""
    text = GRID + "  intake.plenum.volume: [4 L, 6 L, 8 L]\n" + SPEEDS + asked_for
    ran, plan = asked(tmp_path / "s", text.replace("steps: 5", "steps: 3"))
    lengths, bores, volumes = (250.0, 450.0, 650.0), BORES, (4.0, 6.0, 8.0)
    means = np.array(
        [[[mean_torque(torque_of(plan, (a, b, c))) for c in volumes] for b in bores] for a in lengths]
    )
    best = np.unravel_index(np.argmax(means), means.shape)[2]
    at = 0 if asked_for else best
    assert best != 0
    mean = means[:, :, at]
    panels = [a for a in ran.pictures["study-contour.png"].axes if a.lines]
    i, j = np.unravel_index(np.argmax(mean), mean.shape)
    assert panels[1].lines[0].get_data() == ([bores[j]], [lengths[i]])
    filled = panels[1].collections[0]
    assert (filled.zmin, filled.zmax) == pytest.approx((mean.min(), mean.max()))
    title = panels[0].get_title().splitlines()
    assert title[1] == f"Volumetric efficiency at bore_to 42 mm, volume {volumes[at]:g} L"
    assert [a.get_ylabel() for a in ran.pictures["study-envelope.png"].axes[1:]] == [
        "runner length, mm",
        "runner bore to, mm",
        "plenum volume, L",
    ]


def test_a_list_of_cases(tmp_path):
    cases = "cases:\n  - {intake.runner.length: 300 mm}\n  - {intake.runner.length: 600 mm}\n"
    ran, plan = asked(tmp_path / "s", cases + SPEEDS)
    data = xr.load_dataset(ran.out / "study.nc")
    for k, length in enumerate((300.0, 600.0)):
        assert data.torque.values[k] == pytest.approx(torque_of(plan, (length,)))
        assert lines_of(ran.pictures["study-family.png"].axes[1])[str(k + 1)][1] == pytest.approx(
            data.torque.values[k]
        )
    rows = rows_of(ran.out / "study.csv")
    for row in rows:
        torque = torque_of(plan, (float(row["length [mm]"]),))
        k = list(RPM).index(float(row["rpm"]))
        assert float(row["torque [N m]"]) == pytest.approx(torque[k], rel=1e-9)
    assert len(rows) == 14


def test_cases_with_names(tmp_path):
    """Named in the picture, the table, the CSV and the Dataset; a case without has its number."""
    cases = (
        "cases:\n  - {name: stock, intake.runner.length: 300 mm}\n"
        "  - {intake.runner.length: 600 mm}\n  - {name: 3D $print, intake.runner.length: 450 mm}\n"
    )
    ran, plan = asked(tmp_path / "s", cases + SPEEDS)
    assert plan.case_names == ["stock", 2, "3D $print"]
    assert list(lines_of(ran.pictures["study-family.png"].axes[1])) == ["stock", "2", "3D $print"]
    data = xr.load_dataset(ran.out / "study.nc")
    assert data.sel(case="stock").torque.values == pytest.approx(torque_of(plan, (300.0,)))
    assert {r["case"] for r in rows_of(ran.out / "study.csv")} == {"stock", "2", "3D $print"}
    assert "stock: length 300 mm" in ran.said or "3D $print: length 450 mm" in ran.said


def test_a_sample(tmp_path):
    ran, plan = asked(tmp_path / "s", SPAN + SPEEDS + "sample: {count: 4, method: halton}\n")
    rows = rows_of(ran.out / "study.csv")
    assert len(rows) == 28
    for row in rows:
        values = float(row["length [mm]"]), float(row["closes_abdc [deg]"])
        k = list(RPM).index(float(row["rpm"]))
        assert float(row["torque [N m]"]) == pytest.approx(torque_of(plan, values)[k], rel=1e-9)
    top, *below = ran.pictures["study-envelope.png"].axes
    torque = np.array([torque_of(plan, values) for values in plan.rows])
    assert lines_of(top)["best at each speed"][1] == pytest.approx(torque.max(axis=0))
    best = torque.argmax(axis=0)
    for panel, k in zip(below, (0, 1), strict=True):
        assert list(panel.lines[0].get_ydata()) == [plan.rows[b][k] for b in best]
    assert "study-contour.png" not in ran.pictures


def mean_torque(torque):
    part = torque[1:5]
    return (part.sum() - 0.5 * (part[0] + part[-1])) / 3.0
