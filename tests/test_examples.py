"""The example scripts run, and say what is so."""

import re
import runpy

import pytest
from tests.conftest import ROOT

FOLDER = ROOT / "notebooks" / "examples"
#: script: (pattern of what it prints, numbers in it with their tolerance)
SAID = {
    # A quarter wave, a little lower for the mouth, which this script leaves out.
    "a_pipe_that_rings": (r"(\S+) Hz, c / 4L = 173\.6 Hz\n", [(173.6, 1.5)]),
    "which_runner": (r"2500 rpm: long\n4000 rpm: \w+\n5500 rpm: short\n", []),
    "what_a_wider_bore_does": (r"(?s).*0\.036 .*\n0\.040 .*\n0\.044 .*\n", []),
    "why_the_hump": (
        r"hump at (\d+) rpm, VE (\S+) %\. .*the intake wave gives.*\n",
        [(3500.0, 0.0), (109.1, 1.0)],
    ),
    "pressure_in_the_port": (r"(\S+) kPa at \d+ deg\n(\S+) kPa at \d+ deg\n", [(64.0, 8.0), (130.0, 15.0)]),
}


def test_none_is_left_out():
    assert {f.stem for f in FOLDER.glob("*.py")} == set(SAID)


@pytest.mark.parametrize("name", SAID)
def test_example(name, capsys):
    runpy.run_path(str(FOLDER / f"{name}.py"))
    said = capsys.readouterr().out
    pattern, numbers = SAID[name]
    found = re.fullmatch(pattern, said)
    assert found, said
    for text, (value, within) in zip(found.groups(), numbers, strict=True):
        assert float(text) == pytest.approx(value, abs=within), said
    lines = (FOLDER / f"{name}.py").read_text().splitlines()
    assert len(lines) <= 20
