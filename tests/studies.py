"""Studies for the tests, of the classroom engine and of the made-up one."""

import numpy as np
from tests import made_up
from tests.conftest import CLASSROOM, DEMO
from tests.printed import command

from aircolumn.questions.read import read_study

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
