"""The formulas of the theory page: each worked number against the code that is said to follow it, waves and
losses by marching them."""

import re
from functools import cache
from math import log10, pi, sqrt
from pathlib import Path

import numpy as np
import pytest
from scipy.special import erf
from validation.case_area_step_loss import loss

from aircolumn import GasState, Network, end_correction, perfect_gas, straight, wave_split
from aircolumn.engine.description.bottom_end import Friction
from aircolumn.engine.rules_of_thumb import neck_and_volume_speed, quarter_wave_speed
from aircolumn.flow.cylinder.burn import wiebe_share
from aircolumn.flow.cylinder.friction import fmep
from aircolumn.flow.cylinder.heat import woschni
from aircolumn.flow.duct.bends import bend_loss
from aircolumn.flow.duct.walls import fanning
from aircolumn.flow.ends.nozzle import choking_ratio, mass_flux
from aircolumn.flow.ends.openings import entry_loss

PAGE = Path(__file__).resolve().parent.parent / "notebooks" / "guide" / "theory.md"
GAMMA, R, P0, T0 = 1.4, 287.05, 1e5, 300.0
A0 = sqrt(GAMMA * R * T0)
N = 2.0 * GAMMA / (GAMMA - 1.0)


def simple_wave(net, sound, length, cells=400):
    """A duct with a simple wave that runs to the right, given by its speed of sound along x."""

    def pressure(x):
        return P0 * (sound(x) / A0) ** N

    def velocity(x):
        return 2.0 / (GAMMA - 1.0) * (sound(x) - A0)

    start = GasState(pressure, lambda x: sound(x) ** 2 / (GAMMA * R), velocity)
    net.duct("pipe", straight(length, 0.04), cells, start)
    net.calm("pipe", "left", P0, T0)


def bump(x):
    """Speed of sound of a wave of 20 % about 0.4 m."""
    return A0 * (1.0 + 0.2 * np.exp(-(((x - 0.4) / 0.12) ** 2))) ** (1.0 / N)


@cache
def marched(end, time):
    """(probe at 0.8 m of a pipe of 1 m, its end) until ``time``, s."""
    net = Network(perfect_gas(GAMMA, R))
    simple_wave(net, bump, 1.0)
    if end == "closed":
        net.closed("pipe", "right")
    elif end == "open":
        net.reservoir("air", P0, T0)
        net.opening("pipe", "right", "air")
    else:
        net.calm("pipe", "right", P0, T0)
    record = net.ready().march(time, probes={"here": ("pipe", 0.8), "end": ("pipe", 1.0)})
    return record.probes["here"], record.probes["end"]


def crest_speed():
    """m/s, where the pressure is highest."""
    here, _ = marched("calm", 2e-3)
    k = int(np.argmax(here.p))
    assert here.p[k] == pytest.approx(1.2 * P0, rel=1e-3)
    return here.u[k]


def closed_end():
    return marched("closed", 2.5e-3)[1].p.max() / P0


def open_end():
    """The wave that comes back, at its lowest."""
    here, _ = marched("open", 3.5e-3)
    return wave_split(here.p, here.u, here.a, GAMMA, P0)[1].min() / P0


def steepened():
    """du/dx at the front after 1 ms, of a wave that begins with -400 1/s."""
    width, middle = 0.05, 0.3
    top = -400.0 * width * sqrt(pi) / 2.0  # of an erf, whose slope is highest in its middle

    def sound(x):
        return A0 + (GAMMA - 1.0) / 2.0 * top * (erf((x - middle) / width) - 1.0)

    net = Network(perfect_gas(GAMMA, R))
    simple_wave(net, sound, 1.0, 1000)
    net.calm("pipe", "right", P0, T0)
    run = net.ready()
    run.march(1e-3)
    now = run.profile("pipe")
    inside = (now.x > 0.4) & (now.x < 0.9)
    return np.gradient(now.u, now.x)[inside].min()


@cache
def junction():
    """(reflected, passed on) share of a small wave in one of three equal pipes."""
    net = Network(perfect_gas(GAMMA, R))
    small = lambda x: A0 * (1.0 + 0.001 * np.exp(-(((x - 0.5) / 0.1) ** 2))) ** (1.0 / N)  # noqa: E731
    simple_wave(net, small, 1.0)
    for name in ("left leg", "right leg"):
        net.duct(name, straight(1.0, 0.04), 400, GasState(P0, T0))
        net.calm(name, "right", P0, T0)
    net.junction(("pipe", "right"), ("left leg", "left"), ("right leg", "left"))
    record = net.ready().march(3.4e-3, probes={"in": ("pipe", 0.9), "out": ("left leg", 0.5)})
    one, other = (record.probes[n] for n in ("in", "out"))
    forward, back = (w - P0 for w in wave_split(one.p, one.u, one.a, GAMMA, P0))
    strongest = forward.max()
    return back[np.argmax(np.abs(back))] / strongest, (other.p - P0).max() / strongest


