"""Candidates that differ in any keys of the file, or are files of their own."""

import re

import numpy as np
import pytest
import yaml
from tests import made_up
from tests.conftest import DEMO
from tests.printed import command, right_aligned, rows_of

import aircolumn
from aircolumn.engine.description.engine_file import computed_part
from aircolumn.engine.description.reader import described
from aircolumn.engine.uncertain.inputs import all_unsure
from aircolumn.errors import InputError
from aircolumn.questions.read import read_study
from aircolumn.study.bands.cases import Cases

AS_RUNNERS = "candidates:\n" + "".join(
    f"  {name}: {{intake.runner.length: {mm} mm}}\n"
    for name, mm in (("short", 290), ("middle", 430), ("long", 650))
)
RUNNERS = DEMO.read_text()[DEMO.read_text().index("runners:") : DEMO.read_text().index("speeds:")]
WHOLE = """candidates:
  stock: {}
  tall:
    intake.runner.length: {value: 650 mm, plus_minus: 2 mm}
    intake.plenum.volume: 9 L
  wide:
    intake.throttle: {bore: 80 mm}
    intake.runner.bore: 46 mm
  log:
    intake.plenum:
      log: {length: 400 mm, bore: 80 mm, runners_at: [50 mm, 150 mm, 250 mm, 350 mm], heat_factor: 0}
  open: {intake.throttle: null, intake.plenum: null}

"""


def with_candidates(folder, text=WHOLE, name="engine.yaml"):
    path = folder / name
    path.write_text(DEMO.read_text().replace(RUNNERS, text))
    return path


def test_what_is_named_replaces_what_stands_there(tmp_path):
    d, base = aircolumn.load(with_candidates(tmp_path)), aircolumn.load(DEMO).engine
    assert list(d.candidates) == ["stock", "tall", "wide", "log", "open"]
    assert computed_part(d.with_runner("stock")) == computed_part(base)
    tall = d.with_runner("tall")
    assert (tall.intake.runner.length, tall.intake.plenum.volume) == pytest.approx((0.65, 9e-3))
    assert computed_part(
        tall.with_intake(runner=base.intake.runner, plenum=base.intake.plenum)
    ) == computed_part(base)
    wide = d.with_runner("wide")
    assert (wide.intake.throttle.bore, wide.intake.throttle.shaft) == (0.08, 0.01)  # the group is replaced
    assert wide.intake.runner.last_bore == 0.046
    assert d.with_runner("log").intake.log.total_length == 0.4
    assert d.with_runner("log").intake.plenum.volume is None
    assert d.with_runner("open").intake.plenum is None
    assert d.runners["tall"].length == 0.65


SCHEDULE = """candidates:
  drawn: {}
  pipe: {%s}

"""


@pytest.mark.parametrize(
    "pipe",
    [
        "intake.runner.area_schedule: null, intake.runner.length: 300 mm, intake.runner.bore: 40 mm",
        "intake.runner.length: 300 mm, intake.runner.bore: 40 mm, intake.runner.area_schedule: null",
        "intake.runner.length: 300 mm, intake.runner.bore: 40 mm",
    ],
)
def test_null_takes_an_area_schedule_away(pipe, tmp_path):
    (tmp_path / "area.csv").write_text("distance [mm],area [mm2]\n0,1400\n400,1200\n")
    path = with_candidates(tmp_path, SCHEDULE % pipe)
    text = path.read_text()
    old = "    length: 430 mm\n    bore: {from: 46 mm, to: 42 mm}\n"
    assert old in text
    path.write_text(text.replace(old, "    area_schedule: area.csv\n"))
    runner = aircolumn.load(path).runners["pipe"]
    assert (runner.length, runner.last_bore, runner.sections) == (0.3, 0.04, None)
    assert aircolumn.load(path).runners["drawn"].total_length == 0.4


def test_a_group_and_a_key_of_it_are_one_too_many(tmp_path):
    """Whichever stands last."""
    group = "intake.throttle: {bore: 80 mm}"
    for both in (f"{group}, intake.throttle.bore: 82 mm", f"intake.throttle.bore: 82 mm, {group}"):
        with pytest.raises(InputError) as caught:
            aircolumn.load(with_candidates(tmp_path, f"candidates:\n  wide: {{{both}}}\n"))
        (problem,) = caught.value.problems
        assert problem.key == "candidates.wide.intake.throttle.bore"
        assert problem.message.startswith(
            "intake.throttle stands beside it, and a group replaces the whole group"
        )


def test_a_candidate_is_what_its_own_file_would_be(tmp_path):
    d = aircolumn.load(with_candidates(tmp_path))
    for name, one in d.candidates.items():
        alone = tmp_path / f"{name}.yaml"
        alone.write_text(yaml.safe_dump(one.data))
        assert computed_part(aircolumn.load(alone).engine) == computed_part(d.with_runner(name))
        assert computed_part(described(d.source.with_data(one.data)).engine) == computed_part(one.engine)


