"""What a search prints, writes and draws."""

import numpy as np
import pytest
import xarray as xr
import yaml
from tests.printed import lines_of, right_aligned, rows_of
from tests.studies import SPAN, asked, torque_of

KEYS = ("length [mm]", "closes_abdc [deg]")
SPEEDS = "speeds: {from: 2000 rpm, to: 5000 rpm, step: 250 rpm}\n"

SEARCH = (
    SPAN
    + SPEEDS
    + (
        "search:\n  aim: {of: mean_torque, from: 2500 rpm, to: 4000 rpm}\n"
        "  limits: [{at: 5000 rpm, at_least: 235 N m}]\n  evaluations: 40\n"
    )
)


@pytest.fixture(scope="module")
def searched(tmp_path_factory):
    return asked(tmp_path_factory.mktemp("search") / "s", SEARCH)


def mean_torque(torque):
    part = torque[2:9]
    return (part.sum() - 0.5 * (part[0] + part[-1])) / 6.0


def best_of(rows):
    fitting = [r for r in rows if r["keeps limits"] == "yes"]
    return max(fitting, key=lambda r: float(r["mean torque from 2500 to 4000 rpm [N m]"]))


def test_every_curve_looked_at_is_written(searched):
    ran, plan = searched
    rows = rows_of(ran.out / "study.csv")
    assert {r["keeps limits"] for r in rows} == {"yes", "no"}
    assert {r["speeds"] for r in rows} == {"13"}
    for row in rows:
        torque = torque_of(plan, (float(row["length [mm]"]), float(row["closes_abdc [deg]"])))
        aim = float(row["mean torque from 2500 to 4000 rpm [N m]"])
        assert aim == pytest.approx(mean_torque(torque), rel=1e-8)
        top = float(row["limit: torque at 5000 rpm [N m]"])
        assert top == pytest.approx(torque[-1], rel=1e-8)


def test_search_as_a_dataset(searched):
    """What the CSV has, in SI; the best is marked."""
    ran, _ = searched
    data, rows = xr.load_dataset(ran.out / "study.nc"), rows_of(ran.out / "study.csv")
    assert data.length.attrs == {"units": "mm", "long_name": "intake.runner.length"}
    for name, heading in (
        ("length", "length [mm]"),
        ("limit_1", "limit: torque at 5000 rpm [N m]"),
        ("aim", "mean torque from 2500 to 4000 rpm [N m]"),
    ):
        assert data[name].values == pytest.approx([float(r[heading]) for r in rows], rel=1e-8)
    # Finer cells have less torque: that is kept in reserve.
    over = data.over_limit_1.values
    (reserve,) = np.unique((data.limit_1.values - 235.0 - over).round(9))
    assert 0.0 < reserve < 0.5
    assert [r["keeps limits"] for r in rows] == ["yes" if v >= 0.0 else "no" for v in over]
    assert data.aim.attrs["long_name"] == "mean torque from 2500 to 4000 rpm"
    (best,) = np.flatnonzero(data.best.values)
    assert rows[best] == best_of(rows)
    assert float(data.aim[best]) == pytest.approx(mean_torque(data.torque.values[best]))


def test_search_printed(searched):
    ran, plan = searched
    rows = rows_of(ran.out / "study.csv")
    best = best_of(rows)
    values = float(best["length [mm]"]), float(best["closes_abdc [deg]"])
    value = float(best["mean torque from 2500 to 4000 rpm [N m]"])
    assert (
        f"Best mean torque from 2500 to 4000 rpm: {value:.4g} N m with length {values[0]:.4g} mm,"
        f" closes_abdc {values[1]:.4g} deg" in ran.said
    )
    finer = mean_torque(torque_of(plan, values, 2.0))
    assert finer != value
    assert (
        f"(40 curves computed (`evaluations`), plus {len(rows) - 40} around the best; with"
        f" cells and time step halved the best has {finer:.4g} N m,"
        f" {100 * (finer / value - 1):+.2f} %)" in ran.said
    )
    top = torque_of(plan, values)[-1]
    on_finer = torque_of(plan, values, 2.0)[-1]
    assert (
        f"torque at 5000 rpm: {top:.1f} N m, at least 235.0 N m asked; {on_finer:.1f} N m with cells and time"
        " step halved, for which 0.1 N m are kept in reserve" in ran.said
    )
    assert on_finer >= 235.0
    # What lies a plain step away: length 10 mm, closing 0.5 deg (a fortieth of the span, rounded).
    for name, unit, step, k in (("length", "mm", 10.0, 0), ("closes_abdc", "deg", 0.5, 1)):
        said = []
        for sign, word in ((-1, "less"), (1, "more")):
            there = list(values)
            there[k] += sign * step
            low, high = ((250.0, 650.0), (40.0, 50.0))[k]
            if not low - 1e-6 <= there[k] <= high + 1e-6:
                said.append(f"{step:g} {unit} {word} is outside the span")
                continue
            torque = torque_of(plan, tuple(there))
            cost = value - mean_torque(torque)
            if torque[-1] < 235.14:
                said.append(f"{step:g} {unit} {word} breaks a limit")
            else:
                told = f"costs {cost:.2g} N m" if cost > 0 else "costs nothing"
                said.append(f"{step:g} {unit} {word} {told}")
        line = next(x for x in ran.said.splitlines() if x.startswith(f"{name}: "))
        assert line == f"{name}: {said[0]}; {said[1]}"


