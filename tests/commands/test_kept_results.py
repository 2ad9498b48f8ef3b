"""What was computed is what is kept: files as they were read, results replaced as one."""

import errno
import json
import os
from pathlib import Path

import pytest
from tests import made_up
from tests.conftest import DEMO
from tests.printed import command
from tests.studies import HEAD, SPAN

from aircolumn.cli import main
from aircolumn.commands import curve, explain, report, study
from aircolumn.output.replace import REPLACING, finish_replacing, result_folder

OLD, NEW = "bore: 89 mm", "bore: 95 mm"
GRID = SPAN.replace("}", ", steps: 2}") + "speeds: [3000 rpm, 4000 rpm]\n"


@pytest.mark.parametrize(
    ("module", "function", "name", "more"),
    [
        (curve, "curve", "curve", ("--rpm", "3000", "4000")),
        (report, "compare", "report", ("--rpm", "3000", "4000")),
        (explain, "explain", "explain", ("--runner", "long")),
        (study, "answer", "study", ()),
    ],
)
def test_a_file_edited_meanwhile_is_kept_as_it_was_read(tmp_path, monkeypatch, module, function, name, more):
    """The copy among the results, and the text on the page, are those of the engine computed."""
    engine = tmp_path / "live.yaml"
    engine.write_text(DEMO.read_text())
    file = engine
    if name == "study":
        file = tmp_path / "study.yaml"
        file.write_text(HEAD.replace(str(DEMO), "live.yaml") + GRID)
    whole = getattr(module, function)

    def edited(*args, **kwargs):
        engine.write_text(DEMO.read_text().replace(OLD, NEW))
        return whole(*args, **kwargs)

    monkeypatch.setattr(module, function, edited)
    out = tmp_path / "o"
    with made_up.in_place():
        assert main([name, str(file), *more, "--out", str(out)]) == 0
    assert NEW in engine.read_text()
    assert (out / "live.yaml").read_bytes() == DEMO.read_bytes()
    if name == "report":
        page = (out / "report.html").read_text()
        assert OLD in page
        assert NEW not in page


def test_area_schedules_are_kept_with_the_engine(tmp_path):
    """Results can be set beside others wherever they are taken."""
    text = DEMO.read_text().replace("long: {length: 650 mm}", "long: {area_schedule: long.csv}")
    assert "long.csv" in text
    (tmp_path / "engine.yaml").write_text(text)
    shape = "distance [mm],bore [mm]\n0,46\n650,42\n"
    (tmp_path / "long.csv").write_text(shape)
    rpm = ("--rpm", "3000", "4000")
    with made_up.in_place():
        first = command("compare", tmp_path / "engine.yaml", *rpm, out=tmp_path / "first")
        assert first.code == 0, first.complaints
        assert (first.out / "long.csv").read_text() == shape
        (tmp_path / "long.csv").write_text(shape.replace("650,42", "600,40"))
        second = command("compare", tmp_path / "engine.yaml", *rpm, out=tmp_path / "second")
        both = command("change", first.out, second.out, out=tmp_path / "change")
    assert both.code == 0, both.complaints
    assert (second.out / "long.csv").read_text() != shape


NAMES = ("curve.csv", "curve.nc", "curve.png", "engine.yaml", "origin.json")
UNSTOPPED = 5  # there are fewer steps
STEPS = ("replace", "rmdir", "chmod", "mkdir", "unlink")


def write(out, text):
    with result_folder(out) as folder:
        for name in NAMES:
            (folder / name).write_text(text)


def stopped_at(count, stop, out):
    """In a process of its own write new results; at the ``count``-th step of the file system call
    ``stop``. Returns the exit code."""
    child = os.fork()
    if child == 0:
        left = [count]

        def counted(call):
            def step(*args, **kwargs):
                left[0] -= 1
                if left[0] == 0:
                    stop()
                return call(*args, **kwargs)

            return step

        for name in STEPS:
            setattr(os, name, counted(getattr(os, name)))
        code = 0
        try:
            write(out, "new")
        except OSError:
            code = 1
        except BaseException:
            code = 2
        os._exit(code if left[0] <= 0 else UNSTOPPED)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


def killed():
    os._exit(9)


def failed():
    raise OSError(errno.EIO, "Input/output error")


@pytest.mark.parametrize("stop", [killed, failed])
def test_results_are_replaced_as_one(tmp_path, stop):
    """Stopped at any step, all files are the old ones or all are the new ones to whatever opens
    them next; a mark says so meanwhile."""
    seen, n = set(), 0
    while True:
        n += 1
        out = tmp_path / f"{n}"
        write(out, "old")
        code = stopped_at(n, stop, out)
        mixed = {(out / name).read_text() for name in NAMES if (out / name).exists()}
        if len(mixed) > 1 or not all((out / name).exists() for name in NAMES):
            assert (out / REPLACING).is_dir()
        finish_replacing(out)
        texts = {(out / name).read_text() for name in NAMES}
        assert len(texts) == 1
        assert not (out / REPLACING).exists()
        seen |= texts
        write(out, "newer")  # and the folder goes on being used
        assert {(out / name).read_text() for name in NAMES} == {"newer"}
        assert sorted(p.name for p in out.iterdir()) == sorted(NAMES)
        if code == UNSTOPPED:
            break
    assert seen == {"old", "new"}
    assert n > len(NAMES) + 3


def test_half_moved_results_are_finished_before_they_are_read(tmp_path):
    """``change`` takes the new curve with the new engine file."""
    rpm = ("--rpm", "3000", "4000")
    changed = tmp_path / DEMO.name
    changed.write_text(DEMO.read_text().replace(OLD, NEW))
    with made_up.in_place():
        old = command("compare", DEMO, *rpm, out=tmp_path / "old")
        new = command("compare", changed, *rpm, out=tmp_path / "new")
        waiting = old.out / REPLACING
        waiting.mkdir()
        for item in sorted(new.out.iterdir()):
            if item.name in ("compare.csv", "compare.nc"):  # moved before the kill
                (old.out / item.name).write_bytes(item.read_bytes())
            else:
                (waiting / item.name).write_bytes(item.read_bytes())
        again = command("change", new.out, old.out, out=tmp_path / "change")
    assert again.code == 0, again.complaints
    assert "What differs" not in again.said
    assert json.loads((old.out / "origin.json").read_text())["command"].endswith(str(new.out))
    assert not Path(waiting).exists()
