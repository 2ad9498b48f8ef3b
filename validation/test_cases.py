"""pytest runs every published case; the longest are marked slow."""

from importlib import import_module

import pytest

from validation.cases import NAMES, missing

SLOW = {"case_engine_response", "case_mach_index", "case_published_engines"}


@pytest.mark.parametrize(
    "name", [pytest.param(n, marks=pytest.mark.slow if n in SLOW else ()) for n in NAMES]
)
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
