"""The examples in the docstrings of public functions run; every public name has one or says what it
takes, and can be seen by an editor."""

import doctest
from importlib import import_module

import pytest
from tests.conftest import ROOT

import aircolumn

MODULES = sorted({getattr(aircolumn, name).__module__ for name in aircolumn.__all__})


@pytest.mark.parametrize("name", MODULES)
def test_docstrings(name, monkeypatch):
    monkeypatch.chdir(ROOT)
    failed, _ = doctest.testmod(import_module(name), raise_on_error=False)
    assert failed == 0


def test_some_have_examples():
    finder = doctest.DocTestFinder()
    found = [t for m in MODULES for t in finder.find(import_module(m)) if t.examples]
    assert len(found) >= 8


def test_public_names_are_shown():
    assert set(aircolumn.__all__) <= set(dir(aircolumn))
    for name in aircolumn.__all__:
        assert getattr(aircolumn, name).__doc__, name
    scope = {}
    exec("from aircolumn import *", scope)
    assert set(aircolumn.__all__) <= set(scope)
    with pytest.raises(AttributeError, match="nonsense"):
        _ = aircolumn.nonsense
