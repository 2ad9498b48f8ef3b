"""Wrong engine files: exit code 2, one line a mechanic understands, nothing written."""

import os
import subprocess
import sys
from pathlib import Path

import pytest
from tests.conftest import DEMO, ROOT

from aircolumn.cli import main
from aircolumn.engine.model import stretches
from aircolumn.errors import no_such

TEXT = DEMO.read_text()


def changed(old, new, count=1):
    assert old in TEXT
    return TEXT.replace(old, new, count)


#: what is wrong: (file content, what the message must say)
WRONG = {
    "missing key": (changed("  stroke: 100 mm\n", ""), "engine.stroke: this key is missing"),
    "missing group": (changed("mixture: {", "mixtures: {"), "did you mean 'mixture'?"),
    "unknown key": (changed("  rod: 152 mm", "  rodd: 152 mm"), "did you mean 'rod'?"),
    "bare number": (changed("rod: 152 mm", "rod: 152"), "'152 mm'"),
    "bare text number": (changed("rod: 152 mm", "rod: '152'"), "has no unit"),
    "wrong dimension": (changed("rod: 152 mm", "rod: 152 kPa"), "is not a unit of length"),
    "unknown unit": (changed("rod: 152 mm", "rod: 152 mmm"), "'mmm' is not a known unit"),
    "negative bore": (changed("bore: 89 mm", "bore: -89 mm"), "must be at least 1 mm"),
    "valve larger than bore": (
        changed("diameter: 35 mm", "diameter: 95 mm"),
        "larger than the cylinder bore",
    ),
    "valves do not fit": (changed("diameter: 35 mm", "diameter: 70 mm"), "do not fit"),
    "IVC before IVO": (
        changed("closes_abdc: 44 deg", "closes_abdc: -200 deg"),
        "closes before it opens",
    ),
    "empty file": ("", "the file is empty"),
    "only comments": ("# nothing\n", "the file is empty"),
    "not YAML": ("engine: {bore: [1, 2\n", "not valid YAML"),
    "too rich for its fuel": (
        DEMO.read_text().replace("air_fuel_ratio: 13.8", "air_fuel_ratio: 2.0"),
        "air_fuel_ratio 2 is lambda 0.14 with this fuel (stoichiometric: 14.",
    ),
    "tab indentation": ("engine:\n\tbore: 3 mm\n", "a tab stands here; YAML wants blanks"),
    "duplicate key": (
        changed("  bore: 89 mm", "  bore: 89 mm\n  bore: 90 mm"),
        "appears twice",
    ),
    "huge file": ("# " + "x" * 2_000_000, "at most 1000000 bytes are read"),
    "binary": (b"\x89PNG\r\n\x1a\n\x00\xff\xfe", "not a text file"),
    "zero bytes": (b"engine:\x00\n", "zero bytes"),
    "NaN": (changed("compression_ratio: 9.2", "compression_ratio: .nan"), "out of range"),
    "NaN with unit": (changed("rod: 152 mm", "rod: nan mm"), "not a number with a unit"),
    "infinite": (changed("rod: 152 mm", "rod: 1e999 mm"), "not a finite number"),
    "zero RPM": (changed("from: 1500 rpm", "from: 0 rpm"), "at least 100 rpm"),
    "runner longer than any duct": (
        changed("long: {length: 650 mm}", "long: {length: 80 m}"),
        "at most 5 m",
    ),
    "rod shorter than the throw": (changed("rod: 152 mm", "rod: 45 mm"), "too short for stroke"),
    "a list where a group is due": (
        changed("plenum: {volume: 6 L}", "plenum: [6 L]"),
        "key: value",
    ),
    "top level list": ("- a\n- b\n", "list of 'key: value' lines"),
    "firing order": (changed("[1, 3, 4, 2]", "[1, 3, 4, 4]"), "must name each"),
    "no first bore": (
        changed("bore: {from: 46 mm, to: 42 mm}", "bore: {to: 42 mm}"),
        "the runner's bore needs both 'from' and 'to'",
    ),
    "one cylinder for all, uneven firing": (
        "model: single\n"
        + changed("firing_order: [1, 3, 4, 2]", "firing_angles: [0 deg, 90 deg, 270 deg, 450 deg]"),
        "'single' lets one cylinder stand for all, but engine.firing_angles makes them differ",
    ),
    "both lambda and ratio": (
        changed("air_fuel_ratio: 13.8", "air_fuel_ratio: 13.8, relative_air_fuel_ratio: 0.9"),
        "give either",
    ),
    "no delivery": (changed(", delivery: port", ""), "mixture.delivery: this key is missing"),
    "unknown delivery": (changed("delivery: port", "delivery: carburettor"), "use premixed, port"),
    "unknown fuel": (changed("fuel: gasoline", "fuel: petrole"), "use gasoline, e10"),
    "a fuel of one's own by half": (
        changed("fuel: gasoline", "fuel: {carbon: 7}"),
        "carbon and hydrogen must both be given",
    ),
    "a fuel of one's own without its heat": (
        changed("fuel: gasoline", "fuel: {carbon: 7, hydrogen: 14}"),
        "needs heating_value and latent_heat",
    ),
    "a fuel with a name and atoms": (
        changed("fuel: gasoline", "fuel: {name: gasoline, carbon: 7, hydrogen: 14}"),
        "give the fuel's name, or carbon and hydrogen",
    ),
    "a fuel that is burnt already": (
        changed("fuel: gasoline", "fuel: {carbon: 1, hydrogen: 2, oxygen: 3}"),
        "nothing left to burn",
    ),
    "vapour with port injection": (
        changed("delivery: port", "delivery: port, evaporated: 0.5"),
        "evaporated goes with delivery: premixed",
    ),
    "a gas to evaporate": (
        changed("fuel: gasoline, delivery: port", "fuel: methane, delivery: premixed, evaporated: 0.5"),
        "a gas has nothing to evaporate",
    ),
    "heating value without unit": (
        changed("delivery: port", "delivery: port, heating_value: 43"),
        "has no unit",
    ),
    "injection after the cycle": (
        changed("delivery: port", "delivery: direct, injection_start: 400 deg"),
        "at most 360 deg",
    ),
    "unknown choice": (changed("reference: curtain", "reference: courtain"), "use curtain"),
    "table lengths": (changed("forward:    [0.70, ", "forward:    ["), "same number"),
    "two walls": (
        changed(
            "    wall_temperature: 45 degC\n",
            "    wall_temperature: 45 degC\n"
            "    surroundings: {temperature: 60 degC, coefficient: 9 W/m2/K}\n",
        ),
        "give either wall_temperature or surroundings",
    ),
    "range that matters": (changed("interest_to: 4000", "interest_to: 9000"), "must lie within"),
    "empty candidates": (
        changed("  short: {length: 290 mm}", "  short: 230 mm"),
        "keys are expected",
    ),
    "true for a number": (changed("compression_ratio: 9.2", "compression_ratio: true"), "number"),
    "maybe for true or false": (
        changed("radius: 8 mm", "radius: 8 mm, end_correction: maybe"),
        "end_correction: true or false is expected here",
    ),
    "a list for true or false": (
        changed("radius: 8 mm", "radius: 8 mm, end_correction: [yes]"),
        "end_correction: true or false is expected here",
    ),
    "alias to itself": ("engine: &a\n  bore: *a\n", ""),
}


