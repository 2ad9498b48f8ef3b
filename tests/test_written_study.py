"""What study prints, writes and draws, for every question it answers, from the made-up engine."""

import re
from threading import Barrier, BrokenBarrierError

import numpy as np
import pytest
import xarray as xr
from tests import made_up
from tests.conftest import DEMO
from tests.printed import command, lines_of, right_aligned, rows_of
from tests.test_written_curves import UNITS

from aircolumn.study import work
from aircolumn.study.aims import check_aim, shown, value_of, words
from aircolumn.study.models import Aim
from aircolumn.study.plan import read_study

RPM = np.arange(2000.0, 5001.0, 500.0)
SPEEDS = "speeds: {from: 2000 rpm, to: 5000 rpm, step: 500 rpm}\n"
HEAD = f"engine: {DEMO}\n"
GRID = (
    "vary:\n  intake.runner.length: {from: 250 mm, to: 650 mm, steps: 5}\n"
    "  intake.runner.bore.to: [39 mm, 40 mm, 41 mm, 42 mm]\n"
)
SPAN = (
    "vary:\n  intake.runner.length: {from: 250 mm, to: 650 mm}\n"
    "  intake.valve.closes_abdc: {from: 40 deg, to: 50 deg}\n"
)


def asked(folder, text, *more, missing=()):
    """A study that was run: (what came of the command, its plan)."""
    folder.mkdir(exist_ok=True)
    (folder / "study.yaml").write_text(HEAD + text)
    with made_up.in_place(missing):
        ran = command("study", folder / "study.yaml", *more, out=folder / "o")
    return ran, read_study(folder / "study.yaml")


def torque_of(plan, values, refinement=1.0):
    """Torque of the made-up engine at the plan's speeds."""
    engine = plan.case(values).engine
    return np.array([made_up.point(engine, n, refinement).figures["torque"] for n in plan.speeds])


# --- sweep


@pytest.fixture(scope="module")
def swept(tmp_path_factory):
    return asked(tmp_path_factory.mktemp("sweep") / "s", GRID + SPEEDS)


LENGTHS, BORES = np.linspace(250.0, 650.0, 5), np.array([39.0, 40.0, 41.0, 42.0])


@pytest.fixture(scope="module")
def torques(swept):
    _, plan = swept
    return np.array([[torque_of(plan, (a, b)) for b in BORES] for a in LENGTHS])


def test_sweep_printed(swept, torques):
    ran, _ = swept
    assert ran.code == 0
    head = ran.said.splitlines()[0]
    assert "belong to another" not in ran.said
    assert re.match(r"140 points computed, \S+ a second; 0 were in .*points\.sqlite$", head)
    text = ran.said[ran.said.index("Most torque at each speed") :]
    lines = text.splitlines()[3:10]
    for k, line in enumerate(lines):
        i, j = np.unravel_index(np.argmax(torques[:, :, k]), torques.shape[:2])
        rpm, torque, case = re.split(r"\s{2,}", line.strip())
        assert rpm == f"{RPM[k]:.0f}"
        assert torque == f"{torques[i, j, k]:.1f}"
        assert case == f"length {LENGTHS[i]:.4g} mm, bore_to {BORES[j]:.4g} mm"
    assert len({line.split("length ")[1] for line in lines}) > 2


def test_sweep_written(swept, torques):
    ran, plan = swept
    data = xr.load_dataset(ran.out / "study.nc")
    assert data.torque.dims == ("length", "bore_to", "rpm")
    assert (data.length.attrs["units"], data.bore_to.attrs["units"]) == ("mm", "mm")
    assert data.bore_to.attrs["long_name"] == "intake.runner.bore.to"
    np.testing.assert_allclose(data.torque.values, torques, rtol=1e-12)
    keys = ("length [mm]", "bore_to [mm]", "rpm [rev/min]")
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
                    assert float(row[f"{name} [{unit}]"]) == pytest.approx(point[name], rel=1e-9)
    assert rows_of(ran.out / "failed.csv") == []
    assert (ran.out / "study.txt").read_text().startswith(ran.said.split("\n\nwritten to")[0])


