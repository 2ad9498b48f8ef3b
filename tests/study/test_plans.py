"""Study files: what is varied, the cases that follow, and what is wrong with a file."""

import re

import pytest
from tests.conftest import CLASSROOM, DEMO, ROOT
from tests.studies import GRID, ONE, asked, cases_of, plan_of

from aircolumn.cli import main
from aircolumn.errors import InputError
from aircolumn.questions.read import read_study


def test_grid_sample_and_cases(tmp_path):
    grid = plan_of(tmp_path)
    assert [a.name for a in grid.axes] == ["length", "closes_abdc"]
    assert len(cases_of(grid)) == 8
    assert cases_of(grid)[3].engine.intake.runner.length == pytest.approx(0.3)
    assert cases_of(grid)[3].engine.intake.valve.closes_abdc == 48.0
    spans = (
        "vary:\n  intake.runner.length: {from: 10 in, to: 20 in}\n  intake.valve.count: {from: 1, to: 2}\n"
    )
    for method in ("sobol", "halton", "latin-hypercube"):
        sample = plan_of(tmp_path, f"{ONE}{spans}sample: {{count: 9, method: {method}}}\n")
        lengths = [c.engine.intake.runner.length for c in cases_of(sample)]
        assert len(set(lengths)) == 9
        assert 0.254 <= min(lengths) < 0.34
        assert max(lengths) <= 0.508
        assert {c.engine.intake.valve.count for c in cases_of(sample)} == {1, 2}
    listed = (
        "cases:\n  - {intake.plenum.volume: 4 L, mixture.delivery: port}\n"
        "  - {intake.plenum.volume: 9 L, mixture.delivery: premixed}\n"
    )
    cases = plan_of(tmp_path, ONE + listed)
    assert [c.engine.mixture.delivery for c in cases_of(cases)] == ["port", "premixed"]
    assert cases_of(cases)[1].engine.intake.plenum.volume == pytest.approx(9e-3)


def test_base_is_the_runner_asked_for(tmp_path):
    text = f"engine: {DEMO}\nrunner: long\nvary: {{intake.runner.bore.from: [46 mm, 48 mm]}}\n"
    plan = plan_of(tmp_path, text)
    assert plan.axes[0].name == "bore_from"
    assert all(c.engine.intake.runner.length == pytest.approx(0.65) for c in cases_of(plan))
    assert len(plan.speeds) == 10  # the engine file's


#: what is wrong: (study file, what the message must say)
WRONG = {
    "nothing": ("", "the file is empty"),
    "no engine file": (GRID.replace(str(CLASSROOM), "none.yaml"), "cannot be read"),
    "nothing varied": (ONE, "give either vary or cases"),
    "unknown key of the study": (GRID.replace("vary:", "varry:"), "did you mean 'vary'?"),
    "unknown key of the engine": (GRID.replace("runner.length", "runner.lenght"), "'length'"),
    "unknown runner": (GRID + "runner: huge\n", "no runner 'huge'"),
    "no unit": (GRID.replace("44 deg, 48 deg", "44, 48"), "44 has no unit"),
    "two units": (GRID.replace("to: 400 mm", "to: 16 in"), "all values in one unit"),
    "wrong unit": (GRID.replace("44 deg, 48 deg", "44 kPa, 48 kPa"), "is not a unit of angle"),
    "backwards": (GRID.replace("to: 400 mm", "to: 100 mm"), "'to' must be above 'from'"),
    "no steps": (GRID.replace(", steps: 4", ""), "steps is missing"),
    "two questions": (GRID + "search: {}\nsample: {count: 8}\n", "one question"),
    "speeds of a lorry": (GRID.replace("4000 rpm", "20 rpm"), "at least 100 rpm"),
    "list of an index": (GRID + "sensitivity: {count: 8}\n", "a span {from: ..., to: ...} is expected"),
    "count": (GRID + "sensitivity: {count: 12}\n", "power of two"),
    "no tolerance": (GRID + "tolerance: {}\n", "plus_minus is expected"),
    "aim without speed": (GRID + "search: {aim: {of: torque}}\n", "'at' belongs to"),
}


@pytest.mark.parametrize("name", WRONG)
def test_wrong_study_files(name, tmp_path, capsys, monkeypatch):
    text, said = WRONG[name]
    monkeypatch.chdir(tmp_path)
    (tmp_path / "study.yaml").write_text(text)
    assert main(["study", "study.yaml"]) == 2
    assert said in capsys.readouterr().err
    assert [p.name for p in tmp_path.iterdir()] == ["study.yaml"]


