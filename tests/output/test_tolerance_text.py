"""What sensitivity and tolerance studies print, write and draw; aims; workers."""

import re
from threading import Barrier, BrokenBarrierError

import numpy as np
import pytest
import xarray as xr
from tests import made_up
from tests.printed import command, lines_of, right_aligned, rows_of
from tests.studies import HEAD, RPM, SPAN, SPEEDS, asked, torque_of

from aircolumn.engine.model import stretches
from aircolumn.questions.aims import Aim, check_aim, value_of
from aircolumn.questions.search.text import aim_text


def test_a_tolerance_that_cannot_be_computed_says_why(tmp_path):
    text = "vary:\n  intake.runner.bore: {plus_minus: 0.4 mm}\ntolerance: {count: 8}\nspeeds: [3000 rpm]\n"
    ran, _ = asked(tmp_path / "s", text, missing=(3000.0,))
    assert ran.code == 1
    assert "9 points within the tolerance fail: at 3000 rpm" in ran.complaints


def test_sensitivity_printed_written_and_drawn(tmp_path):
    """First-order shares of a nearly additive aim add up to 1; the larger effect comes first."""
    text = SPAN + SPEEDS + "sensitivity: {count: 32, aim: {of: torque, at: 4500 rpm}}\n"
    ran, plan = asked(tmp_path / "s", text)
    rows = {r["key"]: r for r in rows_of(ran.out / "study.csv")}
    with open(ran.out / "study.csv") as file:
        lines = [x.rstrip("\n").split(",") for x in file]
    assert lines[0] == [
        "key",
        "first order",
        "half-width of first order",
        "total",
        "half-width of total",
    ]
    data = xr.load_dataset(ran.out / "study.nc")
    assert list(data.key.values) == [a.key for a in plan.axes]
    assert data.total.values == pytest.approx([float(x[3]) for x in lines[1:]])
    headings, table = right_aligned(ran.said, "key")
    assert headings == ["key", "first order", "+-", "total", "+-"]
    order = sorted(lines[1:], key=lambda x: -float(x[3]))
    assert table == [[x[0], *(f"{float(v):.3f}" for v in x[1:])] for x in order]
    # By hand, from the aim over a fine grid: variance of the mean over the other key.
    a, b = np.linspace(250.0, 650.0, 41), np.linspace(40.0, 50.0, 11)
    aim = np.array([[torque_of(plan, (x, y))[5] for y in b] for x in a])
    first = {
        "length": aim.mean(axis=1).var() / aim.var(),
        "closes_abdc": aim.mean(axis=0).var() / aim.var(),
    }
    for key, share in first.items():
        assert float(rows[key]["first order"]) == pytest.approx(share, abs=0.12)
        total = 1.0 - next(v for k, v in first.items() if k != key)
        assert float(rows[key]["total"]) == pytest.approx(total, abs=0.12)
    told = re.search(
        r"torque at 4500 rpm: (\S+) N m on average over the spans, standard deviation (\S+) N m",
        ran.said,
    )
    assert float(told[1]) == pytest.approx(aim.mean(), rel=0.01)
    assert float(told[2]) == pytest.approx(aim.std(), rel=0.1)
    panel = ran.pictures["study.png"].axes[0]
    bars = [[p.get_width() for p in c.patches] for c in panel.containers if hasattr(c, "patches")]
    assert bars[0] == pytest.approx([float(x[1]) for x in lines[1:]])
    assert bars[1] == pytest.approx([float(x[3]) for x in lines[1:]])
    assert [t.get_text() for t in panel.get_yticklabels()] == ["runner length", "valve closes abdc"]


