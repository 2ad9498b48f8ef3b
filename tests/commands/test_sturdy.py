"""Damaged stores and caches, kills, full disks, odd environments: what is promised (DEVELOPERS.md,
"What is promised") holds. The long campaigns are slow."""

import json
import os
import random
import re
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
from tests import made_up, spoiled
from tests.conftest import CLASSROOM, DEMO, ROOT
from tests.machine import allowed
from tests.studies import GRID, asked, plan_of
from tests.study.test_resume import kill_at_random, same_results, study_command

from aircolumn.cli import main
from aircolumn.errors import ComputationError, RequestError
from aircolumn.flow.compiled import kept
from aircolumn.output.replace import SCRATCH, result_folder
from aircolumn.study.store import Store
from aircolumn.study.tasks import NAMES, Outcome

# --- input files


@pytest.mark.parametrize(
    ("kind", "count"),
    [("engines", 60), ("commands", 6), ("studies", 25), ("pulls", 20), ("schedules", 50)],
)
def test_spoiled_files(kind, count):
    """A result or a message, soon: files of tests/spoiled.py."""
    ended, wrong = spoiled.run(kind, count)
    assert not wrong
    assert ended["result"] > 0.05 * count
    assert ended["message"] > 0.05 * count


@pytest.mark.slow
@pytest.mark.parametrize(
    ("kind", "count"),
    [("engines", 2000), ("commands", 40), ("studies", 400), ("pulls", 400), ("schedules", 1000)],
)
def test_many_spoiled_files(kind, count):
    _, wrong = spoiled.run(kind, count, 1000)
    assert not wrong


@pytest.mark.parametrize(
    ("kind", "count"),
    [
        ("engines", 6),
        *(pytest.param(k, 1000, marks=pytest.mark.slow) for k in ("engines", "studies", "pulls")),
    ],
)
def test_files_made_to_cost(kind, count):
    """A result or a message within 5 s of CPU and 1 GB: files of tests/costly.py, in a process whose memory
    no other test has filled."""
    run = [sys.executable, "-m", "tests.costly", kind, str(count)]
    said = subprocess.run(run, cwd=ROOT, capture_output=True, text=True, timeout=1500).stdout
    assert ", 0 wrong" in said, said
    ended = {name: int(n) for name, n in re.findall(r"'(\w+)': (\d+)", said.splitlines()[-1])}
    assert ended["result"] > 0.05 * count
    assert ended["message"] > 0.05 * count


@pytest.mark.parametrize(
    ("first", "count"), [(1, 2), pytest.param(0, 98, marks=pytest.mark.slow)], ids=["some", "many"]
)
def test_bombs(first, count):
    """Files that unpack to far more than they are: 1 GB and 5 s of CPU for whatever is refused."""
    run = [sys.executable, "-m", "tests.bombs", str(count), str(first)]
    said = subprocess.run(run, cwd=ROOT, capture_output=True, text=True, timeout=1500).stdout
    assert said.splitlines()[-1].startswith("0 wrong"), said


@pytest.mark.parametrize("name", ["/dev/zero", "fifo", "folder", "long"])
def test_no_file_without_an_end_is_read(name, tmp_path, capsys):
    os.mkfifo(tmp_path / "fifo")
    (tmp_path / "folder").mkdir()
    with open(tmp_path / "long", "wb") as file:
        file.truncate(3_000_000_000)
    for text in (f"engine: {tmp_path / name}\nvary: {{a: [1]}}\n", None):
        path = tmp_path / name
        command = ["check"]
        if text is not None:
            path = tmp_path / "study.yaml"
            path.write_text(text)
            command = ["study"]
        start = time.process_time()
        assert main([*command, str(path), "--out", str(tmp_path / "o")]) == 2
        assert time.process_time() - start < allowed(1.0)
        said = capsys.readouterr().err
        assert any(w in said for w in ("not an ordinary file", "a folder", "bytes are read"))


def test_what_a_foreign_file_holds_is_not_repeated(tmp_path, capsys):
    (tmp_path / "secret").write_text("root:hunter2:0\n")
    text = CLASSROOM.read_text()
    runner = "  middle: {length: 400 mm}"
    assert runner in text
    (tmp_path / "e.yaml").write_text(text.replace(runner, "  middle: {area_schedule: secret}"))
    assert main(["check", str(tmp_path / "e.yaml")]) == 2
    said = capsys.readouterr().err
    assert "secret:1:1: two columns are expected" in said
    assert "hunter2" not in said


