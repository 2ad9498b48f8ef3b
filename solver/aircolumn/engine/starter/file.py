"""The starter file as text: every line that is assumed says so."""

import json
import re
from typing import Any

from aircolumn.constants import INCH, INCH_OF_MERCURY
from aircolumn.engine.starter import proportions as p
from aircolumn.engine.starter.proportions import Known, Proportions

#: Orders that fire evenly and are common; others are given by their builders.
ORDERS = {
    3: [1, 2, 3],
    4: [1, 3, 4, 2],
    5: [1, 2, 4, 5, 3],
    6: [1, 5, 3, 6, 2, 4],
    8: [1, 8, 4, 3, 6, 5, 7, 2],
    12: [1, 7, 5, 11, 3, 9, 6, 12, 2, 8, 4, 10],
}


def starter_text(
    known: Known, found: Proportions, title: str, units: str = "metric", manifolds: bool = False
) -> str:
    """An engine file in YAML, written in ``units`` ("metric" or "us"), which results are shown in; its
    candidates are runners or, if asked for, whole ``manifolds``."""
    speeds = _speeds(known.rpm)
    text = "\n".join(
        [
            "# A start: lines marked 'assumed' are proportions of similar engines (Heywood 1988,",
            "# quoted from memory, or common practice). Replace them with what you measure: ports,",
            "# valves and cam first. Plus_minus says how far off a guess may be (`aircolumn bands` uses it);",
            "# what you have measured needs none. `aircolumn check` shows what follows.",
            f"title: {json.dumps(title, ensure_ascii=False)}",
            *(["units: us"] if units == "us" else []),
            *_installation(known),
            "",
            *_bottom_end(known, found),
            "",
            *_intake(known, found),
            "",
            *_exhaust(known, found),
            "",
            "mixture:" + _assumed("rich, for power"),
            f"  relative_air_fuel_ratio: {_guess('0.9', '0.04')}",
            "  fuel: gasoline",
            "  delivery: port",
            "combustion:" + _assumed("common at full load"),
            f"  ca50: {_guess('8 deg', '3 deg')}",
            f"  duration_10_90: {_guess('25 deg', '6 deg')}",
            "",
            *(_manifolds(known, found) if manifolds else _runners(found)),
            "",
            f"speeds: {{from: {speeds[0]} rpm, to: {speeds[1]} rpm, step: {speeds[2]} rpm}}",
            "",
        ]
    )
    return _in_us_units(text) if units == "us" else text


def _intake(known: Known, found: Proportions) -> list[str]:
    return [
        "intake:",
        "  ambient: {pressure: 101.3 kPa, temperature: 25 degC, humidity: 40 %}"
        + _assumed("take your day's"),
        *_plenum(known, found),
        "  runner:",
        f"    length: {_mm(found.runner, 5)}"
        + _assumed(
            f"hump at {100 * p.TUNED_AT:.0f} % of the speed of peak power, Helmholtz (neck and volume)"
        ),
        f"    bore: {{from: {_mm(p.MOUTH * found.port)}, to: {_mm(found.port)}}}"
        + _assumed("as the port, with a little taper"),
        "    entry: {shape: bellmouth, radius: 6 mm}" + _assumed("measure it"),
        _bend(known),
        f"    wall_temperature: {_guess('45 degC', '15 K')}" + _assumed("common practice"),
        "  port:" + _assumed(f"{p.PORT_SPEED:.0f} m/s at peak power; measure it"),
        f"    length: {_guess(_mm(found.port_length), '15 %')}",
        f"    bore: {_mm(found.port)}",
        f"    bend_angle: {_guess('40 deg', '25 deg')}" + _assumed("common practice"),
        f"    wall_temperature: {_guess('90 degC', '20 K')}",
        *_valve("valve", found.intake, found.cam[:2], ("opens_btdc", "closes_abdc"), known),
    ]


