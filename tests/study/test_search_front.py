"""The trade-off between two aims, where it bends, and the engine files of it."""

import numpy as np
import pytest
from tests import made_up
from tests.conftest import DEMO
from tests.printed import command
from tests.studies import SPAN, SPEEDS, analytic
from tests.study.test_search import SEARCH, searched

from aircolumn.engine.description.reader import load
from aircolumn.questions.search.front import bend_of, front_of, more_covered
from aircolumn.questions.search.known import Design


def design(*aims, margin=1.0):
    """A design with these aims."""
    none = np.zeros(1)
    return Design(
        none, (), none, none, np.array(aims, dtype=float), none, none, np.array([margin]), none, none
    )


def test_what_another_curve_beats_in_one_aim_and_equals_in_the_other_is_not_in_front():
    aims = [(200.0, 100.0), (200.0, 90.0), (190.0, 100.0), (180.0, 120.0), (180.0, 120.0)]
    front = front_of([*(design(*a) for a in aims), design(300, 300, margin=-1.0), design(np.nan, 300)])
    assert [tuple(d.aims) for d in front] == [(180.0, 120.0), (180.0, 120.0), (200.0, 100.0)]


def test_the_bend_by_hand():
    """Of (0, 10), (7, 8), (10, 0), the middle one; on a straight line, or bent inwards, there is none."""
    assert bend_of([design(0, 10), design(7, 8), design(10, 0)]) == 1
    assert bend_of([design(0, 10), design(2, 9.5), design(8, 6), design(10, 0)]) == 2
    assert bend_of([design(0, 10), design(3, 3), design(10, 0)]) is None
    assert bend_of([design(0, 10), design(10, 0)]) is None


def covered(front, reference):
    """Area between a front and a reference, by counting on a fine grid."""
    x, y = np.meshgrid(*(np.linspace(reference, 1.4, 1501),) * 2)
    inside = np.zeros_like(x, dtype=bool)
    for a, b in front:
        inside |= (x < a) & (y < b)
    return inside.mean() * (1.4 - reference) ** 2


def test_what_a_place_adds_to_the_area_against_counting():
    """Inside, on the front, between two of it, beyond either end."""
    front = [(0.0, 1.0), (0.4, 0.8), (1.0, 0.0)]
    places = np.array([[0.3, 0.3], [0.4, 0.8], [0.7, 0.7], [-0.05, 1.2], [1.3, -0.05]])
    found = more_covered([design(*p) for p in front], places)
    before = covered(front, -0.1)
    due = [covered([*front, tuple(p)], -0.1) - before for p in places]
    assert found == pytest.approx(due, abs=3e-3)
    assert found[0] == found[1] == 0.0
    assert min(found[2:]) > 0.0


def slanted(rpm, length, bore):
    """Two ends of the speeds that pull the length apart; a bore that is best for both."""
    slant = (length - 550.0) / 350.0 * (3250.0 - rpm) / 750.0
    return 200.0 + 50.0 * slant - 20.0 * slant**2 - (bore - 43.0) ** 2


def test_trade_off_front(tmp_path, monkeypatch):
    """The front is where the bore is best for both aims, from one end of the lengths to the other."""
    analytic(monkeypatch, slanted)
    text = (
        "search:\n  aim: {of: torque, at: 2500 rpm}\n"
        "  second_aim: {of: torque, at: 4000 rpm}\n  evaluations: 60\n"
    )
    found = searched(tmp_path, SEARCH + text)
    front = np.array([d.aims for d in found.front])
    assert len(front) >= 12
    assert np.all(np.diff(front[:, 0]) > 0)
    assert np.all(np.diff(front[:, 1]) < 0)
    bores = [d.values[1] for d in found.front]
    assert np.mean(np.abs(np.array(bores) - 43.0) < 1.0) > 0.8
    lengths = [d.values[0] for d in found.front]
    assert min(lengths) < 240.0
    assert max(lengths) > 860.0
    assert [d.key for d in front_of(found.known)] == [d.key for d in found.front]
    assert bend_of(found.front) is not None


def test_every_design_of_the_front_is_an_engine_file_with_all_that_the_file_is_unsure_of(tmp_path):
    """plus_minus and what a fit found are in it, and the commands take it beside the others. Those of an
    earlier answer go."""
    text = DEMO.read_text().replace("    length: 430 mm\n", "    length: {value: 430 mm, plus_minus: 3 mm}\n")
    text = text.replace("closes_abdc: 44 deg", "closes_abdc: {value: 44 deg, plus_minus: 2 deg}")
    (tmp_path / "engine.yaml").write_text(text + "fitted: {discharge: {value: 0.98, plus_minus: 0.02}}\n")
    study = SPAN.replace("closes_abdc", "opens_btdc").replace("40 deg, to: 50", "0 deg, to: 6") + SPEEDS
    (tmp_path / "study.yaml").write_text(
        f"engine: engine.yaml\n{study}search: {{second_aim: {{of: flatness}}, evaluations: 20}}\n"
    )
    out = tmp_path / "o"
    with made_up.in_place():
        assert command("study", tmp_path / "study.yaml", out=out).code == 0
        files = sorted(out.glob("study-front-*.yaml"))
        assert len(files) >= 3
        (out / "study-front-99.yaml").write_text("left by an earlier answer")
        assert command("study", tmp_path / "study.yaml", out=out).code == 0
        assert sorted(out.glob("study-front-*.yaml")) == files
        assert command("compare", *files[:2], out=tmp_path / "c").code == 0
    for file in (*files, out / "study-best.yaml"):
        description = load(file)
        assert set(description.source.spreads) == {
            ("intake", "runner", "length"),
            ("intake", "valve", "closes_abdc"),
            ("fitted", "discharge"),
        }
        assert "discharge" in description.fitted.values
