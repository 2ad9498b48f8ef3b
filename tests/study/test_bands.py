"""Bands, verdict and what to measure next: against hand calculations, formulas and the solver."""

import re

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import norm, qmc
from tests import made_up
from tests.conftest import DEMO
from tests.edited import demo_with
from tests.printed import command, is_picture, right_aligned, rows_of

import aircolumn
from aircolumn.curves.interest import Range
from aircolumn.engine.description.computing import Speeds
from aircolumn.engine.uncertain.alternatives import Alternative, OneOf
from aircolumn.engine.uncertain.unsure import ABOVE, OWN, PLUS, Unsure
from aircolumn.study.bands.cases import Cases, unrelated
from aircolumn.study.bands.ensemble import Ensemble, ensemble
from aircolumn.study.bands.measure_next import measure_next
from aircolumn.study.bands.verdict import AHEAD, BEHIND, LEVEL, OPEN, judged, quantiles, state_of
from aircolumn.study.executors import Cores
from aircolumn.study.store import Store

RPM = np.array([1500.0, 2500.0, 4000.0, 6000.0])
RANGE = Speeds.model_validate({"interest_from": "2500 rpm", "interest_to": "4000 rpm"})


def test_a_longer_run_begins_with_the_cases_of_a_shorter_one():
    cases = Cases.of(aircolumn.load(DEMO))
    assert np.array_equal(cases.drawn(256)[:100], cases.drawn(100))
    z = cases.drawn(4096)
    assert np.abs(z.mean(axis=0)).max() < 0.01
    assert np.abs(z.std(axis=0) - 1.0).max() < 0.02
    assert np.abs(np.corrcoef(z.T) - np.eye(z.shape[1])).max() < 0.08


def test_what_was_fitted_is_drawn_with_its_correlation(tmp_path):
    fitted = (
        "fitted:\n  discharge: {value: 0.95, plus_minus: 0.02}\n  cam: {value: 2 deg, plus_minus: 1 deg}\n"
        "  correlation: [[1, -0.6], [-0.6, 1]]\n\nmixture: {"
    )
    path = demo_with(
        tmp_path, ("reference: curtain", "factor: 0.95\n      reference: curtain"), ("mixture: {", fitted)
    )
    cases = Cases.of(aircolumn.load(path))
    assert cases.names[-2:] == ["fitted.discharge", "fitted.cam"]
    assert "intake.valve.discharge.factor" not in cases.names
    factors, closing = [], []
    for z in cases.drawn(512):
        engine = cases.engines(z)["long"]
        factors.append(engine.intake.valve.discharge.factor)
        closing.append(engine.intake.valve.closes_abdc)
    assert np.mean(factors) == pytest.approx(0.95, abs=1e-3)
    assert np.std(factors) == pytest.approx(0.02 / 1.96, rel=0.05)
    assert np.mean(closing) == pytest.approx(44.0, abs=0.05)
    assert np.std(closing) == pytest.approx(1.0 / 1.96, rel=0.05)
    assert np.corrcoef(factors, closing)[0, 1] == pytest.approx(-0.6, abs=0.05)


def test_a_case_that_cannot_be_is_said(tmp_path):
    path = demo_with(tmp_path, ("stem: 6 mm", "stem: {value: 6 mm, plus_minus: 30 mm}"))
    cases = Cases.of(aircolumn.load(path))
    z = np.zeros(len(cases.names))
    assert set(cases.engines(z)) == {"short", "middle", "long"}
    z[cases.names.index("intake.valve.stem")] = 3.0
    assert "the stem fills the valve throat" in cases.engines(z)


def test_the_next_case_lies_in_the_interval_in_95_of_100():
    """Whatever the distribution; here a skew one."""
    rng = np.random.default_rng(8)
    values = rng.exponential(size=(64, 4000))
    low, high = quantiles(values)
    new = rng.exponential(size=4000)
    assert np.mean((new >= low) & (new <= high)) == pytest.approx(0.95, abs=0.012)


