"""Shared by all tests: the demo files and one computed comparison."""

from pathlib import Path

import numpy as np
import pytest

import aircolumn

ROOT = Path(__file__).resolve().parent.parent
DEMO = ROOT / "configs" / "rescue-four.yaml"
CLASSROOM = ROOT / "configs" / "classroom-single.yaml"


@pytest.fixture(scope="session")
def demo():
    return aircolumn.load(DEMO)


@pytest.fixture(scope="session")
def compared(demo):
    """The demo's comparison, each point also with cells and step halved."""
    return aircolumn.compare(demo, np.arange(1500.0, 6001.0, 250.0), uncertainty=True)
