"""An engine's proportions from a few known figures; what is assumed names its source.

All quoted from memory: Heywood, Internal Combustion Engine Fundamentals, 1988. "Common practice"
has no source. Sizes so found are a start for measuring, not for making.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import pi, sqrt
from typing import Any

from aircolumn.engine.rules_of_thumb import neck_and_volume_speed

PISTON_SPEED = 17.0  # m/s at peak power; common practice for road engines, 15 to 20
BORE_OVER_STROKE = (0.8, 1.4)  # Heywood, section 2.2: 0.8 to 1.2; above that, common for fast ones
ROD = 1.75  # over stroke: rod over crank radius 3.5; Heywood, section 2.2: 3 to 4
RATIO = 10.0  # Heywood, section 2.2: 8 to 12
#: valves a cylinder: (number, head over bore) of intake and exhaust; Heywood, table 6.1
VALVES = {2: ((1, 0.45), (1, 0.37)), 4: ((2, 0.36), (2, 0.30))}
LIFT = 0.26  # over head; Heywood, section 6.3: about a quarter
STEM, SEAT = 0.17, 0.04  # over head; common practice
PORT_SPEED = 72.0  # m/s, piston area times mean piston speed over port area; common practice
EXHAUST_PORT, MOUTH = 0.92, 1.08  # bores over that of the intake port; common practice
THROTTLE_SPEED = 38.0  # m/s, mean over the cycle, whole engine; common practice
PLENUM = 1.5  # over displacement; common practice, 1 to 2
TUNED_K = 2.2  # of the neck-and-volume rule (engine/rules_of_thumb.py)
TUNED_AT = 0.85  # of the speed of peak power: where the hump is wanted; common practice
SOUND = 345.0  # m/s
PRIMARY = 700.0  # mm; common practice for separate pipes


@dataclass(frozen=True)
class Known:
    """What the user knows: cylinders, valves in each, speed of peak power rev/min; bore, stroke m
    or displacement m3 of the engine; perhaps the rod m, the compression ratio and the cam card: IVO BTDC, IVC
    ABDC, EVO BBDC, EVC ATDC, degrees, at the lift ``cam_at`` m, of the lobe if there is a rocker_ratio; where
    the engine runs; by how many degrees a runner turns."""

    cylinders: int
    valves: int
    rpm: float
    bore: float | None = None
    stroke: float | None = None
    displacement: float | None = None
    ratio: float | None = None
    cam: Sequence[float] | None = None
    rod: float | None = None
    cam_at: float = 1e-3
    rocker_ratio: float | None = None
    installation: str | None = None
    bend: float | None = None


@dataclass(frozen=True)
class Proportions:
    """Sizes in m, m3 and degrees."""

    bore: float
    stroke: float
    rod: float
    ratio: float
    intake: tuple[int, float]
    exhaust: tuple[int, float]
    cam: Sequence[float]
    port: float
    port_length: float
    runner: float
    throttle: float
    plenum: float


def proportions(known: Known) -> Proportions:
    """What follows, and what is assumed. Raises ValueError if bore, stroke and displacement do not
    say one size."""
    bore, stroke = _bore_and_stroke(known)
    swept = 0.25 * pi * bore**2 * stroke
    ratio = known.ratio or RATIO
    speed = 2.0 * stroke * known.rpm / 60.0
    (inlets, head), (outlets, exhaust_head) = VALVES[known.valves]
    port = sqrt(bore**2 * speed / PORT_SPEED)
    port = min(port, 0.95 * sqrt(inlets) * head * bore)  # no wider than its valves
    port_length = min(max(1.0 * bore, 0.03), 0.12)
    flow = swept * known.cylinders * known.rpm / 120.0
    return Proportions(
        bore=bore,
        stroke=stroke,
        rod=known.rod or ROD * stroke,
        ratio=ratio,
        intake=(inlets, head * bore),
        exhaust=(outlets, exhaust_head * bore),
        cam=known.cam or cam_for(known.rpm),
        port=port,
        port_length=port_length,
        runner=_runner(known.rpm, swept, ratio, port, port_length),
        throttle=sqrt(4.0 * flow / (pi * THROTTLE_SPEED)),
        plenum=PLENUM * swept * known.cylinders,
    )


def _bore_and_stroke(k: Known) -> tuple[float, float]:
    given = [k.bore is not None, k.stroke is not None, k.displacement is not None]
    if sum(given) not in (1, 2) or (sum(given) == 1 and k.displacement is None):
        raise ValueError("give bore and stroke, or the displacement and at most one of them")
    if k.bore is not None and k.stroke is not None:
        return k.bore, k.stroke
    each = (k.displacement or 0.0) / k.cylinders
    if k.bore is not None:
        return k.bore, 4.0 * each / (pi * k.bore**2)
    low, high = BORE_OVER_STROKE
    stroke = k.stroke
    if stroke is None:
        stroke = 30.0 * PISTON_SPEED / k.rpm
        shortest, longest = ((4.0 * each / (pi * q**2)) ** (1.0 / 3.0) for q in (high, low))
        stroke = min(max(stroke, shortest), longest)
    return sqrt(4.0 * each / (pi * stroke)), stroke


def cam_for(rpm: float) -> tuple[float, float, float, float]:
    """Events at 1 mm of lift, degrees: straight lines through what is common at 4000 and 8000 rpm
    (no source), kept within what such engines have."""
    share = min(max((rpm - 4000.0) / 4000.0, -0.2), 1.2)
    mild, fast = (0.0, 36.0, 40.0, 2.0), (16.0, 58.0, 56.0, 14.0)
    events = (m + share * (f - m) for m, f in zip(mild, fast, strict=True))
    opens, closes, lets_out, shuts = (float(round(v)) for v in events)
    return opens, closes, lets_out, shuts


def _runner(rpm: Any, swept: Any, ratio: Any, port: Any, port_length: Any) -> float:
    """Runner length that puts the neck-and-volume rule's speed where the hump is wanted, m."""
    area = 0.25 * pi * port**2 * MOUTH  # mean of the taper
    one = neck_and_volume_speed(area, 1.0, swept, ratio, SOUND, TUNED_K)
    length = (one / (TUNED_AT * rpm)) ** 2
    return min(max(length - port_length, 0.06), 0.9)
