"""The march in plain Python gives what compiled code gives: the same kernels over the same blocks.

Each case is marched a while compiled, its blocks are kept, and 50 steps more are marched from there
both ways; the plain way in a process of its own (the switch is read at import).
"""

import os
import subprocess
import sys

import numpy as np
import pytest
from tests.conftest import CLASSROOM, DEMO, ROOT

from aircolumn.engine.description.reader import load
from aircolumn.engine.model.assembly import build
from aircolumn.engine.model.geometry import geometry_of
from aircolumn.flow.compiled import seam
from aircolumn.flow.compiled.plain import Row
from aircolumn.flow.duct.geometry import straight
from aircolumn.flow.gas.mixture import perfect_gas
from aircolumn.flow.network.initial import GasState
from aircolumn.flow.network.network import Network

STEPS = 50
PUSHED = GasState(pressure=lambda x: 1e5 * (1.0 + 0.4 * (x < 0.1)), temperature=300.0)
STILL = GasState(pressure=1e5, temperature=300.0)


def pipes(*bores):
    """A network with a pipe of each bore, the first with a step of pressure in it."""
    net = Network(perfect_gas(1.4, 287.05))
    for k, bore in enumerate(bores):
        net.duct(f"pipe {k}", straight(0.4, bore), 20, STILL if k else PUSHED)
        net.closed(f"pipe {k}", "right" if k else "left")
    return net


def pipe():
    net = Network(perfect_gas(1.4, 287.05))
    net.duct("pipe", straight(0.4, 0.04), 20, PUSHED)
    net.reservoir("air", pressure=1e5, temperature=300.0)
    net.closed("pipe", "left")
    net.opening("pipe", "right", "air")
    return net.ready(), 0.0


def step():
    net = pipes(0.03, 0.04)
    net.step(("pipe 0", "right"), ("pipe 1", "left"))
    return net.ready(), 0.0


def junction():
    net = pipes(0.04, 0.03, 0.05)
    net.junction(("pipe 0", "right"), ("pipe 1", "left"), ("pipe 2", "left"))
    return net.ready(), 0.0


def over_time():
    net = Network(perfect_gas(1.4, 287.05))
    net.duct("pipe", straight(0.4, 0.04), 20, PUSHED)
    time = np.linspace(0.0, 1e-3, 6)
    swing = np.sin(2e3 * np.pi * time)
    net.pressure_over_time("pipe", "left", time, 1e5 + 2e4 * swing, 300.0, period=1e-3)
    net.velocity_over_time("pipe", "right", time + 2e-4, 30.0 * swing)
    return net.ready(), 0.0


def engine(path):
    description = load(path)
    one = description.with_runner(next(iter(description.runners)))
    return build(one, 1.0, 4000.0).ready(geometry_of(one).intake_seats), 400.0


CASES = {
    "pipe": pipe,
    "step": step,
    "junction": junction,
    "over time": over_time,
    "single": lambda: engine(CLASSROOM),
    "four": lambda: engine(DEMO),
    "manifold": lambda: engine(ROOT / "configs" / "rescue-four-manifold.yaml"),
}


def marched(name, folder, start=0):
    """Figures of a case after STEPS more steps, from the blocks in ``folder``; with ``start``,
    after so many steps, which are kept there first."""
    run, omega = CASES[name]()
    blocks = folder / f"{name}.npz"
    if start:
        run.march(1.0, omega=omega, max_steps=start)
        np.savez(blocks, **run.blocks._asdict())
    else:
        with np.load(blocks) as kept:
            for field, block in run.blocks._asdict().items():
                block[...] = kept[field]
    run.march(1.0, omega=omega, max_steps=STEPS)
    return {
        "p": run.nodes.p,
        "u": run.nodes.u,
        "a": run.nodes.a,
        "mass": run.cells.mass,
        "energy": run.cells.energy,
        "volume p": run.states.p,
    }


SCRIPT = """
import sys
from pathlib import Path
import numpy as np
from aircolumn.flow.compiled.plain import PLAIN
from tests.flow.test_plain_march import CASES, marched
assert PLAIN
folder = Path(sys.argv[1])
for name in CASES:
    np.savez(folder / f"{name}-plain.npz", **marched(name, folder))
"""


@pytest.fixture(scope="module")
def both(tmp_path_factory):
    """{case: (figures compiled, figures plain)}."""
    folder = tmp_path_factory.mktemp("plain")
    compiled = {
        name: marched(name, folder, 30 if name in ("pipe", "step", "junction") else 3000) for name in CASES
    }
    path = os.pathsep.join(filter(None, (str(ROOT), os.environ.get("PYTHONPATH"))))
    plain = {**os.environ, "AIRCOLUMN_PLAIN": "1", "PYTHONPATH": path}
    done = subprocess.run(
        [sys.executable, "-c", SCRIPT, str(folder)], capture_output=True, text=True, env=plain
    )
    assert done.returncode == 0, done.stderr
    assert "compiling" not in done.stderr
    return {n: (compiled[n], dict(np.load(folder / f"{n}-plain.npz"))) for n in CASES}


@pytest.mark.parametrize("name", CASES)
def test_plain_equals_compiled(both, name):
    compiled, plain = both[name]
    for figure, values in compiled.items():
        known = np.isfinite(values)
        assert np.array_equal(known, np.isfinite(plain[figure]))
        size = np.max(np.abs(values[known]), initial=0.0)
        assert plain[figure][known] == pytest.approx(values[known], abs=1e-9 * size), figure


def test_a_row_is_not_read_beyond_its_ends():
    row = Row(np.arange(3.0))
    row[2] = 7.0
    assert row[2] == 7.0
    for place in (-1, 3):
        with pytest.raises(IndexError):
            row[place]
        with pytest.raises(IndexError):
            row[place] = 1.0


def test_this_numba_is_one_that_is_known():

    assert not seam.missing


WITHOUT = """
import sys
from importlib import import_module
import numba.core.codegen, numba.np.arrayobj
holder, _, name = {name!r}.rpartition(".")
place = import_module({module!r})
delattr(getattr(place, holder) if holder else place, name)
from aircolumn.flow.compiled import machine_code, seam
from aircolumn.flow.compiled.decorators import EntryPoint
machine_code.ready = lambda *_: None
def same(net):
    return net, 0
entry = EntryPoint(same, "int64", kept=True)
print(seam.missing, entry(7), entry.call == entry._plain)
"""


@pytest.mark.parametrize(
    ("module", "name", "said", "plain"),
    [
        ("numba.core.codegen", "JITCodeLibrary", "['INNER']", False),
        ("numba.np.arrayobj", "populate_array", "['VIEWS']", True),
    ],
)
def test_a_numba_without_a_private_part_is_told_and_done_without(module, name, said, plain):
    done = subprocess.run(
        [sys.executable, "-c", WITHOUT.format(module=module, name=name)], capture_output=True, text=True
    )
    assert done.stdout.split("\n")[0] == f"{said} (7, 0) {plain}", done.stderr
    assert "is not one that aircolumn was tested with" in done.stderr
    assert ("plain Python" in done.stderr) == plain