def test_no_text_moves_the_cursor_or_is_a_formula(tmp_path, capsys):
    text = CLASSROOM.read_text().replace("  middle:", '  "=1+1":')
    (tmp_path / "e.yaml").write_text(text)
    with made_up.in_place():
        assert main(["compare", str(tmp_path / "e.yaml"), "--only-given", "--out", str(tmp_path / "o")]) == 0
    rows = (tmp_path / "o" / "compare.csv").read_text().splitlines()
    assert any(row.startswith("'=1+1,") for row in rows)
    assert not any(row.startswith("=") for row in rows)
    (tmp_path / "bad.yaml").write_text(text.replace("86 mm", '"86 \\e[31mmm"'))
    capsys.readouterr()
    assert main(["check", str(tmp_path / "bad.yaml")]) == 2
    assert "\x1b" not in capsys.readouterr().err


# --- the store of points


def filled(path, count=12, seed=3):
    """A store with some points, some of which failed: {key: outcome}."""
    rng = np.random.default_rng(seed)
    due = {
        f"{k:064x}": Outcome(None, f"why {k}") if k % 4 == 3 else Outcome(rng.normal(size=len(NAMES)))
        for k in range(count)
    }
    store = Store(path)
    store.put(list(due), list(due.values()))
    store.base.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    store.close()
    return due


def flipped_in(path, whole: bytes, due, rng) -> str:
    """What a store gives back after one bit of its file was flipped, in its header and schema every
    second time: "same" or "told". Fails if a point is another, if one is lost and that is not told,
    and if points can no longer be kept."""
    raw = bytearray(whole)
    raw[rng.randrange(len(raw) if rng.random() < 0.5 else 4096)] ^= 1 << rng.randrange(8)
    for item in path.parent.glob(f"{path.name}*"):
        item.unlink()
    path.write_bytes(raw)
    store = Store(path)
    found = store.get(due)
    store.put(["new"], [Outcome(None, "x")])
    store.put(list(due), list(due.values()))
    store.close()
    assert store.damaged or len(found) == len(due)
    if store.aside:
        assert store.aside.is_file()
    again = Store(path)
    assert len(again.get([*due, "new"])) == len(due) + 1
    assert not again.damaged
    again.close()
    for key, outcome in found.items():
        same = (
            np.array_equal(outcome.figures, due[key].figures)
            if due[key].figures is not None
            else outcome.figures is None
        )
        assert same, key
        assert outcome.reason == due[key].reason, key
    return "same" if len(found) == len(due) else "told"


@pytest.mark.parametrize(
    "count", [pytest.param(60, id="60"), pytest.param(2000, id="2000", marks=pytest.mark.slow)]
)
def test_no_flipped_bit_changes_a_figure(count, tmp_path):
    path = tmp_path / "points.sqlite"
    due, rng = filled(path), random.Random(count)
    whole = path.read_bytes()
    ended = [flipped_in(path, whole, due, rng) for _ in range(count)]
    assert ended.count("same") > 0
    assert ended.count("told") > 0


@pytest.mark.parametrize(
    "damage",
    [
        "UPDATE points SET figures = substr(figures, 1, 7)",
        "UPDATE points SET figures = NULL",
        "UPDATE points SET figures = 'text'",
        "UPDATE points SET reason = NULL",
        "UPDATE points SET figures = zeroblob(8)",
        "UPDATE points SET checksum = NULL",
        "UPDATE points SET key = upper(key) || 'x'",
        "UPDATE points SET figures = 7, checksum = 3",
    ],
)
def test_rows_that_are_not_what_was_written(damage, tmp_path):
    due = filled(tmp_path / "p.sqlite")
    base = sqlite3.connect(tmp_path / "p.sqlite")
    with base:
        base.execute(damage)
    base.close()
    store = Store(tmp_path / "p.sqlite")
    found = store.get(due)
    for key, outcome in found.items():  # failed points have no figures to be damaged
        assert outcome.figures is None
        assert outcome.reason == due[key].reason
    store.put(list(due), list(due.values()))
    assert len(store.get(due)) == len(due)
    store.close()


