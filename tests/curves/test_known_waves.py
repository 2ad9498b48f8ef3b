"""The explanation's figures from cycles whose waves are known: made up wave by wave, so that every
figure has an exact answer; and its words."""

import re
from dataclasses import asdict, replace

import numpy as np
import pytest
import xarray as xr

from aircolumn import GasState, Network, perfect_gas, straight
from aircolumn.curves.tuning.explain import Cause, Extremum, cause
from aircolumn.curves.tuning.waves import wave_split
from aircolumn.output.explain.sentences import figures, sentences, verdict_on

ANGLE = np.arange(0.0, 720.0, 0.5)


P0, RPM, LENGTH, A, U = 97e3, 3000.0, 0.5, 340.0, 30.0


OPENS, SHUTS = 350.0, 600.0


def within(low, high):
    """1 from low to high, degrees, else 0."""
    return ((low < ANGLE) & (high >= ANGLE)).astype(float)


def bell(at, height, width=12.0):
    return height * np.exp(-(((ANGLE - at) / width) ** 2))


def known(arriving, leaving, **changes):
    """A cycle with these waves at the valve (Pa over the reference), steady velocity U in the
    runner, sound speed A, the valve open from OPENS to SHUTS with even area."""
    shape = (5, ANGLE.size)
    data = xr.Dataset(coords={"angle": ANGLE, "distance": np.linspace(0.0, LENGTH, 5)})
    fields = {
        "p": np.full(shape, P0),
        "u": np.full(shape, U),
        "a": np.full(shape, A),
        "forward": np.zeros(shape) + P0 + np.vstack([ANGLE] * 4 + [arriving]),
        "backward": np.zeros(shape) + P0 + np.vstack([-ANGLE] * 4 + [leaving]),
    }
    fields["p"][-1] = P0 + 800.0 * np.cos(2 * np.pi * 5.0 * (ANGLE - SHUTS) / 720.0)
    series = {
        "intake_area": 1e-4 * within(OPENS, SHUTS),
        "exhaust_area": 1e-4 * within(100.0, 370.0),
        "intake_flow": 0.08 * within(400.0, 560.0) - 0.04 * within(580.0, 590.0),
        "exhaust_p": fields["p"][-1] + 6e3,
    }
    fields |= {k: v for k, v in changes.items() if k in fields}
    series |= {k: v for k, v in changes.items() if k in series}
    for name, values in fields.items():
        data[name] = (("distance", "angle"), values)
    for name, values in series.items():
        data[name] = ("angle", values)
    data.attrs = {
        "rpm": RPM,
        "ve": 1.05,
        "reference_pressure_Pa": P0,
        "intake_opens": OPENS,
        "intake_seats": SHUTS,
    }
    return data


def test_every_figure_of_a_cycle_of_known_waves():
    """A suction of 20 kPa at 430 deg comes back as 15 kPa of compression; before that a remnant of
    3 kPa on average arrives; while the valve shuts the wave brings 4 kPa, the column 7 kPa."""
    back = 6.0 * RPM * LENGTH * (1.0 / (A - U) + 1.0 / (A + U))
    at = 0.5 * round(2.0 * (430.0 + back))
    assert at < SHUTS - 60.0 - 30.0
    remnant = 6e3 * (OPENS + 60.0 - ANGLE) / 59.5 * within(OPENS, OPENS + 60.0)  # falls to nothing
    arriving = remnant + bell(at, 15e3) + 4e3 * within(SHUTS - 60.0, SHUTS)
    leaving = bell(430.0, -20e3) + 7e3 * within(SHUTS - 60.0, SHUTS)
    found = cause(known(arriving, leaving))
    due = Cause(
        rpm=RPM,
        ve=1.05,
        launch=430.0,
        suction=-20e3,
        travel=back,
        due=430.0 + back,
        peak=at,
        compression=15e3,
        shuts=SHUTS,
        wave_part=4e3,
        ram_part=7e3,
        order=360.0 / back,
        counted=5.0,
        left_over=3e3,
        backflow=0.04 * 10.0 / (0.08 * 160.0 - 0.04 * 10.0),
        overlap=6e3,
    )
    for name, value in asdict(due).items():
        # counted: crossings of the mean of an uneven number of swings
        near = {"rel": 0.02} if name == "counted" else {"rel": 1e-6, "nan_ok": True}
        assert getattr(found, name) == pytest.approx(value, **near), name