def _exhaust(known: Known, found: Proportions) -> list[str]:
    return [
        "exhaust:",
        *_valve("valve", found.exhaust, found.cam[2:], ("opens_bbdc", "closes_atdc"), known),
        "  port:" + _assumed("measure it"),
        f"    length: {_guess(_mm(0.8 * found.port_length), '15 %')}",
        f"    bore: {_mm(p.EXHAUST_PORT * found.port)}",
        f"    wall_temperature: {_guess('250 degC', '80 K')}",
        "  primary:" + _assumed("measure it"),
        f"    length: {_guess(f'{p.PRIMARY:.0f} mm', '20 %')}",
        f"    bore: {_mm(p.EXHAUST_PORT * found.port)}",
        f"    wall_temperature: {_guess('400 degC', '100 K')}",
    ]


def _installation(known: Known) -> list[str]:
    if known.installation is not None:
        return [
            f"installation: {known.installation}  # brings inlet and back pressure: see `aircolumn check`"
        ]
    return [
        "# installation: not said, so `aircolumn bands` tries several. Write open, test-stand or vehicle; it",
        "# brings what stands ahead of the throttle and the back pressure.",
    ]


def _bend(known: Known) -> str:
    """By how much the runner turns."""
    if known.bend is not None:
        return f"    bend_angle: {known.bend:g} deg"
    return f"    bend_angle: {_guess('60 deg', '50 deg')}" + _assumed(
        "manifolds turn; 0 deg if yours is straight"
    )


def _runners(found: Proportions) -> list[str]:
    return [
        "runners:  # candidates to compare: put yours here",
        f"  short: {{length: {_mm(0.75 * found.runner, 5)}}}",
        "  middle: {}",
        f"  long: {{length: {_mm(1.35 * found.runner, 5)}}}",
    ]


def _manifolds(known: Known, found: Proportions) -> list[str]:
    """Two whole manifolds: one for low engine speeds, one for high ones."""
    rows = ["candidates:  # whole manifolds: what is named replaces what stands above; put yours here"]
    for name, length, volume in (("low-end", 1.35, 0.8), ("top-end", 0.75, 1.5)):
        rows += [f"  {name}:", f"    intake.runner.length: {_mm(length * found.runner, 5)}"]
        if known.cylinders > 1:
            rows.append(f"    intake.plenum.volume: {1e3 * volume * found.plenum:.2g} L")
    if known.cylinders > 1:
        throttle = 1.1 * found.throttle
        rows.append(f"    intake.throttle: {{bore: {_mm(throttle)}, shaft: {_mm(0.12 * throttle)}}}")
    return rows


#: unit of the metric file: unit of the other, factor, what is added
US = {
    "mm": ("in", 1.0 / 25.4, 0.0),
    "L": ("in3", 1.0 / (1e3 * INCH**3), 0.0),
    "degC": ("degF", 1.8, 32.0),
    "K": ("degF", 1.8, 0.0),
    "kPa": ("inHg", 1e3 / INCH_OF_MERCURY, 0.0),
}


def _in_us_units(text: str) -> str:
    """The file's text with its quantities in inches, degrees Fahrenheit and so on."""

    def converted(found: re.Match) -> str:
        name, factor, added = US[found[2]]
        return f"{float(found[1]) * factor + added:.4g} {name}"

    lines = (line.partition("  #") for line in text.split("\n"))
    pattern = re.compile(rf"(?<![\w.])(\d+\.?\d*) ({'|'.join(US)})(?!\w)")
    return "\n".join(pattern.sub(converted, a) + b + c for a, b, c in lines)


