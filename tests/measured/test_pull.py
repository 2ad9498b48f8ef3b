"""Measured pulls: read-off at common speeds, like for like, VE, overlay and calibration."""

import re

import numpy as np
import pytest
from tests import made_up
from tests.conftest import DEMO
from tests.printed import right_aligned, rows_of

import aircolumn
from aircolumn.cli import main
from aircolumn.curves.interest import Range
from aircolumn.engine.description.measured import Measured
from aircolumn.errors import RequestError
from aircolumn.measured.atmosphere import Atmosphere, factor
from aircolumn.measured.invented_pulls import DynoCell, TrueCurve, write_pulls
from aircolumn.measured.like_for_like import DIFFERS, NOT_LOGGED, like_for_like, shown_drift
from aircolumn.measured.logs.reading import read_pulls
from aircolumn.measured.measured_curve import at_speeds, density, mean_of_pulls, measured_curve
from aircolumn.measured.overlay import AIR_FLOW, FUEL_FLOW, TORQUE, measured_ve
from aircolumn.measured.range_figures import range_figures, winners

TRIALS = 100


@pytest.fixture(scope="module")
def truth(compared):
    """The demo's long and short manifold as computed."""
    return {
        name: TrueCurve(
            compared.rpm.values, *(compared[f].sel(runner=name).values for f in ("torque", "air_flow"))
        )
        for name in ("long", "short")
    }


def curve_of(path, demo, truth, name, seed, cell, pulls=3):
    engine = demo.with_runner(name)
    write_pulls(path, truth[name], engine, np.random.default_rng(seed), pulls, cell)
    return measured_curve(read_pulls(path), engine, name, "j1349")


# --- pulls at common speeds


def test_reads_lines_and_parabolas_off_exactly():
    rng = np.random.default_rng(1)
    rpm = rng.permutation(np.concatenate([np.linspace(1850, 5150, 130), [3000.0, 3000.0]]))
    speeds = np.arange(2000.0, 5001.0, 250.0)
    for c in (0.0, -1e-5):
        values = 200.0 + 0.01 * rpm + c * (rpm - 3500.0) ** 2
        due = 200.0 + 0.01 * speeds + c * (speeds - 3500.0) ** 2
        assert at_speeds(rpm, values, speeds, 250.0) == pytest.approx(due, rel=1e-9)


def test_steady_points_are_joined_and_not_extended():
    rpm, values = np.array([2000.0, 2400.0, 3500.0]), np.array([200.0, 220.0, 210.0])
    read = at_speeds(rpm, values, [1750.0, 2000.0, 2250.0, 3000.0], 250.0)
    assert read[1:3] == pytest.approx([200.0, 212.5])
    assert np.isnan(read[[0, 3]]).all()


# --- like for like

FAULTS = {
    "air_fuel_ratio": DynoCell(afr_shift=0.3, spacing=50.0),
    "spark": DynoCell(spark_shift=2.0, spacing=50.0),
    "inlet_air": DynoCell(inlet_shift=8.0, spacing=50.0),
}


@pytest.mark.slow
def test_planted_faults_are_caught_and_clean_repeats_are_not(demo, truth, tmp_path):
    """100 seeded trials each: a fault in the second manifold's test, and none."""
    bands = demo.engine.pull.bands
    path = tmp_path / "p.csv"
    caught = dict.fromkeys(FAULTS, 0)
    alarms, false_wins = 0, 0
    clean = DynoCell(spacing=50.0)
    for seed in range(TRIALS):
        a = curve_of(path, demo, truth, "long", [1, seed], clean)
        same = curve_of(path, demo, truth, "long", [2, seed], clean)
        verdict = like_for_like(a, same, bands)
        alarms += bool(verdict.alarms())
        false_wins += np.mean(verdict.meaningful())
        for k, (channel, cell) in enumerate(FAULTS.items()):
            b = curve_of(path, demo, truth, "short", [3 + k, seed], cell)
            caught[channel] += channel in like_for_like(a, b, bands).alarms()
    print(f"caught {caught}, false alarms {alarms} of {TRIALS}, false differences {false_wins}")
    assert alarms <= 0.05 * TRIALS
    assert all(count == TRIALS for count in caught.values()), caught
    # The same manifold twice: a difference in torque is claimed in about 5 of 100 cases.
    assert false_wins < 0.12 * TRIALS


