"""Speeds added between those of the file: peaks, dips and crossings of known curves are found,
within a budget; what is shown of it, and where."""

from itertools import chain

import numpy as np
import pytest
import xarray as xr
from tests import made_up
from tests.conftest import DEMO
from tests.printed import command, drawn
from tests.random_engines import plausible

import aircolumn
from aircolumn.curves import grown
from aircolumn.curves.locate import located, wanted
from aircolumn.curves.points import compute_points
from aircolumn.curves.summary import crossings, high_humps
from aircolumn.curves.to_xarray import own_curve
from aircolumn.engine.model.figures import OperatingPoint
from aircolumn.engine.model.stretches import Marched
from aircolumn.output.plots import through_points

NOTHING = ([], [], [])
ASKED = np.arange(1500.0, 6001.0, 500.0)


def narrow(rpm, at):
    """A hump that 500 rpm steps cut off: 116.6 % at ``at``."""
    return 1.0 + 0.166 * np.exp(-(((rpm - at) / 300.0) ** 2)) - 0.03 * np.sin(rpm / 700.0)


def filled_in(shapes, within=25.0):
    """Speeds once nothing more is wanted of the curves ``shapes``."""
    speeds = ASKED
    for _ in range(50):
        due = list(chain(*wanted(speeds, [f(speeds) for f in shapes], within)))
        if not due:
            break
        speeds = np.sort(np.append(speeds, due))
    return speeds


@pytest.mark.parametrize("at", [2260.0, 3333.0, 4300.0, 4490.0, 5710.0])
def test_a_narrow_hump_is_located(at):
    speeds = filled_in([lambda n: narrow(n, at)])
    fine = np.arange(1500.0, 6001.0)
    values, exact = narrow(speeds, at), narrow(fine, at)
    assert abs(speeds[values.argmax()] - fine[exact.argmax()]) <= 25.0
    assert exact.max() - values.max() < 0.002
    assert speeds.size <= ASKED.size + 30


def test_hollows_too():
    speeds = filled_in([lambda n: 2.0 - narrow(n, 3720.0)])
    values = 2.0 - narrow(speeds, 3720.0)
    inner = slice(1, -1)
    fine = np.arange(3000.0, 4500.0)
    exact = fine[(2.0 - narrow(fine, 3720.0)).argmin()]
    assert abs(speeds[inner][values[inner].argmin()] - exact) <= 25.0


def march_of(shapes):
    """In place of the march: engines are numbers, VE and torque of each a known curve."""

    def marched(jobs, *_, **more):
        for key, stretch in jobs.items():
            yield key, [Marched(at, made_up_point(shapes[e](n), n)) for at, e, n in stretch.points]

    return marched


def made_up_point(value, rpm):
    return OperatingPoint(rpm, {"ve": value, "torque": value}, None, np.array([value]))


def test_crossings_are_closed_in_on(monkeypatch):
    """Where straight lines between two points do not tell well where the curves meet."""
    shapes = (lambda n: 1.0 + n * 1e-5, lambda n: 1.0 + n * 3e-5 - 0.0646 + 8e-10 * (n - 3230.0) ** 3)
    monkeypatch.setattr(grown, "march_all", march_of(shapes))
    found = located([0, 1], ASKED, 25.0, 40)
    torque = found.grid.figure("torque")
    (at,) = crossings(found.speeds, *torque)
    assert at == pytest.approx(3230.0, abs=12.5)
    assert found.speeds.size > ASKED.size


def test_what_is_added_for_one_curve_is_not_the_others_own(monkeypatch):
    """Each curve's own points are the same alone and beside others."""
    shapes = (lambda n: narrow(n, 2260.0), lambda n: narrow(n, 4490.0))
    monkeypatch.setattr(grown, "march_all", march_of(shapes))
    alone = [located([k], ASKED, 25.0, 40) for k in (0, 1)]
    both = located([0, 1], ASKED, 25.0, 40)
    for k, one in enumerate(alone):
        assert list(both.speeds[both.own[k]]) == list(one.speeds)
    assert not np.array_equal(*both.own)


def test_a_straight_curve_wants_nothing():
    assert wanted(ASKED, [1.0 + 1e-5 * ASKED], 25.0) == NOTHING
    assert wanted(ASKED, [narrow(ASKED, 4300.0)], 0.0) == NOTHING
    assert wanted(ASKED[:3], [narrow(ASKED[:3], 2000.0)], 25.0) == NOTHING