def test_wrong_requests(tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "study.yaml").write_text(GRID)
    assert main(["study", "study.yaml", "--workers", "0"]) == 2
    beyond = GRID.replace(", steps: 4", "").replace("[44 deg, 48 deg]", "{from: 44 deg, to: 48 deg}")
    (tmp_path / "aim.yaml").write_text(beyond + "search: {aim: {of: torque, at: 3000 rpm}}\n")
    assert main(["study", "aim.yaml"]) == 2
    assert "the aim needs 3000 rpm" in capsys.readouterr().err
    assert not (tmp_path / "aim-study").exists()
    (tmp_path / "study-study").write_text("a file where the results are due")
    assert main(["study", "study.yaml"]) == 2
    assert "is a file, not a folder" in capsys.readouterr().err
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "points.sqlite").write_text("no store of points at all, but long enough")
    assert main(["study", "study.yaml", "--out", "out"]) == 2
    assert "is not a store of points; move it away" in capsys.readouterr().err


def test_no_scheduler_there(tmp_path, capsys):
    pytest.importorskip("distributed")
    plan_of(tmp_path)
    study = str(tmp_path / "study.yaml")
    assert main(["study", study, "--scheduler", "nonsense://", "--out", str(tmp_path / "o")]) == 2
    assert "no Dask scheduler at nonsense://" in capsys.readouterr().err


def test_study_configs_read():
    for path in sorted((ROOT / "configs").glob("study-*.yaml")):
        plan = read_study(path)
        assert plan.axes


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (
            "vary: {intake.runner.length: {from: 300 mm, to: 400 mm, steps: 8192},"
            " intake.plenum.volume: {from: 4 L, to: 9 L, steps: 8192},"
            " intake.valve.closes_abdc: {from: 40 deg, to: 48 deg, steps: 8192},"
            " exhaust.primary.length: {from: 0.4 m, to: 0.6 m, steps: 8192},"
            " exhaust.port.length: {from: 60 mm, to: 80 mm, steps: 8192}}\n",
            "vary: 36893488147419103232 cases; at most 200000",
        ),
        (
            "vary: {intake.runner.length: {from: 300 mm, to: 400 mm}}\nsample: {count: 200000}\n"
            "speeds: {from: 1500 rpm, to: 6000 rpm, step: 5 rpm}\n",
            "200000 cases at 901 speeds are 180200000 points, about 2503 hours; at most 1000000",
        ),
        ("cases: [{}]\n", "cases.0: give at least one key and its value"),
        ("vary: {intake.runner.length: []}\n", "give at least one value"),
        (
            "vary: {intake.runner.bore: {plus_minus: 0.4 mmm}}\ntolerance: {count: 4}\n",
            "'mmm' does not go with '46 mm'",
        ),
        ("vary: {intake.plenum.volume: [" + "9" * 400 + "]}\n", "cannot be used as a value here"),
    ],
)
def test_studies_beyond_all_bounds(text, said, tmp_path):
    with pytest.raises(InputError, match=re.escape(said)):
        plan_of(tmp_path, f"engine: {DEMO}\n{text}")


@pytest.mark.parametrize("question", ["sensitivity: {count: 8}", "search: {}"])
def test_a_mean_over_one_speed_is_refused_before_computing(question, tmp_path, capsys):
    (tmp_path / "study.yaml").write_text(
        f"engine: {DEMO}\nvary: {{intake.runner.length: {{from: 300 mm, to: 400 mm}}}}\n"
        f"{question}\nspeeds: [2500 rpm]\n"
    )
    out = tmp_path / "o"
    assert main(["study", str(tmp_path / "study.yaml"), "--out", str(out)]) == 2
    assert "a mean needs two or more speeds, the study has 1" in capsys.readouterr().err
    assert not out.exists()


def test_keys_named_like_figures_have_their_whole_path(tmp_path):
    text = "vary: {combustion.ca50: [6 deg, 10 deg], friction.peak_pressure: [0.004, 0.005]}\n"
    plan = plan_of(tmp_path, f"engine: {DEMO}\n{text}speeds: [3000 rpm]\n")
    assert [a.name for a in plan.axes] == ["combustion_ca50", "friction_peak_pressure"]


def test_every_fault_of_a_study_is_told_at_once(tmp_path):
    """Runner, unknown key, missing steps, mixed units: in order of line, each once."""
    text = (
        f"engine: {DEMO}\nrunner: huge\nvary:\n"
        "  intake.runner.lenght: {from: 300 mm, to: 500 mm, steps: 3}\n"
        "  intake.runner.bore: {from: 40 mm, to: 42 mm}\n"
        "  intake.plenum.volume: [3 L, 4 mm]\nspeeds: [2000 rpm]\n"
    )
    with pytest.raises(InputError) as caught:
        plan_of(tmp_path, text)
    told = [(p.line, p.key) for p in caught.value.problems]
    assert told == [
        (2, "runner"),
        (4, "vary.intake.runner.lenght"),
        (5, "vary.intake.runner.bore"),
        (6, "vary.intake.plenum.volume"),
    ]


SHORT = f"engine: {DEMO}\nspeeds: [3000 rpm]\nvary: {{runners.short.length: [250 mm, 800 mm]}}\n"


