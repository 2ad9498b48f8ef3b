"""What a point costs, where a step spends it, and how far the ducts are from what the core can do:
``python -m validation.benchmark_costs [FILE]`` prints the tables, and writes them to FILE.

One core, CPU time, best of several. Engines are the demo engines (invented) and changes of them.
"""

import sys
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from llvmlite import ir
from numba import types
from numba.extending import intrinsic

import aircolumn
from aircolumn.engine.model.operating_point import converged, operating_point
from aircolumn.flow.arrays import blocks as mb
from aircolumn.flow.compiled.decorators import entry, routine
from aircolumn.flow.compiled.views import table_of
from aircolumn.flow.cylinder.filling import own_rates
from aircolumn.flow.march import step as ms
from aircolumn.flow.march.advance import rate_now, record_step
from aircolumn.flow.march.volumes import finish_volumes, predict_volumes
from validation.core_limits import limits
from validation.counted import arithmetic

CONFIGS = Path(__file__).parent.parent / "configs"
INTRODUCTION = """# What it costs

Made by `python -m validation.benchmark_costs validation/costs.md` on one core of whatever machine
it ran on: compare within the table, not with another machine's.
"""
WHAT_HOLDS_IT = """No one limit holds the ducts. Arithmetic and traffic each take their share, and
one does not quite hide behind the other. The peak of operations counts fused multiplications and
additions, which a kernel reaches only where its own come in pairs; and the arrays of a network are
too large for the first cache, so each kernel reads from the second what the one before wrote there.
Less would be read and written if the coefficients of the parabolas stayed in registers from one
kernel to the next, but the ends have to be solved between them.

Of a step, the ends of the manifold cost a fourth: its collector is solved three times, for two or
three pressures each. The record is the price of the mean plenum pressure.
"""
PARTS = ("ducts", "ends", "volumes", "record")
DUCTS, ENDS, VOLUMES, RECORD = range(4)
REPEATS = 5


@intrinsic
def ticks(typingctx):
    """The processor's time-stamp counter."""

    def build(context, builder, signature, args):
        kind = ir.FunctionType(ir.IntType(64), [])
        return builder.call(builder.module.declare_intrinsic("llvm.readcyclecounter", fnty=kind), [])

    return types.int64(), build


@routine
def timed_ends(b, stage, tau, angle, at, spent):
    """Ends of one stage."""
    t = ticks()
    ms.solve_ends(b, stage, tau, angle, at)
    spent[ENDS] += ticks() - t


@routine
def timed_own(b, which, angle, omega, spent):
    """Own rates of the volumes."""
    t = ticks()
    own_rates(b, which, angle, omega)
    spent[VOLUMES] += ticks() - t


@routine
def timed_prediction(b, rates, stage, dt, start, stop, spent):
    """Volumes ahead."""
    t = ticks()
    predict_volumes(b, rates, stage, dt, start, stop)
    spent[VOLUMES] += ticks() - t


@routine
def timed_step(b, dt, omega, spent):
    """march/step.py: step, with the time of each part."""
    clock = mb.clock_of(b)
    at, start, first = clock[mb.TIME], clock[mb.ANGLE], ticks()
    degrees = omega * dt * 57.29577951308232
    middle, stop = start + 0.5 * degrees, start + degrees
    before = spent[ENDS] + spent[VOLUMES]
    ms.reconstruct(b, True, True)
    timed_prediction(b, mb.RATE_OLD, mb.OLD, 0.5 * dt, start, middle, spent)
    ms.carry_to_half(b, 0.5 * dt)
    t = ticks()
    ms.trace_ends(b, ms.FIRST_HALF, 0.5 * dt)
    spent[ENDS] += ticks() - t
    timed_ends(b, ms.SECOND_HALF, 0.5 * dt, middle, at + 0.5 * dt, spent)
    ms.rescue_nodes(b, mb.HALF)
    ms.half_time_energies(b)
    timed_own(b, mb.RATE_HALF, middle, omega, spent)
    timed_prediction(b, mb.RATE_HALF, mb.HALF, dt, start, stop, spent)
    ms.carry_to_end(b, True, dt)
    timed_ends(b, ms.FULL, dt, stop, at + dt, spent)
    ms.rescue_nodes(b, mb.NEW)
    timed_own(b, mb.RATE_NEW, stop, omega, spent)
    ms.integrate(b, True, dt)
    t = ticks()
    finish_volumes(b, dt, start, stop)
    spent[VOLUMES] += ticks() - t
    clock[mb.NOW] = 2.0 - clock[mb.NOW]
    clock[mb.TIME], clock[mb.STEP], clock[mb.ANGLE] = at + dt, dt, stop
    clock[mb.STEPS] += 1.0
    spent[DUCTS] += ticks() - first - (spent[ENDS] + spent[VOLUMES] - before)