def test_points_that_failed_are_left_out():
    values = narrow(ASKED, 4300.0)
    values[2] = np.nan
    highest, others, halves = wanted(ASKED, [values], 25.0)
    assert highest
    assert np.all(np.isfinite([*highest, *others, *halves]))
    assert wanted(ASKED, [np.full(ASKED.size, np.nan)], 25.0) == NOTHING


@pytest.fixture
def engine():
    with made_up.in_place():
        yield aircolumn.load(DEMO).with_runner("long")


def test_located_on_the_made_up_engine(engine):
    found = located([engine], ASKED, 25.0, 40)
    fine = np.arange(1500.0, 6001.0, 5.0)
    exact = np.array([made_up.point(engine, n).figures["torque"] for n in fine])
    torque = found.grid.figure("torque")[0]
    assert abs(found.speeds[torque.argmax()] - fine[exact.argmax()]) <= 25.0
    assert not found.cut_short
    assert set(ASKED) < set(found.speeds)
    assert np.all(np.diff(found.speeds) >= 12.5)


def test_progress_counts_up_to_all_points(engine):
    told = []
    found = located([engine, engine], ASKED, 25.0, 40, lambda done, total: told.append((done, total)))
    done, total = np.array(told).T
    assert list(done) == list(range(1, 2 * found.speeds.size + 1))
    assert total[0] == 2 * ASKED.size
    assert total[-1] == done[-1]


def test_budget_is_kept_and_said(engine):
    found = located([engine], ASKED, 5.0, 3)
    assert found.speeds.size == ASKED.size + 3
    assert found.cut_short
    none = located([engine], ASKED, 0.0, 40)
    assert np.array_equal(none.speeds, ASKED)
    assert not none.cut_short


def test_every_hump_nearly_as_high_is_told():
    """Humps within 2 % of the highest; a lower one and a ripple are not."""
    rpm = np.arange(1000.0, 8001.0, 50.0)

    def bump(at, height):
        return height * np.exp(-(((rpm - at) / 300.0) ** 2))

    values = 1.0 + bump(2800.0, 0.064) + bump(3600.0, 0.066) + bump(5500.0, 0.03)
    humps = high_humps(rpm, values)
    assert [round(hump.rpm, -2) for hump in humps] == [3600.0, 2800.0]
    assert humps[0].value == values.max()


def test_commands_tell_the_same_humps(tmp_path):
    """curve of one candidate, compare of all, and explain: one set of figures."""
    with made_up.in_place():
        one = command("curve", DEMO, "--runner", "middle", out=tmp_path / "c", only_given=False)
        ran = command("compare", DEMO, out=tmp_path / "o", only_given=False)
        why = command("explain", DEMO, out=tmp_path / "e", only_given=False)
    alone = xr.open_dataset(one.out / "curve-middle.nc").sel(runner="middle")
    beside = own_curve(xr.open_dataset(ran.out / "compare.nc"), "middle")
    assert list(alone.rpm.values) == list(beside.rpm.values)
    assert list(alone.ve.values) == list(beside.ve.values)
    top = beside.isel(rpm=int(np.argmax(beside.ve.values)))
    said = f"hump at {float(top.rpm):.0f} rpm, VE {100 * float(top.ve):.1f} %"
    assert said in " ".join(why.said.split())
    assert f"{100 * float(top.ve):.1f} % at {float(top.rpm):.0f} rpm" in " ".join(ran.said.split())


@pytest.fixture(scope="module")
def compared_both_ways(tmp_path_factory):
    """(with added speeds, with no budget, with the file's speeds alone)."""
    out = tmp_path_factory.mktemp("located")
    few = DEMO.read_text().replace("speeds:\n", "speeds:\n  most_added: 0\n")
    assert few != DEMO.read_text()
    (out / "few.yaml").write_text(few)
    with made_up.in_place():
        return [
            command("compare", DEMO, out=out / "all", only_given=False),
            command("compare", out / "few.yaml", out=out / "few", only_given=False),
            command("compare", DEMO, out=out / "given"),
        ]