def test_search_drawn(searched):
    ran, _ = searched
    rows = rows_of(ran.out / "study.csv")
    panels = [a for a in ran.pictures["study.png"].axes if a.get_ylabel() == "aim, N m"]
    aim = "mean torque from 2500 to 4000 rpm [N m]"
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
    text = (
        SPAN
        + SPEEDS
        + (
            "search:\n  aim: {of: torque, at: 3000 rpm}\n  evaluations: 40\n"
            "  limits: [{at: 4000 rpm, at_least: 150 N m}]\n"
        )
    )
    ran, plan = asked(tmp_path / "s", text)
    rows = rows_of(ran.out / "study.csv")
    best = max(rows, key=lambda r: float(r["torque at 3000 rpm [N m]"]))
    at = [float(best["length [mm]"]), float(best["closes_abdc [deg]"])]
    value, kept = torque_of(plan, tuple(at))[[4, 8]]
    assert kept > 151.0
    assert f"torque at 4000 rpm: {kept:.1f} N m, at least 150.0 N m asked" in ran.said
    for sign, word in ((-1, "less"), (1, "more")):
        there = torque_of(plan, (at[0] + sign * 10.0, at[1]))[4]
        line = next(x for x in ran.said.splitlines() if x.startswith("length: "))
        assert f"10 mm {word} costs {value - there:.2g} N m" in line
        assert value > there
        assert any(
            abs(float(r["length [mm]"]) - at[0] - sign * 10.0) < 1e-5
            and float(r["closes_abdc [deg]"]) == pytest.approx(at[1])
            for r in rows
        )


def test_trade_off_printed_written_and_drawn(tmp_path):
    text = (
        SPAN
        + SPEEDS
        + (
            "search:\n  aim: {of: mean_power, from: 2000 rpm, to: 3000 rpm}\n"
            "  second_aim: {of: flatness}\n  evaluations: 40\n"
        )
    )
    ran, _ = asked(tmp_path / "s", text)
    names = ("mean power from 2000 to 3000 rpm", "flatness from 2500 to 4000 rpm")
    every = rows_of(ran.out / "study.csv")
    most = max(int(r["speeds"]) for r in every)  # of the designs that are set against each other
    rows = [r for r in every if int(r["speeds"]) == most]
    pairs, computed = (
        [(1e3 * float(r[f"{names[0]} [kW]"]), float(r[names[1]])) for r in some] for some in (rows, every)
    )
    front = sorted(p for p in pairs if not any(q[0] >= p[0] and q[1] >= p[1] and q != p for q in pairs))
    headings, table = right_aligned(ran.said[ran.said.index("Trade-off") :], "file")
    assert headings == ["file", "aim kW", "second aim", "length mm", "closes_abdc deg"]
    by_pair = dict(zip(pairs, rows, strict=True))
    at, drawn = 0, []
    for k, row in enumerate(table, 1):  # designs as good as the one before are left out
        shown = [(i, p) for i, p in enumerate(front) if row[1:3] == [f"{1e-3 * p[0]:.1f}", f"{p[1]:.4f}"]]
        where = [i for i, p in shown if row[3:] == [f"{float(by_pair[p][h]):.4g}" for h in KEYS]]
        assert len(where) == 1
        assert where[0] >= at
        at = where[0] + 1
        drawn.append(front[where[0]])
        engine = yaml.safe_load((ran.out / f"study-front-{k:02d}.yaml").read_text())
        length = engine["intake"]["runner"]["length"]
        assert float(length.split()[0]) == pytest.approx(float(by_pair[front[where[0]]]["length [mm]"]))
    assert row[0] == str(len(table))
    assert not (ran.out / f"study-front-{len(table) + 1:02d}.yaml").exists()
    assert at == len(front)
    panel = ran.pictures["study.png"].axes[2]
    assert panel.get_title() == f"second aim: {names[1]}"
    x, y = lines_of(panel)["no curve better in both"]
    assert list(zip(x, y, strict=True)) == [pytest.approx((1e-3 * a, b)) for a, b in drawn]
    x, y = lines_of(panel)["computed"]
    assert sorted(zip(x, y, strict=True)) == [pytest.approx((1e-3 * a, b)) for a, b in sorted(computed)]