def test_closing_is_weighted_with_the_valve_area_and_looks_60_degrees_back():
    """A pressure that grows evenly, weighed with an area that shrinks evenly to nothing: a third of
    the last value, counted from the first."""
    grows = 9e3 * (ANGLE - (SHUTS - 60.0)) / 60.0 * within(SHUTS - 60.0, SHUTS)
    area = 1e-4 * within(OPENS, SHUTS) * np.minimum((SHUTS - ANGLE) / 60.0 + 1e-9, 1.0)
    found = cause(known(grows, bell(430.0, -20e3) - 2.0 * grows, intake_area=area))
    assert found.wave_part == pytest.approx(3e3, rel=0.02)
    assert found.ram_part == pytest.approx(-6e3, rel=0.02)


def test_nothing_counts_outside_its_window():
    """Taller waves where the valve is shut, before it opens or after the launch, change nothing."""
    plain = bell(540.0, 8e3) + 1e3 * within(OPENS, OPENS + 60.0)
    leaving = bell(430.0, -20e3)
    before = cause(known(plain, leaving))
    noise = 5e4 * within(0.0, 340.0) + 5e4 * within(610.0, 719.0)
    after = cause(known(plain + noise, leaving - noise))
    for name in ("launch", "suction", "peak", "compression", "wave_part", "ram_part", "left_over"):
        assert getattr(after, name) == pytest.approx(getattr(before, name), abs=1e-6), name
    early = bell(400.0, 3e4, 8.0)  # arrives before the suction leaves: not its return
    assert cause(known(plain + early, leaving)).peak == 540.0


def test_overlap_is_where_both_are_open():
    """The exhaust 6 kPa over the intake while both are open, and far off elsewhere."""
    wave = P0 + 800.0 * np.cos(2 * np.pi * 5.0 * (ANGLE - SHUTS) / 720.0)
    exhaust = wave + 6e3 * within(OPENS, 370.0) - 9e4 * (1.0 - within(OPENS, 370.0))
    assert cause(known(ANGLE, bell(430.0, -20e3), exhaust_p=exhaust)).overlap == pytest.approx(6e3)


def test_suction_that_grows_until_the_valve_shuts():
    """The launch is the last moment the valve is open; nothing can arrive after it."""
    found = cause(known(bell(430.0, 5e3), -ANGLE))
    assert found.launch == found.peak == SHUTS


def test_a_reflection_of_known_strength():
    """A pulse that starts at a shut end and meets an opening into a large vessel: it comes back
    turned over, its strength in X kept, after the time to the mouth and back (2 L / a)."""
    gas, length = perfect_gas(1.4, 287.05), 1.0
    a = (1.4 * 287.05 * 300.0) ** 0.5
    net = Network(gas)
    net.duct(
        "pipe",
        straight(length, 0.04),
        200,
        GasState(
            temperature=300.0,
            pressure=lambda x: 1e5 * (1 + 0.02 * np.exp(-(((x - length) / 0.06) ** 2))),
        ),
    )
    net.reservoir("air", pressure=1e5, temperature=300.0)
    net.opening("pipe", "left", "air")
    net.closed("pipe", "right")
    record = net.ready().march(2.6 * length / a, probes={"valve": ("pipe", length)})
    valve = record.probes["valve"]
    p, u, c = valve.p, valve.u, valve.a
    arriving, leaving = wave_split(p, u, c, 1.4, 1e5)
    at = int(np.argmin(np.abs(record.time - 2.0 * length / a)))
    assert np.argmin(arriving) == pytest.approx(at, abs=0.02 * len(p))
    launched = leaving[0] - 1e5
    assert launched == pytest.approx(1e3, rel=0.03)  # half of the start runs each way
    assert arriving.min() - 1e5 == pytest.approx(-launched, rel=0.05)


