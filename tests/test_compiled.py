"""Compiled code is kept by all that decides on it."""

import shutil
from pathlib import Path

import aircolumn
from aircolumn.compiled import cache

PACKAGE = Path(aircolumn.__file__).parent


def test_names_of_rows_and_constants_decide_too():
    """Swapping two names in arrays.py once gave other figures from stale code, without a word."""
    names = {str(f.relative_to(PACKAGE)) for f in cache.kernel_sources(PACKAGE)}
    assert {
        "march/step.py",
        "arrays/blocks.py",
        "arrays/ducts.py",
        "arrays/ends.py",
        "gas/mixture.py",
    } <= names
    assert not names & {"cli.py", "network/run.py", "curves/curve.py", "report/plots.py"}


def test_a_relative_cache_is_not_followed(monkeypatch, tmp_path):
    monkeypatch.setenv("XDG_CACHE_HOME", "here")
    assert cache.base_folder().is_absolute()
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    assert cache.base_folder() == tmp_path


def test_another_state_of_them_is_another_folder(tmp_path):
    copy = tmp_path / "aircolumn"
    shutil.copytree(PACKAGE, copy, ignore=shutil.ignore_patterns("__pycache__"))
    folders = {cache.cache_folder(copy)}
    for name, old, new in (
        ("arrays/ducts.py", "rho u p a gamma", "u rho p a gamma"),
        ("arrays/ends.py", "CLOSED = 0", "CLOSED = 9"),
        ("gas/mixture.py", "Ra Rf", "Rf Ra"),
    ):
        text = (copy / name).read_text()
        assert old in text
        (copy / name).write_text(text.replace(old, new))
        folders.add(cache.cache_folder(copy))
        (copy / name).write_text(text)
    assert len(folders) == 4
    (copy / "cli.py").write_text("")
    assert cache.cache_folder(copy) in folders