@entry(
    "int64",
    "float64",
    "float64",
    "float64",
    "int64[::1]",
    "float64[:,::1]",
    "int64[::1]",
)
def timed_march(b, omega, stop_time, courant, probes, record, spent):
    """march/advance.py: advance, with the time of each part."""
    clock, rows = mb.clock_of(b), 0
    while clock[mb.TIME] < stop_time:
        t = ticks()
        rate = rate_now(b)
        spent[DUCTS] += ticks() - t
        t = ticks()
        record_step(b, probes, record[rows % record.shape[0]])
        rows += 1
        spent[RECORD] += ticks() - t
        growth = rate / clock[mb.RATE] if clock[mb.RATE] > 0.0 else 1.0
        dt = courant / (rate * min(max(growth, 1.0), 1.5))
        left = stop_time - clock[mb.TIME]
        lands = dt >= left
        timed_step(b, left if lands else min(dt, 0.5 * left), omega, spent)
        if lands:
            clock[mb.TIME] = stop_time
        clock[mb.RATE] = rate


@dataclass(frozen=True)
class Split:
    """Nanoseconds a step by part, and the number of cells."""

    parts: np.ndarray
    cells: int


def split(engine, rpm: float) -> Split:
    """Cost of a step of the periodic cycle by part. Raises RuntimeError if the step timed here is
    not the march's."""
    _, run, _ = converged(engine, rpm)
    omega, cycle = rpm * np.pi / 30.0, 120.0 / rpm
    check, stop = [a.copy() for a in run.blocks], run.time + 0.02 * cycle
    timed(run, omega, stop)
    mine = run.cells.energy.copy()
    for array, value in zip(run.blocks, check, strict=True):
        array[...] = value
    run.march(stop - run.time, omega=omega)
    if not np.array_equal(mine, run.cells.energy, equal_nan=True):  # (void between ducts)
        raise RuntimeError("timed_step is not what march/step.py does any more")
    steps, start = run.steps, time.perf_counter()
    spent = timed(run, omega, run.time + 2.0 * cycle)
    seconds, steps = time.perf_counter() - start, run.steps - steps
    return Split(spent / spent.sum() * seconds / steps * 1e9, int(run.mesh.inside.sum()))


def timed(run, omega, stop) -> np.ndarray:
    """March to ``stop``, s; ticks by part."""
    table, spent = table_of(run.blocks), np.zeros(4, dtype=np.int64)
    record = np.empty((64, 2 + 3 * len(run.network.volumes)))
    none = np.array([], dtype=np.int64)
    timed_march(table, omega, stop, 0.9, none, record, spent)
    return spent


def point_cost(engine, rpm: float) -> tuple[float, int]:
    """(CPU milliseconds of a point, cycles on the full mesh)."""
    point = operating_point(engine, rpm)
    best = np.inf
    for _ in range(REPEATS):
        start = time.process_time()
        operating_point(engine, rpm)
        best = min(best, time.process_time() - start)
    return 1e3 * best, int(point.figures["cycles"])


def with_throttle(engine, angle: float):
    """The engine with its throttle at ``angle``, degrees."""
    return engine.with_intake(throttle=engine.intake.throttle.changed(angle=angle))


def with_cylinders(engine, order: list[int]):
    """The engine whole, with as many cylinders as ``order`` has, each with a pipe of its own."""
    n = len(order)
    block = engine.block.changed(cylinders=n, firing_order=order, firing_angles=None)
    runner = engine.intake.runner.changed(lengths=None)
    plenum = engine.intake.plenum.changed(volume=1.5e-3 * n)
    throttle = engine.intake.throttle.changed(bore=0.036 * n**0.5)
    exhaust = engine.exhaust.changed(collector=None)
    engine = engine.changed(block=block, exhaust=exhaust, model="manifold")
    return engine.with_intake(runner=runner, plenum=plenum, throttle=throttle)