CAUSE = Cause(
    rpm=3456.0,
    ve=1.0789,
    launch=431.0,
    suction=-21.6e3,
    travel=97.0,
    due=528.0,
    peak=531.0,
    compression=17.4e3,
    shuts=598.0,
    wave_part=4.26e3,
    ram_part=2.84e3,
    order=3.71,
    counted=3.55,
    left_over=2.13e3,
    backflow=0.024,
    overlap=-7.6e3,
)


def test_the_figures_word_for_word():
    assert figures(CAUSE) == [
        "The suction wave leaves the valve most strongly at 431 deg (-21.6 kPa).",
        "It takes 97 deg to the mouth and back, so it returns as compression at 528 deg, 70 deg"
        " before the valve shuts at 598 deg. The arriving wave is highest at 531 deg (+17.4 kPa).",
        "While the valve closes the arriving wave brings +4.3 kPa and the air column's own momentum"
        " +2.8 kPa; 2 % of the charge is pushed back.",
        "With this travel time the closed runner rings 3.7 times per cycle; the"
        " computed pressure has 3.5 peaks. When the valve opens, the arriving wave stands at"
        " +2.1 kPa, which helps the start of filling.",
        "During overlap the exhaust pressure is 7.6 kPa below the intake pressure, which draws"
        " exhaust gas out of the cylinder.",
    ]
    told = sentences("hump", CAUSE)
    assert told == ["hump at 3456 rpm, VE 107.9 %.", *figures(CAUSE)]  # no verdict without worths


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        (
            {"compression": 1.4e3},
            "No compression comes back from the mouth before the valve shuts.",
        ),
        ({"due": 610.0}, "returns as compression at 610 deg, 12 deg after the valve shuts"),
        ({"due": 598.0}, "returns as compression at 598 deg, 0 deg before the valve shuts"),
        ({"peak": 510.0}, "as tapers and steps on the way send part of it back sooner"),
        ({"left_over": 1.4e3}, "the arriving wave stands at +1.4 kPa, which has little effect"),
        ({"left_over": -1.6e3}, "stands at -1.6 kPa, which hinders the start of filling"),
        (
            {"overlap": 1.6e3},
            "is 1.6 kPa above the intake pressure, which keeps exhaust gas in the cylinder",
        ),
        ({"backflow": 0.005}, "momentum +2.8 kPa. With"),
        ({"backflow": 0.09}, "; 9 % of the charge is pushed back."),
    ],
)
def test_the_words_follow_the_figures(changes, said):
    text = " ".join(sentences("dip", replace(CAUSE, **changes)))
    assert said in text
    assert text.startswith("dip at 3456 rpm")


def test_little_backflow_and_level_overlap_are_not_worth_a_sentence():
    quiet = replace(CAUSE, backflow=0.01, overlap=1.4e3)
    assert len(sentences("hump", quiet)) == 5


HUMP = replace(CAUSE, intake=0.12, exhaust=0.02)
DIP = replace(
    CAUSE, rpm=2500.0, ve=0.9789, intake=0.02, exhaust=0.01, wave_part=0.4e3, ram_part=2.6e3, backflow=0.07
)
LOW, HIGH = Extremum("dip", 2500.0, 0.9789), Extremum("hump", 3456.0, 1.0789)