def test_tolerance_printed_written_and_drawn(tmp_path):
    text = (
        "runner: long\nvary:\n  intake.runner.bore: {plus_minus: 0.4 mm}\n"
        "  intake.runner.length: {plus_minus: 20 mm}\ntolerance: {count: 16}\n" + SPEEDS
    )
    ran, plan = asked(tmp_path / "s", text)
    rows = rows_of(ran.out / "study.csv")
    drawn = torque_of(plan, (0.0, 0.0))
    with open(ran.out / "study.csv") as file:
        assert file.readline() == (
            'rpm,torque [N m],"torque, least [N m]","torque, most [N m]",ve [%],"ve, least [%]",'
            '"ve, most [%]",torque per bore [N m per mm],torque per length [N m per mm]\n'
        )
    data = xr.load_dataset(ran.out / "study.nc")
    assert data.torque.values == pytest.approx(drawn)
    assert data.torque_low.values == pytest.approx([float(r["torque, least [N m]"]) for r in rows], rel=1e-8)
    assert data.torque_per_bore.attrs["units"] == "N m / mm"
    headings, table = right_aligned(ran.said, "rpm")
    assert headings == ["rpm", "torque N m", "least", "most", "N m per mm of bore", "N m per mm of length"]
    assert "Torque as drawn and within bore +-0.4 mm, length +-20 mm (17 curves)" in ran.said
    corners = np.array([torque_of(plan, (a, b)) for a in (-0.4, 0.4) for b in (-20.0, 20.0)])
    for k, (row, cells) in enumerate(zip(rows, table, strict=True)):
        low, high = float(row["torque, least [N m]"]), float(row["torque, most [N m]"])
        torque = float(row["torque [N m]"])
        assert torque == pytest.approx(drawn[k], rel=1e-9)
        ve = float(row["ve [%]"]) / 100.0
        assert ve == pytest.approx(made_up.point(plan.case((0.0, 0.0)).engine, RPM[k]).figures["ve"])
        assert float(row["ve, least [%]"]) < 100.0 * ve < float(row["ve, most [%]"])
        assert low < torque < high
        # The torque is nearly a plane over so little: the band reaches most of the way to the
        # corners, and not beyond.
        spread = corners[:, k].max() - corners[:, k].min()
        assert corners[:, k].min() - 0.05 * spread <= low
        assert high <= corners[:, k].max() + 0.05 * spread
        assert high - low > 0.5 * spread
        slopes = [
            (torque_of(plan, p)[k] - torque_of(plan, m)[k]) / w
            for p, m, w in (((0.4, 0.0), (-0.4, 0.0), 0.8), ((0.0, 20.0), (0.0, -20.0), 40.0))
        ]
        told = [float(row[f"torque per {n} [N m per mm]"]) for n in ("bore", "length")]
        assert told == pytest.approx(slopes, abs=0.05 * max(map(abs, slopes)) + 0.02)
        assert cells == [
            f"{RPM[k]:.0f}",
            f"{torque:.1f}",
            f"{low - torque:+.2f}",
            f"{high - torque:+.2f}",
            *(f"{s:+.2f}" for s in told),
        ]
    top, below = ran.pictures["study.png"].axes
    assert lines_of(top)["as drawn"][1] == pytest.approx(drawn)
    for panel, zero in ((top, 0.0), (below, drawn)):
        corners = panel.collections[0].get_paths()[0].vertices
        for k, row in enumerate(rows):
            y = corners[corners[:, 0] == RPM[k], 1]
            shift = zero if np.isscalar(zero) else zero[k]
            assert y.min() == pytest.approx(float(row["torque, least [N m]"]) - shift, abs=1e-6)
            assert y.max() == pytest.approx(float(row["torque, most [N m]"]) - shift, abs=1e-6)


@pytest.mark.parametrize(
    ("given", "value", "said", "text"),
    [
        # T = 100 + 0.05 (N - 2000) from 2000 to 4000 rpm; P = T N pi/30
        ({"of": "torque", "at": "2500 rpm"}, 125.0, "125 N m", "torque at 2500 rpm"),
        ({"of": "power", "at": "3000 rpm"}, 150.0 * 100 * np.pi, "47.12 kW", "power at 3000 rpm"),
        ({"of": "peak_torque"}, 200.0, "200 N m", "peak torque"),
        (
            {"of": "flatness", "from": "2500 rpm", "to": "4000 rpm"},
            125.0 / 200.0,
            "0.6250",
            "flatness from 2500 to 4000 rpm",
        ),
        (
            {"of": "mean_torque", "from": "2000 rpm", "to": "3000 rpm"},
            125.0,
            "125 N m",
            "mean torque from 2000 to 3000 rpm",
        ),
        # mean of (100 + 0.05 (N - 2000)) N = 0.05 N^2 over 2000 to 4000, read at 500 rpm by lines
        (
            {"of": "mean_power", "from": "2000 rpm", "to": "4000 rpm"},
            None,
            None,
            "mean power from 2000 to 4000 rpm",
        ),
    ],
)
def test_aims_and_their_words(given, value, said, text):
    rpm = np.arange(2000.0, 4001.0, 500.0)
    torque = 100.0 + 0.05 * (rpm - 2000.0)
    aim = check_aim(Aim.model_validate(given), rpm, None)
    if value is None:
        power = torque * rpm * np.pi / 30.0
        value = (power.sum() - 0.5 * (power[0] + power[-1])) / 4.0
        assert value == pytest.approx(np.pi / 30.0 * 0.05 * (4000.0**3 - 2000.0**3) / 3.0 / 2000.0, rel=5e-3)
        said = f"{1e-3 * value:.4g} kW"
    assert value_of(aim, rpm, torque) == pytest.approx(value)
    assert aim_text(aim, value_of(aim, rpm, torque)) == said
    assert aim.words == text


@pytest.mark.parametrize(("workers", "together"), [(1, False), (2, True)])
def test_workers_is_how_many_points_are_marched_at_once(tmp_path, monkeypatch, workers, together):
    """Two points wait for each other: with one worker they never meet."""
    meeting, met = Barrier(2), []

    def met_there(engine, rpm, *_):
        try:
            meeting.wait(0.3)
            met.append(rpm)
        except BrokenBarrierError:
            meeting.reset()
        return made_up.point(engine, rpm), None

    (tmp_path / "study.yaml").write_text(
        HEAD + "vary: {intake.runner.length: [300 mm]}\nspeeds: [3000 rpm, 4000 rpm]\n"
    )
    monkeypatch.setattr(stretches, "point_beside", met_there)
    ran = command("study", tmp_path / "study.yaml", "--workers", workers, out=tmp_path / "o")
    assert ran.code == 0
    assert bool(met) == together