def test_sweep_drawn(swept, torques):
    ran, _ = swept
    ve, torque = ran.pictures["study-family.png"].axes
    lines = lines_of(torque)
    assert list(lines) == ["250", "350", "450", "550", "650"]
    for k, (x, y) in enumerate(lines.values()):
        assert list(x) == list(RPM)
        assert y == pytest.approx(torques[k, 2])  # the other key in its middle: 41 mm
    assert torque.get_legend().get_title().get_text() == "intake.runner.length, mm (bore_to 41 mm)"
    data = xr.load_dataset(ran.out / "study.nc")
    assert [y for _, y in lines_of(ve).values()] == [
        pytest.approx(data.ve.values[k, 2]) for k in range(5)
    ]
    top, *below = ran.pictures["study-envelope.png"].axes
    assert lines_of(top)["best at each speed"][1] == pytest.approx(torques.max(axis=(0, 1)))
    best = [np.unravel_index(np.argmax(torques[:, :, k]), (5, 4)) for k in range(RPM.size)]
    assert list(below[0].lines[0].get_ydata()) == [LENGTHS[i] for i, _ in best]
    assert list(below[1].lines[0].get_ydata()) == [BORES[j] for _, j in best]
    panels = [a for a in ran.pictures["study-contour.png"].axes if a.lines]
    x, y = panels[0].lines[0].get_data()
    assert list(x) == [RPM[k] for k in np.argmax(data.ve.values[:, 2], axis=1)]
    assert list(y) == list(LENGTHS)
    mean = torques[:, :, 1:5]  # 2500 to 4000 rpm
    mean = (mean.sum(axis=2) - 0.5 * (mean[:, :, 0] + mean[:, :, -1])) / 3.0
    i, j = np.unravel_index(np.argmax(mean), mean.shape)
    assert panels[1].lines[0].get_data() == ([BORES[j]], [LENGTHS[i]])
    filled = panels[1].collections[0]
    assert (filled.zmin, filled.zmax) == pytest.approx((mean.min(), mean.max()))
    assert panels[1].get_title() == "Mean torque from 2500 to 4000 rev/min"


def test_failures_are_listed(tmp_path):
    ran, _ = asked(tmp_path / "s", GRID + SPEEDS, missing=(3000.0,))
    assert ran.code == 0
    assert "20 points failed, all in failed.csv" in ran.said
    why = "ComputationError: at 3000 rpm made up to fail"
    assert f"  length 250 mm, bore_to 39 mm, 3000 rpm: {why}" in ran.said
    assert "  and 12 more" in ran.said
    rows = rows_of(ran.out / "failed.csv")
    assert [(float(r["length [mm]"]), float(r["bore_to [mm]"])) for r in rows] == [
        (a, b) for a in LENGTHS for b in BORES
    ]
    assert {(r["rpm [rev/min]"], r["reason"]) for r in rows} == {("3000", why)}
    text = ran.said[ran.said.index("Most torque") :].splitlines()
    assert re.split(r"\s{2,}", text[5].strip()) == ["3000", "-", "all failed"]
    assert "all failed" not in text[4]


def test_a_grid_of_three_keys_is_cut_in_the_middle(tmp_path):
    text = GRID + "  intake.plenum.volume: [4 L, 6 L, 8 L]\n" + SPEEDS
    ran, plan = asked(tmp_path / "s", text.replace("steps: 5", "steps: 3"))
    lengths, bores = (250.0, 450.0, 650.0), BORES
    mean = np.array([[mean_torque(torque_of(plan, (a, b, 6.0))) for b in bores] for a in lengths])
    panels = [a for a in ran.pictures["study-contour.png"].axes if a.lines]
    i, j = np.unravel_index(np.argmax(mean), mean.shape)
    assert panels[1].lines[0].get_data() == ([bores[j]], [lengths[i]])
    filled = panels[1].collections[0]
    assert (filled.zmin, filled.zmax) == pytest.approx((mean.min(), mean.max()))
    assert panels[0].get_title() == "Volumetric efficiency at bore_to 41 mm, volume 6 L"
    assert [a.get_ylabel() for a in ran.pictures["study-envelope.png"].axes[1:]] == [
        "intake.runner.length, mm", "intake.runner.bore.to, mm", "intake.plenum.volume, L",
    ]  # fmt: skip


