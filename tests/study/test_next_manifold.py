"""The next manifold from the pull of the last: measured times predicted over predicted."""

from types import SimpleNamespace

import numpy as np
import pytest
from tests import made_up, made_up_pulls
from tests.conftest import DEMO
from tests.printed import command, right_aligned

import aircolumn
from aircolumn.errors import RequestError
from aircolumn.measured.session import measure
from aircolumn.study.bands.next_manifold import next_manifold, quotient, times
from aircolumn.study.bands.verdict import Interval


def test_what_is_common_to_both_drops_out():
    """Levels that differ by 10 % from case to case, quotients by 1 %: the band is that of the quotients."""
    rng = np.random.default_rng(3)
    level, own = 1.0 + 0.1 * rng.standard_normal((400, 1)), 1.0 + 0.01 * rng.standard_normal((400, 2))
    a = 200.0 * level * np.ones((400, 2))
    curves = SimpleNamespace(
        runners=["a", "b"],
        torque=np.stack([a, 1.1 * a * own], axis=1),
        own=np.array([[200.0, 200.0], [220.0, 220.0]]),
        gap=np.zeros((2, 2)),
    )
    band = quotient(curves, "b", "a", np.array([1.1, 1.2]))  # in the air of the pulls
    assert band.own == pytest.approx([1.1, 1.2])
    assert (band.high - band.low) / band.own == pytest.approx(2 * 1.96 * 0.01, rel=0.15)
    assert band.middle == pytest.approx([1.1, 1.2], rel=2e-3)


def test_the_doubt_of_the_pulls_is_added():
    one = np.ones(2)
    ratio = Interval(0.97 * one, one, 1.03 * one, one)
    found = times(100.0 * one, ratio, np.array([0.04, np.nan]))
    assert found.high == pytest.approx([105.0, 103.0])  # 3 and 4 make 5
    assert found.low == pytest.approx([95.0, 97.0])


def test_from_a_pull_of_the_made_up_engine(tmp_path):
    """Its torque is 5 % below the file's at every speed: so is the manifold that was not run."""
    demo = aircolumn.load(DEMO)
    log = tmp_path / "long.csv"
    speeds = made_up_pulls.SPEEDS
    with made_up.in_place():
        torque = {
            n: np.array([made_up.point(demo.with_runner(n), x).figures["torque"] for x in speeds])
            for n in ("long", "short")
        }
        rows = "".join(f"{n:.0f},{0.95 * t:.6f},0.88\n" for n, t in zip(speeds, torque["long"], strict=True))
        log.write_text(f"rpm,torque [N m],lambda\n{rows}")
        session = measure(demo, {"long": log}, "observed")
        found = next_manifold(demo, session, "short", tmp_path / "o", count=64)
        assert found.torque.own == pytest.approx(0.95 * torque["short"], rel=1e-3)
        assert np.all((found.torque.low < found.torque.own) & (found.torque.own < found.torque.high))
        assert found.width < found.width_alone
        for wrong in ("long", "none"):
            with pytest.raises(RequestError, match="predict another candidate than 'long'"):
                next_manifold(demo, session, wrong, tmp_path / "o")


def test_the_command_prints_it_first(tmp_path):
    demo = aircolumn.load(DEMO)
    with made_up.in_place():
        log = made_up_pulls.write(tmp_path, demo, "long")
        ran = command("pull", DEMO, f"long={log}", "--next", "short", out=tmp_path / "o", only_given=False)
    assert ran.code == 0, ran.complaints
    first = ran.said.splitlines()[0]
    assert first == "long: torque is taken as observed: nothing in the log speaks of a correction."
    assert ran.said.split("\n\n")[1].startswith("short, predicted from the pull of long")
    _, rows = right_aligned(ran.said, "rpm")
    assert len(rows) == made_up_pulls.SPEEDS.size
    assert all(float(low) <= float(own) <= float(high) for _, own, low, high, *_ in rows)
