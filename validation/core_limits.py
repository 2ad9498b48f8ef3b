"""What one core can do, measured: multiplications and additions, divisions, traffic."""

import time
from dataclasses import dataclass

import numpy as np

from aircolumn.flow.compiled.decorators import entry

WIDTH, ROUNDS = 512, 2000
#: As much as the ducts of a four-cylinder engine: more than a first-level cache, less than a
#: second.
FOOTPRINT = 250_000  # bytes


@dataclass(frozen=True)
class Limits:
    """10^9 a second: operations (fused ones count as two), divisions, bytes from and to the cache
    that holds FOOTPRINT."""

    operations: float
    divisions: float
    bytes: float


@entry("float64[::1]", "int64")
def multiply_add(x, rounds):
    """16 fused multiplications and additions for each number and round, in registers."""
    for _ in range(rounds):
        for j in range(WIDTH):
            a = x[j]
            b, c, d = a + 0.1, a + 0.2, a + 0.3
            for _ in range(4):
                a = a * 0.999 + 0.001
                b = b * 0.999 + 0.001
                c = c * 0.999 + 0.001
                d = d * 0.999 + 0.001
            x[j] = 0.25 * (a + b) + 0.25 * (c + d)


@entry("float64[::1]", "int64")
def divide(x, rounds):
    """A division for each number and round."""
    for _ in range(rounds):
        for j in range(WIDTH):
            x[j] = 1.5 / x[j]


@entry(
    "float64[::1]",
    "float64[::1]",
    "float64[::1]",
    "int64",
)
def stream(a, b, c, rounds):
    """Two numbers read, one written, for each place and round."""
    for _ in range(rounds):
        for j in range(a.size):
            a[j] = b[j] + 0.5 * c[j]


def _least(work, *args) -> float:
    work(*args)
    times = []
    for _ in range(7):
        start = time.perf_counter()
        work(*args)
        times.append(time.perf_counter() - start)
    return min(times)


def limits() -> Limits:
    """Measured now."""
    x = np.ones(WIDTH)
    count = WIDTH * ROUNDS
    many = [np.ones(FOOTPRINT // 24) for _ in range(3)]
    return Limits(
        operations=40.0 * count / _least(multiply_add, x, ROUNDS) / 1e9,
        divisions=count / _least(divide, x, ROUNDS) / 1e9,
        bytes=24.0 * many[0].size * ROUNDS / _least(stream, *many, ROUNDS) / 1e9,
    )
