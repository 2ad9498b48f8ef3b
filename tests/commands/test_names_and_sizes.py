"""Names by one rule, lists by cylinder, values next to nothing, valves that fit, any locale."""

import os
import subprocess
import sys
from pathlib import Path

import pytest
from tests import made_up
from tests.conftest import DEMO, ROOT
from tests.printed import command

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
        ("two-way:", '"a/b":', "'a/b' cannot be a name: it goes into file names, which cannot hold /"),
        ("two-way:", f'"{41 * "x"}":', "cannot be a name"),
        ("two-way:", '" ":', "cannot be a name"),
        (
            "two-way:",
            '"..":',
            "'..' cannot be a name: it goes into file names, so it cannot begin with - or a dot",
        ),
        ("two-way:", '"-rf":', "'-rf' cannot be a name"),
        ("two-way:", "CON:", "'CON' cannot be a name: Windows keeps it for a device"),
        ("two-way:", "com1.x:", "'com1.x' cannot be a name: Windows keeps it for a device"),
        ("two-way:", "'a\\b':", "it goes into file names, which cannot hold \\"),
        ("two-way:", "'a:b':", "it goes into file names, which cannot hold :"),
        ("  middle:", "  Long:", "results of 'long' and 'Long' would share file names"),
        ("  middle:", "  long-views:", "results of 'long-views' and 'long' would share file names"),
        ("  middle:", "  long-1-of-2:", "results of 'long-1-of-2' and 'long' would share file names"),
        ("two-way:", '"a\\nFORGED: 999 N m":', "a key with control characters cannot be used"),
        ("two-way:", '"a\\ud800":', "a key with control characters cannot be used"),
        ("bore: 89 mm", "bore: 1e-300 mm", "must be at least 1 mm and at most 500 mm"),
        ("bore: 89 mm", "bore: 89 m^m", "'m^m' is not a known unit"),
        ("[1, 3, 4, 2]", "[true, 3, 4, 2]", "a whole number is expected here, from 1 to 16"),
    ],
)
def test_told(tmp_path, old, new, said):
    assert said in refused(tmp_path, (old, new))


DOTS = (("  short:", "  L42.5:"), ("  middle:", "  L42.8:"), ("[long, short]", "[long, L42.5]"))


def test_names_are_not_cut_at_a_dot(tmp_path):
    """A trace of each of two runners, at two speeds, in one folder: twelve pictures."""
    text = TEXT
    for old, new in DOTS:
        assert old in text
        text = text.replace(old, new, 1)
    (tmp_path / "e.yaml").write_text(text)
    with made_up.in_place():
        for runner in ("L42.5", "L42.8"):
            for rpm in ("3000", "3500"):
                ran = command(
                    "trace", tmp_path / "e.yaml", "--rpm", rpm, "--runner", runner, out=tmp_path / "o"
                )
                assert ran.code == 0, ran.complaints
    kinds = ("", "-map", "-pv")
    due = {f"trace-{r}-{n}{k}.png" for r in ("L42.5", "L42.8") for n in (3000, 3500) for k in kinds}
    assert {p.name for p in (tmp_path / "o").glob("*.png")} == due


@pytest.mark.parametrize("title", ["Build #4 $10 #5 $20", "Build A ($900) & B ($1200)", "a_b^c $\\frac{1}$"])
def test_a_dollar_in_a_title_is_one(title, tmp_path):
    line = next(line for line in TEXT.splitlines() if line.startswith("title:"))
    (tmp_path / "e.yaml").write_text(TEXT.replace(line, f"title: '{title}'"))
    for words in (("check",), ("trace", "--rpm", "3000"), ("compare", "--rpm", "3000", "3500", "4000")):
        with made_up.in_place():
            ran = command(words[0], tmp_path / "e.yaml", *words[1:], out=tmp_path / words[0])
        assert ran.code == 0, ran.complaints
        for figure in ran.pictures.values():
            drawn = [panel.title for panel in figure.axes if panel.get_title()] + [figure._suptitle]
            assert any(title in t.get_text().replace("\n", " ") for t in drawn if t is not None)
            assert not any(t.get_parse_math() for t in drawn if t is not None)


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
    assert data_by_runner(["long=day=3.csv"], load(DEMO)) == [("long", Path("day=3.csv"))]


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
