"""What the README shows runs as it stands there, and gives what was computed."""

import json
import os
import re
import shlex
from contextlib import nullcontext, redirect_stdout
from io import StringIO

import numpy as np
import pytest
from tests import made_up
from tests.conftest import ROOT
from tests.part.shapes import air_file
from tests.printed import drawn, right_aligned
from validation.__main__ import options

import aircolumn
from aircolumn import cli

README = (ROOT / "README.md").read_text()
GUIDE = {page.stem: page.read_text() for page in sorted((ROOT / "notebooks" / "guide").glob("*.md"))}
RPM = np.arange(1500.0, 6001.0, 500.0)


def blocks(kind, text=README):
    """The code blocks of one kind."""
    return re.findall(rf"^```{kind}\n(.*?)^```$", text, re.MULTILINE | re.DOTALL)


def commands_in(text):
    """The commands of the program among the shell blocks."""
    lines = (line for block in blocks("sh", text) for line in block.splitlines())
    parts = (part.strip() for line in lines for part in line.split("&&"))
    return [part for part in parts if part.startswith(".venv/bin/aircolumn")]


COMMANDS = list(dict.fromkeys(c for text in (README, *GUIDE.values()) for c in commands_in(text)))


NEW = shlex.split("--cylinders 4 --valves 4 --displacement '2.0 L' --peak '6000 rpm' --manifolds")


@pytest.fixture
def at_home(tmp_path, monkeypatch):
    """A working folder that holds configs as the project's does."""
    (tmp_path / "configs").symlink_to(ROOT / "configs")
    monkeypatch.chdir(tmp_path)
    with made_up.in_place():
        yield tmp_path


def test_there_are_commands():
    said = " ".join(COMMANDS)
    for name in ("compare", "study", "pull"):
        assert f"aircolumn {name}" in said


#: that lay routes or draw engines by the hundred
SLOW = ("study configs/study-bonnet.yaml", "study configs/study-robust.yaml")


@pytest.mark.parametrize(
    "line",
    [pytest.param(c, marks=[pytest.mark.slow] if any(s in c for s in SLOW) else []) for c in COMMANDS],
)
def test_commands_run(line, at_home, capsys, monkeypatch):
    words = shlex.split(line)[1:]
    if "engine.yaml" in words and words[0] != "new":  # that a command before it has made
        assert cli.main(["new", "engine.yaml", *NEW]) == 0
        capsys.readouterr()
    if words[0] == "live":  # until Ctrl-C
        monkeypatch.setattr("aircolumn.commands.live._serve", lambda opened, request: None)
        assert cli.main(words) == 0
        assert "nothing is left to be saved" in capsys.readouterr().out
        return
    if words[0] == "sections":
        (at_home / "part-under-the-bonnet").mkdir()  # as the example before it makes it
        air_file("bent", at_home / "part-under-the-bonnet" / "part-air.stl")
    with nullcontext() if words[0] == "report" else drawn():  # a page holds its drawing
        assert cli.main(words) == 0
    said = capsys.readouterr().out
    if words[0] == "atmosphere":  # predicts nothing and writes nothing
        return
    assert "A prediction is not a clearance to run." in said
    if words[0] == "new":
        assert (at_home / words[1]).read_text().startswith("# A start")
        return
    out = words[words.index("--out") + 1] if "--out" in words else None
    folder = at_home / (out or f"{os.path.basename(words[1]).split('.')[0]}-{words[0]}")
    if "--json" in words:
        assert json.loads(said)["folder"] == folder.name
        return
    written = sorted(p.name for p in folder.iterdir() if not p.name.startswith("points."))
    assert f"written to {folder.name}: {', '.join(written)}" in said


def test_every_command_of_the_table_exists_and_none_is_missing():
    listed = set(re.findall(r"^\| `aircolumn (\w+)", README, re.MULTILINE))
    assert listed == set(cli.COMMANDS)


def test_every_option_named_exists():
    known = {o for a in options()._actions for o in a.option_strings}
    for name in cli.COMMANDS:
        (commands,) = (a for a in cli.parser(name)._actions if a.choices)
        known |= {o for a in commands.choices[name]._actions for o in a.option_strings}
    known |= {"--strict", "--config-file", "--keys", "--nworkers", "--nthreads"}  # of mkdocs and dask
    named = set(re.findall(r"`[^`]*?(--[a-z][a-z-]*)", "\n".join((README, *GUIDE.values()))))
    assert named <= known | {"--version"}
    assert {"--standard", "--fit", "--workers", "--rpm", "--uncertainty"} <= named


