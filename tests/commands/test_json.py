"""--json of every command: as its schema says, and with the figures that the command prints."""

import contextlib
import io
import json

import jsonschema
import numpy as np
import pytest
from tests import made_up, made_up_pulls
from tests.conftest import CLASSROOM, DEMO, ROOT
from tests.part.shapes import air_file

from aircolumn.cli import main
from aircolumn.commands import COMMANDS
from aircolumn.commands.answer_schema import answer_schema

SCHEMA = answer_schema()
TRACES = ROOT / "configs" / "invented-traces.csv"
STUDIES = {
    "sweep": "vary:\n  intake.runner.length: {from: 250 mm, to: 650 mm, steps: 4}\n",
    "search": "vary:\n  intake.runner.length: {from: 250 mm, to: 650 mm}\nsearch: {evaluations: 12}\n",
    "sensitivity": "vary:\n  intake.runner.length: {from: 250 mm, to: 650 mm}\n"
    "  intake.runner.bore.to: {from: 39 mm, to: 41 mm}\nsensitivity: {count: 8}\n",
    "tolerance": "vary: {intake.runner.bore: {plus_minus: 0.4 mm}}\ntolerance: {count: 8}\n",
}


@pytest.fixture(scope="module")
def folder(tmp_path_factory, demo):
    place = tmp_path_factory.mktemp("json")
    for name, text in STUDIES.items():
        speeds = "speeds: {from: 2000 rpm, to: 5000 rpm, step: 500 rpm}\n"
        (place / f"{name}.yaml").write_text(f"engine: {DEMO}\n{speeds}{text}")
    for name in ("long", "short"):
        made_up_pulls.write(place, demo, name)
    air_file("straight", place / "air.stl")
    return place


def commands(place):
    """Name of a try: its arguments."""
    e = str(DEMO)
    pulls = [f"{n}={place / n}.csv" for n in ("long", "short")]
    new = ["--cylinders", "4", "--valves", "4", "--peak", "6000 rpm", "--displacement", "2 L"]
    return {
        "curve": [e, "--only-given"],
        "compare": [e, "--only-given", "--against", "long"],
        "bands": [e, "--cases", "40"],
        "explain": [e, "--only-given"],
        "account": [e, "--rpm", "3000"],
        "map": [e, "--steps", "3"],
        "trace": [e, "--rpm", "3000"],
        "trace measured": [
            str(CLASSROOM),
            "--rpm",
            "4000",
            "--measured",
            str(TRACES),
            "--fit",
            "length",
            "tdc",
        ],
        "change": [e, e, "--rpm", "3000"],
        "pull": [e, *pulls, "--fit", "discharge"],
        "pull next": [e, pulls[0], "--next", "short"],
        "pull columns": [e, pulls[0], "--columns"],
        "atmosphere": ["250 N m", "--pressure", "97.5 kPa", "--temperature", "30 degC"],
        "check": [e],
        "new": [str(place / "new.yaml"), *new],
        "report": [e, "--only-given"],
        "explore": [e, "--rpm", "2000", "3000", "4000"],
        "logsheet": [e],
        "part": [e],
        "fuelling": [e, "--runner", "long"],
        "sections": [str(place / "air.stl"), "--unit", "mm"],
        "live": [str(DEMO)],
        "prepare": [],
        "schema": [],
        **{f"study {name}": [str(place / f"{name}.yaml")] for name in STUDIES},
    }


NAMES = [*(name for name in COMMANDS if name != "study"), *(f"study {name}" for name in STUDIES)]
NAMES += ["trace measured", "pull next", "pull columns"]


