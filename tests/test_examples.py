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
    "shock_tube": (
        r"p (\S+) Pa, exact (\S+) Pa\nu (\S+) m/s, exact (\S+) m/s\n",
        [(284816.0, 300.0), (284816.0, 1.0), (285.14, 0.3), (285.14, 0.05)],
    ),
    "six_lengths": (
        r"200 mm: (\S+) rpm\n(?s:.*)700 mm: (\S+) rpm\n.*'length': 6, 'rpm': 10}\n",
        [(6000.0, 500.0), (3000.0, 500.0)],
    ),
    "a_bottle_that_hums": (r"(\S+) Hz, exact (\S+) Hz\n", [(72.61, 0.1), (72.61, 0.01)]),
    "a_measured_pressure": (  # the noise of the readings is 0.6 kPa
        r"swing (\S+) kPa, measured (\S+) kPa; off by (\S+) kPa rms\n",
        [(26.0, 1.0), (25.7, 0.1), (0.7, 0.3)],
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
    assert len(lines) <= 24