def test_fault_over_part_of_the_range_leaves_the_rest_comparable(demo, truth, tmp_path):
    a = curve_of(tmp_path / "a.csv", demo, truth, "long", 1, DynoCell())
    b = curve_of(tmp_path / "b.csv", demo, truth, "short", 2, DynoCell())
    b.readings["air_fuel_ratio"][:, b.rpm > 4500.0] -= 0.5
    verdict = like_for_like(a, b, demo.engine.pull.bands)
    assert list(verdict.comparable) == list(verdict.rpm <= 4500.0)
    labels = winners(verdict, ("long", "short"))
    assert labels[-1] == (4750.0, 6000.0, "not comparable")
    assert any(who == "long" for _, _, who in labels)
    assert verdict.checks["air_fuel_ratio"].states[-1] == DIFFERS


def test_single_pulls_and_missing_channels_prove_nothing(demo, truth, tmp_path):
    curves = [
        curve_of(tmp_path / "p.csv", demo, truth, name, 1, DynoCell(), pulls=1) for name in ("long", "short")
    ]
    del curves[1].readings["spark"]
    verdict = like_for_like(*curves, demo.engine.pull.bands)
    assert set(verdict.checks["spark"].states) == {NOT_LOGGED}
    assert np.isnan(verdict.least).all()
    assert not verdict.meaningful().any()
    assert verdict.drift == 0.0  # not known
    assert verdict.freedom == 0
    assert np.isnan(verdict.repeatability)


def test_drift_is_shown_and_allowed_for(demo, truth, tmp_path):
    steady = DynoCell(torque_pull=0.0005)
    drifting = DynoCell(torque_pull=0.0005, drift=-0.03)
    a, b = (
        curve_of(tmp_path / "p.csv", demo, truth, "long", k, cell, pulls=4)
        for k, cell in enumerate((drifting, drifting))
    )
    verdict = like_for_like(a, b, demo.engine.pull.bands)
    assert verdict.drift == pytest.approx(-0.01, rel=0.1)
    assert verdict.least[0] > 0.03 * 200.0
    a, b = (curve_of(tmp_path / "p.csv", demo, truth, "long", 10 + k, steady, pulls=4) for k in (0, 1))
    assert abs(like_for_like(a, b, demo.engine.pull.bands).drift) < 0.002


def test_drift_is_shown_when_a_regression_says_so():
    """Against scipy.stats.linregress: the slope of one manifold's pulls over their order, shown
    where its p-value is below 5 %."""
    from scipy.stats import linregress

    rng = np.random.default_rng(3)
    shown = 0
    for _ in range(200):
        pulls = int(rng.integers(3, 7))
        levels = 1.0 + 0.004 * np.arange(pulls) * rng.normal() + rng.normal(0.0, 0.004, pulls)
        torque = 200.0 * levels[:, None] * np.ones((pulls, 3))
        due = linregress(np.arange(pulls), levels / levels.mean())
        found = shown_drift([torque])
        if due.pvalue < 0.05:
            shown += 1
            assert found == pytest.approx(due.slope, rel=1e-9)
        else:
            assert found == 0.0
    assert 20 < shown < 180
    assert shown_drift([200.0 * np.ones((2, 3))]) == 0.0  # two pulls cannot show it


def test_speeds_begin_where_a_pull_does(tmp_path, demo):
    """A pull from 2010 to 3990 rpm is read at 2000 and 4000 too: within a tenth of the step."""
    rows = "".join(f"{n},{200 + n / 100}\n" for n in range(2010, 3991, 36))
    (tmp_path / "d.csv").write_text("rpm,torque [N m]\n" + rows)
    curve = measured_curve(read_pulls(tmp_path / "d.csv"), demo.engine, "long", "j1349")
    assert list(curve.rpm) == list(np.arange(2000.0, 4001.0, 250.0))
    assert curve.readings["torque"][0] == pytest.approx(200 + curve.rpm / 100)


def test_mean_of_what_there_is():
    values = np.array([[1.0, np.nan, np.nan], [2.0, 4.0, np.nan], [6.0, 8.0, np.nan]])
    assert mean_of_pulls(values)[:2] == pytest.approx([3.0, 6.0])
    assert np.isnan(mean_of_pulls(values)[2])


# --- VE and range figures


def test_air_density_against_coolprop():
    humid = pytest.importorskip("CoolProp.HumidAirProp")
    air = Atmosphere(97.5e3, 303.15, 0.4)
    theirs = 1.0 / humid.HAPropsSI("Vha", "T", 303.15, "P", 97.5e3, "R", 0.4)
    assert density(air) == pytest.approx(theirs, rel=1e-3)


