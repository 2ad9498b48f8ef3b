"""Error against CPU time on three problems: ``python -m validation.benchmark_error_cost``.

Both duct members and, where installed, Clawpack's second-order method, in one run on one machine.
Prints a table and the least CPU time for a common error, and draws validation/figures/
benchmark_error_cost.png. CPU time is that of the march alone, least of several runs; Clawpack's
includes the Python steps of PyClaw's own loop.
"""

import time
from importlib.util import find_spec
from pathlib import Path

import numpy as np

from validation import case_shock_tubes as tubes
from validation import case_simple_wave as wave
from validation import case_tapered_pulse as cone
from validation.gas_constants import A0, GAMMA, P0

REPEATS = 5


def timed(ready, duration):
    """Least CPU seconds of marching ``ready()`` for ``duration``, and the last run."""
    best = np.inf
    for _ in range(REPEATS):
        run = ready()
        start = time.process_time()
        run.march(duration)
        best = min(best, time.process_time() - start)
    return best, run


def simple_wave(cells, method):
    """(CPU s, mean density error) of the smooth wave."""
    top = wave.AMPLITUDE * A0
    duration = wave.SHARE * 2 / ((GAMMA + 1) * 2 * np.pi / wave.LENGTH * top)
    if method == "clawpack":
        from validation.claw import solve

        def start(x):
            u = top * np.sin(2 * np.pi * x / wave.LENGTH)
            rho = wave.density(u)
            return rho, u, P0 * (1 + 0.5 * (GAMMA - 1) * u / A0) ** (2 * GAMMA / (GAMMA - 1))

        x, rho, _, _, used = solve(cells, wave.LENGTH, duration, start, periodic=True)
        u = wave.exact_velocity(x, duration, top)
        return used, np.mean(np.abs(rho - wave.density(u))) / wave.density(0.0)
    used, run = timed(lambda: wave.ready(cells, method == "conservative"), duration)
    prof = run.profile("loop")
    u = wave.exact_velocity(prof.x, duration, top)
    return used, np.mean(np.abs(prof.rho - wave.density(u))) / wave.density(0.0)


def sod(cells, method):
    """(CPU s, mean density error) of Sod's tube."""
    tube, duration = tubes.CASES["Sod tube"]
    state = tubes.exact(*tube)
    if method == "clawpack":
        from validation.claw import solve

        def start(x):
            left = x < 0.5
            return np.where(left, tube[1], tube[3]), 0 * x, np.where(left, tube[0], tube[2])

        x, rho, _, _, used = solve(cells, 1.0, duration, start)
    else:
        used, run = timed(lambda: tubes.ready(*tube, cells, method == "conservative"), duration)
        prof = run.profile("tube")
        x, rho = prof.x, prof.rho
    exact, _, _ = tubes.profile_exact(state, *tube, x, duration)
    return used, np.mean(np.abs(rho - exact))


def tapered_pulse(cells, method, reference):
    """(CPU s, mean pressure error) of the pulse in a cone."""
    if method == "clawpack":
        from validation.claw import solve

        x, _, _, p, used = solve(cells, 1.0, cone.TIME, cone.start, cone.taper)
        return used, cone.error({"x": x, "p": p}, *reference)
    used, run = timed(lambda: cone.ready(cells, method == "conservative"), cone.TIME)
    return used, cone.error(run.profile("cone"), *reference)


def cost_at(points, error) -> float:
    """CPU time at ``error`` by straight lines between (log error, log time)."""
    seconds, errors = np.array(points).T
    order = np.argsort(errors)
    return float(np.exp(np.interp(np.log(error), np.log(errors[order]), np.log(seconds[order]))))


def measure():
    """{problem: {method: [(CPU s, error), ...]}}."""
    claw = find_spec("clawpack") is not None
    methods = ["conservative", "mesh", *(["clawpack"] if claw else [])]
    meshes = {
        "conservative": (20, 40, 80, 160),
        "mesh": (40, 160, 640),
        "clawpack": (40, 80, 160, 320, 640, 1280),
    }
    problems = {"smooth wave": simple_wave, "Sod tube": sod}
    if claw:
        reference = cone.reference()
        problems["tapered pulse"] = lambda n, m: tapered_pulse(2 * n, m, reference)
    simple_wave(20, "conservative")  # compile before timing
    return {
        name: {m: [problem(n, m) for n in meshes[m]] for m in methods} for name, problem in problems.items()
    }


def main():
    """Print the table and draw."""
    import matplotlib

    matplotlib.use("Agg")
    import matplotlib.pyplot as plt

    found = measure()
    fig, axes = plt.subplots(1, len(found), figsize=(5 * len(found), 4.5), layout="constrained")
    marks = {"conservative": "o-", "mesh": "s--", "clawpack": "^-."}
    for panel, (problem, methods) in zip(np.atleast_1d(axes), found.items(), strict=True):
        print(f"{problem}: CPU ms and mean error")
        for method, points in methods.items():
            print(f"  {method:13s}" + "".join(f" {1e3 * t:9.3f} {e:8.1e}" for t, e in points))
            seconds, errors = np.array(points).T
            panel.loglog(1e3 * seconds, errors, marks[method], label=method)
        if "clawpack" in methods:
            reached = [min(e for _, e in points) for m, points in methods.items() if m != "mesh"]
            first = [max(e for _, e in points) for m, points in methods.items() if m != "mesh"]
            for error in np.geomspace(min(first), max(reached), 3):
                ours, theirs = (cost_at(methods[m], error) for m in ("conservative", "clawpack"))
                print(f"  at error {error:.1e}: Clawpack needs {theirs / ours:.1f} times the CPU")
        panel.set(xlabel="CPU time, ms", ylabel="mean error", title=problem)
        panel.grid(color="#dddddd", lw=0.6)
        panel.legend()
    folder = Path(__file__).parent / "figures"
    folder.mkdir(exist_ok=True)
    fig.savefig(folder / "benchmark_error_cost.png", dpi=120)


if __name__ == "__main__":
    main()
