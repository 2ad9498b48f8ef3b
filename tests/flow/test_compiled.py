"""Compiled code is kept by all that decides on it."""

import ast
import gc
import re
import shutil
from collections import namedtuple
from pathlib import Path

import numpy as np
import pytest
from numba import types

import aircolumn
from aircolumn import user_folder
from aircolumn.cli import main
from aircolumn.flow.compiled import cache, views
from aircolumn.flow.compiled import compile_progress as making
from aircolumn.flow.compiled import link_only as inner
from aircolumn.flow.compiled.decorators import entry, inlined
from aircolumn.flow.compiled.link_only import InnerLibrary
from aircolumn.flow.compiled.vector_math import log2, rank
from aircolumn.flow.duct.walls import fanning
from aircolumn.flow.ends.nozzle import mass_flux
from aircolumn.sources import KERNELS, SOLVER, digest_of

PACKAGE = Path(aircolumn.__file__).parent


KERNEL = re.compile(r"^@(kernel|routine|inlined|entry)\b|= namedtuple\(", re.MULTILINE)


def test_kernels_and_what_they_use_stand_in_the_folders_that_decide():
    """Swapping two names in arrays.py once gave other figures from stale code, without a word."""
    found = [f for f in PACKAGE.rglob("*.py") if KERNEL.search(f.read_text())]
    assert {"step.py", "blocks.py", "mouth_and_throat.py", "filling.py"} <= {f.name for f in found}
    for file in found:
        assert file.parent.relative_to(PACKAGE).as_posix() in KERNELS, file
        for node in ast.walk(ast.parse(file.read_text())):
            if isinstance(node, ast.ImportFrom) and node.module.startswith("aircolumn."):
                places = "/".join(node.module.split(".")[1:3])
                assert {places, f"{places}.py"} & set(KERNELS), f"{file}: {node.module}"


def test_only_the_solver_decides_on_stored_points(tmp_path):
    copy = tmp_path / "aircolumn"
    shutil.copytree(PACKAGE, copy, ignore=shutil.ignore_patterns("__pycache__"))
    before = digest_of(SOLVER, package=copy)
    for name, changes in (
        ("curves/tuning/explain.py", False),
        ("display_units.py", False),
        ("output/tables.py", False),
        ("engine/model/initial_guess.py", True),
        ("flow/ends/nozzle.py", True),
        ("engine/description/engine_file.py", True),
    ):
        text = (copy / name).read_text()
        (copy / name).write_text(text + "# a word\n")
        assert (digest_of(SOLVER, package=copy) != before) is changes, name
        (copy / name).write_text(text)


def test_a_relative_cache_is_not_followed(monkeypatch, tmp_path):
    monkeypatch.setenv("XDG_CACHE_HOME", "here")
    assert user_folder.base_folder().is_absolute()
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    assert user_folder.base_folder() == tmp_path


def test_another_state_of_them_is_another_folder(tmp_path):
    copy = tmp_path / "aircolumn"
    shutil.copytree(PACKAGE, copy, ignore=shutil.ignore_patterns("__pycache__"))
    folders = {cache.cache_folder(copy)}
    for name, old, new in (
        ("flow/arrays/ducts.py", "rho u p a gamma", "u rho p a gamma"),
        ("flow/arrays/ends.py", "CLOSED = 0", "CLOSED = 9"),
        ("flow/gas/mixture.py", "Ra Rf", "Rf Ra"),
    ):
        text = (copy / name).read_text()
        assert old in text
        (copy / name).write_text(text.replace(old, new))
        folders.add(cache.cache_folder(copy))
        (copy / name).write_text(text)
    assert len(folders) == 4
    (copy / "cli.py").write_text("")
    assert cache.cache_folder(copy) in folders


def test_inner_functions_are_not_made_into_machine_code():
    """Numba would optimise and emit every function it meets; theirs is linked and never run."""
    from numba import njit

    @inlined
    def twice(x):
        return 2.0 * x

    @njit
    def outer(x):
        return twice(x) + twice(x)

    assert outer(1.5) == 6.0
    [made] = twice.compiled.overloads.values()
    assert isinstance(made.library, InnerLibrary)
    assert made.library.get_pointer_to_function("twice") == 0


def test_inner_functions_are_plain_python_to_python():
    assert mass_flux(1e5, 1.2, 1.4, 1e5) == 0.0
    assert type(fanning(1e-5, 1e-4)) in (float, np.float64)


def test_bits_in_python_and_compiled():
    from numba import njit

    @njit
    def compiled(x):
        return rank(x), log2(x)

    for x in (1e-3, 0.7, 1.0, 345.6, 1e9):
        assert compiled(x) == (rank(x), log2(x))
        assert log2(x) == pytest.approx(np.log2(x), abs=2e-7)


def test_rows_and_planes_of_a_table():
    """Views of blocks behind an address show, and change, the blocks themselves."""
    pair = namedtuple("pair", "first second")
    blocks = (
        np.arange(6.0).reshape(2, 3),
        np.arange(24.0).reshape(2, 3, 4),
        np.array([7, 8], dtype=np.int64),
    )
    rows, planes = views.named(pair, (0, 2, types.float64)), views.plane(1)
    counts, columns = views.row(2, types.int64), views.columns(0)

    @entry(types.int64)
    def look(b):
        both, plane, numbers = rows(b), planes(b, 1), counts(b)
        both.second[0] = -1.0
        plane[2, 3] += 100.0
        return both.first[2], plane[1, 0], numbers[1], columns(b)

    table = views.table_of(blocks)
    assert look(table.ctypes.data) == (2.0, 16.0, 8, 3)
    assert blocks[0][1, 0] == -1.0
    assert blocks[1][1, 2, 3] == 123.0


@pytest.mark.parametrize(
    "block",
    [
        np.zeros((4, 4))[:, ::2],
        np.zeros(3, dtype=np.float32),
        np.zeros((1, 1, 1, 1)),
    ],
)
def test_what_no_block_can_be(block):
    with pytest.raises(ValueError, match="C-contiguous"):
        views.table_of([block])


def test_how_long_compiling_takes_is_told(capsys, monkeypatch):
    """Off a terminal in one line, at the pace so far; the collector rests meanwhile."""
    now = iter(np.arange(0.0, 1000.0, 0.1))
    monkeypatch.setattr(making.time, "monotonic", lambda: next(now))
    with making.at_work(100):
        assert not gc.isenabled()
        for k in range(100):
            inner.watchers[-1](f"function {k}")
    assert gc.isenabled()
    assert not inner.watchers
    [line] = capsys.readouterr().err.splitlines()
    assert re.fullmatch(r"\.\.\. about \d+ s more", line)


def test_compiling_ahead(capsys):
    assert main(["prepare"]) == 0
    assert capsys.readouterr().out.startswith("the solver is compiled, kept in ")
