"""Reading back what the commands print and draw."""

import csv
import io
import re
from contextlib import contextmanager, nullcontext, redirect_stderr, redirect_stdout
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure
from matplotlib.image import imread

from aircolumn.cli import main


def right_aligned(text: str, heading: str) -> tuple[list[str], list[list[str]]]:
    """(headings, rows of cells) of the table in ``text`` whose line of headings begins with
    ``heading``; it ends at a line of another length."""
    lines = text.splitlines()
    top = next(
        k for k, line in enumerate(lines) if line.strip().startswith(heading) and set(lines[k + 1]) == {"-"}
    )
    assert len(lines[top + 1]) == len(lines[top])
    ends = [m.end() for m in re.finditer(r"\S+( \S+)*", lines[top])]
    rows = []
    for line in lines[top + 2 :]:
        if len(line) != len(lines[top]):
            break
        starts = [0, *ends[:-1]]
        rows.append([line[a:b].strip() for a, b in zip(starts, ends, strict=True)])
    return [lines[top][a:b].strip() for a, b in zip([0, *ends[:-1]], ends, strict=True)], rows


def spaced(text: str, heading: str) -> list[list[str]]:
    """Rows of cells, headings first, of the table that begins so and has no empty cells."""
    lines = text.splitlines()
    top = next(k for k, line in enumerate(lines) if line.strip().startswith(heading))
    assert set(lines[top + 1]) == {"-"}
    rows = [re.split(r"\s{2,}", line.strip()) for line in [lines[top], *lines[top + 2 :]]]
    same = next((k for k, row in enumerate(rows) if len(row) != len(rows[0])), len(rows))
    return rows[:same]


def left_aligned(text: str, heading: str) -> list[list[str]]:
    """Rows of cells, the line of headings first, of the left-aligned table that begins so."""
    lines = text.splitlines()
    top = next(k for k, line in enumerate(lines) if line.startswith(f"  {heading}"))
    starts = [m.start() for m in re.finditer(r"\S+( \S+)*", lines[top])]
    table = []
    for line in lines[top:]:
        if not line.startswith("  "):
            break
        bounds = zip(starts, [*starts[1:], None], strict=True)
        table.append([line[a:b].strip() for a, b in bounds])
    return table


@contextmanager
def drawn():
    """{file name: figure} of all pictures saved meanwhile; nothing is rendered."""
    figures = {}

    def keep(figure, path, **_):
        figures[Path(path).name] = figure
        Path(path).write_bytes(b"picture")

    def written(canvas, place, **_):
        keep(canvas.figure, place.name if hasattr(place, "write") else place)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Figure, "savefig", keep)
        patch.setattr(FigureCanvasAgg, "print_png", written)
        patch.setattr(FigureCanvasSVG, "print_svg", written)
        yield figures


def is_picture(path) -> bool:
    """Whether the file is a picture of some size with something on it."""
    pixels = imread(path)
    return min(pixels.shape[:2]) > 300 and float(np.std(pixels[..., :3])) > 0.05


def lines_of(panel) -> dict:
    """{label: (x, y)} of the lines with a label of their own: where they carry markers, if only at
    some points."""
    return {
        line.get_label(): marked(line) for line in panel.lines if not str(line.get_label()).startswith("_")
    }


def marked(line):
    """Points of a line that carry markers."""
    x, y = line.get_data()
    at = line.get_markevery()
    return (x, y) if at is None else (np.asarray(x)[at], np.asarray(y)[at])


def texts_of(panel) -> list[str]:
    """All annotations."""
    return [t.get_text() for t in panel.texts]


@dataclass
class Ran:
    """A command that was run: exit code, what it printed and complained of, its folder and the
    figures of its pictures by file name."""

    code: int
    said: str
    complaints: str
    out: Path
    pictures: dict


def command(*arguments, out, only_given=True, rendered=False) -> Ran:
    """Run a command of the program here; unless said otherwise, no speeds are added and pictures are not
    rendered (a page needs its drawings)."""
    if only_given and arguments[0] in ("curve", "compare", "explain"):
        arguments = (*arguments, "--only-given")
    said, complaints = io.StringIO(), io.StringIO()
    looked_at = nullcontext({}) if rendered else drawn()
    with looked_at as pictures, redirect_stdout(said), redirect_stderr(complaints):
        code = main([*map(str, arguments), "--out", str(out)])
    return Ran(code, said.getvalue(), complaints.getvalue(), Path(out), pictures)


def rows_of(path) -> list[dict]:
    """The rows of a CSV file by heading."""
    with open(path, newline="") as file:
        return list(csv.DictReader(file))


def digits(cell: str) -> int:
    """How many digits a printed number has after its point."""
    return len(cell.partition(".")[2])


def significant(text: str) -> int:
    """How many significant digits a written number has."""
    return len(text.lower().partition("e")[0].replace(".", "").replace("-", "").lstrip("0"))
