"""What is said: no misspelt words (codespell), and nothing that a linter of prose objects to (proselint), in
messages, help, guide and lessons."""

import ast
import json
import re
import subprocess
import sys

import pytest
from tests.conftest import ROOT

GUIDE = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "notebooks" / "guide").glob("*.md"))]
LESSONS = sorted((ROOT / "notebooks").glob("*.ipynb"))
WINGS = ("commands", "output", "questions", "engine", "curves", "study", "part", "space", "measured")
FOREIGN = "measured/logs"  # headings of loggers of many countries
#: Short names and stems that are no words, and a journal's name.
NAMES = "te,ue,bu,ot,ure,ake,commun"
#: Rules of taste that this project breaks on purpose, and why.
OFF = {
    "typography": "plain ASCII throughout",
    "lexical_illusions": "tables and lists repeat words",
    "spelling.consistency": "matplotlib is told 'center'",
    "dates_times": "clocks of loggers are quoted",
    "misc.capitalization": "letters of formulas",
    "weasel_words.very": "'very' is measured here",
}


def messages() -> str:
    """Every text of more than one word in the program's sources, a line each; docstrings too."""
    said = []
    for wing in WINGS:
        for file in sorted((ROOT / "solver" / "aircolumn" / wing).rglob("*.py")):
            if FOREIGN in file.as_posix():
                continue
            for node in ast.walk(ast.parse(file.read_text())):
                if isinstance(node, ast.Constant) and isinstance(node.value, str) and " " in node.value:
                    said.append(" ".join(node.value.split()))
    return ".\n\n".join(said)


def lessons() -> str:
    """The text of the lessons."""
    cells = [c for file in LESSONS for c in json.loads(file.read_text())["cells"]]
    return "\n\n".join("".join(c["source"]) for c in cells if c["cell_type"] == "markdown")


@pytest.fixture(scope="module")
def texts(tmp_path_factory):
    """Files of text."""
    folder = tmp_path_factory.mktemp("prose")
    made = {"messages.txt": messages(), "lessons.md": lessons()}
    made |= {file.name: file.read_text() for file in GUIDE}
    for name, text in made.items():
        (folder / name).write_text(text)
    return folder


def test_spelling(texts):
    pytest.importorskip("codespell_lib")
    run = [sys.executable, "-m", "codespell_lib", "--ignore-words-list", NAMES, str(texts)]
    done = subprocess.run(run, capture_output=True, text=True, check=False)
    assert done.stdout == ""


def objections(*files) -> list[str]:
    """What proselint finds in files, but for the rules that are off."""
    run = [sys.executable, "-m", "proselint", "-o", "compact", "check", *map(str, files)]
    done = subprocess.run(run, capture_output=True, text=True, check=False)
    found = re.findall(r"^\S+:\d+:\d+: ([\w.]+): .*$", done.stdout, re.MULTILINE)
    lines = [line for line in done.stdout.splitlines() if re.match(r"\S+:\d+:\d+: ", line)]
    return [line for rule, line in zip(found, lines, strict=True) if not rule.startswith(tuple(OFF))]


def test_prose(texts, tmp_path):
    pytest.importorskip("proselint")
    assert objections(*sorted(texts.iterdir())) == []
    wrong = tmp_path / "wrong.txt"
    wrong.write_text("The end result is very unique, and at this point in time he could care less.\n")
    assert objections(wrong)  # it does object
