"""Speeds judged together: how often a winner is named where there is none, and where there is one."""

import numpy as np
import pytest
from scipy.stats import t as student

from aircolumn.measured import family_wise
from aircolumn.measured.family_wise import least_shown

S = 20
NOISE = {
    "alike at all speeds": lambda z, n: np.repeat(z((n, 1)), S, axis=1),
    "independent": lambda z, n: z((n, S)),
    "half and half": lambda z, n: 0.7 * z((n, 1)) + 0.7 * z((n, S)),
    "from one speed to the next": lambda z, n: np.cumsum(z((n, S)), axis=1) / np.sqrt(np.arange(1, S + 1)),
    "a slope": lambda z, n: z((n, 1)) * np.linspace(-1.7, 1.7, S),
    "six times larger at one end": lambda z, n: z((n, S)) * np.linspace(3.0, 0.5, S),
}


def sessions(kind, count, pulls=(3, 3), gain=0.0, seed=5):
    """Differences, and what they must exceed, of seeded sessions with noise of 0.3 %."""
    z = np.random.default_rng(seed).standard_normal
    for _ in range(count):
        both = 1.0 + 0.003 * NOISE[kind](z, sum(pulls))
        a, b = both[: pulls[0]] + gain, both[pulls[0] :]
        yield a.mean(axis=0) - b.mean(axis=0), least_shown(a, b, 0.95)


@pytest.mark.slow
@pytest.mark.parametrize("pulls", [(2, 2), (3, 3), (5, 4)])
@pytest.mark.parametrize("kind", NOISE)
def test_null_sessions_name_a_winner_in_one_of_twenty(kind, pulls, monkeypatch):
    monkeypatch.setattr(family_wise, "DRAWS", 5000)  # as many as the count of sessions can tell
    count = 1500
    wrong = np.mean([np.any(np.abs(d) > least) for d, least in sessions(kind, count, pulls)])
    assert wrong < 0.05 + 2.6 * np.sqrt(0.05 * 0.95 / count)  # 0.0646: 99.5 % of counts at a rate of 5 %


@pytest.mark.parametrize("kind", ["independent", "alike at all speeds"])
def test_a_hundred_null_sessions(kind):
    """Judged speed by speed with one spread for all, 13 of these 100 named a winner for independent noise."""
    wrong = sum(np.any(np.abs(d) > least) for d, least in sessions(kind, 100, seed=11))
    assert wrong <= 8


@pytest.mark.parametrize("kind", ["independent", "half and half", "alike at all speeds"])
@pytest.mark.slow
def test_power_is_kept(kind):
    """A difference of 1.5 % over part of the range is found there, as it was by Student's factor alone."""
    gain = np.where((np.arange(S) > 4) & (np.arange(S) < 13), 0.015, 0.0)
    found = [np.abs(d)[gain > 0.0] > least for d, least in sessions(kind, 60, gain=gain)]
    assert np.mean(found) > 0.9


def test_one_speed_is_students_t():
    rng = np.random.default_rng(0)
    a, b = 1.0 + 0.003 * rng.standard_normal((3, 1)), 1.0 + 0.003 * rng.standard_normal((4, 1))
    pooled = np.sqrt((2 * a.var(ddof=1) + 3 * b.var(ddof=1)) / 5)
    expected = student.ppf(0.975, 5) * pooled * np.sqrt(1 / 3 + 1 / 4)
    assert least_shown(a, b, 0.95) == pytest.approx(expected, rel=0.02)


def test_without_repeats_nothing_is_known():
    assert np.isnan(least_shown(np.ones((1, 4)), np.ones((1, 4)), 0.95))


def test_a_pull_that_does_not_reach_a_speed_counts_where_it_does():
    rng = np.random.default_rng(3)
    a, b = (1.0 + 0.003 * rng.standard_normal((3, S)) for _ in range(2))
    whole = least_shown(a, b, 0.95)
    a[2, -2:] = np.nan
    b[:, 0] = np.nan  # nobody knows anything here
    assert least_shown(a, b, 0.95) == pytest.approx(whole, rel=0.2)
