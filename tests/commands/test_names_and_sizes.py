"""Names by one rule, lists by cylinder, values next to nothing, valves that fit, any locale."""

import os
import subprocess
import sys
from pathlib import Path

import pytest
from tests import made_up
from tests.conftest import DEMO, ROOT

from aircolumn.cli import main
from aircolumn.commands.options import data_by_runner
from aircolumn.engine.description.reader import load
from aircolumn.errors import InputError

TEXT = DEMO.read_text()


def refused(folder, *changes) -> str:
    """What is said of the demo with these changes (old, new)."""
    text = TEXT
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new, 1)
    (folder / "e.yaml").write_text(text)
    with pytest.raises(InputError) as error:
        load(folder / "e.yaml")
    return str(error.value)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (
            "  port:\n",
            "  port:\n    lengths: [80 mm, 81 mm]\n",
            "intake.port.lengths: 2 lengths for 4 cylinders",
        ),
        (
            "  port:\n",
            "  port:\n    by_cylinder: {3: {lengths: [80 mm]}}\n",
            "intake.port.by_cylinder.3.lengths: 1 lengths for 4 cylinders",
        ),
        ("two-way:", '"a/b":', "'a/b' cannot be a name: use 1 to 40 characters"),
        ("two-way:", f'"{41 * "x"}":', "cannot be a name"),
        ("two-way:", '" ":', "cannot be a name"),
        ("two-way:", '"a\\nFORGED: 999 N m":', "a key with control characters cannot be used"),
        ("two-way:", '"a\\ud800":', "a key with control characters cannot be used"),
        ("bore: 89 mm", "bore: 1e-300 mm", "must be at least 1 mm and at most 500 mm"),
        ("bore: 89 mm", "bore: 89 m^m", "'m^m' is not a known unit"),
        ("[1, 3, 4, 2]", "[true, 3, 4, 2]", "a whole number is expected here, from 1 to 16"),
    ],
)
def test_told(tmp_path, old, new, said):
    assert said in refused(tmp_path, (old, new))


def sized(intake, exhaust):
    """Changes of the demo's valve diameters; it has one of each kind or more."""
    lines = [line for line in TEXT.splitlines() if "diameter:" in line]
    return tuple(
        (line, line.replace(line.split("diameter: ")[1].split(" mm")[0], f"{size}", 1))
        for line, size in zip(lines, (intake, exhaust), strict=True)
    )


def test_valves_that_cannot_stand_side_by_side(tmp_path):
    """A head of 73.7 and 39.9 mm valves in a bore of 103 mm passed once."""
    said = refused(tmp_path, ("bore: 89 mm", "bore: 60 mm"), *sized(43, 25))
    assert "do not fit side by side into a cylinder bore of 60 mm, even if they lean" in said


def test_lengths_alone_are_enough(tmp_path):
    text = TEXT.replace("  long: {length: 650 mm}", "  long: {lengths: [650 mm, 640 mm, 640 mm, 650 mm]}")
    assert text != TEXT
    (tmp_path / "e.yaml").write_text(text)
    runner = load(tmp_path / "e.yaml").runners["long"]
    assert [runner.of_cylinder(k).total_length for k in (1, 2)] == pytest.approx([0.65, 0.64])


def test_a_data_file_may_have_an_equals_sign_in_its_path():
    assert data_by_runner(["long=day=3.csv"], load(DEMO)) == {"long": [Path("day=3.csv")]}


def test_the_program_alone_shows_its_help(capsys):
    assert main([]) == 2
    said = capsys.readouterr().out
    assert "aircolumn new engine.yaml" in said
    with pytest.raises(SystemExit):
        main(["--help"])
    said = capsys.readouterr().out
    assert "usage: aircolumn" in said
    assert "leave testing to qualified people" in said


def test_a_start_in_inches_is_shown_in_them(tmp_path, capsys):
    known = ["--cylinders", "8", "--valves", "2", "--peak", "5500 rpm", "--displacement", "366 cid"]
    assert main(["new", str(tmp_path / "v8.yaml"), *known]) == 0
    assert load(tmp_path / "v8.yaml").units == "us"
    assert "leave testing to qualified people" in " ".join(capsys.readouterr().out.split())
    assert main(["check", str(tmp_path / "v8.yaml"), "--out", str(tmp_path / "o")]) == 0
    lines = (tmp_path / "o" / "long-area.csv").read_text().splitlines()
    assert lines[0] == "distance [in],area [in2]"


SCRIPT = """
from pathlib import Path
from tests import made_up
from aircolumn.cli import main
with made_up.in_place():
    for name, *more in (("check",), ("report", "--rpm", "3000", "3500"), ("explain",),
                        ("compare", "--rpm", "3000", "3500")):
        assert main([name, "e.yaml", *more, "--out", name]) == 0, name
"""


@pytest.mark.parametrize(
    "spoken",
    ["ascii", *(pytest.param(s, marks=pytest.mark.slow) for s in ("iso-8859-1", "gb18030"))],
)
def test_no_file_depends_on_the_locale(tmp_path, spoken):
    """Every text file names its encoding, and a terminal that lacks a letter shows its code."""
    text = TEXT.replace("title: ", "title: Größe → µ ", 1)
    (tmp_path / "e.yaml").write_text(text, encoding="utf-8")
    plain = {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}
    done = subprocess.run(
        [sys.executable, "-X", "warn_default_encoding", "-c", SCRIPT],
        cwd=tmp_path,
        env={
            **os.environ,
            **plain,
            "PYTHONIOENCODING": f"{spoken}:backslashreplace",
            "PYTHONPATH": str(ROOT),
        },
        capture_output=True,
    )
    assert done.returncode == 0, done.stderr.decode(errors="replace")
    warned = [
        w
        for w in done.stderr.decode(errors="replace").splitlines()
        if "EncodingWarning" in w and "aircolumn" in w
    ]
    assert not warned
    assert "Größe → µ" in (tmp_path / "report" / "report.html").read_text(encoding="utf-8")


@pytest.mark.parametrize("name", ["curve", "compare", "report", "explain", "study", "trace"])
def test_a_file_whose_name_is_no_text(tmp_path, name):
    """Bytes that are not UTF-8 are a name all the same; what is written shows their code."""
    file = tmp_path / os.fsdecode(b"bad\xff.yaml")
    file.write_text(TEXT, encoding="utf-8")
    more = ["--rpm", "3000"] if name in ("curve", "compare", "report", "trace") else []
    if name == "study":
        study = tmp_path / os.fsdecode(b"st\xff.yaml")
        grid = "vary: {intake.runner.length: [300 mm, 400 mm]}\nspeeds: [3000 rpm]\n"
        study.write_bytes(b"engine: " + os.fsencode(str(DEMO)) + b"\n" + grid.encode())
        file = study
    with made_up.in_place():
        assert main([name, str(file), *more, "--out", str(tmp_path / "o")]) == 0
    written = [p for p in (tmp_path / "o").iterdir() if p.suffix in (".html", ".csv", ".txt")]
    assert written
    for path in written:
        path.read_text(encoding="utf-8")
