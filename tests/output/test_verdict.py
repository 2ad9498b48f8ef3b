"""Like for like, differences of torque and who wins, as pull prints them."""

import re

import numpy as np
import pytest
from scipy.stats import t as student
from tests import made_up
from tests.conftest import DEMO
from tests.made_up_pulls import AFR, GAINS, SPARK, SPEEDS, near, section, write
from tests.printed import command, digits, left_aligned, right_aligned, significant

from aircolumn.measured.family_wise import least_shown


def mean_over(values, start=2500.0, stop=4000.0):
    part = values[(start <= SPEEDS) & (stop >= SPEEDS)]
    return (part.sum() - 0.5 * (part[0] + part[-1])) / (len(part) - 1)


def test_checks(pulled):
    """d +- t s sqrt(2/3), t at 4 degrees of freedom (docstring of measured/like_for_like.py)."""
    table = left_aligned(section(pulled, "Like for like? long against short"), "channel")
    assert table[0] == ["channel", "band", "largest difference", "+-", "verdict"]
    wide = student.ppf(0.975, 4) * (2.0 / 3.0) ** 0.5
    expected = {
        "air-fuel ratio": ("0.1", -0.3, wide * 0.02, "differs"),
        "spark": ("0.5 deg", -0.5, wide * 0.1, "unproven"),
        "coolant": ("5 K", 0.0, wide, "alike"),
        "oil": ("8 K", 0.0, 3 * wide, "alike"),
        "inlet air": ("3 K", -1.0, 0.0, "alike"),
        "barometer": ("1 kPa", -0.3, 0.0, "alike"),
        "sweep rate": ("10 %", 0.0, 100 * wide / 300.0, "alike"),
    }
    assert [row[0] for row in table[1:]] == list(expected)
    for title, band, difference, doubt, verdict in table[1:]:
        due = expected[title]
        assert (band, verdict) == (due[0], due[3])
        assert float(difference) == pytest.approx(due[1], abs=0.0051 if title != "spark" else 0.051)
        assert float(doubt) == pytest.approx(due[2], rel=0.04, abs=1e-3)
        assert digits(difference) == (1 if title == "spark" else 2)
        assert significant(doubt) <= 2
    words = " ".join(section(pulled, "More than the manifold changed").split("\n\n")[0].split())
    assert words == (
        "More than the manifold changed: air-fuel ratio; no speed can be compared. Spark may"
        " differ too much; repeat the pulls to be sure. Torque repeats within 0.20 % (standard"
        " deviation between pulls, 4 degrees of freedom). A difference is real, with 95 %"
        " confidence, only if it exceeds the figure in the table. Torque drifts by +0.20 % per"
        " pull; the figure allows for that. Pull the manifolds in the order A B A to see the drift"
        " better."
    )


def test_difference_of_torque(pulled, pull_due):
    """t s sqrt(2/3) of the mean level, and the drift between the middles of the sets: 3 pulls."""
    text = section(pulled, "Torque of long less short, N m")
    _, rows = right_aligned(text, "rpm")
    a, b = pull_due["long"], pull_due["short"]
    level = 0.5 * (a["corrected"] + b["corrected"])
    pulls = [np.outer(GAINS, x["corrected"]) / level for x in (a, b)]
    share = least_shown(*pulls, 0.95) + 3 * 0.002
    assert share - 3 * 0.002 > student.ppf(0.975, 4) * 0.002 * (2.0 / 3.0) ** 0.5  # all speeds together
    columns = list(zip(*rows, strict=True))
    for cells, values in zip(
        columns,
        (SPEEDS, a["corrected"] - b["corrected"], share * level, a["predicted"] - b["predicted"]),
        strict=True,
    ):
        near(cells, values, 0.09)
    assert [{digits(c) for c in cells} for cells in columns] == [{0}, {1}, {1}, {1}]
    lines = text.splitlines()
    assert sum(line.endswith("not comparable") for line in lines[3 : 3 + SPEEDS.size]) == SPEEDS.size
    assert "  2000 to 4500 rpm: not comparable" in lines
    gain = mean_over(a["corrected"] - b["corrected"])
    told = next(x for x in lines if x.startswith("Mean torque from 2500 to 4000 rpm"))
    head, tail = (
        "Mean torque from 2500 to 4000 rpm: long made ",
        (" N m more than short, but not all of this range is comparable"),
    )
    assert told.startswith(head)
    assert told.endswith(tail)
    assert float(told[len(head) : -len(tail)]) == pytest.approx(gain, abs=0.09)


def test_who_wins_where_nothing_else_changed(demo, pull_files, tmp_path, monkeypatch):
    monkeypatch.setitem(AFR, "short", AFR["long"])
    monkeypatch.setitem(SPARK, "short", SPARK["long"])
    short = write(tmp_path, demo, "short")
    with made_up.in_place():
        ran = command("pull", DEMO, f"short={short}", f"long={pull_files['long']}", out=tmp_path / "o")
    text = section(ran, "Torque of short less long, N m")
    rows = right_aligned(text, "rpm")[1][: SPEEDS.size]
    measured, least = (np.array([float(r[k]) for r in rows]) for k in (1, 2))
    assert "No channel clearly differs by more than its band." in ran.said
    labels = [
        "no difference shown" if abs(m) <= u else "short has more torque" if m > 0 else "long has more torque"
        for m, u in zip(measured, least, strict=True)
    ]
    assert set(labels) >= {"short has more torque", "long has more torque"}
    expected, start = [], 0
    for k in range(1, len(labels) + 1):
        if k == len(labels) or labels[k] != labels[start]:
            a, b = SPEEDS[start], SPEEDS[k - 1]
            span = f"{a:.0f} rpm" if a == b else f"{a:.0f} to {b:.0f} rpm"
            expected.append(f"  {span}: {labels[start]}")
            start = k
    lines = text.splitlines()
    at = next(k for k, line in enumerate(lines) if line.startswith("  2000"))
    assert lines[at : at + len(expected)] == expected
    together = "  All speeds are judged together: the chance of any wrong winner here is 5 %."
    assert lines[at + len(expected)] == together
    gain, most = mean_over(measured), mean_over(least)
    told = re.fullmatch(
        r"Mean torque from 2500 to 4000 rpm: long made (\S+) N m more than short\. That is a"
        r" clear win for long \(at least (\S+) is needed\)",
        " ".join(" ".join(lines[at + len(expected) + 1 :]).split("Cells")[0].split()),
    )
    near(told.groups(), [-gain, most], 0.06)
