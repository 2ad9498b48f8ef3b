"""What a file may cost is bounded by what it grows to, not by how long it is."""

import os

import pytest
from tests.conftest import CLASSROOM, DEMO
from tests.studies import cases_of, plan_of

from aircolumn import user_folder
from aircolumn.engine.description.candidates import MOST_RUNNERS
from aircolumn.engine.description.reader import load
from aircolumn.errors import InputError, RequestError
from aircolumn.measured.logs.pulls import MOST_PULLS
from aircolumn.measured.logs.reading import read_pulls
from aircolumn.output.in_use import claim

DEMO_TEXT = DEMO.read_text()
SECTION = "{length: 1 mm, bore: 40 mm}"


def refused(folder, text, name="engine.yaml", read=load) -> str:
    path = folder / name
    path.write_text(text)
    with pytest.raises(InputError) as error:
        read(path)
    return str(error.value)


def with_runner(shape: str) -> str:
    """The demo with another shape of intake.runner, and one candidate that keeps it."""
    head, _, rest = DEMO_TEXT.partition("  runner:")
    _own, _, tail = rest.partition("  port:")
    before = tail.partition("\nrunners:")[0]
    wall = "wall_temperature: 60 degC"
    return f"{head}  runner: {{{shape}, {wall}}}\n  port:{before}\nrunners:\n  a: {{{wall}}}\n"


def test_aliases_count_each_time(tmp_path):
    lines = ["a0: &a0 [1, 2, 3, 4, 5, 6, 7, 8, 9]"]
    lines += [f"a{k}: &a{k} [{', '.join(9 * [f'*a{k - 1}'])}]" for k in range(1, 9)]
    said = refused(tmp_path, "\n".join(lines))
    assert "more than 20000 values, those of aliases repeated" in said


def test_runners_are_counted_with_what_they_share(tmp_path):
    many = "".join(f"  r{k}: {{length: 300 mm}}\n" for k in range(MOST_RUNNERS + 1))
    text = DEMO_TEXT.partition("\nrunners:")[0] + f"\nrunners:\n{many}"
    assert f"{MOST_RUNNERS + 1} runners; at most {MOST_RUNNERS}" in refused(tmp_path, text)


def test_cylinders_are_counted_with_what_they_share(tmp_path):
    sections = ", ".join([SECTION] * 900)
    differing = ", ".join(f"{k}: {{}}" for k in range(1, 100))
    text = with_runner(f"sections: [{sections}], by_cylinder: {{{differing}}}")
    assert "more than 150000 values once" in refused(tmp_path, text)


def test_a_schedule_is_read_once_and_counted_each_time(tmp_path):
    rows = "".join(f"{k}, 1500\n" for k in range(1, 1990))
    (tmp_path / "s.csv").write_text(f"distance [mm],area [mm2]\n0,1500\n{rows}")
    differing = ", ".join(f"{k}: {{area_schedule: s.csv}}" for k in range(1, 30))
    text = with_runner(f"area_schedule: s.csv, by_cylinder: {{{differing}}}")
    assert "more than 150000 values once" in refused(tmp_path, text)
    assert load_text(tmp_path, with_runner("area_schedule: s.csv")).size > 10_000


def load_text(folder, text):
    path = folder / "engine.yaml"
    path.write_text(text)
    return load(path)


def test_numbers_with_colons_are_text(tmp_path):
    """YAML 1.1 reads 9:20 as 560, in a time that grows with the square of its length."""
    for written in ("9:20", ":".join(["1"] * 200_000), "!!int 1:1"):
        said = refused(
            tmp_path,
            DEMO_TEXT.replace("compression_ratio: 9.2", f"compression_ratio: {written}"),
        )
        assert "a plain number is expected here, from 3 to 25" in said


def test_keys_of_a_study_are_counted_before_they_are_tried(tmp_path):
    keys = "".join(f"  k{k}: [1]\n" for k in range(3000))
    text = f"engine: {CLASSROOM}\nvary:\n{keys}"
    assert "3000 keys are varied; at most 40" in refused(tmp_path, text, "s.yaml", read_study_of)


def read_study_of(path):
    return plan_of(path.parent, path.read_text())


def test_cases_are_laid_out_when_they_are_needed(tmp_path, monkeypatch):
    span = "{from: 250 mm, to: 400 mm, steps: 1000}"
    text = (
        f"engine: {CLASSROOM}\nspeeds: [4000 rpm]\nvary:\n  intake.runner.length: {span}\n"
        "  intake.valve.closes_abdc: {from: 40 deg, to: 50 deg, steps: 200}\n"
    )
    plan = plan_of(tmp_path, text)
    assert len(plan.rows) == 200_000
    assert plan.case(plan.rows[-1]).engine is not None
    small = plan_of(tmp_path, text.replace("1000}", "2}").replace("200}", "2}"))
    assert [c.engine.intake.valve.closes_abdc for c in cases_of(small)] == [40, 50, 40, 50]


HEAD = "rpm,torque [N m]\n"
SWEEP = "2000,100\n2500,101\n3000,102\n"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("\n" * 200_001, "200001 lines; at most 200000 are read"),
        (HEAD + "1" * 20_001, ":2:1: a line of 20001 characters; at most 20000"),
        ((HEAD + SWEEP) * (MOST_PULLS + 1), f"{MOST_PULLS + 1} pulls; at most {MOST_PULLS}"),
        (HEAD + ("1" * 9000 + "," + "2" * 9000 + "\n") * 500, "only 0 rows can be used"),
        ((",".join(["a b"] * 290) + "\n") * 200 + HEAD + SWEEP, "no line of headings"),
    ],
)
def test_data_files(tmp_path, text, said):
    path = tmp_path / "d.csv"
    path.write_text(text)
    with pytest.raises(InputError) as error:
        read_pulls(path)
    assert said in str(error.value)


def origin(name):
    return {"command": "aircolumn curve", "file": name, "from": "."}


def in_another_process(out, name) -> bool:
    """Whether another process may fill a folder with results of a file."""
    child = os.fork()
    if child == 0:
        try:
            claim(out, origin(name))
        except RequestError:
            os._exit(1)
        os._exit(0)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 0


def test_two_commands_do_not_fill_one_folder(tmp_path, monkeypatch):
    """The second is told at its start; the same question may be computed by two."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    claim(tmp_path / "o", origin("a.yaml"))
    assert not in_another_process(tmp_path / "o", "b.yaml")
    assert in_another_process(tmp_path / "o", "a.yaml")
    assert in_another_process(tmp_path / "p", "b.yaml")


def test_a_folder_others_can_write_to_is_not_trusted(tmp_path):
    """What lies there is run."""
    place = tmp_path / "cache" / "aircolumn" / "0123"
    assert user_folder.usable(place)
    assert place.stat().st_mode & 0o777 == 0o700
    place.parent.chmod(0o777)
    assert not user_folder.usable(place)
    place.parent.chmod(0o1777)  # as of temporary folders: nobody can move what is not theirs
    assert user_folder.usable(place)
    (tmp_path / "elsewhere").mkdir()
    (tmp_path / "cache" / "link").symlink_to(tmp_path / "elsewhere")
    assert not user_folder.usable(tmp_path / "cache" / "link")