def with_cells(engine, factor: float):
    """The engine with cells ``factor`` times as long."""
    numerics = engine.numerics
    cells = tuple(factor * c for c in engine.cells)
    return engine.changed(numerics=numerics.changed(intake_cell=cells[0], exhaust_cell=cells[1]))


def points_table() -> list[str]:
    """CPU of a point against speed, cylinders, cells and throttle."""
    lone = aircolumn.load(CONFIGS / "rescue-four.yaml").engine
    whole = aircolumn.load(CONFIGS / "rescue-four-manifold.yaml").engine
    orders = {2: [1, 2], 4: [1, 3, 4, 2], 6: [1, 5, 3, 6, 2, 4], 8: [1, 8, 4, 3, 6, 5, 7, 2]}
    cases = [("one cylinder for all four", lone, rpm) for rpm in (1500.0, 3000.0, 4500.0, 6000.0)]
    cases += [("four and a collector", whole, rpm) for rpm in (1500.0, 3000.0, 4500.0, 6000.0)]
    cases += [(f"{n} cylinders, whole", with_cylinders(whole, o), 3000.0) for n, o in orders.items()]
    cases += [(f"one for four, cells x {f:g}", with_cells(lone, f), 3000.0) for f in (2.0, 0.5)]
    cases += [
        (f"one for four, throttle {a:g} deg", with_throttle(lone, a), 3000.0) for a in (30.0, 20.0, 10.0)
    ]
    cases += [(f"four, throttle {a:g} deg", with_throttle(whole, a), 3000.0) for a in (30.0, 20.0, 10.0)]
    lines = ["| engine | rpm | CPU, ms | cycles on the full mesh |", "|---|---|---|---|"]
    for name, engine, rpm in cases:
        cost, cycles = point_cost(engine, rpm)
        lines.append(f"| {name} | {rpm:.0f} | {cost:.0f} | {cycles} |")
    return lines


def parts_table() -> tuple[list[str], float]:
    """Nanoseconds a step by part; and of the ducts, for each cell of the larger network."""
    lines = [
        "| engine at 3000 rpm | cells | " + " | ".join(f"{p}, ns" for p in PARTS) + " |",
        "|---|---|" + "---|" * len(PARTS),
    ]
    per_cell = 0.0
    for name in ("classroom-single", "rescue-four", "rescue-four-manifold"):
        found = split(aircolumn.load(CONFIGS / f"{name}.yaml").engine, 3000.0)
        per_cell = found.parts[DUCTS] / found.cells
        values = " | ".join(f"{v:.0f}" for v in found.parts)
        lines.append(f"| {name} | {found.cells} | {values} |")
    return lines, per_cell


def limit_table(per_cell: float) -> list[str]:
    """Arithmetic and traffic of the ducts against what the core can do."""
    work, core = arithmetic(), limits()
    return [
        f"A cell and step takes {work.operations:.0f} operations (of them {work.divisions:.0f}"
        f" divisions and roots) and {work.bytes:.0f} bytes in and out of the kernels; in the"
        f" manifold {per_cell:.1f} ns.",
        "",
        "| | the ducts | this core | share |",
        "|---|---|---|---|",
        f"| operations, 10^9/s | {work.operations / per_cell:.1f} | {core.operations:.0f} |"
        f" {work.operations / per_cell / core.operations:.0%} |",
        f"| bytes, 10^9/s | {work.bytes / per_cell:.0f} | {core.bytes:.0f} |"
        f" {work.bytes / per_cell / core.bytes:.0%} |",
        f"| divisions and roots, 10^9/s | {work.divisions / per_cell:.2f} |"
        f" {core.divisions:.2f} | {work.divisions / per_cell / core.divisions:.0%} |",
    ]


def main():
    """Print, and write if asked."""
    parts, per_cell = parts_table()
    text = "\n".join(
        [
            INTRODUCTION,
            "## A point",
            "",
            *points_table(),
            "",
            "## A step",
            "",
            *parts,
            "",
            "## The limit",
            "",
            *limit_table(per_cell),
            "",
            WHAT_HOLDS_IT,
        ]
    )
    print(text)
    if len(sys.argv) > 1:
        Path(sys.argv[1]).write_text(text)


if __name__ == "__main__":
    main()