def test_a_tolerance_that_cannot_be_computed_says_why(tmp_path):
    text = (
        "vary:\n  intake.runner.bore: {plus_minus: 0.4 mm}\ntolerance: {count: 8}\n"
        "speeds: [3000 rpm]\n"
    )
    ran, _ = asked(tmp_path / "s", text, missing=(3000.0,))
    assert ran.code == 1
    assert "9 points within the tolerance fail: ComputationError: at 3000 rpm" in ran.complaints


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
        k = list(RPM).index(float(row["rpm [rev/min]"]))
        assert float(row["torque [N m]"]) == pytest.approx(torque[k], rel=1e-9)
    assert len(rows) == 14


def test_a_sample(tmp_path):
    ran, plan = asked(tmp_path / "s", SPAN + SPEEDS + "sample: {count: 4, method: halton}\n")
    rows = rows_of(ran.out / "study.csv")
    assert len(rows) == 28
    for row in rows:
        values = float(row["length [mm]"]), float(row["closes_abdc [deg]"])
        k = list(RPM).index(float(row["rpm [rev/min]"]))
        assert float(row["torque [N m]"]) == pytest.approx(torque_of(plan, values)[k], rel=1e-9)
    top, *below = ran.pictures["study-envelope.png"].axes
    torque = np.array([torque_of(plan, c.values) for c in plan.cases])
    assert lines_of(top)["best at each speed"][1] == pytest.approx(torque.max(axis=0))
    best = torque.argmax(axis=0)
    for panel, k in zip(below, (0, 1), strict=True):
        assert list(panel.lines[0].get_ydata()) == [plan.cases[b].values[k] for b in best]
    assert "study-contour.png" not in ran.pictures


# --- search

SEARCH = SPAN + SPEEDS + (
    "search:\n  aim: {of: mean_torque, from: 2500 rpm, to: 4000 rpm}\n"
    "  limits: [{at: 5000 rpm, at_least: 235 N m}]\n  evaluations: 40\n"
)  # fmt: skip


@pytest.fixture(scope="module")
def searched(tmp_path_factory):
    return asked(tmp_path_factory.mktemp("search") / "s", SEARCH)


def mean_torque(torque):
    part = torque[1:5]
    return (part.sum() - 0.5 * (part[0] + part[-1])) / 3.0


def best_of(rows):
    fitting = [r for r in rows if r["keeps limits"] == "yes"]
    return max(fitting, key=lambda r: float(r["mean torque from 2500 to 4000 rpm [SI]"]))


def test_every_curve_looked_at_is_written(searched):
    ran, plan = searched
    rows = rows_of(ran.out / "study.csv")
    assert {r["keeps limits"] for r in rows} == {"yes", "no"}
    for row in rows:
        torque = torque_of(plan, (float(row["length [mm]"]), float(row["closes_abdc [deg]"])))
        aim = float(row["mean torque from 2500 to 4000 rpm [SI]"])
        assert aim == pytest.approx(mean_torque(torque), rel=1e-8)
        over = float(row["over the limit at 5000 rpm [N m]"])
        assert over == pytest.approx(torque[-1] - 235.0, abs=1e-6)
        assert row["keeps limits"] == ("yes" if over >= 0.0 else "no")


