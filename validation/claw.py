"""The textbook problems solved by Clawpack's second-order wave propagation (an optional extra).

PyClaw with the Roe solver for the Euler equations (entropy fix), Lax-Wendroff fluxes with the
monotonised-central limiter, Courant number 0.9; area change as a source term,
-(F'/F) [rho u, rho u^2, u (E + p)], split in Strang's manner. Sources: LeVeque, Finite Volume
Methods for Hyperbolic Problems (2002); Ketcheson et al., SIAM J. Sci. Comput. 34 (2012).
"""

import gc
import time as clock
import warnings

import numpy as np

from validation.gas_constants import GAMMA


def _clawpack():
    """PyClaw and its Riemann solvers.

    On import PyClaw sets up logging and leaves a system-log socket to the garbage collector. It is
    collected here, so that its warning does not strike at some later moment.
    """
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", ResourceWarning)
        from clawpack import pyclaw, riemann

        gc.collect()
    return pyclaw, riemann


def solve(cells, length, time, initial, taper=None, periodic=False):
    """Cell-mean density, velocity and pressure at ``time`` and the CPU seconds used.

    initial(x) -> (rho, u, p); taper(x) -> d ln F/dx, or None. Units are scaled inside by 1e5 Pa so
    that the solver works with numbers of order one.
    """
    pyclaw, riemann = _clawpack()
    solver = pyclaw.ClawSolver1D(riemann.euler_with_efix_1D)
    kind = pyclaw.BC.periodic if periodic else pyclaw.BC.extrap
    for name in ("bc_lower", "bc_upper"):
        getattr(solver, name)[0] = kind
    solver.limiters = pyclaw.limiters.tvd.MC
    solver.cfl_desired, solver.cfl_max = 0.9, 1.0
    solver.max_steps = 10**6
    solver.kernel_language = "Fortran"
    domain = pyclaw.Domain(pyclaw.Dimension(0.0, length, cells, name="x"))
    state = pyclaw.State(domain, 3)
    state.problem_data["gamma"] = GAMMA
    state.problem_data["gamma1"] = GAMMA - 1.0
    state.problem_data["efix"] = True
    x = domain.grid.x.centers
    speed = np.sqrt(1e5)
    rho, u, p = (np.asarray(v, dtype=float) for v in initial(x))
    u, p = u / speed, p / 1e5
    state.q[0], state.q[1] = rho, rho * u
    state.q[2] = p / (GAMMA - 1) + 0.5 * rho * u**2
    if taper is not None:
        slope = taper(x)

        def source(solver, state, dt):
            q = state.q
            v = q[1] / q[0]
            pressure = (GAMMA - 1) * (q[2] - 0.5 * q[1] * v)
            change = -dt * slope
            momentum, energy = q[1] * v * change, v * (q[2] + pressure) * change
            q[0] += q[1] * change
            q[1] += momentum
            q[2] += energy

        solver.step_source = source
        solver.source_split = 2
    control = pyclaw.Controller()
    control.solution = pyclaw.Solution(state, domain)
    control.solver = solver
    control.tfinal = time * speed
    control.num_output_times = 1
    control.keep_copy = False
    control.output_format = None
    control.verbosity = 0
    start = clock.process_time()
    control.run()
    used = clock.process_time() - start
    q = control.solution.state.q
    v = q[1] / q[0]
    pressure = (GAMMA - 1) * (q[2] - 0.5 * q[1] * v) * 1e5
    return x, q[0].copy(), v * speed, pressure, used