def answered(name, place):
    if name in ("report", "explore"):
        pytest.importorskip("plotly")
    if name == "study sensitivity":
        pytest.importorskip("SALib")
    said, command = io.StringIO(), name.split()[0]
    out = ["--out", str(place / name.replace(" ", "-"))]
    out = out if command not in ("atmosphere", "live", "new", "prepare", "schema") else []
    with (
        pytest.MonkeyPatch.context() as patch,
        made_up.in_place(),
        contextlib.redirect_stdout(said),
        contextlib.redirect_stderr(io.StringIO()),
    ):
        patch.setattr("aircolumn.commands.live._serve", lambda opened, request: None)  # until Ctrl-C
        code = main([command, *commands(place)[name], *out, "--json"])
    return code, json.loads(said.getvalue())


@pytest.mark.parametrize("name", NAMES)
def test_the_answer_is_as_its_schema_says(name, folder):
    code, answer = answered(name, folder)
    assert code == 0
    jsonschema.validate(answer, SCHEMA)
    assert answer["command"] == name.split()[0]
    assert answer["result"]
    assert set(answer["files"]) <= {p.name for p in folder.joinpath(answer["folder"] or "").iterdir()}
    assert answer["text"]


def test_every_command_has_a_schema():
    assert [one["if"]["properties"]["command"]["const"] for one in SCHEMA["allOf"]] == list(COMMANDS)
    jsonschema.Draft202012Validator.check_schema(SCHEMA)


def test_compare_says_who_wins_and_by_how_much(folder, demo):
    result = answered("compare", folder)[1]["result"]
    curves = {
        n: [made_up.point(demo.with_runner(n), x).figures["torque"] for x in np.arange(1500, 6001, 500)]
        for n in demo.runners
    }
    means = {n: np.trapezoid(np.array(t)[2:6], dx=500.0) / 1500.0 for n, t in curves.items()}
    assert result["winner"] == max(means, key=means.get)
    assert result["range"] == {"words": "from 2500 to 4000 rpm", "pieces": [[2500.0, 1.0, 4000.0, 1.0]]}
    for name, mean in means.items():
        assert result["runners"][name]["mean_torque"] == pytest.approx(mean, rel=1e-3)
        assert result["runners"][name]["peak_torque"]["value"] == pytest.approx(max(curves[name]), rel=1e-3)
    figures = result["curves"]["figures"]["torque"]
    assert figures["unit"] == "N m"
    assert np.shape(figures["values"]) == (3, 10)
    (short,) = (a for a in result["against"] if a["runner"] == "short")
    assert short["torque"] == pytest.approx(np.subtract(curves["short"], curves["long"]), abs=0.5)


def test_missing_points_are_null_and_the_exit_code_stays(folder):
    said = io.StringIO()
    with (
        made_up.in_place(missing=(3000.0,)),
        contextlib.redirect_stdout(said),
        contextlib.redirect_stderr(io.StringIO()),
    ):
        code = main(["compare", str(DEMO), "--only-given", "--out", str(folder / "gaps"), "--json"])
    answer = json.loads(said.getvalue())
    jsonschema.validate(answer, SCHEMA)
    assert code == 1
    assert answer["missing_points"] == 3
    assert [f["rpm"] for f in answer["result"]["failures"]] == [3000.0] * 3
    assert answer["result"]["curves"]["figures"]["torque"]["values"][0][3] is None
    assert answer["result"]["runners"]["long"]["mean_torque"] is None


def test_units_of_the_screen_change_nothing(folder):
    metric = answered("compare", folder)[1]["result"]
    said = io.StringIO()
    with made_up.in_place(), contextlib.redirect_stdout(said), contextlib.redirect_stderr(io.StringIO()):
        main(
            ["compare", *commands(folder)["compare"], "--out", str(folder / "us"), "--json", "--units", "us"]
        )
    assert json.loads(said.getvalue())["result"] == metric


def test_the_schema_can_be_had(capsys):
    assert main(["schema", "--answers"]) == 0
    assert json.loads(capsys.readouterr().out) == json.loads(json.dumps(SCHEMA))


def test_an_error_prints_no_json(tmp_path, capsys):
    assert main(["compare", str(tmp_path / "none.yaml"), "--json", "--out", str(tmp_path / "o")]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert "cannot be read" in err