def test_a_candidates_key_varies_that_candidate(tmp_path):
    """It is bolted on, and its own key changes."""
    plan = plan_of(tmp_path, SHORT)
    assert plan.runner == "short"
    lengths = [c.engine.intake.runner.length for c in cases_of(plan)]
    assert lengths == pytest.approx([0.25, 0.8])
    taper = "vary: {runners.long.bore.from: [46 mm, 48 mm]}\n"
    plan = plan_of(tmp_path, f"engine: {DEMO}\nspeeds: [3000 rpm]\nrunner: long\n{taper}")
    assert [c.engine.intake.runner.total_length for c in cases_of(plan)] == pytest.approx([0.65, 0.65])
    assert [c.engine.intake.runner.bore.start for c in cases_of(plan)] == pytest.approx([0.046, 0.048])


DEMO_AT = f"engine: {DEMO}\nspeeds: [3000 rpm]\n"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("vary: {title: [a, b]}", "changes nothing that is computed: it names the engine"),
        ("vary: {units: [us, metric]}", "it says how results are shown"),
        ("vary: {pull.altitude: [0 m, 400 m]}", "it says how measured pulls are read"),
        ("vary: {switchable.x: [a, b]}", "it says which candidates are looked at together"),
        ("vary: {speeds.step: [100 rpm, 200 rpm]}", "the study's own `speeds` say at which"),
        ("vary: {runners.huge.length: [250 mm, 300 mm]}", "there are: short, middle, long"),
        ("vary: {runners.short: [250 mm, 300 mm]}", "write runners.NAME.key"),
        (
            "vary: {runners.short.length: [250 mm, 300 mm], runners.long.bore: [40 mm, 41 mm]}",
            "a study computes one candidate, and this one names 'short' (runners.short.length)",
        ),
        ("runner: long\nvary: {runners.short.length: [250 mm, 300 mm]}", "'long' (`runner`)"),
        (
            "vary: {intake.runner.bore.to: [40 mm, 41 mm], intake.runner.bore: [38 mm, 39 mm]}",
            "intake.runner.bore and intake.runner.bore.to overlap",
        ),
        ("vary: {runners.short.bore: [40 mm, 41 mm], intake.runner.bore: [38 mm, 39 mm]}", "overlap"),
        ("vary: {intake.runner.length: [250 mm, 300 mm, 250 mm]}", "250.0 mm stands here twice"),
        (
            "cases:\n  - {name: a, intake.runner.length: 300 mm}\n"
            "  - {name: b, intake.runner.length: 300 mm}",
            "this case has the values of case 1",
        ),
        ("cases:\n  - {title: a}\n  - {title: b}", "it names the engine"),
    ],
)
def test_what_would_vary_nothing_is_refused(tmp_path, text, said):
    with pytest.raises(InputError) as error:
        plan_of(tmp_path, f"{DEMO_AT}{text}\n")
    assert said in str(error.value)


def test_counts_of_points_are_those_of_engines_that_differ(tmp_path):
    """A sample of a whole number meets the same engine often: computed once, never less than 0."""
    text = (
        "vary: {intake.valve.count: {from: 1, to: 2}, exhaust.valve.count: {from: 1, to: 2}}\n"
        "sample: {count: 16}\nspeeds: [3000 rpm, 4000 rpm]\n"
    )
    ran, _ = asked(tmp_path / "a", text)
    assert ran.code == 0
    assert ran.said.startswith("8 points computed")
    assert ", 0 taken from" in ran.said.replace("\n", " ")


def test_candidates_are_values_of_a_key(tmp_path):
    """Each bolted on in turn; the key of one counts with it alone."""
    text = "vary:\n  runner: [short, long]\n  runners.long.wall_temperature: [40 degC, 60 degC]\n"
    plan = plan_of(tmp_path, f"{DEMO_AT}{text}")
    cases = cases_of(plan)
    lengths = [c.engine.intake.runner.total_length for c in cases]
    assert lengths == pytest.approx([0.29, 0.29, 0.65, 0.65])
    walls = [c.engine.intake.runner.wall_temperature for c in cases]
    assert walls == pytest.approx([318.15, 318.15, 313.15, 333.15])
    listed = (
        "cases:\n  - {runner: long, intake.plenum.volume: 4 L}\n"
        "  - {runner: short, intake.plenum.volume: 5 L}\n"
    )
    plan = plan_of(tmp_path, f"{DEMO_AT}{listed}")
    assert [c.engine.intake.runner.total_length for c in cases_of(plan)] == pytest.approx([0.65, 0.29])


def test_a_sweep_of_candidates_is_told_by_their_names(tmp_path):
    text = "vary:\n  runner: [short, long]\n  intake.plenum.volume: [4 L, 6 L]\n"
    ran, plan = asked(tmp_path / "s", f"{text}speeds: [2500 rpm, 4500 rpm]\n")
    assert ran.code == 0
    assert [plan.case_words(row) for row in plan.rows][-1] == "runner long, volume 6 L"
    assert re.search(r"^2500 .* runner long", ran.said, re.MULTILINE)
    assert re.search(r"^4500 .* runner short", ran.said, re.MULTILINE)
