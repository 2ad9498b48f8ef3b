"""Every lesson runs from a clean kernel, begins with a question and ends with exercises."""

from pathlib import Path

import pytest

nbformat = pytest.importorskip("nbformat")
nbclient = pytest.importorskip("nbclient")

FOLDER = Path(__file__).resolve().parent.parent / "notebooks"
LESSONS = sorted(FOLDER.glob("*.ipynb"))


def test_all_lessons_are_here():
    assert [p.name[0] for p in LESSONS] == ["1", "2", "3", "4", "5"]


@pytest.mark.parametrize("path", LESSONS, ids=lambda p: p.stem)
def test_lesson(path):
    book = nbformat.read(path, as_version=4)
    assert "**Question.**" in book.cells[0].source
    assert "## Exercises" in book.cells[-1].source
    nbclient.NotebookClient(
        book, timeout=170, kernel_name="python3", resources={"metadata": {"path": str(FOLDER)}}
    ).execute()
    counts = [c.execution_count for c in book.cells if c.cell_type == "code"]
    assert counts == list(range(1, len(counts) + 1))


def test_invented_data_says_so():
    first = (FOLDER / "data" / "invented-pull.csv").read_text().splitlines()[0]
    assert first.startswith("# Invented")
