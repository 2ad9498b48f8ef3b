"""Flow area of a poppet valve: geometry times discharge coefficient.

Minimum geometric area in three stages of lift (Heywood 1988, eqs. 6.7 to 6.9), head diameter Dv,
seat width w, seat angle b, stem Ds, throat Dp = Dv - 2 w, mean seat Dm = Dv - w:

1. L <= w / (sin b cos b):  A = pi L cos b (Dv - 2 w + L sin(2 b) / 2)
2. up to L = sqrt(((Dp^2 - Ds^2) / (4 Dm))^2 - w^2) + w tan b:
   A = pi Dm sqrt((L - w tan b)^2 + w^2)
3. beyond: A = pi (Dp^2 - Ds^2) / 4
"""

import numpy as np


def geometric_area(
    lift: np.ndarray, head: float, seat_width: float, seat_angle: float, stem: float
) -> np.ndarray:
    """Minimum flow area, m2, of one valve at ``lift`` (m, array); lengths m, angle degrees."""
    lift = np.asarray(lift, dtype=float)
    b = np.radians(seat_angle)
    w, throat, mean = seat_width, head - 2.0 * seat_width, head - seat_width
    first = w / (np.sin(b) * np.cos(b))
    low = np.pi * lift * np.cos(b) * (throat + 0.5 * lift * np.sin(2.0 * b))
    middle = np.pi * mean * np.sqrt((lift - w * np.tan(b)) ** 2 + w * w)
    port = 0.25 * np.pi * (throat**2 - stem**2)
    return np.minimum(np.where(lift <= first, low, middle), port)


def reference_area(
    kind: str, lift: np.ndarray, head: float, seat_width: float, seat_angle: float, stem: float
) -> np.ndarray:
    """Area a discharge coefficient refers to, m2: curtain pi Dv L, geometric, or seat pi Dv^2/4."""
    lift = np.asarray(lift, dtype=float)
    if kind == "curtain":
        return np.pi * head * lift
    if kind == "geometric":
        return geometric_area(lift, head, seat_width, seat_angle, stem)
    if kind == "seat":
        return np.full_like(lift, 0.25 * np.pi * head**2)
    raise ValueError(f"unknown reference area {kind!r}")


def effective_area(
    lift: np.ndarray,
    ratio: np.ndarray,
    coefficient: np.ndarray,
    kind: str,
    head: float,
    seat_width: float,
    seat_angle: float,
    stem: float,
) -> np.ndarray:
    """Cd times reference area, m2, of one valve; ``ratio``: lift / head of the Cd table.

    Beyond the table's ends the nearest coefficient holds.
    """
    lift = np.asarray(lift, dtype=float)
    cd = np.interp(lift / head, ratio, coefficient)
    area = cd * reference_area(kind, lift, head, seat_width, seat_angle, stem)
    return np.where(lift > 0.0, area, 0.0)
