"""Every lesson runs from a clean kernel, begins with a question and ends with exercises, and prints
what its stored output says."""

import re
from pathlib import Path

import pytest
from tests.machine import allowed

nbformat = pytest.importorskip("nbformat")
nbclient = pytest.importorskip("nbclient")

FOLDER = Path(__file__).resolve().parent.parent / "notebooks"
LESSONS = sorted(FOLDER.glob("*.ipynb"))
SLOW = {p.stem for p in LESSONS[2:]}  # marched engines by the dozen


def test_all_lessons_are_here():
    assert [p.name[0] for p in LESSONS] == ["1", "2", "3", "4", "5", "6"]


@pytest.mark.parametrize(
    "path", [pytest.param(p, id=p.stem, marks=pytest.mark.slow if p.stem in SLOW else ()) for p in LESSONS]
)
def test_lesson(path):
    book = nbformat.read(path, as_version=4)
    stored = [_printed(c) for c in book.cells if c.cell_type == "code"]
    assert "**Question.**" in book.cells[0].source
    assert "## Exercises" in book.cells[-1].source
    nbclient.NotebookClient(
        book,
        timeout=int(allowed(170.0)),
        kernel_name="python3",
        resources={"metadata": {"path": str(FOLDER)}},
    ).execute()
    counts = [c.execution_count for c in book.cells if c.cell_type == "code"]
    assert counts == list(range(1, len(counts) + 1))
    now = [_printed(c) for c in book.cells if c.cell_type == "code"]
    for before, after in zip(stored, now, strict=True):
        assert _words(after) == _words(before)
        for said, due in zip(_numbers(after), _numbers(before), strict=True):
            last_digit = 10.0 ** -len(due.partition(".")[2])
            assert float(said) == pytest.approx(float(due), rel=2e-3, abs=1.01 * last_digit), after


def _printed(cell) -> str:
    """Text that a cell printed or showed as its value."""
    texts = [o.get("text") or o.get("data", {}).get("text/plain", "") for o in cell.outputs]
    return "".join(t for t in texts if not t.startswith("<Figure"))


def _numbers(text) -> list[str]:
    return re.findall(r"[-+]?\d+(?:\.\d+)?", text)


def _words(text) -> list[str]:
    return re.sub(r"[-+]?\d+(?:\.\d+)?", "#", text).split()


def test_invented_data_says_so():
    first = (FOLDER / "data" / "invented-pull.csv").read_text().splitlines()[0]
    assert first.startswith("# Invented")