def test_search_printed(searched):
    ran, plan = searched
    rows = rows_of(ran.out / "study.csv")
    best = best_of(rows)
    values = float(best["length [mm]"]), float(best["closes_abdc [deg]"])
    value = float(best["mean torque from 2500 to 4000 rpm [SI]"])
    assert (
        f"Best mean torque from 2500 to 4000 rpm: {value:.4g} N m with length {values[0]:.4g} mm,"
        f" closes_abdc {values[1]:.4g} deg" in ran.said
    )
    finer = mean_torque(torque_of(plan, values, 2.0))
    assert finer != value
    assert (
        f"({len(rows)} curves looked at; on cells and step halved {finer:.4g} N m,"
        f" {100 * (finer / value - 1):+.2f} %)" in ran.said
    )
    top = torque_of(plan, values)[-1]
    assert f"torque at 5000 rpm: {top:.1f} N m, at least 235.0 asked" in ran.said
    # What lies a plain step away: length 10 mm, closing 0.5 deg (a fortieth of the span, rounded).
    for name, unit, step, k in (("length", "mm", 10.0, 0), ("closes_abdc", "deg", 0.5, 1)):
        said = []
        for sign, word in ((-1, "less"), (1, "more")):
            there = list(values)
            there[k] += sign * step
            low, high = ((250.0, 650.0), (40.0, 50.0))[k]
            if not low - 1e-6 <= there[k] <= high + 1e-6:
                said.append(f"{word} ends the span")
                continue
            torque = torque_of(plan, tuple(there))
            cost = value - mean_torque(torque)
            if torque[-1] < 235.0:
                said.append(f"{word} breaks a limit")
            else:
                said.append(f"{word} costs {cost:.4g} N m" if cost > 0 else f"{word} costs nothing")
        line = next(x for x in ran.said.splitlines() if x.startswith(f"{name}: "))
        assert line == f"{name}: {step:g} {unit} {said[0]}, {said[1]}" or line == (
            f"{name}: {step:.1f} {unit} {said[0]}, {said[1]}"
        )


def test_search_drawn(searched):
    ran, _ = searched
    rows = rows_of(ran.out / "study.csv")
    panels = [a for a in ran.pictures["study.png"].axes if a.get_ylabel() == "aim, N m"]
    aim = "mean torque from 2500 to 4000 rpm [SI]"
    for panel, key in zip(panels, ("length [mm]", "closes_abdc [deg]"), strict=True):
        dots = panel.collections[0].get_offsets()
        kept = [(float(r[key]), float(r[aim])) for r in rows if r["keeps limits"] == "yes"]
        assert np.asarray(dots) == pytest.approx(np.array(kept), rel=1e-8)
        crosses, ring = panel.lines
        broken = [(float(r[key]), float(r[aim])) for r in rows if r["keeps limits"] == "no"]
        assert np.transpose(crosses.get_data()) == pytest.approx(np.array(broken), rel=1e-8)
        best = best_of(rows)
        assert ring.get_data()[0][0] == pytest.approx(float(best[key]), rel=1e-8)
        assert ring.get_data()[1][0] == pytest.approx(float(best[aim]), rel=1e-8)


def test_neighbours_lie_a_step_away_and_the_costs_are_told(tmp_path):
    """Inside the spans, with a limit that is easily kept."""
    text = SPAN + SPEEDS + (
        "search:\n  aim: {of: torque, at: 3000 rpm}\n  evaluations: 40\n"
        "  limits: [{at: 4000 rpm, at_least: 150 N m}]\n"
    )  # fmt: skip
    ran, plan = asked(tmp_path / "s", text)
    rows = rows_of(ran.out / "study.csv")
    best = max(rows, key=lambda r: float(r["torque at 3000 rpm [SI]"]))
    at = [float(best["length [mm]"]), float(best["closes_abdc [deg]"])]
    value, kept = torque_of(plan, tuple(at))[[2, 4]]
    assert kept > 151.0
    assert f"torque at 4000 rpm: {kept:.1f} N m, at least 150.0 asked" in ran.said
    for sign, word in ((-1, "less"), (1, "more")):
        there = torque_of(plan, (at[0] + sign * 10.0, at[1]))[2]
        line = next(x for x in ran.said.splitlines() if x.startswith("length: "))
        assert f"{word} costs {value - there:.4g} N m" in line
        assert value > there
        assert any(
            abs(float(r["length [mm]"]) - at[0] - sign * 10.0) < 1e-5
            and float(r["closes_abdc [deg]"]) == pytest.approx(at[1]) for r in rows
        )  # fmt: skip