def test_ve_by_hand_from_air_from_fuel_and_from_torque(demo, tmp_path):
    """2.488 L at 3000 rpm draws 62.2 L/s at VE 1, four-stroke."""
    engine = demo.with_runner("long")
    full = 2.4884e-3 * 25.0
    text = "rpm,torque [N m],air flow [L/s],fuel flow [g/s],AFR,barometer [kPa],inlet air [degC]\n"
    air = Atmosphere(98e3, 300.0, 0.4)
    fuel = 1e3 * 0.9 * full * density(air) / 13.0
    for n in (2750, 3000, 3250):
        text += f"{n},220,{900 * full * n / 3000:.6f},{fuel * n / 3000:.6f},13.0,98,26.85\n"
    (tmp_path / "d.csv").write_text(text)
    curve = measured_curve(read_pulls(tmp_path / "d.csv"), engine, "long", "j1349")
    k = list(curve.rpm).index(3000.0)
    ve, source = measured_ve(engine, curve, None)
    assert source == AIR_FLOW
    assert ve[k] == pytest.approx(0.9, rel=1e-3)
    del curve.readings["air_flow"]
    ve, source = measured_ve(engine, curve, None)
    assert source == FUEL_FLOW
    assert ve[k] == pytest.approx(0.9, rel=1e-3)
    del curve.readings["fuel_flow"]
    ones = np.ones(len(curve.rpm))
    predicted = {"ve": ones, "imep": 12e5 * ones, "fmep": 1e5 * ones}
    ve, source = measured_ve(engine, curve, predicted)
    assert source == TORQUE
    bmep = 220.0 * 4.0 * np.pi / 2.4884e-3
    assert ve[k] == pytest.approx((bmep + 1e5) / 12e5, rel=1e-4)


def test_range_figures_by_hand():
    """Constant torque: power rises with speed; the work of a sweep is T x angle turned."""
    rpm = np.arange(2000.0, 4001.0, 250.0)
    r = range_figures(rpm, np.full(rpm.size, 200.0), Range.between(2000.0, 4000.0), 100.0)
    assert r.torque == pytest.approx(200.0)
    assert r.power == pytest.approx(200.0 * 3000.0 * np.pi / 30.0)
    turned = 3000.0 / 60.0 * 20.0 * 2.0 * np.pi  # 20 s at 3000 rpm on average
    assert r.work == pytest.approx(200.0 * turned)


def test_stated_corrected_torque_is_taken_back_first(demo, truth, tmp_path):
    engine = demo.with_runner("long")
    path = tmp_path / "p.csv"
    write_pulls(path, truth["long"], engine, np.random.default_rng(1), 2, DynoCell())
    plain = measured_curve(read_pulls(path), engine, "long", "iso1585")
    notes = engine.pull.changed(stated="j607")
    stated = measured_curve(read_pulls(path, notes), engine, "long", "iso1585")
    ratio = plain.corrected / stated.corrected
    assert ratio == pytest.approx(factor("j607", plain.air), rel=1e-12)


def test_barometer_that_cannot_be_at_this_altitude(demo, truth, tmp_path):
    high = demo.with_runner("long")
    high = high.changed(pull=high.pull.changed(altitude=1000.0))
    write_pulls(tmp_path / "p.csv", truth["long"], high, np.random.default_rng(1), 1, DynoCell())
    remarks = measured_curve(read_pulls(tmp_path / "p.csv"), high, "long", "j1349").remarks
    (told,) = (r for r in remarks if "reduced to sea level" in r)
    shown = [float(x) for x in re.findall(r"([\d.]+) kPa", told)]
    assert shown == pytest.approx([1e-3 * high.intake.ambient.pressure, 89.9], abs=0.051)


# --- the command


