"""The duct kernels against the same arithmetic in C: ``python -m validation.benchmark_c``.

benchmark_kernel.c is compiled with ``cc -O3 -march=native`` and run on the same arrays as the
package's kernels, both without the duct's ends, for smooth flow with area change, friction, heat
and composition on. Prints ns per cell and step of both and their ratio. Needs a C compiler.
"""

import ctypes
import subprocess
import tempfile
import time
from pathlib import Path

import numpy as np

from aircolumn.flow.arrays import blocks as mb
from aircolumn.flow.compiled.decorators import entry
from aircolumn.flow.compiled.views import table_of
from aircolumn.flow.duct import characteristics as ch
from aircolumn.flow.duct import conservation as co
from aircolumn.flow.duct import reconstruction as re
from validation.benchmark_kernel import ready

STEPS, REPEATS, DT = 1000, 50, 1e-10
CHECK_DT = 1e-6  # a time step as in the march, to compare results


@entry("int64", "int64", "float64")
def kernels(b, count, dt):
    """``count`` steps of the kernels alone."""
    gas, mesh, cells, mid = mb.gas_of(b), mb.mesh_of(b), mb.cells_of(b), mb.middle_of(b)
    prof, flux, feet, half = mb.profile_of(b), mb.fluxes_of(b), mb.feet_of(b), mb.nodes_of(b, 1)
    last, heat = mb.places_in(b) - 1, mb.duct_heat_of(b)
    for k in range(count):
        turn = 2 * (k % 2)
        old, new = mb.nodes_of(b, turn), mb.nodes_of(b, 2 - turn)
        re.means(mesh, cells, mid, last + 1)
        re.mark_steep(mesh, old, mid, last)
        re.middle_states(gas, mesh, cells, old, mid, last)
        re.smooth_parabolas(old, mid, prof, last)
        re.wall_terms(gas, mesh, mid, prof, last)
        ch.half_step(mesh, prof, old, half, feet, last, 0.5 * dt)
        co.energies(gas, half, last)
        re.wall_terms_half_way(gas, mesh, half, prof, last)
        ch.full_step(mesh, prof, old, half, new, feet, last, dt)
        co.finish_and_integrate(gas, mesh, mid, old, half, new, flux, last)
        co.advance_cells(mesh, mid, prof, old, half, flux, cells, heat, last, dt)


def run_kernels(b, count, dt):
    """``count`` steps on the blocks ``b``."""
    table = table_of(b)
    kernels(table, count, dt)


def c_library(folder):
    """The compiled C kernels."""
    source = Path(__file__).with_name("benchmark_kernel.c")
    target = Path(folder) / "kernels.so"
    flags = ["-O3", "-march=native", "-fno-math-errno", "-fno-trapping-math", "-shared", "-fPIC"]
    subprocess.run(["cc", *flags, "-o", target, source, "-lm"], check=True)
    return ctypes.CDLL(str(target))


def run_c(library, gas, b, count, dt):
    """``count`` steps in C on the blocks ``b``."""
    constants = np.array(gas, dtype=float)  # Ra Rf Rb, then 3 x 6 coefficients
    arrays = (b.mesh, b.nodes, b.cells, b.middles, b.profile, b.flux, b.feet, b.duct_heat)
    pointers = [a.ctypes.data_as(ctypes.c_void_p) for a in (constants, *arrays)]
    places = ctypes.c_long(b.mesh.shape[1])
    library.steps(*pointers, places, ctypes.c_long(count), ctypes.c_double(dt))


def least(call) -> float:
    """Least CPU seconds of REPEATS calls."""
    best = np.inf
    for _ in range(REPEATS):
        start = time.process_time()
        call()
        best = min(best, time.process_time() - start)
    return best


def main():
    """Print the comparison."""
    with tempfile.TemporaryDirectory() as folder:
        library = c_library(folder)
        for cells in (80, 320):
            mine, theirs = ready(cells, True), ready(cells, True)
            gas = mine.network.gas
            for run in (mine, theirs):
                run.march(1e-3)
                run.blocks.nodes[0] = run.blocks.nodes[int(run.blocks.clock[mb.NOW])]
            run_kernels(mine.blocks, 2, CHECK_DT)
            run_c(library, gas, theirs.blocks, 2, CHECK_DT)
            inside = mine.ducts["pipe"].inside
            inside = inside[8:-8]  # the ends are left out
            away = np.abs(mine.cells.energy[inside] / theirs.cells.energy[inside] - 1).max()
            ours = least(lambda m=mine: run_kernels(m.blocks, STEPS, DT))
            in_c = least(lambda t=theirs, g=gas: run_c(library, g, t.blocks, STEPS, DT))
            scale = 1e9 / STEPS / cells
            print(
                f"{cells} cells: kernels {scale * ours:.1f}, C {scale * in_c:.1f} ns per cell and"
                f" step, ratio {ours / in_c:.2f}; results differ by {away:.1e} after two steps"
            )


if __name__ == "__main__":
    main()
