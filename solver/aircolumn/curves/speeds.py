"""Engine speeds to compute."""

from itertools import pairwise
from typing import Any

import numpy as np

from aircolumn.engine.description.engine_file import Engine
from aircolumn.engine.description.given import check_speeds

EVEN, MOST_EVEN = 100.0, 100  # rev/min between the ordinary speeds of a curve; how many, about


def speeds_of(engine: Engine) -> np.ndarray:
    """The speeds the file asks for, rev/min, the last one included."""
    s = engine.speeds
    count = int(np.floor((s.stop - s.start) / s.step + 1e-9)) + 1
    speeds = s.start + s.step * np.arange(count)
    return speeds if s.stop - speeds[-1] < 1e-6 else np.append(speeds, s.stop)


def even_speeds(engine: Engine) -> np.ndarray:
    """The file's speeds, rev/min, and even ones between them, EVEN apart or less; further apart
    where the range is so wide that there would be more than MOST_EVEN."""
    asked = speeds_of(engine)
    with_blank_line = max(EVEN, (asked[-1] - asked[0]) / MOST_EVEN)
    between = [
        np.linspace(a, b, max(int(np.ceil((b - a) / with_blank_line - 1e-9)), 1), endpoint=False)
        for a, b in pairwise(asked)
    ]
    return np.concatenate([*between, asked[-1:]])


def chosen_speeds(engine: Engine, rpm: Any = None) -> np.ndarray:
    """``rpm`` checked, or, left out, the speeds the file asks for."""
    return speeds_of(engine) if rpm is None else check_speeds(rpm)
