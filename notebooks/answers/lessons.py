"""What the answers share: what a lesson has defined, and engine files with a line changed."""

import tempfile
from pathlib import Path

import nbformat

import aircolumn

LESSONS = Path(__file__).resolve().parent.parent
CONFIGS = LESSONS.parent / "configs"


def code_of(number, *which):
    """The code of some cells of a lesson, counted from 0 over its code cells."""
    (path,) = LESSONS.glob(f"{number}-*.ipynb")
    cells = [c.source for c in nbformat.read(path, as_version=4).cells if c.cell_type == "code"]
    return "\n".join(cells[k] for k in which)


def changed(name, old, new):
    """Description of an engine file of configs/ with one text in place of another."""
    text = (CONFIGS / f"{name}.yaml").read_text()
    if text.count(old) != 1:
        raise ValueError(f"'{old}' stands {text.count(old)} times in {name}.yaml")
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / f"{name}.yaml"
        copy.write_text(text.replace(old, new))
        return aircolumn.load(copy)