def test_runners_and_candidates_that_say_the_same_are_the_same(tmp_path):
    text = AS_RUNNERS
    switchable = RUNNERS[RUNNERS.index("switchable:") :]
    d, old = aircolumn.load(with_candidates(tmp_path, text + "\n" + switchable)), aircolumn.load(DEMO)
    assert d.switchable == old.switchable
    for name in old.candidates:
        assert computed_part(d.with_runner(name)) == computed_part(old.with_runner(name))


def test_a_shape_goes_in_place_of_another(tmp_path):
    (tmp_path / "shape.csv").write_text("distance [mm],bore [mm]\n0,46\n200,44\n430,42\n")
    text = "  cad: {intake.runner.area_schedule: shape.csv}\n  straight: {intake.runner.length: 500 mm}\n"
    d = aircolumn.load(with_candidates(tmp_path, f"candidates:\n{text}\n"))
    assert [s.length for s in d.runners["cad"].sections] == pytest.approx([0.2, 0.23])
    assert d.runners["cad"].length is None
    assert d.runners["straight"].length == 0.5


def test_a_file_of_its_own(tmp_path):
    tall = DEMO.read_text().replace(RUNNERS, "").replace("length: 430 mm", "length: 700 mm")
    tall = tall.replace("plenum: {volume: 6 L}", "plenum: {volume: {value: 8 L, plus_minus: 10 %}}")
    (tmp_path / "tall.yaml").write_text(tall.replace("to: 6000 rpm", "to: 7000 rpm"))
    d = aircolumn.load(with_candidates(tmp_path, "candidates:\n  stock: {}\n  tall: tall.yaml\n"))
    one = d.with_runner("tall")
    assert (one.intake.runner.length, one.intake.plenum.volume) == pytest.approx((0.7, 8e-3))
    assert one.speeds == d.engine.speeds  # all at the same speeds
    assert [f.path.name for f in d.source.files] == ["engine.yaml", "tall.yaml"]
    keys = [row.key for row in all_unsure(d.candidates["tall"])]
    assert "intake.plenum.volume" in keys
    assert "intake.plenum.volume" not in [row.key for row in all_unsure(d.candidates["stock"])]


@pytest.mark.parametrize(
    ("text", "key", "said"),
    [
        ("  a: {intake.runner.lenght: 1 m}", "intake.runner.lenght", "did you mean 'length'?"),
        ("  a: {intake.plenum.volume: 9}", "intake.plenum.volume", "9 has no unit"),
        ("  a: {speeds.to: 7000 rpm}", "candidates.a.speeds.to", "speeds is the same for all candidates"),
        ("  a: 3", "candidates.a", "keys of the file with what differs are expected here, or another"),
        ("  a: none.yaml", "", "cannot be read"),
        ("  a: {intake.runner: 3}", "intake.runner", "a group of 'key: value' lines is expected"),
        ("  a: {mixture.fuel.name.x: 3}", "mixture.fuel", "is not known here; use gasoline"),
        ("  a: {intake.valve.stem: 40 mm}", "intake.valve", "the stem fills the valve throat"),
    ],
)
def test_wrong_candidates(text, key, said, tmp_path):
    path = with_candidates(tmp_path, f"candidates:\n{text}\n\n")
    with pytest.raises(InputError, match=re.escape(said)) as caught:
        aircolumn.load(path)
    (problem,) = caught.value.problems
    assert problem.key.startswith(key)
    if key:
        line = next(n for n, row in enumerate(path.read_text().splitlines(), 1) if row == text)
        assert problem.line == line


def test_either_runners_or_candidates(tmp_path):
    path = with_candidates(tmp_path, RUNNERS + WHOLE)
    with pytest.raises(InputError, match="give either runners or candidates"):
        aircolumn.load(path)


def test_a_study_of_a_candidate(tmp_path):
    with_candidates(tmp_path)
    study = tmp_path / "study.yaml"
    study.write_text(
        "engine: engine.yaml\nvary: {candidates.tall.intake.plenum.volume: [6 L, 12 L]}\nspeeds: [3000 rpm]\n"
    )
    plan = read_study(study)
    assert plan.runner == "tall"
    engines = [plan.case(values).engine for values in plan.rows]
    assert [e.intake.plenum.volume for e in engines] == [6e-3, 12e-3]
    assert {e.intake.runner.length for e in engines} == {0.65}


