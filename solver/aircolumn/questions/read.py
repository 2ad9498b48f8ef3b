"""A study file with the keys of all kinds of study."""

from __future__ import annotations

from functools import cache
from importlib import import_module
from pathlib import Path
from pkgutil import iter_modules
from typing import Any

from pydantic import create_model

from aircolumn import questions
from aircolumn.questions.kind import Question
from aircolumn.study.models import StudyFile
from aircolumn.study.plan import Plan, read_plan


@cache
def all_questions() -> dict[str, Question]:
    """Every kind of study by its name: the folders beside this file."""
    folders = [module.name for module in iter_modules(questions.__path__) if module.ispkg]
    found = [import_module(f"{questions.__name__}.{name}.question").QUESTION for name in folders]
    return {question.name: question for question in found}


def question_of(plan: Plan) -> Question:
    """The kind of study that a plan asks for."""
    asked = plan.study.asked
    if asked is not None:
        return all_questions()[asked[0]]
    return next(q for q in all_questions().values() if q.keys is None)


def read_study(path: str | Path) -> Plan:
    """Read and check a study file.

    Parameters
    ----------
    path : str or Path
        YAML; the engine file that it names is read too.

    Returns
    -------
    Plan

    Raises
    ------
    InputError
        With everything found wrong in either file.
    """
    keys: dict[str, Any] = {n: (q.keys | None, None) for n, q in all_questions().items() if q.keys}
    return read_plan(path, create_model("StudyFile", __base__=StudyFile, **keys))
