"""pytest runs every published case."""

from importlib import import_module

import pytest

from validation.cases import NAMES, missing


@pytest.mark.parametrize("name", NAMES)
def test_case(name):
    module = import_module(f"validation.{name}")
    if missing(module):
        pytest.skip(f"test extra not installed: {', '.join(missing(module))}")
    rows = module.checks()
    assert rows
    outside = [
        f"{c.case}, {c.quantity}: {c.computed:g} against {c.reference:g},"
        f" error {c.error:.2g} > {c.tolerance:g} ({c.source})"
        for c in rows
        if not c.passed
    ]
    assert not outside, "\n".join(outside)