def test_pull_of_two_manifolds(demo, truth, tmp_path, capsys):
    data = []
    for seed, name in enumerate(("long", "short")):
        path = tmp_path / f"{name}.csv"
        engine = demo.with_runner(name)
        write_pulls(path, truth[name], engine, np.random.default_rng(seed), 3, DynoCell(drift=0.002))
        path.write_text(path.read_text() + "1,20,3000,???\n")
        data.append(f"{name}={path}")
    out = tmp_path / "out"
    assert main(["pull", str(DEMO), *data, "--out", str(out)]) == 0
    printed = capsys.readouterr().out
    pull = [f"pull.{kind}" for kind in ("csv", "nc", "png", "svg", "txt")]
    names = ["omitted.csv", "origin.json", *pull, "rescue-four.yaml"]
    assert sorted(p.name for p in out.iterdir()) == names
    assert "left out: 1 row" in printed
    assert "No channel clearly differs" in printed
    assert "long has more torque" in printed
    assert "more than short" in printed
    assert "clear win for long" in printed
    assert "A prediction is not a clearance to run." in (out / "pull.txt").read_text()


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["data.csv"], "say which runner"),
        (["middel=data.csv"], "no runner 'middel'"),
        (["long=none.csv"], "cannot be read"),
        (["long=none.csv", "long=none.csv"], "none.csv is named twice"),
        (["long=none.csv", "--standard", "mine"], "no standard 'mine'; there are: "),
        (["long=a.csv", "short=b.csv", "middle=c.csv"], "give one data file, or two"),
    ],
)
def test_wrong_requests(arguments, said, capsys, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert main(["pull", str(DEMO), *arguments]) == 2
    assert said in capsys.readouterr().err
    assert not list(tmp_path.iterdir())


def test_wrong_keys_of_the_pull_section(tmp_path):
    text = DEMO.read_text()
    for section, said in (
        ("pull: {columns: {tork: TQ}}", "pull.columns.tork"),
        ("pull: {bands: {inlet_air: 60 degC}}", "at most 50 K"),
        ("pull: {stated: sae}", "use observed, j1349"),
        ("pull: {barometer: 97.5}", "97.5 kPa"),
    ):
        path = tmp_path / "e.yaml"
        path.write_text(f"{text}\n{section}\n")
        with pytest.raises(aircolumn.InputError, match=said):
            aircolumn.load(path)


def test_pull_that_covers_no_speed(demo, tmp_path):
    (tmp_path / "d.csv").write_text("rpm,torque [N m]\n2110,200\n2120,201\n2130,202\n")
    with pytest.raises(RequestError, match=r"make pull\.step smaller"):
        measured_curve(read_pulls(tmp_path / "d.csv"), demo.engine, "long", "j1349")


def test_a_small_lead_that_is_shown_wins():
    """Half a newton metre, either way."""

    class Shown:
        rpm, torque = np.array([2000.0, 2500.0]), np.array([0.5, -0.5])
        comparable, masked = np.array([True, True]), np.array([False, False])

        def meaningful(self):
            return np.array([True, True])

    assert winners(Shown(), ("long", "short")) == [
        (2000.0, 2000.0, "long"),
        (2500.0, 2500.0, "short"),
    ]


def test_two_manifolds_without_a_common_speed_are_refused_before_computing(tmp_path, capsys):
    for name, speeds in (("long", range(1500, 2601, 50)), ("short", range(4000, 5001, 50))):
        rows = "".join(f"{n},200\n" for n in speeds)
        (tmp_path / f"{name}.csv").write_text(f"rpm,torque [N m]\n{rows}")
    data = [f"{n}={tmp_path / n}.csv" for n in ("long", "short")]
    assert main(["pull", str(DEMO), *data, "--out", str(tmp_path / "o")]) == 2
    assert capsys.readouterr().err == (
        "the pulls of long (1500 to 2500 rpm) and short (4000 to 5000 rpm) have no engine speed in common\n"
    )


def test_what_no_reading_stands_for_is_marked_and_does_not_count(demo, tmp_path, capsys):
    """Readings every 500 rpm at a step of 250 rpm: 2250, 2750 ... are lines between two readings.
    One of them is spoiled by the curve's bend, the readings are not."""
    rows = "".join(f"{n},{200 + 15 * (n == 3000)}\n" for n in range(2000, 4001, 500))
    (tmp_path / "d.csv").write_text("rpm,torque [N m]\n" + rows)
    asked = demo.engine.changed(pull=Measured.model_validate({"step": "250 rpm"}))
    curve = measured_curve(read_pulls(tmp_path / "d.csv"), asked, "long", "j1349")
    assert list(curve.rpm) == list(np.arange(2000.0, 4001.0, 250.0))
    assert list(curve.between) == [False, True] * 4 + [False]
    read = curve.read_off()
    assert list(read.rpm) == list(np.arange(2000.0, 4001.0, 500.0))
    assert read.readings["torque"][0] == pytest.approx([200.0, 200.0, 215.0, 200.0, 200.0])
    assert read.air.pressure.shape == (1, 5)
    out = tmp_path / "o"
    engine = tmp_path / "e.yaml"
    engine.write_text(f"{DEMO.read_text()}\npull: {{step: 250 rpm}}\n")
    with made_up.in_place():
        assert main(["pull", str(engine), f"long={tmp_path / 'd.csv'}", "--out", str(out)]) == 0
    said = capsys.readouterr().out
    _, table = right_aligned(said, "rpm")
    assert ["~" in row[1] for row in table] == list(curve.between)
    assert "a straight line between the readings on both sides" in " ".join(said.split())
    rows = rows_of(out / "pull.csv")
    assert [r["between readings"] for r in rows] == ["0", "1"] * 4 + ["0"]
    off = [
        float(r["torque predicted, corrected [N m]"]) / float(r["torque corrected [N m]"]) - 1
        for r in rows[::2]
    ]
    assert f"torque {100 * np.mean(off):+.1f} % on average (scatter {100 * np.std(off):.1f} %)" in (
        " ".join(said.split())
    )
    assert "95 % interval" not in said  # one pull has none