def run(code, scope=None):
    """(what the snippet printed, its names)."""
    said, scope = StringIO(), scope if scope is not None else {}
    with redirect_stdout(said):
        exec(code, scope)
    return said.getvalue(), scope


def test_python_snippets(at_home):
    compare, study, pipe = blocks("python", GUIDE["python"])
    said, scope = run(compare)
    engine = aircolumn.load("configs/rescue-four.yaml").with_runner("long")
    lines = [line.split() for line in said.splitlines() if line[:1].isdigit()]
    printed = {float(rpm): float(torque) for rpm, torque in lines}
    assert set(RPM) < set(printed)
    for rpm, torque in printed.items():
        assert torque == pytest.approx(made_up.point(engine, rpm).figures["torque"], rel=1e-5)

    said, scope = run(study, scope)
    data, failures, computed = (scope[n] for n in ("data", "failures", "computed"))
    assert (computed, failures) == (15 * 6 * 21, [])
    case = scope["plan"].case((300.0, 42.0)).engine
    point = made_up.point(case, 3075.0).figures
    there = data.sel(length=300.0, bore=42.0, rpm=3075.0)
    assert float(there.torque) == pytest.approx(point["torque"], rel=1e-12)
    assert (at_home / "points.sqlite").exists()
    overlay = scope["session"].overlays["long"]
    numbers = [float(x) for x in re.findall(r"\d+\.\d+", said)]
    assert numbers == pytest.approx([*overlay.ve, *overlay.ve_predicted], abs=1e-6)

    said, scope = run(pipe)
    record = scope["record"]
    assert record.time[0] == 0.0
    assert record.time[-1] == pytest.approx(0.01, abs=2e-5)
    # The step of 10 % splits into halves; the one that runs left meets the shut end at once, so all
    # of it runs right, 20 cm long, and comes back from the open end turned over after 2 L / a.
    a = (1.4 * 287.05 * 300.0) ** 0.5
    wall, time = record.probes["wall"].p, record.time
    assert wall[0] == pytest.approx(1.1e5)
    middle = (time > 0.3 / a) & (time < 1.7 / a)
    assert wall[middle] == pytest.approx(np.full(middle.sum(), 1e5), rel=2e-3)
    assert wall[(time > 1.9 / a) & (time < 2.1 / a)].min() == pytest.approx(0.91e5, rel=0.01)


def test_aims_and_limits_of_the_guide_are_all_there_are():
    from aircolumn.questions.search.limits import SHOWN

    text = GUIDE["studies"].split("Aims and limits are of a curve:")[1].split("The answer says")[0]
    assert set(re.findall(r"`(\w+)`", text)) >= set(SHOWN)


def test_the_standards_are_named_as_the_program_does():
    from aircolumn.measured.atmosphere import STANDARDS

    named = "`--standard j1349` (" + ", ".join(list(STANDARDS)[1:]) + ")"
    assert named in README
    assert named in GUIDE["results"]


def test_table_of_the_first_command(at_home, capsys):
    """The comparison the README begins with, the best marked."""
    with drawn():
        assert cli.main(["compare", "configs/rescue-four.yaml"]) == 0
    _, rows = right_aligned(capsys.readouterr().out, "rpm")
    assert len(rows) == 10
    assert all(sum("*" in cell for cell in row) <= 3 for row in rows)


def test_completion_and_pictures():
    (names,) = re.findall(r"`complete -o default -W \"(.*?)\" aircolumn`", README)
    assert set(names.split()) == set(cli.COMMANDS)
    shown = re.findall(r"!\[[^\]]+\]\(([^)]+)\)", README)
    assert len(shown) == 4
    makers = [ROOT / "notebooks" / "pictures" / "make.py", ROOT / "tests" / "live" / "test_walk.py"]
    scripts = "".join(path.read_text() for path in makers)
    for picture in shown:
        assert (ROOT / picture).stat().st_size < 5e5
        assert f'"{os.path.basename(picture)}"' in scripts