def test_the_verdict_is_what_changed():
    """Ten points between the two, ten of them from the intake, one from the exhaust."""
    assert verdict_on("hump", HUMP, (LOW, DIP)) == [
        "hump at 3456 rpm, VE 107.9 %.",
        "The intake wave returns 67 deg before the valve closes and helps fill the cylinder; 2 % of the"
        " charge is pushed back, 7 % at the dip: +10.0 points against the dip at 2500 rpm,"
        " which is 10.0 points lower.",
        "The exhaust adds to it (+1.0 points).",
        "The remaining -1.0 points come from valve timing, losses, heating and residual gas, and from what"
        " the waves of both sides do together.",
    ]
    assert verdict_on("dip", DIP, (HIGH, HUMP))[1] == (
        "The intake wave brings +3.0 kPa while the valve closes, +7.1 kPa at the hump; 7 % of the"
        " charge is pushed back, 2 % at the hump: -10.0 points against the hump at 3456 rpm, which"
        " is 10.0 points higher."
    )


@pytest.mark.parametrize("seed", range(40))
def test_what_is_told_adds_up(seed):
    """The shares of both sides and the rest give the difference, in the digits that are told."""
    rng = np.random.default_rng(seed)
    worth = dict(zip(("intake", "exhaust"), rng.uniform(-0.3, 0.3, 2), strict=True))
    hump = replace(HUMP, ve=DIP.ve + rng.uniform(0.02, 0.3), **worth)
    high = Extremum("hump", 3456.0, hump.ve)
    text = " ".join(verdict_on("hump", hump, (replace(LOW, ve=DIP.ve), DIP))[1:])
    numbers = [float(x) for x in re.findall(r"([+-]\d+\.\d) points", text)]
    (total,) = re.findall(r"which is (\d+\.\d) points", text)
    assert sum(numbers) == pytest.approx(float(total), abs=1e-9)
    back = " ".join(verdict_on("dip", DIP, (high, hump))[1:])
    assert sum(float(x) for x in re.findall(r"([+-]\d+\.\d) points", back)) == pytest.approx(
        -float(total), abs=1e-9
    )


@pytest.mark.parametrize(
    ("hump", "dip", "said"),
    [
        # the same figures at the valve, whatever they are, make no verdict on their own
        ({"intake": 0.02, "exhaust": 0.02}, {}, "No wave makes this hump: the intake wave +0.0"),
        (
            {"intake": 0.01, "exhaust": 0.11, "overlap": -9e3},
            {"overlap": 2e3},
            "The exhaust, not the intake wave, draws exhaust gas out of the cylinder: during overlap"
            " it stands 9.0 kPa below the intake, 2.0 kPa above it at the dip: +10.0 points",
        ),
        (
            {"intake": 0.01, "exhaust": 0.11, "overlap": 1e3},
            {"overlap": 9e3},
            "The exhaust, not the intake wave, keeps less exhaust gas in the cylinder: during overlap"
            " it stands 1.0 kPa above the intake, 9.0 kPa above it at the dip",
        ),
        (
            {"intake": 0.01, "exhaust": 0.11, "overlap": 9e3},
            {"overlap": 2e3},
            "The exhaust, not the intake wave, makes this hump: +10.0 points",
        ),
        (
            {"wave_part": 1e3, "ram_part": 8e3},
            {},
            "fills the cylinder by the air column's own momentum as the valve closes",
        ),
        (
            {"wave_part": 0.4e3, "ram_part": 2.6e3},
            {"left_over": -4e3},
            "The intake wave stands at +2.1 kPa as the valve opens, -4.0 kPa at the dip: +10.0",
        ),
        (
            {"wave_part": 0.4e3, "ram_part": 2.6e3},
            {},
            "The intake wave makes this hump: +10.0 points against",
        ),
        ({"exhaust": -0.03}, {}, "The exhaust works against it (-4.0 points)."),
        ({"exhaust": 0.015}, {}, "The exhaust has little to do with it (+0.5 points)."),
    ],
)
def test_a_verdict_needs_its_numbers(hump, dip, said):
    told = verdict_on("hump", replace(HUMP, **hump), (LOW, replace(DIP, **dip)))
    assert said in " ".join(told)


def test_a_hump_that_stands_alone():
    assert verdict_on("hump", HUMP)[1] == (
        "Here the intake wave gives +12.0 points of VE and the exhaust +2.0 points, each against"
        " the same engine without its waves."
    )