def test_cases_move_what_a_candidate_has(tmp_path):
    d = aircolumn.load(with_candidates(tmp_path))
    cases = Cases.of(d)
    assert "candidates.tall.intake.runner.length" in cases.names
    z = np.zeros(len(cases.names))
    z[cases.names.index("candidates.tall.intake.runner.length")] = 1.96
    engines = cases.engines(z)
    assert engines["tall"].intake.runner.length == pytest.approx(0.652, abs=1e-6)
    assert engines["stock"].intake.runner.length == 0.43
    z[:] = 1.0  # what all have is drawn once, though one has a pipe more
    friction = {e.intake.runner.friction_factor for e in cases.engines(z).values()}
    assert len(friction) == 1
    k = next(k for k, name in enumerate(cases.names) if name.startswith("intake.runner.friction_factor"))
    z[k] = -1.0
    moved = cases.engines(z)
    (less,) = {e.intake.runner.friction_factor for e in moved.values()}
    assert less == pytest.approx(1.0 / friction.pop())
    assert moved["log"].intake.log.friction_factor == moved["log"].intake.runner.friction_factor


@pytest.mark.parametrize("name", ["compare", "explain", "check", "bands"])
def test_commands_take_them(name, tmp_path):
    path = with_candidates(tmp_path)
    with made_up.in_place():
        done = command(name, path, *(("--cases", "40") if name == "bands" else ()), out=tmp_path / "o")
    assert done.code == 0, done.complaints
    for candidate in ("stock", "tall", "wide", "log", "open"):
        assert candidate in done.said


def test_files_side_by_side(tmp_path):
    alone = DEMO.read_text().replace(RUNNERS, "")
    (tmp_path / "stock.yaml").write_text(alone)
    (tmp_path / "tall.yaml").write_text(
        alone.replace("length: 430 mm", "length: 700 mm").replace("6 L", "9 L")
    )
    paths = [tmp_path / f"{n}.yaml" for n in ("stock", "tall")]
    with made_up.in_place():
        done = command("compare", *paths, "--against", "stock", out=tmp_path / "o")
    assert done.code == 0, done.complaints
    assert {row["runner"] for row in rows_of(tmp_path / "o" / "compare.csv")} == {"stock", "tall"}
    assert "tall against stock" in done.said
    assert {"stock.yaml", "tall.yaml"} <= {p.name for p in (tmp_path / "o").iterdir()}
    again = command("compare", *paths, paths[1], out=tmp_path / "p")
    assert again.code == 2
    assert "two candidates are called 'tall'" in again.complaints


def test_check_says_what_else_differs(tmp_path):
    done = command("check", with_candidates(tmp_path), out=tmp_path / "o")
    assert "also differs in intake.plenum.volume" in done.said
    assert "also differs in intake.throttle, intake.plenum" in done.said


def test_old_and_new_form_give_the_same_figures(tmp_path):
    text = AS_RUNNERS
    switchable = RUNNERS[RUNNERS.index("switchable:") :]
    new = with_candidates(tmp_path, text + "\n" + switchable)
    with made_up.in_place():
        told = [command("compare", p, out=tmp_path / f"o{k}") for k, p in enumerate((DEMO, new))]
    tables = [rows_of(t.out / "compare.csv") for t in told]
    assert tables[0] == tables[1]
    assert right_aligned(told[0].said, "rpm") == right_aligned(told[1].said, "rpm")


def test_pulls_of_whole_manifolds(tmp_path, demo):
    from tests import made_up_pulls

    data = [f"{n}={made_up_pulls.write(tmp_path, demo, n)}" for n in ("long", "short")]
    other = DEMO.read_text().replace(RUNNERS, "").replace("length: 430 mm", "length: 650 mm")
    other = other.replace("compression_ratio: 9.2", "compression_ratio: {value: 9.2, plus_minus: 0.2}")
    (tmp_path / "long.yaml").write_text(other)
    short = "  short: {intake.runner.length: 290 mm, intake.valve.discharge.factor: 1.1}"
    path = with_candidates(tmp_path, f"candidates:\n{short}\n  long: long.yaml\n\n")
    with made_up.in_place():
        done = command("pull", path, *data, "--fit", "discharge", out=tmp_path / "o")
    assert done.code == 0, done.complaints
    before, again = aircolumn.load(path), aircolumn.load(tmp_path / "o" / "engine-fitted.yaml")
    fitted = again.fitted.values["discharge"]
    for name, factor in (("short", 1.1), ("long", 1.0)):
        engine = again.with_runner(name)
        assert engine.intake.valve.discharge.factor == pytest.approx(factor * fitted, rel=1e-5)
        assert engine.intake.runner.length == before.with_runner(name).intake.runner.length
    assert again.source.spreads["candidates", "long", "engine", "compression_ratio"] == 0.2


def test_the_drawing_holds_the_longest_candidate(tmp_path):
    """All on one scale, wherever the longest stands."""
    path = with_candidates(tmp_path)
    done = command("check", path, out=tmp_path / "o")
    panels = done.pictures["layout.png"].axes
    ends = [
        max(p.get_extents().xmax for p in (patch.get_path() for patch in panel.patches)) for panel in panels
    ]
    assert len(panels) == 5
    for panel, patches in zip(panels, (panel.patches for panel in panels), strict=True):
        right = max(patch.get_window_extent().x1 for patch in patches)
        assert right <= panel.get_window_extent().x1 + 1.0
    assert ends