def test_a_damaged_study_says_so_and_computes_again(tmp_path):
    text = "vary: {intake.runner.length: [300 mm, 400 mm]}\nspeeds: [2500 rpm, 3000 rpm]\n"
    first, _ = asked(tmp_path / "s", text)
    base = sqlite3.connect(tmp_path / "s" / "o" / "points.sqlite")
    with base:
        base.execute("UPDATE points SET figures = zeroblob(length(figures)) WHERE rowid < 3")
    base.close()
    again, _ = asked(tmp_path / "s", text)
    assert "2 points computed" in again.said
    assert "held 2 damaged points: computed again" in again.said
    assert again.said.split("Most torque")[1] == first.said.split("Most torque")[1]


@pytest.mark.parametrize("kind", ["text", "of another program"])
def test_a_file_that_is_no_store_is_left_alone(kind, tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    plan_of(tmp_path)
    (tmp_path / "o").mkdir()
    path = tmp_path / "o" / "points.sqlite"
    if kind == "text":
        path.write_text("mine, and long enough to be a header of sorts")
    else:
        base = sqlite3.connect(path)
        base.execute("CREATE TABLE letters (text)")
        base.close()
    before = path.read_bytes()
    assert main(["study", "study.yaml", "--out", "o"]) == 2
    assert "move it away" in capsys.readouterr().err
    assert path.read_bytes() == before


# --- compiled code


@pytest.mark.parametrize("damage", ["emptied", "cut", "flipped", "random", "gone", "a folder"])
def test_damaged_code_is_as_if_it_were_not_there(tmp_path, damage, monkeypatch):
    monkeypatch.setattr(kept, "_told", set())
    path = tmp_path / "march.o"
    kept.write(path, b"x" * 4000)
    assert kept.read(path) == b"x" * 4000
    raw = bytearray(path.read_bytes())
    raw[len(raw) // 2] ^= 1
    path.unlink()
    if damage == "a folder":
        path.mkdir()
    elif damage != "gone":
        path.write_bytes(
            {
                "emptied": b"",
                "cut": bytes(raw[:40]),
                "flipped": bytes(raw),
                "random": random.Random(1).randbytes(900),
            }[damage]
        )
    assert kept.read(path) is None
    if damage != "a folder":
        kept.write(path, b"7")
        assert kept.read(path) == b"7"
    assert not [p for p in tmp_path.iterdir() if p != path]  # nothing half-written


def test_no_room_for_compiled_code(tmp_path, monkeypatch, capsys):
    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(kept, "_told", set())
    monkeypatch.setattr("aircolumn.flow.compiled.kept.os.replace", full)
    kept.write(tmp_path / "march.o", b"1")
    assert "compiled code cannot be kept (No space left on device)" in capsys.readouterr().err
    assert not list(tmp_path.iterdir())


# --- folders of results


def test_a_folder_belongs_to_one_command_and_file(tmp_path, capsys):
    out, other = tmp_path / "o", tmp_path / "rescue-four.yaml"
    other.write_text(DEMO.read_text())
    with made_up.in_place():
        assert main(["curve", str(DEMO), "--rpm", "3000", "--out", str(out)]) == 0
        assert main(["curve", str(DEMO), "--rpm", "4000", "--out", str(out)]) == 0
        for arguments in (["map", str(DEMO)], ["curve", str(other), "--rpm", "3000"]):
            capsys.readouterr()
            assert main([*arguments, "--out", str(out)]) == 2
            assert "holds results of aircolumn curve on rescue-four.yaml" in (capsys.readouterr().err)


def test_nothing_of_the_users_is_overwritten(tmp_path, capsys, monkeypatch):
    """check --out . beside the schedule that the engine file reads."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "e.yaml").write_text(CLASSROOM.read_text())
    (tmp_path / "short-area.csv").write_text("mine")
    assert main(["check", "e.yaml", "--out", "."]) == 2
    assert "--out . has short-area.csv already" in capsys.readouterr().err
    assert (tmp_path / "short-area.csv").read_text() == "mine"
    (tmp_path / "short-area.csv").unlink()
    assert main(["check", "e.yaml", "--out", "."]) == 0
    assert json.loads((tmp_path / "origin.json").read_text())["file"] == "e.yaml"


def write_all(out, *names):
    with result_folder(out) as folder:
        for name in names:
            (folder / name).write_text("new")


def test_all_files_or_none(tmp_path):
    out = tmp_path / "o"
    (out / "b.csv").mkdir(parents=True)
    with pytest.raises(RequestError, match=r"b\.csv already exists"):
        write_all(out, "a.csv", "b.csv", "c.csv")
    assert [p.name for p in out.iterdir()] == ["b.csv"]


def test_what_a_kill_leaves_is_swept_at_the_next_start(tmp_path):
    import platform

    out = tmp_path / "o"
    dead = out / f"{SCRATCH}{platform.node()}-999999999-x"
    living = out / f"{SCRATCH}{platform.node()}-{os.getppid()}-x"
    elsewhere = out / f"{SCRATCH}another-machine-17-x"
    for folder in (dead, living, elsewhere):
        folder.mkdir(parents=True)
    write_all(out, "a.csv")
    assert sorted(p.name for p in out.iterdir()) == sorted(["a.csv", living.name, elsewhere.name])


def test_a_link_to_nothing_is_told_first(tmp_path, capsys):
    (tmp_path / "o").symlink_to(tmp_path / "nowhere")
    assert main(["curve", str(DEMO), "--out", str(tmp_path / "o")]) == 2
    assert "is a link to something that is not there" in capsys.readouterr().err


@pytest.fixture
def small_disk(tmp_path):
    """A disk of 1 MB, mounted (skipped where that is not allowed)."""
    place = tmp_path / "disk"
    place.mkdir()
    if (
        shutil.which("mount") is None
        or os.geteuid() != 0
        or subprocess.run(
            ["mount", "-t", "tmpfs", "-o", "size=1m", "none", place], capture_output=True, check=False
        ).returncode
    ):
        pytest.skip("no disk can be mounted here")
    yield place
    subprocess.run(["umount", "-l", place], check=True)


def fill(path):
    """Write until there is no room."""
    with open(path, "wb", buffering=0) as file:
        while file.write(b"x" * 4096):
            pass
        raise OSError("no space")  # a short write of nothing


def put_until_full(store, stored):
    for k in range(100_000):
        store.put([str(k)], [Outcome(np.ones(len(NAMES)))])
        stored.append(str(k))


def test_results_on_a_mount_point(small_disk, capsys):
    """On another disk than what stands around it; then with no room left."""
    with made_up.in_place():
        assert main(["curve", str(DEMO), "--rpm", "3000", "--out", str(small_disk)]) == 0
        before = {p.name: p.read_bytes() for p in small_disk.iterdir()}
        assert "curve.png" in before
        with pytest.raises(OSError, match="space"):
            fill(small_disk / "ballast")
        assert main(["curve", str(DEMO), "--rpm", "3000", "--out", str(small_disk)]) == 1
    assert "could not write" in capsys.readouterr().err
    for name, raw in before.items():
        assert (small_disk / name).read_bytes() == raw
    assert not list(small_disk.glob(f"{SCRATCH}*"))


def test_a_store_on_a_full_disk(small_disk, capsys):
    store = Store(small_disk / "points.sqlite")
    stored: list[str] = []
    with pytest.raises(ComputationError, match="make room, then run the same command"):
        put_until_full(store, stored)
    assert len(stored) > 100
    assert len(store.get(stored)) == len(stored)
    store.close()


# --- environments


def run_in(environment, *arguments, prefix="", cwd=None):
    """The command line in a shell, in a bare environment."""
    line = f"{prefix} exec {sys.executable} -m aircolumn {' '.join(map(str, arguments))}"
    return subprocess.run(
        ["sh", "-c", line], env=environment, cwd=cwd, capture_output=True, text=True, check=False
    )


@pytest.fixture
def bare():
    """PATH, and where the program is."""
    keep = ("PATH", "PYTHONPATH", "LD_LIBRARY_PATH")
    return {k: os.environ[k] for k in keep if k in os.environ}


@pytest.mark.parametrize("home", [None, "/proc/1"])
def test_any_home_will_do(home, bare, tmp_path):
    if home is not None:
        bare["HOME"] = home
    ran = run_in(bare, "check", DEMO, "--out", tmp_path / "o")
    assert ran.returncode == 0, ran.stderr
    assert (tmp_path / "o" / "layout.png").exists()


def test_few_open_files_no_output_no_folder(bare, tmp_path):
    ran = run_in(bare, "check", DEMO, "--out", tmp_path / "o", prefix="ulimit -n 16;")
    assert ran.returncode == 0, ran.stderr
    ran = run_in(bare, "check", DEMO, ">&-")
    assert (ran.returncode, ran.stderr) == (0, "")
    gone = tmp_path / "gone"
    gone.mkdir()
    ran = run_in(bare, "check", DEMO, prefix=f"rmdir {gone};", cwd=gone)
    assert ran.returncode == 0, ran.stderr


def test_any_locale_will_do(bare, tmp_path):
    path = tmp_path / "motör.yaml"
    path.write_text(CLASSROOM.read_text().replace("Classroom", "Schülermotor"))
    ran = run_in(bare | {"LC_ALL": "C"}, "check", path, "--out", tmp_path / "ö")
    assert ran.returncode == 0, ran.stderr


# --- kills


def leftovers(folder: Path) -> list[str]:
    return [p.name for p in folder.rglob(f"{SCRATCH}*")]


def test_terminated_is_interrupted(tmp_path):
    """SIGTERM ends a command as Ctrl-C does: told, nothing half-written."""
    plan_of(tmp_path, GRID.replace("steps: 4", "steps: 40"))
    process = subprocess.Popen(
        study_command(tmp_path, tmp_path / "o"), stderr=subprocess.PIPE, stdout=subprocess.DEVNULL, text=True
    )
    while not (tmp_path / "o" / "points.sqlite").exists():
        time.sleep(0.05)
    process.send_signal(signal.SIGTERM)
    assert "run the same command to go on" in process.communicate(timeout=allowed(20.0))[1]
    assert process.returncode == 130
    assert leftovers(tmp_path) == []


#: the program, asked to end while it loads ``name`` by code that does as ``then`` says with the exception
LOADING = """
import os, signal, sys
class Finder:
    def find_spec(self, name, *more):
        if name == {name!r}:
            try:
                os.kill(os.getpid(), signal.SIGTERM)
            except KeyboardInterrupt as asked:
                {then}
sys.meta_path.insert(0, Finder())
from aircolumn.startup import run
run()
"""


@pytest.mark.parametrize("name", ["aircolumn.commands.compare", "aircolumn.curves.points"])
@pytest.mark.parametrize("then", ["pass", "raise RuntimeError('in a class') from asked"])
def test_an_interrupt_that_is_lost_while_loading_ends_the_program_all_the_same(name, then, tmp_path):
    """Callbacks of Python's own loader lose it, __set_name__ wraps it: once in some 60 interrupts."""
    program = LOADING.format(name=name, then=then)
    ran = subprocess.run(
        [sys.executable, "-c", program, "compare", str(CLASSROOM), "--out", str(tmp_path / "o")],
        capture_output=True,
        text=True,
        check=False,
    )
    assert ran.returncode == 130, ran.stderr
    assert "Traceback" not in ran.stderr
    assert not (tmp_path / "o" / "compare.csv").exists()
    assert leftovers(tmp_path) == []


@pytest.mark.slow
def test_fifty_kills_and_twenty_terminations(tmp_path):
    """Of a study and of a comparison: the same bytes in the end, nothing left over."""
    plan_of(tmp_path, GRID.replace("steps: 4", "steps: 12").replace("400 mm", "700 mm"))
    whole, pieces, rng = tmp_path / "whole", tmp_path / "pieces", random.Random(5)
    subprocess.run(study_command(tmp_path, whole), check=True, stdout=subprocess.DEVNULL)
    kill_at_random(tmp_path, pieces, 50, 3, 1.9)
    same_results(whole, pieces)
    compare = [sys.executable, "-m", "aircolumn", "compare", str(DEMO), "--out"]
    subprocess.run([*compare, str(tmp_path / "c")], check=True, stdout=subprocess.DEVNULL)
    for k in range(20):
        command = compare if k % 2 else study_command(tmp_path, "")[:-1]
        out = tmp_path / ("d" if k % 2 else "e")
        process = subprocess.Popen([*command, str(out)], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        time.sleep(rng.uniform(0.3, 4.0))
        process.send_signal(signal.SIGTERM)
        assert process.wait(allowed(20.0)) in (0, 130, -15, -2)  # the last two: before the program runs
    for command, out in ((compare, "d"), (study_command(tmp_path, "")[:-1], "e")):
        done = subprocess.run([*command, str(tmp_path / out)], check=False, stdout=subprocess.DEVNULL)
        assert done.returncode == 0
    assert (tmp_path / "c" / "compare.csv").read_bytes() == (tmp_path / "d" / "compare.csv").read_bytes()
    same_results(whole, tmp_path / "e")
    assert leftovers(tmp_path) == []
