"""Text with a unit ("420 mm") to SI numbers, at the edge of the program.

Which units a kind of quantity may have is a stated list: a revolution is no radian, a share no
angle, and no text can ask for a computation. Factors are those of constants.py; tests
hold them against pint, a library of units.
"""

import math
import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from typing import Any

from pydantic_core import core_schema

from aircolumn.constants import (
    ATMOSPHERE,
    BAR,
    BTU,
    CALORIE,
    DEGREE,
    FAHRENHEIT,
    FOOT,
    GRAVITY,
    HORSEPOWER,
    HOUR,
    INCH,
    INCH_OF_MERCURY,
    INCH_OF_WATER,
    METRIC_HORSEPOWER,
    MILLIMETRE_OF_MERCURY,
    MINUTE,
    OUNCE,
    POUND,
    POUND_FORCE,
    PSI,
    ZERO_CELSIUS,
)

_TIMES = {"s": 1.0, "sec": 1.0, "min": MINUTE, "h": HOUR, "hr": HOUR}
_LENGTHS = {
    "m": 1.0,
    "dm": 0.1,
    "cm": 1e-2,
    "mm": 1e-3,
    "um": 1e-6,
    "in": INCH,
    "inch": INCH,
    "inches": INCH,
    "ft": FOOT,
    "feet": FOOT,
    "thou": 1e-3 * INCH,
}
_MASSES = {"kg": 1.0, "g": 1e-3, "mg": 1e-6, "lb": POUND, "lbs": POUND, "oz": OUNCE}
_VOLUMES = {
    **{f"{name}3": f**3 for name, f in _LENGTHS.items()},
    "L": 1e-3,
    "l": 1e-3,
    "litre": 1e-3,
    "liter": 1e-3,
    "mL": 1e-6,
    "ml": 1e-6,
    "cc": 1e-6,
    "ccm": 1e-6,
    **dict.fromkeys(("cu in", "cid", "ci"), INCH**3),
}
_PRESSURES = {
    "Pa": 1.0,
    "hPa": 100.0,
    "kPa": 1e3,
    "MPa": 1e6,
    "mbar": 100.0,
    "bar": BAR,
    "psi": PSI,
    "atm": ATMOSPHERE,
    "mmHg": MILLIMETRE_OF_MERCURY,
    "torr": MILLIMETRE_OF_MERCURY,
    "mmH2O": GRAVITY,
    **dict.fromkeys(("inHg", "in Hg"), INCH_OF_MERCURY),
    **dict.fromkeys(("inH2O", "in H2O"), INCH_OF_WATER),
    "cmH2O": 10.0 * GRAVITY,
}
_POWERS = {"W": 1.0, "kW": 1e3, "MW": 1e6, "hp": HORSEPOWER, "PS": METRIC_HORSEPOWER}
_KELVINS = {"K": 1.0, "degC": 1.0, "degF": FAHRENHEIT}


def _per(what: dict, times: dict) -> dict:
    return {f"{a}/{b}": x / y for a, x in what.items() for b, y in times.items()}