def test_tables_show_what_was_asked_files_hold_all(compared_both_ways):
    ran, _, given = compared_both_ways
    data = xr.open_dataset(ran.out / "compare.nc")
    added = int((data.asked == 0).sum())
    assert data.asked.attrs == {"units": "1", "long_name": "1: asked for, 0: added between"}
    assert added > 3
    assert data.sizes["rpm"] == ASKED.size + added
    assert f"The curves have {added} speeds more, in the files" in " ".join(ran.said.split())
    assert data.own.sum("rpm").min() >= 46  # every 100 rpm
    shown = [line.split()[0] for line in ran.said.splitlines() if line[:6].strip().isdigit()]
    assert [float(n) for n in shown] == list(ASKED)
    rows = (ran.out / "compare.csv").read_text().splitlines()
    assert sum(not r.startswith("#") for r in rows) == 1 + data.sizes["rpm"] * data.sizes["runner"]
    assert "speeds more" not in given.said
    assert xr.open_dataset(given.out / "compare.nc").sizes["rpm"] == ASKED.size


def test_a_spent_budget_is_told(compared_both_ways):
    ran = compared_both_ways[1]
    said = " ".join(ran.said.split())
    assert "Some humps, dips or crossings are less well located" in said
    assert "there are more than speeds.most_added allows for" in said


def test_curve_runs_through_the_points_and_breaks_where_one_is_missing():
    import matplotlib.pyplot as plt

    rpm, values = ASKED, narrow(ASKED, 4300.0)
    values[5] = np.nan
    with drawn():
        _, panel = plt.subplots()
        (line,) = through_points(panel, rpm, values)
    x, y = (np.asarray(v) for v in line.get_data())
    at = line.get_markevery()
    known = np.isfinite(values)
    assert x[at] == pytest.approx(rpm[known])
    assert y[at] == pytest.approx(values[known])
    assert np.all(np.isnan(y[(x > rpm[4]) & (x < rpm[6])]))
    whole = np.isfinite(y)
    assert y[whole].max() == pytest.approx(values[known].max())  # no overshoot
    assert np.count_nonzero(whole) > 5 * known.sum()


def test_the_last_of_the_budget_is_for_the_highest_hump(monkeypatch):
    """A curve that wants more than there is: its highest hump is located all the same."""

    def busy(rpm):
        return narrow(rpm, 3860.0) + 0.05 * np.sin(rpm / 61.0) + 0.03 * np.sin(rpm / 137.0)

    monkeypatch.setattr(grown, "march_all", march_of([busy]))
    found = located([0], ASKED, 25.0, 40)
    assert found.cut_short
    assert found.speeds.size <= ASKED.size + 40
    values = busy(found.speeds)
    top = found.speeds[values.argmax()]
    near = np.arange(top - 80.0, top + 81.0)
    assert abs(top - near[busy(near).argmax()]) <= 25.0


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(100, 104))
def test_random_engines_against_a_dense_sweep(seed):
    """Highest VE and torque within 25 rpm and 0.2 point of a sweep in steps of 10 rpm (of 50 where
    the curve lies more than 1 % below its best); speeds whose figures differ by less than a point
    repeats within count as one."""
    engine, _ = plausible(seed)
    low, high = (50.0 * round(v * 30.0 / engine.block.stroke / 50.0) for v in (5.0, 20.0))
    found = located([engine], np.linspace(low, high, 10), 25.0, 40)
    swept = {}

    def sweep(speeds):
        swept.update(compute_points([(n, engine, float(n), 1.0) for n in speeds if n not in swept])[0])

    def figure(name):
        return np.array(sorted((n, p.figures[name]) for n, p in swept.items())).T

    sweep(np.arange(low, high + 1.0, 50.0))
    for name in ("ve", "torque"):
        rpm, values = figure(name)
        high_up = rpm[values > 0.99 * values.max()]
        sweep({n + d for n in high_up for d in range(-40, 50, 10) if low <= n + d <= high})
        rpm, values = figure(name)
        best = rpm[values >= values.max() * (1.0 - engine.numerics.repeat_within)]
        reported = found.grid.figure(name)[0]
        k = np.nanargmax(reported)
        off = np.abs(best - found.speeds[k]).min()
        print(
            f"{seed} {name}: {found.speeds[k]:.0f} rpm, {off:.0f} rpm and"
            f" {100 * (reported[k] / values.max() - 1):+.3f} % off"
        )
        assert off <= 25.0
        assert abs(reported[k] / values.max() - 1.0) <= 0.002
