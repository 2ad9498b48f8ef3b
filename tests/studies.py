"""Studies for the tests, of the classroom engine and of the made-up one."""

import numpy as np
from tests import made_up
from tests.conftest import CLASSROOM, DEMO
from tests.printed import command

from aircolumn.questions.read import read_study
from aircolumn.questions.search.trials import Trial, Trials

GRID = f"""engine: {CLASSROOM}
vary:
  intake.runner.length: {{from: 250 mm, to: 400 mm, steps: 4}}
  intake.valve.closes_abdc: [44 deg, 48 deg]
speeds: [4000 rpm, 5000 rpm, 6000 rpm]
"""
ONE = f"engine: {CLASSROOM}\nspeeds: [4000 rpm, 5000 rpm]\n"


def plan_of(folder, text=GRID):
    """The plan of a study file with this text."""
    path = folder / "study.yaml"
    path.write_text(text)
    return read_study(path)


def cases_of(plan):
    """Every case of a plan, laid out."""
    return [plan.case(values) for values in plan.rows]


HEAD = f"engine: {DEMO}\n"
SPAN = (
    "vary:\n  intake.runner.length: {from: 250 mm, to: 650 mm}\n"
    "  intake.valve.closes_abdc: {from: 40 deg, to: 50 deg}\n"
)
SPEEDS = "speeds: {from: 2000 rpm, to: 5000 rpm, step: 500 rpm}\n"
RPM = np.arange(2000.0, 5001.0, 500.0)


def asked(folder, text, *more, missing=()):
    """A study of the made-up demo that was run: (what came of the command, its plan)."""
    folder.mkdir(exist_ok=True)
    (folder / "study.yaml").write_text(HEAD + text)
    with made_up.in_place(missing):
        ran = command("study", folder / "study.yaml", *more, out=folder / "o")
    return ran, read_study(folder / "study.yaml")


def torque_of(plan, values, refinement=1.0):
    """Torque of the made-up engine at the plan's speeds."""
    engine = plan.case(values).engine
    return np.array([made_up.point(engine, n, refinement).figures["torque"] for n in plan.speeds])


def analytic(monkeypatch, function, stands=None, engines=None):
    """Let searches look at a function of (speeds, values of the axes) instead of marching; with ``engines``
    (numbers of the drawn engines) of (speeds, values, number). stands: the curve of a candidate by its name.
    Returns what was looked at: (values, engines) of every design."""
    looked = []

    def numbers(trials):
        return [0.0] if trials.drawn is None else engines[: trials.count]

    def of(trials, rows, refinement=1.0):
        found, speeds = [], trials.plan.speeds
        for values in rows:
            case = trials.plan.case(values)
            if case.engine is None:
                found.append(Trial(np.full((1, len(speeds)), np.nan), None, case.reason))
                continue
            looked.append((tuple(values), len(numbers(trials)), len(speeds)))
            each = [
                function(speeds, *values, *([] if engines is None else [z]), **finer(refinement))
                for z in numbers(trials)
            ]
            found.append(Trial(np.array(each, dtype=float), case.engine))
        return found

    def finer(refinement):
        return {"refinement": refinement} if "refinement" in function.__code__.co_varnames else {}

    def of_runner(trials, name, refinement=1.0):
        speeds = trials.plan.speeds
        curve = np.full(len(speeds), np.nan) if stands is None else stands(speeds, name)
        return Trial(np.array([curve for _ in numbers(trials)]), trials.plan.engine_of(name))

    monkeypatch.setattr(Trials, "of", of)
    monkeypatch.setattr(Trials, "of_runner", of_runner)
    return looked