#: kind: {unit: factor to SI, or (factor, what is added)}; "^", "**" and "*" are read as in m^2, N*m
UNITS = {
    "length": _LENGTHS,
    "area": {f"{name}2": f**2 for name, f in _LENGTHS.items()} | {"sq in": INCH**2},
    "volume": _VOLUMES,
    "volume flow": _per(_VOLUMES, _TIMES) | {"cfm": FOOT**3 / MINUTE},
    "pressure": _PRESSURES,
    "temperature": {
        "K": 1.0,
        "degC": (1.0, ZERO_CELSIUS),
        "degF": (FAHRENHEIT, ZERO_CELSIUS - 32.0 * FAHRENHEIT),
    },
    "temperature difference": _KELVINS,
    "angle": {"deg": 1.0, "degree": 1.0, "degrees": 1.0, "rad": 1.0 / DEGREE},
    "speed of rotation": {
        **dict.fromkeys(("rpm", "rev/min", "r/min", "1/min"), 1.0),
        **dict.fromkeys(("Hz", "rev/s", "1/s"), 60.0),
        "rad/s": 30.0 / math.pi,
    },
    "heat-transfer coefficient": {"W/m2/K": 1.0, "W/(m2 K)": 1.0, "W/m2K": 1.0, "kW/m2/K": 1e3},
    "share": {"%": 0.01, "percent": 0.01},
    "torque": {
        "N m": 1.0,
        "Nm": 1.0,
        "kN m": 1e3,
        "daN m": 10.0,
        "kgf m": GRAVITY,
        "kg m": GRAVITY,
        "lbf ft": POUND_FORCE * FOOT,
        "ft lbf": POUND_FORCE * FOOT,
        "lbf in": POUND_FORCE * INCH,
        "in lbf": POUND_FORCE * INCH,
    },
    "power": _POWERS,
    "mass": _MASSES,
    "density": {
        "kg/m3": 1.0,
        "g/cm3": 1e3,
        "kg/L": 1e3,
        "lb/in3": POUND / INCH**3,
        "lb/ft3": POUND / FOOT**3,
    },
    "velocity": {"m/s": 1.0, "ft/s": FOOT, "km/h": 1e3 / HOUR},
    "mass flow": _per(_MASSES, _TIMES),
    "time": {**_TIMES, "ms": 1e-3},
    "voltage": {"V": 1.0, "mV": 1e-3},
    "specific energy": {
        "J/kg": 1.0,
        "kJ/kg": 1e3,
        "MJ/kg": 1e6,
        "J/g": 1e3,
        "kJ/g": 1e6,
        "Btu/lb": BTU / POUND,
        "kcal/kg": 1e3 * CALORIE,
    },
    "pressure per speed": {f"{p} s/m": f for p, f in _PRESSURES.items()},
    "pressure per speed squared": {f"{p} s2/m2": f for p, f in _PRESSURES.items()},
}
#: kind: units proposed in messages
PROPOSED = {
    "length": "mm, cm, m, in",
    "area": "mm2, cm2, in2",
    "volume": "cc, L, in3",
    "volume flow": "L/s, m3/h, cfm",
    "pressure": "kPa, bar, psi, inHg, inH2O",
    "temperature": "degC, K, degF",
    "temperature difference": "K, degC, degF",
    "angle": "deg",
    "speed of rotation": "rpm",
    "heat-transfer coefficient": "W/m2/K",
    "share": "%",
    "torque": "N m, lbf ft",
    "power": "kW, hp, PS",
    "mass": "kg, g, lb",
    "density": "kg/m3, g/cm3",
    "velocity": "m/s, ft/s",
    "mass flow": "kg/h, g/s, lb/h",
    "time": "s, ms, min",
    "voltage": "V",
    "specific energy": "MJ/kg, kJ/kg",
    "pressure per speed": "bar*s/m",
    "pressure per speed squared": "bar*s^2/m^2",
}
#: (kind, what people type in small letters): how it is written
SPELLINGS = {
    ("temperature", "c"): "degC",
    ("temperature", "celsius"): "degC",
    ("temperature", "f"): "degF",
    ("temperature", "fahrenheit"): "degF",
    ("power", "bhp"): "hp",
    ("power", "whp"): "hp",
    ("pressure", "kpa"): "kPa",
    ("pressure", "mpa"): "MPa",
    ("pressure", "inhg"): "inHg",
    ("pressure", "inh2o"): "inH2O",
    ("torque", "nm"): "N m",
    ("torque", "lb-ft"): "lbf ft",
    ("torque", "lb ft"): "lbf ft",
    ("torque", "ft-lb"): "lbf ft",
    ("length", '"'): "in",
}
_NUMBER = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?")
LONGEST = 60  # characters of a quantity, and of what a message repeats of one


def to_si(text: float | str, kind: str) -> float:
    """SI value of ``text``; ValueError says what is wrong and what is allowed."""
    proposed = PROPOSED[kind]
    example = proposed.split(",")[0]
    if isinstance(text, bool) or not isinstance(text, (str, int, float)):
        raise ValueError(f"a {kind} is expected here, written with its unit ({proposed})")
    if isinstance(text, (int, float)):
        written = str(text)[:LONGEST]
        raise ValueError(
            f"{written} has no unit; write it as text with one, for example '{written} {example}'"
            f" ({proposed})"
        )
    try:
        number, name = split_quantity(text)
    except ValueError:
        raise ValueError(f"'{text[:LONGEST]}' is not a number with a unit ({proposed})") from None
    if not math.isfinite(number):
        raise ValueError(f"'{text[:LONGEST]}' is not a finite number")
    if not name:
        raise ValueError(f"'{text}' has no unit; write for example '{text} {example}'")
    if re.match(r",\d", name):
        raise ValueError(f"'{text[:LONGEST]}': write decimals with a point, not a comma")
    return _convert(number, name, kind)


