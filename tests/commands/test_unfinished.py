"""A command that is stopped keeps its points; begun again it goes on and ends with the same bytes."""

import os
import re
import signal
import subprocess
import sys
import time

import numpy as np
import pytest
from tests import made_up, made_up_pulls
from tests.conftest import CLASSROOM, DEMO, ROOT

from aircolumn import load
from aircolumn.cli import main
from aircolumn.commands.progress import EVERY, Progress
from aircolumn.curves import kept_points
from aircolumn.curves.points import compute_points
from aircolumn.engine.model.stretches import Stretch, march
from aircolumn.unfinished import UNFINISHED

DATE = re.compile(rb"\d{4}-\d\d-\d\dT[\d:]+(\+\d\d:\d\d|Z)?")


def results(folder) -> dict[str, bytes]:
    """Files of results but for what says when and where they were made."""
    return {
        p.name: DATE.sub(b"", p.read_bytes().replace(folder.name.encode(), b""))
        for p in sorted(folder.iterdir())
        if p.suffix != ".nc" and p.name != "origin.json"
    }


def commands(folder, demo):
    """Each command that keeps points: its arguments."""
    pulls = [f"{n}={made_up_pulls.write(folder, demo, n)}" for n in ("long", "short")]
    return {
        "compare": [str(DEMO)],
        "curve": [str(DEMO)],
        "explain": [str(DEMO), "--only-given"],
        "map": [str(DEMO), "--steps", "4"],
        "account": [str(DEMO), "--rpm", "3000", "4000"],
        "pull": [str(DEMO), *pulls, "--fit", "discharge"],
        "report": [str(DEMO), "--only-given"],
    }


@pytest.mark.parametrize(
    "name",
    [
        "compare",
        "pull",
        *(pytest.param(n, marks=pytest.mark.slow) for n in ("curve", "explain", "map", "account", "report")),
    ],
)
def test_stopped_and_begun_again(name, tmp_path, demo, monkeypatch, capsys):
    if name == "report":
        pytest.importorskip("plotly")
    arguments, counted = commands(tmp_path, demo)[name], []
    whole = kept_points.KeptPoints.put

    def put(self, stretch, found, with_ends):
        whole(self, stretch, found, with_ends)
        counted.append(len(found))
        if len(counted) == stop:
            raise KeyboardInterrupt

    monkeypatch.setattr(kept_points.KeptPoints, "put", put)
    with made_up.in_place():
        stop = 0
        assert main([name, *arguments, "--out", str(tmp_path / "folder-one")]) == 0
        in_all, stop = sum(counted), 9 if name not in ("account", "curve") else 3
        counted.clear()
        assert main([name, *arguments, "--out", str(tmp_path / "folder-two")]) == 130
        assert "run the same command to go on" in capsys.readouterr().err
        done, stop = sum(counted), 0
        counted.clear()
        assert main([name, *arguments, "--out", str(tmp_path / "folder-two")]) == 0
    assert sum(counted) == in_all - done  # no point was marched twice
    assert results(tmp_path / "folder-two") == results(tmp_path / "folder-one")
    assert not list((tmp_path / "folder-two").glob(f"{UNFINISHED}*"))


def test_what_fails_leaves_nothing(tmp_path):
    out = tmp_path / "o"
    with made_up.in_place(missing=(3000.0, 4000.0)):
        assert main(["compare", str(DEMO), "--rpm", "3000", "4000", "--out", str(out)]) == 1
    assert not out.exists()


def test_another_engine_is_marched(tmp_path):
    """Points of the file before it was edited are not taken, nor those of a damaged row or file."""
    engine = load(DEMO).engine
    job = [("a", engine, 3000.0, 1.0)]
    with made_up.in_place():
        with kept_points.keeping(tmp_path):
            first, _ = compute_points(job)
        with kept_points.keeping(tmp_path) as kept:
            again, _ = compute_points(job)
            assert kept.taken == 1
            compute_points([("a", engine.changed(title="another"), 3000.0, 1.0)])
            assert kept.taken == 2  # a title changes no point
            compute_points([("a", engine.with_intake(supply=None, plenum=None), 3000.0, 1.0)])
            assert kept.taken == 2
        assert again["a"].figures == first["a"].figures
        assert np.array_equal(again["a"].ve_cylinder, first["a"].ve_cylinder)
        file = tmp_path / UNFINISHED
        raw = file.read_bytes()
        at = raw.index(b'{"kind": "Marched"') if b'{"kind": "Marched"' in raw else raw.index(b'"Marched"')
        file.write_bytes(raw[:at] + b"x" + raw[at + 1 :])
        with kept_points.keeping(tmp_path) as kept:
            compute_points(job)
        assert kept.taken < 2
        file.write_bytes(b"no database at all" * 300)
        with kept_points.keeping(tmp_path) as kept:
            found, _ = compute_points(job)
            assert kept.taken == 0
        assert found["a"].figures == first["a"].figures


def test_states_come_back_to_the_last_bit():
    """What others start from, and the order of keys."""
    engine = load(CLASSROOM).engine
    found = march(Stretch.over_speed(engine, (4000.0,)))
    back = kept_points.unpacked(kept_points.packed(found))
    assert kept_points.packed(back) == kept_points.packed(found)
    ((one,), (same,)) = found, back
    assert list(same.point.figures.items()) == list(one.point.figures.items())
    assert np.array_equal(same.settled.state.nodes, one.settled.state.nodes)
    assert same.settled.taught.judged_from == one.settled.taught.judged_from
    for wrong in (b"", b"{}", b'{"kind": "Path", "of": {}}\n', b'{"array": ["|O", [1]]}\nxxxxxxxx'):
        with pytest.raises((ValueError, KeyError, TypeError)):
            kept_points.unpacked(wrong)


def test_a_line_every_few_seconds(capsys, monkeypatch):
    """Where no terminal is; the time left is that of the points marched now."""
    now = [100.0]
    monkeypatch.setattr("aircolumn.commands.progress.monotonic", lambda: now[0])
    with Progress(None) as progress:
        progress(50, 200)  # of a store
        now[0] += 0.5 * EVERY
        progress(60, 200)
        now[0] += 0.6 * EVERY
        progress(80, 200)
        progress(81, 200)
    left = 1.1 * EVERY * (200 - 80) / (80 - 50)
    assert capsys.readouterr().err == f"80 points computed of 200, about {left:.0f} s remaining\n"


@pytest.mark.slow
@pytest.mark.parametrize("name", ["compare", "explain"])
def test_killed_in_earnest(name, tmp_path):
    """By the solver, killed with -9 at several moments."""
    run = [sys.executable, "-m", "aircolumn", name, str(CLASSROOM), "--out"]
    environment = {**os.environ, "PYTHONPATH": str(ROOT / "solver")}
    subprocess.run([*run, str(tmp_path / "folder-one")], env=environment, check=True, capture_output=True)
    kept = 0
    for seconds in (0.7, 1.0, 1.4):
        process = subprocess.Popen([*run, str(tmp_path / "folder-two")], env=environment)
        time.sleep(seconds)
        process.send_signal(signal.SIGKILL)
        process.wait()
        kept += (tmp_path / "folder-two" / UNFINISHED).exists()
    assert kept
    subprocess.run([*run, str(tmp_path / "folder-two")], env=environment, check=True, capture_output=True)
    assert results(tmp_path / "folder-two") == results(tmp_path / "folder-one")