def test_trade_off_printed_written_and_drawn(tmp_path):
    text = SPAN + SPEEDS + (
        "search:\n  aim: {of: mean_power, from: 2000 rpm, to: 3000 rpm}\n"
        "  second_aim: {of: flatness}\n  evaluations: 40\n"
    )  # fmt: skip
    ran, _ = asked(tmp_path / "s", text)
    rows = rows_of(ran.out / "study.csv")
    names = ("mean power from 2000 to 3000 rpm", "flatness from 2500 to 4000 rpm")
    pairs = [tuple(float(r[f"{n} [SI]"]) for n in names) for r in rows]
    front = sorted(p for p in pairs if not any(
        q[0] >= p[0] and q[1] >= p[1] and q != p for q in pairs))  # fmt: skip
    headings, table = right_aligned(ran.said[ran.said.index("Trade-off") :], "mean power")
    assert headings == [*names, "with"]
    assert [row[:2] for row in table] == [[f"{1e-3 * a:.4g} kW", f"{b:.4f}"] for a, b in front]
    by_pair = dict(zip(pairs, rows, strict=True))
    for row, pair in zip(table, front, strict=True):
        case = by_pair[pair]
        assert row[2] == (
            f"length {float(case['length [mm]']):.4g} mm, closes_abdc"
            f" {float(case['closes_abdc [deg]']):.4g} deg"
        )
    panel = ran.pictures["study.png"].axes[2]
    assert panel.get_title() == f"second aim: {names[1]}"
    x, y = lines_of(panel)["no curve better in both"]
    assert list(zip(x, y, strict=True)) == [pytest.approx((1e-3 * a, b)) for a, b in front]
    x, y = lines_of(panel)["looked at"]
    assert sorted(zip(x, y, strict=True)) == [
        pytest.approx((1e-3 * a, b)) for a, b in sorted(pairs)
    ]


# --- sensitivity and tolerance


def test_sensitivity_printed_written_and_drawn(tmp_path):
    """First-order shares of a nearly additive aim add up to 1; the larger effect comes first."""
    text = SPAN + SPEEDS + "sensitivity: {count: 32, aim: {of: torque, at: 4500 rpm}}\n"
    ran, plan = asked(tmp_path / "s", text)
    rows = {r["key"]: r for r in rows_of(ran.out / "study.csv")}
    with open(ran.out / "study.csv") as file:
        lines = [x.rstrip("\n").split(",") for x in file]
    assert lines[0] == ["key", "first order", "half-width", "total", "half-width"]
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
    assert [t.get_text() for t in panel.get_yticklabels()] == [a.key for a in plan.axes]


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
            "rpm [rev/min],torque [N m],least [N m],most [N m],ve [1],least [1],most [1],torque per"
            " unit of bore [N m],torque per unit of length [N m]\n"
        )
    headings, table = right_aligned(ran.said, "rpm")
    assert headings == ["rpm", "torque N m", "least", "most", "N m per mm of bore",
                        "N m per mm of length"]  # fmt: skip
    assert "Torque as drawn and within bore +-0.4 mm, length +-20 mm (17 curves)" in ran.said
    corners = np.array([torque_of(plan, (a, b)) for a in (-0.4, 0.4) for b in (-20.0, 20.0)])
    for k, (row, cells) in enumerate(zip(rows, table, strict=True)):
        low, high = float(row["least [N m]"]), float(row["most [N m]"])
        torque = float(row["torque [N m]"])
        assert torque == pytest.approx(drawn[k], rel=1e-9)
        ve = float(row["ve [1]"])
        assert ve == pytest.approx(
            made_up.point(plan.case((0.0, 0.0)).engine, RPM[k]).figures["ve"]
        )
        assert float(row["least [1]"]) < ve < float(row["most [1]"])
        assert low < torque < high
        # The torque is nearly a plane over so little: the band reaches most of the way to the
        # corners, and not beyond.
        spread = corners[:, k].max() - corners[:, k].min()
        assert corners[:, k].min() - 0.05 * spread <= low
        assert high <= corners[:, k].max() + 0.05 * spread
        assert high - low > 0.5 * spread
        slopes = [(torque_of(plan, p)[k] - torque_of(plan, m)[k]) / w for p, m, w in (
            ((0.4, 0.0), (-0.4, 0.0), 0.8), ((0.0, 20.0), (0.0, -20.0), 40.0))]  # fmt: skip
        told = [float(row[f"torque per unit of {n} [N m]"]) for n in ("bore", "length")]
        assert told == pytest.approx(slopes, abs=0.05 * max(map(abs, slopes)) + 0.02)
        assert cells == [
            f"{RPM[k]:.0f}", f"{torque:.1f}", f"{low - torque:+.2f}", f"{high - torque:+.2f}",
            *(f"{s:+.2f}" for s in told),
        ]  # fmt: skip
    top, below = ran.pictures["study.png"].axes
    assert lines_of(top)["as drawn"][1] == pytest.approx(drawn)
    for panel, zero in ((top, 0.0), (below, drawn)):
        corners = panel.collections[0].get_paths()[0].vertices
        for k, row in enumerate(rows):
            y = corners[corners[:, 0] == RPM[k], 1]
            shift = zero if np.isscalar(zero) else zero[k]
            assert y.min() == pytest.approx(float(row["least [N m]"]) - shift, abs=1e-6)
            assert y.max() == pytest.approx(float(row["most [N m]"]) - shift, abs=1e-6)