def split_quantity(text: str) -> tuple[float, str]:
    """Number and unit of "420 mm". ValueError if it does not begin with a number, or is longer than
    any quantity."""
    short = text.strip()
    found = _NUMBER.match(short) if len(short) <= LONGEST else None
    if not found:
        raise ValueError(f"'{text[:LONGEST]}' is not a number with a unit")
    return float(found[0]), short[found.end() :].strip()


def _plain(name: str) -> str:
    """A unit as UNITS has it: "mm^2" and "mm**2" as mm2, "N*m" as N m."""
    name = re.sub(r"(?:\*\*|\^)(?=[23])", "", name).replace("*", " ").replace("·", " ")
    return re.sub(r" ?/ ?", "/", " ".join(name.split()))


def unit_factor(name: str, kind: str) -> tuple[float, float] | None:
    """(factor to SI, what is added) of a unit of this kind; None if it is not one."""
    known = UNITS[kind].get(_plain(name))
    return known if known is None or isinstance(known, tuple) else (known, 0.0)


def kind_with(*names: str) -> str | None:
    """A kind of quantity that may have all of these units; None if there is none."""
    return next((k for k in UNITS if all(unit_factor(n, k) for n in names)), None)


def _convert(number: float, name: str, kind: str) -> float:
    known = unit_factor(name, kind)
    if known is None:
        raise ValueError(_respelt(number, name, kind) or _not_one(number, name, kind))
    value = known[0] * number + known[1]
    if not math.isfinite(value):
        raise ValueError(f"'{number:g} {name}' is not a finite number")
    return value


def _not_one(number: float, name: str, kind: str) -> str:
    proposed = PROPOSED[kind]
    if any(unit_factor(name, other) for other in UNITS):
        return f"'{number:g} {name}': '{name}' is not a unit of {kind}; allowed units are {proposed}"
    return f"'{name[:40]}' is not a known unit; use one of {proposed}"


def _respelt(number: float, name: str, kind: str) -> str:
    """What to write in place of a unit that people type; "" if that is not known."""
    spelt = SPELLINGS.get((kind, name.lower().lstrip("°").strip()))
    return f"'{number:g} {name}': write '{number:g} {spelt}'" if spelt else ""


def _bounds_text(kind: str, low: str, high: str, low_allowed: bool) -> str:
    parts = []
    if low is not None:
        parts.append(f"{'at least' if low_allowed else 'greater than'} {low}")
    if high is not None:
        parts.append(f"at most {high}")
    return " and ".join(parts)


def quantity(kind: str, *, above: Any = None, at_least: Any = None, at_most: Any = None) -> "Checked":
    """For ``Annotated[float, quantity(...)]`` in a model: text with a unit, bounds given as such
    text; the value is SI."""
    low = above if above is not None else at_least

    @cache
    def limits() -> Any:
        return tuple(None if v is None else to_si(v, kind) for v in (low, at_most))

    def check(text: str) -> Any:
        value = to_si(text, kind)
        lower, upper = limits()
        too_low = lower is not None and (value <= lower if above is not None else value < lower)
        if too_low or (upper is not None and value > upper):
            rule = _bounds_text(kind, low, at_most, above is None)
            raise ValueError(f"'{text}' is out of range: must be {rule}")
        return value

    rule = _bounds_text(kind, low, at_most, above is None)
    note = f"{kind} with its unit ({PROPOSED[kind]}){'; ' if rule else ''}{rule}"
    return Checked(check, {"type": "string", "description": note}, kind, limits)


def in_trade_units(value: float, kind: str, form: str = ".6g") -> str:
    """An SI value as the engine file would write it, in the first unit proposed."""
    name = PROPOSED[kind].split(",")[0]
    factor, added = unit_factor(name, kind) or (1.0, 0.0)
    return f"{(value - added) / factor:{form}} {name}"


@dataclass(frozen=True, eq=False)
class Checked:
    """What stands behind a field's type: check(value as written) -> value, its JSON schema, the kind of
    quantity ("": a pure number), and limits() -> its least and greatest value, None where there is none."""

    check: Callable
    schema: dict
    kind: str = ""
    limits: Callable = lambda: (None, None)

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> Any:
        return core_schema.no_info_before_validator_function(self.check, handler(source))

    def __get_pydantic_json_schema__(self, schema: Any, handler: Any) -> Any:
        return dict(self.schema)