@pytest.mark.parametrize(
    ("low", "high", "state"),
    [
        (1.5, 3.0, AHEAD),
        (-3.0, -1.5, BEHIND),
        (-0.9, 0.9, LEVEL),
        (0.1, 0.9, LEVEL),
        (-0.1, 3.0, OPEN),
        (0.3, 3.0, OPEN),  # a quarter wider it holds 0
        (0.35, 3.0, AHEAD),
    ],
)
def test_states(low, high, state):
    assert state_of(low, 0.5 * (low + high), high, 200.0) == state  # a tie is 0.5 %: 1 N m


def curves(differences, spread, count=400, level=0.0, gap=0.0):
    """Two runners: a common level that moves by 10 N m, and their difference at each speed."""
    rng = np.random.default_rng(1)
    common = 200.0 + 10.0 * rng.standard_normal((count, 1))
    difference = differences + spread * rng.standard_normal((count, 1))
    own = np.array([np.full(4, 200.0), 200.0 + differences])
    torque = np.stack([np.broadcast_to(common, difference.shape), common + difference], axis=1)
    return Ensemble(RPM, ["a", "b"], torque, np.zeros((count, 0)), own, level, np.full((2, 2), gap), "", [])


def test_verdict_by_hand():
    found = judged(curves(np.array([-5.0, 10.0, 10.0, 1.0]), 2.0), RANGE, "a")
    (b,) = found.against
    assert b.states == [BEHIND, AHEAD, AHEAD, OPEN]
    assert b.at.own == pytest.approx([-5.0, 10.0, 10.0, 1.0])
    assert b.at.low[1] == pytest.approx(10.0 - 1.96 * 2.0, abs=0.6)
    assert b.at.high[1] == pytest.approx(10.0 + 1.96 * 2.0, abs=0.6)
    spans = [Range.between(*x) for x in ((2500.0, 4000.0), (1500.0, 2500.0), (4000.0, 6000.0))]
    assert list(b.over) == spans
    assert [float(b.over[s].own) for s in spans] == pytest.approx([10.0, 2.5, 5.5])
    assert b.share[spans[0]] == pytest.approx(0.05, rel=0.01)
    assert found.choice == "b"
    assert found.best == {"a": 0.0, "b": 1.0}
    wide = found.bands["a"].high - found.bands["a"].low
    assert wide == pytest.approx(np.full(4, 2 * 1.96 * 10.0), rel=0.12)
    assert found.lost == 0.0


def test_what_the_cells_do_widens_bands_and_intervals():
    plain = judged(curves(np.array([5.0, 5.0, 5.0, 5.0]), 0.0), RANGE, "a")
    rough = judged(curves(np.array([5.0, 5.0, 5.0, 5.0]), 0.0, level=0.05, gap=0.01), RANGE, "a")
    half = 0.5 * (plain.bands["a"].high - plain.bands["a"].low)
    assert 0.5 * (rough.bands["a"].high - rough.bands["a"].low) == pytest.approx(
        np.hypot(half, 10.0), rel=0.02
    )
    assert rough.against[0].at.low == pytest.approx(np.full(4, 3.0))  # 5 less 1 % of 200


def made_cases(ways):
    either = OneOf(("title",), (Alternative(0.5, None, "as it is"), Alternative(0.5, "x", "another")))
    rows = tuple(
        Unsure(
            f"key {k}",
            {("combustion", "form"): 2.0},
            1.0,
            w,
            "",
            f"do {k}",
            change=either if w == OWN else None,
        )
        for k, w in enumerate(ways)
    )
    return Cases(aircolumn.load(DEMO), rows)


def test_value_of_information_by_hand():
    """Two candidates whose difference is 1 + z0 + 0.5 z1: P(wrong) = Phi(-1/sqrt(1.25)); with z0 known
    E Phi(-|1 + z0|/0.5)."""
    cases = made_cases([PLUS, PLUS, PLUS])
    z = cases.drawn(256)
    means = np.column_stack([200.0 + 3.0 * z[:, 2], 201.0 + 3.0 * z[:, 2] + z[:, 0] + 0.5 * z[:, 1]])
    before = norm.cdf(-1.0 / np.sqrt(1.25))

    def after(known, left):
        return quad(
            lambda x: norm.pdf(x) * norm.cdf(-abs(1.0 + known * x) / left), -8, 8, points=[-1 / known]
        )[0]

    found = measure_next(cases, z, means, before)
    assert found.explained > 0.999
    assert [m.key for m in found.every] == ["key 0", "key 1", "key 2"]
    assert [m.after for m in found.every[:2]] == pytest.approx([after(1.0, 0.5), after(0.5, 1.0)], abs=0.006)
    assert found.every[2].after == pytest.approx(before, abs=1e-9)  # common to both: worth nothing
    assert found.every[0].settle == "do 0"