# --- aims, workers


@pytest.mark.parametrize(
    ("given", "value", "said", "text"),
    [
        # T = 100 + 0.05 (N - 2000) from 2000 to 4000 rpm; P = T N pi/30
        ({"of": "torque", "at": "2500 rpm"}, 125.0, "125 N m", "torque at 2500 rpm"),
        ({"of": "power", "at": "3000 rpm"}, 150.0 * 100 * np.pi, "47.12 kW", "power at 3000 rpm"),
        ({"of": "peak_torque"}, 200.0, "200 N m", "peak torque"),
        ({"of": "flatness", "from": "2500 rpm", "to": "4000 rpm"}, 125.0 / 200.0, "0.6250",
         "flatness from 2500 to 4000 rpm"),
        ({"of": "mean_torque", "from": "2000 rpm", "to": "3000 rpm"}, 125.0, "125 N m",
         "mean torque from 2000 to 3000 rpm"),
        # mean of (100 + 0.05 (N - 2000)) N = 0.05 N^2 over 2000 to 4000, read at 500 rpm by lines
        ({"of": "mean_power", "from": "2000 rpm", "to": "4000 rpm"}, None, None,
         "mean power from 2000 to 4000 rpm"),
    ],
)  # fmt: skip
def test_aims_and_their_words(given, value, said, text):
    rpm = np.arange(2000.0, 4001.0, 500.0)
    torque = 100.0 + 0.05 * (rpm - 2000.0)
    aim = check_aim(Aim.model_validate(given), rpm, None)
    if value is None:
        power = torque * rpm * np.pi / 30.0
        value = (power.sum() - 0.5 * (power[0] + power[-1])) / 4.0
        assert value == pytest.approx(np.pi / 30.0 * 0.05 * (4000.0**3 - 2000.0**3) / 3.0 / 2000.0,
                                      rel=5e-3)  # fmt: skip
        said = f"{1e-3 * value:.4g} kW"
    assert value_of(aim, rpm, torque) == pytest.approx(value)
    assert shown(aim, value_of(aim, rpm, torque)) == said
    assert words(aim) == text


@pytest.mark.parametrize(("workers", "together"), [(1, False), (2, True)])
def test_workers_is_how_many_points_are_marched_at_once(tmp_path, monkeypatch, workers, together):
    """Two points wait for each other: with one worker they never meet."""
    meeting, met = Barrier(2), []

    def converged(engine, rpm, refinement=1.0, change=None, start=None):
        try:
            meeting.wait(0.3)
            met.append(rpm)
        except BrokenBarrierError:
            meeting.reset()
        return engine, None, made_up.point(engine, rpm)

    (tmp_path / "study.yaml").write_text(
        HEAD + "vary: {intake.runner.length: [300 mm]}\nspeeds: [3000 rpm, 4000 rpm]\n"
    )
    monkeypatch.setattr(work, "converged", converged)
    ran = command("study", tmp_path / "study.yaml", "--workers", workers, out=tmp_path / "o")
    assert ran.code == 0
    assert bool(met) == together