def friction_of_the_file():
    f = Friction()
    return 1e-5 * fmep(f.constant, f.peak_pressure, f.speed, f.speed_squared, 60e5, 12.0)


FRICTION = 1.0 / (4.0 * (-1.8 * log10(6.9 / 1e5)) ** 2)
#: (formula, how its example begins): what the code makes of it, twice where the page's own formula is code's
NUMBERS = {
    ("simple wave", "velocity"): crest_speed,
    ("closed end", "the same"): closed_end,
    ("open end", "what comes"): open_end,
    ("steepening", "front"): lambda: 1e3 * 2.0 / ((GAMMA + 1.0) * 400.0),
    ("steepening", "its slope"): steepened,
    ("junction", "three"): lambda: junction()[0],
    ("junction", "the same"): lambda: junction()[1],
    ("throat", "pressure"): lambda: choking_ratio(GAMMA),
    ("throat", "mass"): lambda: mass_flux(P0, P0 / (R * T0), GAMMA, 0.0),
    ("narrowing", "K"): lambda: loss(0.04, 0.04 / sqrt(2.0)),
    ("widening", "K"): lambda: loss(0.04 / sqrt(2.0), 0.04),
    ("bellmouth", "K"): lambda: entry_loss("bellmouth", 0.04, radius=0.004),
    ("end correction", "42 mm"): lambda: 1e3 * end_correction("flanged", 0.042),
    ("quarter wave", "0.5 m"): lambda: 347.2 / (4.0 * 0.5),
    ("quarter wave", "the same"): lambda: quarter_wave_speed(0.5, 347.2, 5),
    ("neck and volume", "40 mm"): lambda: neck_and_volume_speed(
        pi / 4 * 0.04**2, 0.5, 500e-6, 9.0, 344.0, 2.1
    ),
    ("Haaland", "Re"): lambda: fanning(1e-5, 0.0),
    ("bend", "90"): lambda: bend_loss(90.0, 0.04, 0.04),
    ("Colburn", "Stanton"): lambda: FRICTION / 2.0 * 0.71 ** (-2.0 / 3.0),
    ("Woschni", "compression"): lambda: woschni(
        0.086, 2e6, 700.0, 12.0, False, False, 5e-4, (1e5, 350.0, 5.6e-4), 1e-4
    ),
    ("Wiebe", "share"): lambda: float(wiebe_share(np.array([0.5]), 0.0, 1.0, 2.0)[0]),
    ("Chen-Flynn", "defaults"): friction_of_the_file,
}
WITHIN = {"closed end": 0.004, "open end": 0.004, "steepening": 8.0, "narrowing": 0.002, "widening": 0.002}


def worked():
    """(formula, example, number as written) of the page's table."""
    text = PAGE.read_text().split("## Worked numbers")[1]
    return re.findall(r"^\| ([^|]+?) \| ([^|]+?) \| (-?[\d.]+) \|$", text, re.MULTILINE)


def _key(formula, example):
    """Of NUMBERS."""
    return next(key for key in NUMBERS if key[0] == formula and example.startswith(key[1]))


def test_every_worked_number_is_checked():
    rows = [
        (formula, next(e for f, e in NUMBERS if f == formula and x.startswith(e)))
        for formula, x, _ in worked()
    ]
    assert rows == list(NUMBERS)


@pytest.mark.parametrize(("formula", "example", "number"), worked())
def test_a_worked_number(formula, example, number):
    found = NUMBERS[_key(formula, example)]
    last_digit = 10.0 ** -len(number.partition(".")[2])
    assert found() == pytest.approx(float(number), abs=max(0.6 * last_digit, WITHIN.get(formula, 0.0)))


def test_waves_by_their_rules():
    """The numbers that were marched, by the formulas of the page."""
    x = 1.2 ** (1.0 / N)
    by_rule = {
        ("simple wave", "velocity"): 2.0 * A0 / (GAMMA - 1.0) * (x - 1.0),
        ("closed end", "the same"): (2.0 * x - 1.0) ** N,
        ("open end", "what comes"): (2.0 - x) ** N,
        ("steepening", "its slope"): -400.0 / (1.0 - 1.2 * 400.0 * 1e-3),
        ("junction", "three"): -1.0 / 3.0,
        ("junction", "the same"): 2.0 / 3.0,
    }
    numbers = {
        (f, s): float(n)
        for f, e, n in worked()
        for s in [k[1] for k in NUMBERS if k[0] == f]
        if e.startswith(s)
    }
    for key, value in by_rule.items():
        assert numbers[key] == pytest.approx(value, rel=2e-3), key