def test_value_of_information_against_brute_force():
    """Three candidates, and things that can only be more, or are one of two: each is fixed in turn at what
    it may be, the choice is made anew, and wrong choices are counted."""
    cases = made_cases([PLUS, ABOVE, OWN, PLUS])
    slopes = np.array([[0.0, 0.0, 0.0, 0.0], [0.8, 1.5, 0.2, 0.1], [-0.5, 0.4, 1.2, 0.1]])
    offsets = np.array([0.0, 0.5, -0.4])

    def means_of(z):
        return 200.0 + offsets + cases.features(z) @ slopes.T

    def wrong(means):
        return np.mean(np.argmax(means, axis=1) != np.argmax(means.mean(axis=0)))

    many = np.random.default_rng(12).standard_normal((20_000, 4))
    before = wrong(means_of(many))
    z = cases.drawn(256)
    found = measure_next(cases, z, means_of(z), before)
    for k in range(4):
        after = []
        for place in norm.ppf((np.arange(41) + 0.5) / 41):
            fixed = many[:4000].copy()
            fixed[:, k] = place
            after.append(wrong(means_of(fixed)))
        (told,) = (m.after for m in found.every if m.key == f"key {k}")
        assert told == pytest.approx(np.mean(after), abs=0.03)


@pytest.fixture(scope="module")
def ran(tmp_path_factory):
    folder = tmp_path_factory.mktemp("bands")
    path = demo_with(folder, ("closes_abdc: 44 deg", "closes_abdc: {value: 44 deg, plus_minus: 8 deg}"))
    with made_up.in_place():
        return path, command("bands", path, "--against", "long", "--cases", "64", out=folder / "o")


def test_the_command_writes_what_it_prints(ran):
    path, done = ran
    assert done.code == 0
    assert sorted(p.name for p in done.out.iterdir()) == [
        "bands-against-long.csv",
        "bands-measure-next.csv",
        "bands.csv",
        "bands.json",
        "bands.png",
        "bands.svg",
        "bands.txt",
        "engine.yaml",
        "origin.json",
        "points.sqlite",
    ]
    description = aircolumn.load(path)
    with made_up.in_place():
        own = {
            n: np.array(
                [
                    made_up.point(description.with_runner(n), x).figures["torque"]
                    for x in np.arange(1500, 6001, 500)
                ]
            )
            for n in description.runners
        }
    bands, gains = rows_of(done.out / "bands.csv"), rows_of(done.out / "bands-against-long.csv")
    for name in own:
        low, mid, high = (
            np.array([float(r[f"torque of {name}{part} [N m]"]) for r in bands])
            for part in (", low", "", ", high")
        )
        assert mid == pytest.approx(own[name], rel=0.02)  # the middle of the cases is no far cry from it
        assert np.all((low < mid) & (mid < high))
    gain = np.array([float(r["torque of short less long [N m]"]) for r in gains])
    assert gain == pytest.approx(own["short"] - own["long"], abs=3.0)
    text = done.said[done.said.index("Torque against long, N m") :]
    heads, rows = right_aligned(text, "rpm")
    assert heads[:3] == ["rpm", "short N m", "95 of 100"]
    assert [float(r[1]) for r in rows] == pytest.approx(gain, abs=0.051)
    lows = [float(r["torque of short less long, low [N m]"]) for r in gains]
    assert [float(r[2].split(" to ")[0]) for r in rows] == pytest.approx(lows, abs=0.051)
    assert done.out.joinpath("bands.txt").read_text().startswith("Most mean torque from 2500 to 4000 rpm")