def _bottom_end(known: Any, found: Any) -> Any:
    given = "" if known.bore else _assumed("from the displacement")
    stroke = ""
    if known.bore is None and known.stroke is None:
        speed = found.stroke * known.rpm / 30.0
        stroke = _assumed(f"from the displacement; piston speed {speed:.0f} m/s at peak power")
    ratio = f"{found.ratio:g}"
    if not known.ratio:
        ratio = _guess(ratio, "0.7") + _assumed("Heywood, section 2.2: 8 to 12")
    order = ORDERS.get(known.cylinders)
    rows = [
        "engine:",
        f"  cylinders: {known.cylinders}",
        f"  bore: {_mm(found.bore, 0.1)}{given}",
        f"  stroke: {_mm(found.stroke, 0.1)}{stroke}",
        f"  rod: {_mm(found.rod, 0.01 if known.rod else 1.0)}"
        + ("" if known.rod else _assumed("rod over crank radius 3.5 (Heywood, section 2.2)")),
        f"  compression_ratio: {ratio}",
    ]
    if order:
        rows.append(f"  firing_order: {order}" + _assumed("common; even firing"))
    return rows


def _plenum(known: Any, found: Any) -> Any:
    if known.cylinders == 1:
        return ["  # no throttle and no plenum: the runner draws from open air, wide open"]
    return [
        f"  throttle: {{bore: {_mm(found.throttle)}, shaft: {_mm(0.12 * found.throttle)}}}"
        + _assumed(f"{p.THROTTLE_SPEED:.0f} m/s at peak power"),
        f"  plenum: {{volume: {_guess(f'{1e3 * found.plenum:.2g} L', '40 %')}}}"
        + _assumed(f"{p.PLENUM:g} times the displacement"),
        "  # inlet: list what stands ahead of the throttle (pipe, airbox, filter), or write `inlet: null`",
        "  # if it draws from the open"
        + (", in place of the installation's." if known.installation else "."),
    ]


def _events_at(known: Known) -> str:
    """The lift at which the cam card states its events, and on which side of the rocker."""
    lift = _mm(known.cam_at, 0.001)
    if known.rocker_ratio is None:
        return f"events_at: {lift}"
    return f"events_at_cam: {lift}, rocker_ratio: {known.rocker_ratio:g}"


def _valve(name: str, kind: Any, events: Any, keys: Any, known: Any) -> Any:
    count, head = kind
    cam = "" if known.cam else _assumed("at 1 mm of lift; take your cam card's")
    angles = [f"{a:g} deg" if known.cam else _guess(f"{a:g} deg", "6 deg") for a in events]
    return [
        f"  {name}:",
        f"    count: {count}",
        f"    diameter: {_guess(_mm(head, 0.5), '4 %')}" + _assumed("head over bore (Heywood, table 6.1)"),
        f"    stem: {_mm(max(p.STEM * head, 0.0035), 0.5)}" + _assumed("common practice"),
        f"    seat_width: {_mm(max(p.SEAT * head, 0.0008), 0.1)}" + _assumed("common practice"),
        *(f"    {key}: {angle}{cam}" for key, angle in zip(keys, angles, strict=True)),
        f"    lift: {{maximum: {_guess(_mm(p.LIFT * head, 0.1), '8 %')}, {_events_at(known)}}}"
        + _assumed("a quarter of the head (Heywood, section 6.3)"),
        "    discharge:" + _assumed("typical; flow-bench readings are better"),
        "      reference: curtain",
        "      lift_ratio: [0.05, 0.10, 0.15, 0.20, 0.25, 0.30]",
        "      forward:    [0.70, 0.68, 0.64, 0.59, 0.54, 0.48]",
    ]


def _speeds(rpm: Any) -> tuple[int, int, int]:
    """About twelve round speeds from a quarter of the speed of peak power to a tenth beyond it."""
    step = next(s for s in (50, 100, 250, 500, 1000, 2000) if s >= rpm / 14.0)
    first = max(step, round(0.3 * rpm / step) * step)
    return first, -(-int(1.1 * rpm) // step) * step, step


def _assumed(why: str) -> str:
    return f"  # assumed: {why}"


def _guess(value: str, plus_minus: str) -> str:
    """A value with how far off it may be."""
    return f"{{value: {value}, plus_minus: {plus_minus}}}"


def _mm(metres: float, step: float = 1.0) -> str:
    return f"{round(1e3 * metres / step) * step:.6g} mm"
