"""What is printed fits the terminal, and nothing is lost when whoever reads stops early."""

import json
import os
import subprocess
import sys

import numpy as np
import pytest
import xarray as xr
from tests import made_up
from tests.conftest import CLASSROOM, DEMO, ROOT
from tests.printed import command, drawn, is_picture, right_aligned

from aircolumn.cli import main
from aircolumn.flow.compiled import cache
from aircolumn.output.curves.text import leader
from aircolumn.output.plots import line_style, spread
from aircolumn.output.tables import fitted, listed, wrapped

MANIFOLD = ROOT / "configs" / "rescue-four-manifold.yaml"
COMMANDS = {
    "check": (CLASSROOM,),
    "curve": (DEMO, "--standard", "j607"),
    "compare": (DEMO, "--verbose"),
    "explain": (DEMO,),
    "map": (CLASSROOM, "--steps", "3"),
    "account": (DEMO,),
    "trace": (DEMO, "--rpm", "3000"),
}


@pytest.mark.parametrize("width", [80, 60])
@pytest.mark.parametrize("name", COMMANDS)
def test_nothing_is_wider_than_the_terminal(name, width, tmp_path, monkeypatch):
    monkeypatch.setenv("COLUMNS", str(width))
    monkeypatch.chdir(tmp_path)
    with made_up.in_place():
        ran = command(name, *COMMANDS[name], out="o")
    assert ran.code == 0
    wide = [line for line in ran.said.splitlines() if len(line) > width]
    # Tables of one quantity and ledgers have nowhere to turn to below 80.
    assert wide == [] or (width < 80 and name in ("account", "compare", "explain", "map"))


def test_wide_tables_turn_to_blocks(monkeypatch):
    """All columns once, each block headed by the first; groups stay together while they can."""
    names = [f"runner {k} {unit}" for unit in ("%", "N m") for k in range(4)]
    rows = [[str(1000 * r), *(str(100 * r + k) for k in range(8))] for r in range(1, 4)]
    monkeypatch.setenv("COLUMNS", "70")
    text = fitted(["rpm", *names], rows, groups=[4, 4])
    first, second = text.split("\n\n")
    assert right_aligned(first, "rpm") == (["rpm", *names[:4]], [row[:5] for row in rows])
    assert right_aligned(second, "rpm")[0] == ["rpm", *names[4:]]
    assert right_aligned(second, "rpm")[1] == [[row[0], *row[5:]] for row in rows]
    monkeypatch.setenv("COLUMNS", "40")
    blocks = fitted(["rpm", *names], rows, groups=[4, 4]).split("\n\n")
    assert len(blocks) == 4
    assert [h for block in blocks for h in right_aligned(block, "rpm")[0][1:]] == names
    monkeypatch.setenv("COLUMNS", "200")
    assert "\n\n" not in fitted(["rpm", *names], rows, groups=[4, 4])


def test_lines_are_wrapped_with_what_they_begin_with():
    text = wrapped("a short line\n  " + "word " * 20, 40).splitlines()
    assert text[0] == "a short line"
    assert all(len(line) <= 40 for line in text)
    assert text[1].startswith("  word")
    assert text[2].startswith("    word")
    assert " ".join(text[1:]).split() == ["word"] * 20


def test_who_leads():
    assert leader(np.array([100.0, 101.0, 99.0])) == 1
    assert leader(np.array([100.0, 100.4])) == -1  # less than half a per cent
    assert leader(np.array([np.nan, 100.0])) == -1
    assert leader(np.array([np.nan, 90.0, 100.0])) == 2


def test_lists():
    assert listed(["a"]) == "a"
    assert listed(["a", "b"]) == "a and b"
    assert listed(["a", "b", "c"]) == "a, b and c"


def test_many_candidates(tmp_path, monkeypatch):
    """Twelve runners: none looks like another, the leader by speed in place of pairs, one block a
    quantity."""
    monkeypatch.setenv("COLUMNS", "80")
    text = DEMO.read_text()
    start = text.index("\nrunners:")
    stop = text.index("\nspeeds:")
    rows = "".join(f"  no{k}: {{length: {200 + 50 * k} mm}}\n" for k in range(12))
    path = tmp_path / "twelve.yaml"
    path.write_text(f"{text[:start]}\nrunners:\n{rows}{text[stop:]}")
    with made_up.in_place():
        ran = command("compare", path, out=tmp_path / "o")
    assert "cross at" not in ran.said
    assert "most torque: no" in ran.said
    top = ran.pictures["compare.png"].axes[0]
    looks = {
        (line.get_color(), str(line.get_linestyle()), line.get_marker(), line.get_fillstyle())
        for line in top.lines
        if str(line.get_label()).startswith("no")
    }
    assert len(looks) == 12
    assert not [m for m in ran.pictures["compare.png"].axes[1].lines if list(m.get_ydata()) == [0, 1]]


def test_twenty_five_lines_look_different():
    looks = {
        tuple(map(str, (s["color"], s["linestyle"], s["marker"], s.get("fillstyle"))))
        for s in map(line_style, range(25))
    }
    assert len(looks) == 25