def test_the_picture_draws_the_lines_of_the_files(ran):
    _, done = ran
    upper, lower = done.pictures["bands.svg"].axes
    bands = rows_of(done.out / "bands.csv")
    for panel, names in ((upper, ("short", "middle", "long")), (lower, ("short", "middle"))):
        assert {line.get_label() for line in panel.lines if not line.get_label().startswith("_")} == set(
            names
        )
    (line,) = (x for x in upper.lines if x.get_label() == "short")
    x, y = (np.asarray(v)[line.get_markevery()] for v in line.get_data())
    assert list(x) == [float(r["rpm"]) for r in bands]
    assert y == pytest.approx([float(r["torque of short [N m]"]) for r in bands], rel=1e-5)


def test_it_goes_on_where_it_stopped(ran, tmp_path):
    path, done = ran
    with made_up.in_place():
        again = command("bands", path, "--against", "long", "--cases", "64", out=done.out)
        more = command("bands", path, "--against", "long", "--cases", "80", out=done.out)
    assert re.search(r"points: 0 computed, \d+ from the store", again.said)
    assert again.said.split("\n\n", 1)[1] == done.said.split("\n\n", 1)[1]
    fresh = int(re.search(r"points: (\d+) computed", more.said)[1])
    assert fresh == 16 * 3 * 10


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--cases", "10"), "10 cases: from 40 to 4096 are possible"),
        (("--against", "tall"), "no runner 'tall'"),
        (("--rpm", "3000"), "two engine speeds or more"),
        (("--workers", "0"), "--workers must be from 1 to 1024"),
    ],
)
def test_wrong_requests(arguments, said, tmp_path):
    done = command("bands", DEMO, *arguments, out=tmp_path / "o")
    assert done.code == 2
    assert said in done.complaints
    assert not (tmp_path / "o").exists()


def test_one_runner_has_a_band_and_no_verdict(tmp_path):
    path = demo_with(
        tmp_path,
        ("  short: {length: 290 mm}\n  middle: {length: 430 mm}\n", ""),
        ("  two-way: [long, short]", ""),
        ("switchable: ", "#"),
    )
    with made_up.in_place():
        done = command("bands", path, "--cases", "40", out=tmp_path / "o")
    assert done.code == 0
    assert "most torque" in done.said
    assert "against" not in done.said.lower().replace("fitted against", "")
    assert is_picture is not None


def test_points_that_fail_are_told(tmp_path):
    with made_up.in_place(missing=(3000.0,)):
        done = command("bands", DEMO, "--cases", "40", out=tmp_path / "o")
    assert done.code == 1
    assert "the file's own engine cannot be computed at every speed" in done.complaints


@pytest.fixture(scope="module")
def marched(tmp_path_factory):
    """Four runners of the demo in 24 cases, by the solver."""
    folder = tmp_path_factory.mktemp("marched")
    runners = "  short: {length: 290 mm}\n  near: {length: 432 mm}"
    path = demo_with(
        folder,
        ("  short: {length: 290 mm}", runners),
        ("  primary: {", "  collector: null\n  primary: {"),
        ("  plenum: {volume: 6 L}", "  plenum: {volume: 6 L}\n  inlet: null"),
        ("    bore: {from: 46 mm, to: 42 mm}", "    bore: {from: 46 mm, to: 42 mm}\n    make: cast"),
        ("    length: 90 mm", "    length: 90 mm\n    make: cast"),
    )
    description = aircolumn.load(path)
    cases, store = Cases.of(description), Store(folder / "points.sqlite")
    speeds = np.array([2500.0, 3500.0, 5000.0])
    found = ensemble(cases, speeds, 24, store, Cores())
    store.close()
    return found, description.engine.speeds


@pytest.mark.slow
def test_430_and_432_mm_cannot_be_told_apart(marched):
    from aircolumn.output.bands.text import against_lines

    found = judged(*marched, "middle")
    (near,) = (a for a in found.against if a.runner == "near")
    assert near.states == [LEVEL] * 3
    (said,) = against_lines(near, found)
    assert said.startswith(
        "near and middle cannot be told apart: at every speed their torque differs by less than 0.5 %"
    )