@pytest.mark.parametrize("name", WRONG)
def test_wrong_file(name, tmp_path, capsys, monkeypatch):
    content, expected = WRONG[name]
    monkeypatch.chdir(tmp_path)
    path = tmp_path / "engine.yaml"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    assert main(["compare", str(path), "--out", str(tmp_path / "results")]) == 2
    captured = capsys.readouterr()
    assert expected in captured.err
    assert "Traceback" not in captured.err
    assert str(path) in captured.err
    assert captured.out == ""
    assert [p.name for p in tmp_path.iterdir()] == ["engine.yaml"]


def test_positions_and_several_errors_at_once(tmp_path, capsys):
    path = tmp_path / "engine.yaml"
    text = changed("rod: 152 mm", "rod: 152").replace("bore: 89 mm", "bore: -89 mm")
    path.write_text(text)
    assert main(["check", str(path)]) == 2
    lines = capsys.readouterr().err.strip().splitlines()
    rows = text.splitlines()
    where = [1 + next(i for i, r in enumerate(rows) if t in r) for t in ("bore: -89", "rod: 152")]
    columns = [rows[w - 1].index(v) + 1 for w, v in zip(where, ("-89", "152"), strict=True)]
    assert len(lines) == 2
    for line, row, column, key in zip(lines, where, columns, ("engine.bore", "engine.rod"), strict=True):
        assert line.startswith(f"{path}:{row}:{column}: {key}: ")


def test_error_in_a_candidate_points_there(tmp_path, capsys):
    path = tmp_path / "engine.yaml"
    path.write_text(changed("middle: {length: 430 mm}", "middle: {lenght: 420 mm}"))
    assert main(["check", str(path)]) == 2
    error = capsys.readouterr().err
    assert "runners.middle.lenght: unknown key; did you mean 'length'?" in error


@pytest.mark.parametrize(
    ("extra", "expected"),
    [
        (["--rpm", "0"], "100 to 30000"),
        (["--rpm", "nan"], "finite"),
        (["--rpm", "99999"], "100 to 30000"),
    ],
)
def test_wrong_request(extra, expected, capsys):
    assert main(["compare", str(DEMO), *extra]) == 2
    assert expected in capsys.readouterr().err


