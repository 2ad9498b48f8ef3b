"""Compiled code is kept by all that decides on it."""

import ast
import gc
import re
import shutil
import subprocess
import sys
from collections import namedtuple
from pathlib import Path

import numpy as np
import pytest
from tests.conftest import CLASSROOM

import aircolumn
from aircolumn import user_folder
from aircolumn.cli import main
from aircolumn.engine.model.operating_point import converged
from aircolumn.flow.compiled import cache, kept, machine_code, views
from aircolumn.flow.compiled import compile_progress as making
from aircolumn.flow.compiled.decorators import EntryPoint, entry, inlined
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

    from aircolumn.flow.compiled.libraries import InnerLibrary

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
    rows, planes = views.named(pair, (0, 2, "float64")), views.plane(1)
    counts, columns = views.row(2, "int64"), views.columns(0)

    @entry("int64")
    def look(b):
        both, plane, numbers = rows(b), planes(b, 1), counts(b)
        both.second[0] = -1.0
        plane[2, 3] += 100.0
        return both.first[2], plane[1, 0], numbers[1], columns(b)

    table = views.table_of(blocks)
    assert look(table) == (2.0, 16.0, 8, 3)
    assert blocks[0][1, 0] == -1.0
    assert blocks[1][1, 2, 3] == 123.0
    assert look._plain(table) == (2.0, 16.0, 8, 3)
    assert blocks[1][1, 2, 3] == 223.0


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
            making.watchers[-1](f"function {k}")
    assert gc.isenabled()
    assert not making.watchers
    [line] = capsys.readouterr().err.splitlines()
    assert re.fullmatch(r"\.\.\. about \d+ s remaining", line)


@pytest.fixture
def own_cache(tmp_path, monkeypatch):
    """An empty folder for compiled code."""
    monkeypatch.setattr(machine_code, "kept_in", lambda: tmp_path)
    monkeypatch.setattr(kept, "_told", set())
    return tmp_path


def kept_entry():
    """An entry whose machine code is kept."""

    def sums(net, factor, values, table):
        total = 0
        for k in range(values.size):
            total += values[k]
        for k in range(table.shape[1]):
            table[1, k] = factor * table[0, k]
        return total + net, table.shape[0]

    return EntryPoint(sums, "int64", "float64", "int64[::1]", "float64[:,::1]", kept=True)


def test_machine_code_is_kept_and_found_again(own_cache, capsys):
    """What is called through an address gives what Python gives, also from the file."""
    values, table = np.arange(5), np.array([[1.0, 2.0], [0.0, 0.0]])
    first = kept_entry()
    assert first(3, 2.5, values, table) == (13, 2)
    assert table[1].tolist() == [2.5, 5.0]
    assert "compiling the solver" in capsys.readouterr().err
    assert len(list(own_cache.iterdir())) == 1
    again = kept_entry()
    assert again(0, -1.0, values, table) == (10, 2)
    assert table[1].tolist() == [-1.0, -2.0]
    assert capsys.readouterr().err == ""


@pytest.mark.parametrize(
    "table",
    [np.zeros((2, 2), dtype=np.float32), np.zeros((2, 4))[:, ::2], np.zeros(4), np.zeros((2, 2), dtype=int)],
)
def test_an_array_that_would_be_misread_is_refused(own_cache, table):
    with pytest.raises(TypeError, match="a C-contiguous array of float64 with 2 dimensions"):
        kept_entry()(1, 0.0, np.arange(3), table)


def test_elsewhere_numba_keeps_it(own_cache, monkeypatch):
    """On systems where calling through an address is untried."""
    from aircolumn.flow.compiled import front_end

    monkeypatch.setattr(machine_code, "TRIED", False)
    monkeypatch.setattr(front_end, "kept_in", lambda: own_cache)
    assert kept_entry()(1, 0.0, np.arange(3), np.zeros((2, 2))) == (4, 2)
    assert list(own_cache.rglob("*.nbi"))


@pytest.mark.parametrize("damage", ["emptied", "cut", "flipped", "a folder"])
def test_damaged_machine_code_is_made_again(own_cache, damage):
    kept_entry().make()
    (path,) = own_cache.iterdir()
    raw = bytearray(path.read_bytes())
    raw[len(raw) // 2] ^= 1
    path.unlink()
    if damage == "a folder":
        path.mkdir()
    else:
        path.write_bytes({"emptied": b"", "cut": bytes(raw[:40]), "flipped": bytes(raw)}[damage])
    assert kept_entry()(1, 0.0, np.arange(3), np.zeros((2, 2))) == (4, 2)


def test_bitcode_that_ships(own_cache, monkeypatch, tmp_path_factory, capsys):
    """It is taken where it is of these sources and this system, without a compiler, and gives the same."""
    from aircolumn.flow.compiled import front_end

    one = kept_entry()
    place = tmp_path_factory.mktemp("shipped") / "sums.bitcode"
    monkeypatch.setattr(machine_code, "_shipped_path", lambda name: place)
    machine_code.ship("sums", front_end.bitcode(one.py_func, one.arguments))
    monkeypatch.setattr(front_end, "bitcode", None)
    assert one(1, 0.0, np.arange(3), np.zeros((2, 2))) == (4, 2)
    assert "making the solver ready for this processor" in capsys.readouterr().err
    for digest, found in (("other", False), (digest_of(KERNELS), True)):
        monkeypatch.setattr(machine_code, "digest_of", lambda folders, digest=digest: digest)
        assert (machine_code._shipped("sums") is not None) is found
    raw = place.read_bytes()
    place.write_bytes(raw[:-1] + bytes([raw[-1] ^ 1]))
    assert machine_code._shipped("sums") is None


@pytest.mark.slow
def test_the_march_that_ships_is_that_of_these_sources(monkeypatch):
    """The shipped bitcode is made anew at releases, not at each change of a kernel; where it is of these
    sources, it gives what Numba's own machine code gives, to the last bit."""
    from aircolumn.flow.compiled import front_end
    from aircolumn.flow.march.advance import advance

    shipped = machine_code._shipped("advance")
    if shipped is None:
        pytest.skip("the shipped march is of other sources or for another system: made anew at a release")
    symbol, bitcode = shipped
    calls = (
        machine_code._loaded(symbol, machine_code._machine_code(bitcode), advance.arguments),
        front_end.function(advance.py_func, advance.arguments),
    )
    engine, found = aircolumn.load(CLASSROOM).engine, []
    for call in calls:
        monkeypatch.setattr(advance, "call", call)
        _, run, _ = converged(engine, 3000.0)
        record = run.march(0.01, omega=100.0 * np.pi, probes={}, room=4000)
        found.append([*run.blocks, record.time, record.angle])
    for one, other in zip(*found, strict=True):
        assert np.array_equal(one, other, equal_nan=True)


def test_a_command_needs_no_compiler():
    """With the march kept, computing loads neither Numba nor what compiles."""
    from aircolumn.flow.march.advance import advance

    advance.make()
    script = (
        "import sys, aircolumn; engine = aircolumn.load(sys.argv[1]).engine;"
        "aircolumn.operating_point(engine, 4000.0); assert 'numba' not in sys.modules"
    )
    subprocess.run([sys.executable, "-c", script, str(CLASSROOM)], check=True)


def test_compiling_ahead(capsys):
    assert main(["prepare"]) == 0
    assert capsys.readouterr().out.startswith("the solver is ready, kept in ")