@pytest.mark.slow
def test_290_and_650_mm_beyond_doubt(marched):
    found = judged(*marched, "long")
    (short,) = (a for a in found.against if a.runner == "short")
    assert short.states[1:] == [BEHIND, AHEAD]
    assert found.best["long"] == 1.0
    width = np.mean(found.bands["long"].high - found.bands["long"].low)
    assert width > 2.0 * np.mean(short.at.high - short.at.low)


@pytest.mark.slow
def test_bands_hold_hidden_engines(tmp_path):
    """200 engines drawn anew from the spreads, computed at the file's accuracy: bands and intervals hold
    them at 92 to 98 % of speeds, and differences are surer than levels, though nothing is said of what stands
    ahead of the throttle."""
    description = aircolumn.load(demo_with(tmp_path, ("  primary: {", "  collector: null\n  primary: {")))
    cases, store = Cases.of(description), Store(tmp_path / "points.sqlite")
    speeds, z = (
        np.arange(1500.0, 6001.0, 900.0),
        np.random.default_rng(2026).standard_normal((200, len(cases.names))),
    )
    found = ensemble(cases, speeds, 128, store, Cores())
    hidden = np.array([_curves_of(cases, row, speeds, store) for row in z])
    store.close()
    told = judged(found, description.engine.speeds)
    names = found.runners
    for k, name in enumerate(names):
        band = told.bands[name]
        held = (hidden[:, k] >= band.low) & (hidden[:, k] <= band.high)
        assert 0.92 <= held.mean() <= 0.98
    for a in told.against:
        gain = hidden[:, names.index(a.runner)] - hidden[:, names.index(a.base)]
        held = (gain >= a.at.low) & (gain <= a.at.high)
        assert 0.92 <= held.mean() <= 0.98
        for name in (a.runner, a.base):
            band = told.bands[name]
            assert np.mean(band.high - band.low) > 1.5 * np.mean(a.at.high - a.at.low)


def _curves_of(cases, row, speeds, store):
    """Torque of every runner of one engine, on cells of the usual length."""
    from aircolumn.study.points import compute_missing
    from aircolumn.study.tasks import Task

    tasks = [Task.alone(e, n) for e in cases.engines(row).values() for n in speeds]
    compute_missing(tasks, store, Cores())
    keys = [t.keys()[0] for t in tasks]
    stored = store.get(keys)
    return np.array([stored[k].figure("torque") for k in keys]).reshape(-1, len(speeds))


@pytest.mark.slow
@pytest.mark.parametrize("name", ["rescue-four", "classroom-single"])
def test_bands_hold_engines_of_other_laws(name, tmp_path):
    """30 hidden engines that differ in all at once, by laws that the bands do not know (common practice, no
    source): validation/hidden_engines.py, there for 200 of each. With 30 the share inside is known within
    some 4 % (standard error; the speeds of an engine go together): the ends are two below 92 %."""
    from concurrent.futures import ProcessPoolExecutor
    from multiprocessing import get_context

    from validation.hidden_engines import counted

    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
        found = counted(name, 30, tmp_path, 64, pool)
    assert np.mean(found.levels) > 0.84
    assert np.mean(found.gaps) > 0.84
    assert found.wrong <= 0.01 * found.sure
    assert found.called > 0.6 * found.large


def test_cases_are_drawn_apart():
    """48 cases of 78 things: columns keep their values and go together less, so that the spread of a sum is
    that of its parts more nearly (200 sums of twelve parts each)."""
    rng = np.random.default_rng(5)
    plain, apart = [], []
    for seed in range(40):
        shares = qmc.Sobol(78, rng=np.random.default_rng(seed)).random_base2(6)[:48]
        z = norm.ppf(np.clip(shares, 1e-4, 1.0 - 1e-4))
        moved = unrelated(z)
        assert np.sort(moved, axis=0) == pytest.approx(np.sort(z, axis=0))
        for _ in range(5):
            weights = np.zeros(78)
            weights[rng.choice(78, 12, replace=False)] = rng.normal(size=12)
            weights /= np.linalg.norm(weights)
            plain.append((z @ weights).var(ddof=1))
            apart.append((moved @ weights).var(ddof=1))
    assert np.std(apart) < 0.75 * np.std(plain)
    assert np.mean(apart) == pytest.approx(1.0, abs=0.05)