def test_a_file_for_results_is_refused_before_anything_is_computed(capsys, monkeypatch):
    monkeypatch.setattr(stretches, "point_beside", None)
    assert main(["compare", str(DEMO), "--out", str(DEMO)]) == 2
    assert f"{DEMO} is a file, not a folder" in capsys.readouterr().err


def test_missing_file_and_folder(tmp_path, capsys):
    assert main(["check", str(tmp_path / "none.yaml")]) == 2
    assert "cannot be read" in capsys.readouterr().err
    assert main(["check", str(tmp_path)]) == 2
    assert "folder" in capsys.readouterr().err


def test_unknown_runner(capsys):
    assert main(["curve", str(DEMO), "--runner", "tall"]) == 2
    assert "there are: short, middle, long" in capsys.readouterr().err


def test_unwritable_folder(tmp_path, capsys):
    blocked = tmp_path / "file"
    blocked.write_text("")
    assert main(["curve", str(DEMO), "--rpm", "3000", "--out", str(blocked / "in")]) == 2
    assert "file is a file, not a folder" in capsys.readouterr().err


def test_as_a_program(tmp_path):
    """The installed command: exit code 2, no traceback, for bad input and for no command."""
    program = [sys.executable, "-m", "aircolumn"]
    environment = {**os.environ, "PYTHONUTF8": "1"}
    path = Path(tmp_path / "engine.yaml")
    path.write_text("engine: 3\n")
    for arguments in (["compare", str(path)], [], ["dance"]):
        done = subprocess.run(
            program + arguments, capture_output=True, text=True, cwd=tmp_path, env=environment
        )
        assert done.returncode == 2
        assert "Traceback" not in done.stderr


def test_the_wrong_kind_of_file_is_told_in_one_line(capsys):
    study = ROOT / "configs" / "study-length-bore.yaml"
    assert main(["check", str(study)]) == 2
    (line,) = capsys.readouterr().err.strip().splitlines()
    assert "this is a study file" in line
    assert main(["study", str(DEMO)]) == 2
    (line,) = capsys.readouterr().err.strip().splitlines()
    assert "this is an engine file" in line


def test_one_fault_is_told_once(tmp_path, capsys):
    """A wrong key of the intake's runner is not told again for every candidate."""
    path = tmp_path / "engine.yaml"
    path.write_text(DEMO.read_text().replace("    length: 430 mm", "    lenth: 430 mm", 1))
    assert main(["check", str(path)]) == 2
    said = capsys.readouterr().err
    assert said.count("lenth") == 1
    assert "runners." not in said


def test_runners_is_among_the_keys_known(tmp_path, capsys):
    path = tmp_path / "engine.yaml"
    path.write_text(DEMO.read_text().replace("\nrunners:", "\nruners:", 1))
    assert main(["check", str(path)]) == 2
    assert "did you mean 'runners'?" in capsys.readouterr().err


def test_groups_say_which_keys_they_take(tmp_path, capsys):
    """A missing group, a value in place of one, and a pipe's missing keys: all in one go."""
    path = tmp_path / "engine.yaml"
    path.write_text(
        "engine: {cylinders: 1, bore: 80 mm, stroke: 80 mm, rod: 140 mm, compression_ratio: 9}\n"
        "intake:\n  runner: {length: 300 mm, bore: 38 kPa}\n  port: {bore: 36 mm}\n"
        "  valve: {count: 1, diameter: 40 mm, lift: 10 mm}\n"
        "exhaust:\n  port: {length: 60 mm, bore: 36 mm}\n"
    )
    assert main(["check", str(path)]) == 2
    lines = capsys.readouterr().err.splitlines()
    for said in (
        ":1:1: mixture: this group is missing; it needs delivery; it may have air_fuel_ratio,",
        ":4:9: intake.port: length is missing (or give a list of sections)",
        ":5:44: intake.valve.lift: a group of 'key: value' lines is expected here; it may have maximum,",
        ":7:3: exhaust.valve: this group is missing; it needs diameter, lift, discharge;",
    ):
        assert sum(said in line for line in lines) == 1, said
    assert sum("intake.runner.bore" in line for line in lines) == 1  # from and to: one fault


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("lnog", "no runner 'lnog' in x.yaml (did you mean 'long'?); there are: short, middle, long"),
        ("7", "no runner '7' in x.yaml; there are: short, middle, long"),
        ("y" * 60, f"no runner '{'y' * 40}' in x.yaml; there are: short, middle, long"),
    ],
)
def test_what_there_is_not(name, said):
    assert no_such("runner", name, ["short", "middle", "long"], " in x.yaml") == said
    assert no_such("file", name, []).endswith("there are: none")
    assert no_such("file", name, map(str, range(50))).endswith("38, 39, ...")


def test_a_command_there_is_not(capsys):
    assert main(["comapre", str(DEMO)]) == 2
    said = capsys.readouterr().err
    assert said.startswith("no command 'comapre' (did you mean 'compare'?); there are: new, check, compare,")
