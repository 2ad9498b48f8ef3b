"""Shared by all tests: the demo files and one computed comparison."""

import os
from pathlib import Path

import numpy as np
import pytest
from tests import made_up, made_up_curves, made_up_pulls
from tests.printed import command

import aircolumn
from aircolumn.flow.network import run
from aircolumn.study.store import Store

ROOT = Path(__file__).resolve().parent.parent
DEMO = ROOT / "configs" / "rescue-four.yaml"
os.environ["COLUMNS"] = "1000"  # tables are not cut into blocks (tests/output/test_width.py)
CLASSROOM = ROOT / "configs" / "classroom-single.yaml"


#: Files of tests that march nothing: what is worth running after every change (pytest -m quick).
QUICK = frozenset(
    [
        "against",
        "atmosphere",
        "centre_line",
        "cylinder",
        "drawing",
        "fuels",
        "fuels_energy",
        "gas",
        "guide",
        "headings",
        "house",
        "humid_day",
        "interest",
        "lift_curve",
        "make",
        "plans",
        "pull_files",
        "pull_text",
        "summary",
        "sums_by_hand",
        "switchable",
        "text_tables",
        "wrong_input",
    ]
)


def pytest_addoption(parser):
    parser.addoption("--third", type=int, choices=(1, 2, 3), help="of the tests left: every third, from this")


def pytest_ignore_collect(collection_path, config):
    """For -m quick the other files are not even loaded."""
    name = collection_path.stem
    if config.getoption("markexpr") == "quick" and collection_path.suffix == ".py":
        return (
            True if name.startswith(("test_", "case_")) and name.removeprefix("test_") not in QUICK else None
        )
    return None


def pytest_collection_modifyitems(config, items):
    """Marks the quick tests. The slow ones take more than an hour together: .ci/run takes a third of them in
    turn."""
    for item in items:
        if item.path.stem.removeprefix("test_") in QUICK and not item.get_closest_marker("slow"):
            item.add_marker("quick")
    third = config.getoption("--third")
    if third is not None:
        kept = [item for item in items if item.get_closest_marker("slow")][third - 1 :: 3]
        config.hook.pytest_deselected(items=[item for item in items if item not in kept])
        items[:] = kept


@pytest.fixture(autouse=True)
def _marches_nothing(request, monkeypatch):
    """Quick tests: a march is an error there, so that they stay quick."""
    if request.node.get_closest_marker("quick"):
        monkeypatch.setattr(run, "advance", None)


def throttled(engine, angle, model=None):
    """The engine with its throttle at ``angle`` degrees."""
    throttle = engine.intake.throttle.changed(angle=angle)
    return engine.with_intake(throttle=throttle).changed(model=model)


@pytest.fixture(scope="session")
def demo():
    return aircolumn.load(DEMO)


@pytest.fixture(scope="session")
def compared(demo):
    """The demo's comparison, each point also with cells and step halved."""
    return aircolumn.compare(demo, np.arange(1500.0, 6001.0, 250.0), uncertainty=True)


@pytest.fixture(scope="session")
def pull_files(demo, tmp_path_factory):
    """Made-up pulls of two manifolds: {runner: file}."""
    folder = tmp_path_factory.mktemp("pulls")
    return {name: made_up_pulls.write(folder, demo, name) for name in made_up_pulls.AIR}


@pytest.fixture(scope="session")
def pulled(pull_files, tmp_path_factory):
    """What ``pull --fit`` made of them."""
    data = [f"{name}={path}" for name, path in pull_files.items()]
    out = tmp_path_factory.mktemp("pull") / "o"
    with made_up.in_place():
        found = command("pull", DEMO, *data, "--fit", "discharge", "fmep", "cam", out=out)
    assert found.code == 0, found.complaints
    return found


@pytest.fixture(scope="session")
def pull_due(demo):
    """Hand calculation: {runner: {figure: values at each speed}}."""
    return made_up_pulls.by_hand(demo)


@pytest.fixture(scope="session")
def curves_due(demo):
    """{runner: [figures at each speed]} of the demo, with the corrected ones."""
    return made_up_curves.by_hand(demo)


@pytest.fixture(scope="session")
def written(tmp_path_factory):
    """Every command that computes curves, once, with the made-up engine."""
    folder = tmp_path_factory.mktemp("written")
    commands = {
        "curve": ("curve", DEMO, "--runner", "long", "--standard", "j607", "--verbose"),
        "compare": ("compare", DEMO, "--standard", "j607", "--verbose", "--uncertainty"),
        "manifold": ("compare", ROOT / "configs" / "rescue-four-manifold.yaml", "--rpm", "3000", "4500"),
        "map": ("map", CLASSROOM, "--from", "200 mm", "--to", "800 mm", "--steps", "4"),
        "bore": ("map", CLASSROOM, "--vary", "bore", "--from", "36 mm", "--to", "44 mm", "--steps", "3"),
        "account": ("account", DEMO, "--runner", "short", "--rpm", "2000", "3500", "5000"),
    }
    with made_up.in_place():
        found = {name: command(*c, out=folder / name) for name, c in commands.items()}
    assert not any(r.code for r in found.values()), [r.complaints for r in found.values()]
    return found


@pytest.fixture
def store(tmp_path):
    """A store of points."""
    store = Store(tmp_path / "points.sqlite")
    yield store
    store.close()