def test_labels_at_line_ends_keep_apart():
    at = spread([0.1, 0.5, 0.51, 0.52, 0.9], 0.1)
    assert at == pytest.approx([0.1, 0.41, 0.51, 0.61, 0.9])
    assert spread([0.2, 0.4], 0.1) == pytest.approx([0.2, 0.4])


def test_a_closed_pipe_loses_nothing(tmp_path):
    """Files are written before anything is printed; the command ends well."""
    program = f"{sys.executable} -m aircolumn curve {DEMO} --rpm 3000 --out {tmp_path / 'o'}"
    done = subprocess.run(
        ["bash", "-c", f"set -o pipefail; {program} | head -c 1"], capture_output=True, text=True
    )
    assert done.returncode == 0, done.stderr
    assert "could not write" not in done.stderr
    assert is_picture(tmp_path / "o" / "curve.png")


def test_results_say_where_they_come_from(tmp_path):
    arguments = ["curve", str(DEMO), "--runner", "long", "--rpm", "3000", "--out", str(tmp_path)]
    with made_up.in_place():
        assert main(arguments) == 0
    origin = json.loads((tmp_path / "origin.json").read_text())
    assert origin["command"].split() == ["aircolumn", *arguments]
    assert origin["file"] == DEMO.name
    assert (tmp_path / DEMO.name).read_text() == DEMO.read_text()
    data = xr.load_dataset(tmp_path / "curve-long.nc")
    assert data.attrs["command"] == origin["command"]
    assert data.attrs["version"] == origin["version"]
    assert data.attrs["date"].startswith("20")


def test_results_in_the_folder_of_the_engine_file_leave_it_alone(tmp_path):
    path = tmp_path / "engine.yaml"
    path.write_text(DEMO.read_text())
    before = path.stat().st_mtime_ns
    with made_up.in_place():
        assert main(["curve", str(path), "--rpm", "3000", "--out", str(tmp_path)]) == 0
    assert path.stat().st_mtime_ns == before


def test_two_runners_and_two_speeds_stand_side_by_side(tmp_path):
    with made_up.in_place(), drawn():
        for given in (
            ["curve"],
            ["curve", "--runner", "long"],
            ["trace", "--rpm", "3000"],
            ["trace", "--rpm", "4000"],
            ["trace", "--rpm", "3000", "--runner", "short"],
        ):
            name, *rest = given
            rest += ["--only-given"] if name == "curve" else []
            assert main([name, str(DEMO), *rest, "--out", str(tmp_path / name)]) == 0
    assert {p.name for p in tmp_path.glob("*/*.nc")} == {
        "curve.nc",
        "curve-long.nc",
        "trace-3000.nc",
        "trace-4000.nc",
        "trace-short-3000.nc",
    }


def test_a_map_needs_three_speeds(tmp_path, capsys):
    for speeds in (["3000"], ["3000", "4000"]):
        assert main(["map", str(DEMO), "--rpm", *speeds, "--out", str(tmp_path / "o")]) == 2
        assert "a map needs 3 or more speeds" in capsys.readouterr().err
    assert not (tmp_path / "o").exists()


def test_the_runner_shown_is_named(tmp_path):
    """That of the intake is one of the candidates."""
    with made_up.in_place():
        ran = command("curve", DEMO, "--rpm", "3000", out=tmp_path / "o")
    assert ran.said.startswith("runner: middle\n")


@pytest.mark.slow
def test_an_unwritable_cache_stops_nothing(tmp_path):
    """It is said once; without a home too."""
    for more in ({"XDG_CACHE_HOME": "/proc/none"}, {"HOME": "/proc/none", "XDG_CACHE_HOME": ""}):
        done = subprocess.run(
            [sys.executable, "-m", "aircolumn", "prepare"],
            text=True,
            capture_output=True,
            env={**os.environ, **more},
        )
        assert done.returncode == 0, done.stderr
        assert "the solver is ready" in done.stdout
        assert done.stderr.count("what is compiled now is lost") == 1


def test_a_cache_that_can_only_be_read_is_used(tmp_path, monkeypatch, capsys):
    """What is kept is copied to where more can be kept, and nothing is said."""
    kept = tmp_path / "aircolumn" / "key"
    kept.mkdir(parents=True)
    (kept / "march.o").write_bytes(b"code")
    monkeypatch.setattr(cache, "cache_folder", lambda: kept)
    monkeypatch.setattr(cache, "usable", lambda folder: False)
    monkeypatch.setattr(cache, "_lasting", [])
    find = cache.kept_in.__wrapped__
    here = find()
    assert here != kept
    assert (here / "march.o").read_bytes() == b"code"
    assert capsys.readouterr().err == ""
    kept.chmod(0o777)  # anybody may have put code there
    there = find()
    assert "what is compiled now is lost" in capsys.readouterr().err
    assert not list(there.iterdir())
    cache.tidy_up()
    assert not here.exists()
