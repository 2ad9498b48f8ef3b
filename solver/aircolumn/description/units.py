"""Text with a unit ("420 mm") to SI numbers, at the edge of the program.

pint does the conversion; here are the kinds of quantity the engine file knows, with the units a
message proposes, and the angles of the trade (BTDC, ABDC, ...).
"""

import math
import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

from pydantic_core import core_schema

#: kind: (SI unit, units proposed in messages)
KINDS = {
    "length": ("m", "mm, cm, m, in"),
    "area": ("m^2", "mm2, cm2, in^2"),
    "volume": ("m^3", "cc, L, in^3"),
    "volume flow": ("m^3/s", "L/s, m^3/h, cfm"),
    "pressure": ("Pa", "kPa, bar, psi, inHg, inH2O"),
    "temperature": ("K", "degC, K, degF"),
    "temperature difference": ("delta_degC", "K, degC, degF"),
    "angle": ("deg", "deg"),
    "speed of rotation": ("rpm", "rpm"),
    "heat-transfer coefficient": ("W/(m^2*K)", "W/m2/K"),
    "share": ("dimensionless", "%"),
    "torque": ("N*m", "N m, lbf ft"),
    "power": ("W", "kW, hp, PS"),
    "mass flow": ("kg/s", "kg/h, g/s, lb/h"),
    "time": ("s", "s, ms, min"),
    "specific energy": ("J/kg", "MJ/kg, kJ/kg"),
    "pressure per speed": ("Pa*s/m", "bar*s/m"),
    "pressure per speed squared": ("Pa*s^2/m^2", "bar*s^2/m^2"),
}
#: (kind, what people type in small letters): how it is written
SPELLINGS = {
    ("temperature", "c"): "degC", ("temperature", "celsius"): "degC", ("temperature", "f"): "degF",
    ("temperature", "fahrenheit"): "degF", ("power", "bhp"): "hp", ("power", "whp"): "hp",
    ("pressure", "kpa"): "kPa", ("pressure", "mpa"): "MPa", ("pressure", "inhg"): "inHg",
    ("pressure", "inh2o"): "inH2O", ("torque", "nm"): "N m", ("torque", "lb-ft"): "lbf ft",
    ("torque", "lb ft"): "lbf ft", ("torque", "ft-lb"): "lbf ft", ("length", '"'): "in",
}  # fmt: skip
_NUMBER = re.compile(r"\s*([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)\s*(.*?)\s*$")


@cache
def registry():
    """The unit registry (loaded on first use: it takes a while)."""
    import pint

    try:
        units = pint.UnitRegistry(cache_folder=":auto:")
    except OSError:  # its cache cannot be written
        units = pint.UnitRegistry()
    for length in ("mm", "cm", "m"):  # as written in tables
        units.define(f"{length}2 = {length}**2")
    units.define("cfm = foot**3 / minute")
    units.define("PS = 735.49875 * watt")  # metric horsepower, 75 kgf m/s
    for name in ("inH2O", "inHg"):
        if name not in units:
            definition = {"inH2O": "249.08891 * pascal", "inHg": "3386.389 * pascal"}[name]
            units.define(f"{name} = {definition}")
    return units


def to_si(text, kind: str) -> float:
    """SI value of ``text``; ValueError says what is wrong and what is allowed."""
    unit, proposed = KINDS[kind]
    example = proposed.split(",")[0]
    if isinstance(text, bool) or not isinstance(text, (str, int, float)):
        raise ValueError(f"a {kind} is expected here, written with its unit ({proposed})")
    if isinstance(text, (int, float)):
        raise ValueError(
            f"{text:g} has no unit; write it as text with one, for example '{text:g} {example}'"
            f" ({proposed})"
        )
    try:
        number, name = split_quantity(text)
    except ValueError:
        raise ValueError(f"'{text[:60]}' is not a number with a unit ({proposed})") from None
    if not math.isfinite(number):
        raise ValueError(f"'{text[:60]}' is not a finite number")
    if not name:
        raise ValueError(f"'{text}' has no unit; write for example '{text} {example}'")
    if re.match(r",\d", name):
        raise ValueError(f"'{text[:60]}': write decimals with a point, not a comma")
    return _convert(number, name, unit, kind, proposed)


def split_quantity(text: str) -> tuple[float, str]:
    """Number and unit of "420 mm". ValueError if it does not begin with a number."""
    found = _NUMBER.match(text)
    if not found:
        raise ValueError(f"'{text[:60]}' is not a number with a unit")
    return float(found[1]), found[2]


def _convert(number, name, unit, kind, proposed) -> float:
    units = registry()
    import pint

    try:
        if kind == "temperature difference" and name in ("degC", "degF"):
            name = f"delta_{name}"
        quantity = units.Quantity(number, "percent" if name == "%" else name)
        return float(quantity.to(unit).magnitude)
    except pint.DimensionalityError:
        raise ValueError(
            _respelt(number, name, kind)
            or f"'{number:g} {name}': '{name}' is not a unit of {kind}; allowed units are"
            f" {proposed}"
        ) from None
    except Exception:  # pint raises many kinds of error on text that is no unit
        raise ValueError(
            _respelt(number, name, kind)
            or f"'{name[:40]}' is not a known unit; use one of {proposed}"
        ) from None


def _respelt(number, name, kind) -> str:
    """What to write in place of a unit that people type; "" if that is not known."""
    spelt = SPELLINGS.get((kind, name.lower().lstrip("°").strip()))
    return f"'{number:g} {name}': write '{number:g} {spelt}'" if spelt else ""


def _bounds_text(kind, low, high, low_allowed) -> str:
    parts = []
    if low is not None:
        parts.append(f"{'at least' if low_allowed else 'greater than'} {low}")
    if high is not None:
        parts.append(f"at most {high}")
    return " and ".join(parts)


def quantity(kind, *, above=None, at_least=None, at_most=None) -> "Checked":
    """For ``Annotated[float, quantity(...)]`` in a model: text with a unit, bounds given as such
    text; the value is SI."""
    low = above if above is not None else at_least

    @cache
    def limits():
        return tuple(None if v is None else to_si(v, kind) for v in (low, at_most))

    def check(text):
        value = to_si(text, kind)
        lower, upper = limits()
        too_low = lower is not None and (value <= lower if above is not None else value < lower)
        if too_low or (upper is not None and value > upper):
            rule = _bounds_text(kind, low, at_most, above is None)
            raise ValueError(f"'{text}' is out of range: must be {rule}")
        return value

    rule = _bounds_text(kind, low, at_most, above is None)
    note = f"{kind} with its unit ({KINDS[kind][1]}){'; ' if rule else ''}{rule}"
    return Checked(check, {"type": "string", "description": note}, kind)


def in_trade_units(value: float, kind: str) -> str:
    """An SI value as the engine file would write it, in the first unit proposed."""
    unit, proposed = KINDS[kind]
    name = proposed.split(",")[0]
    shown = registry().Quantity(value, unit).to("percent" if name == "%" else name).magnitude
    return f"{float(shown):.6g} {name}"


@dataclass(frozen=True, eq=False)
class Checked:
    """What stands behind a field's type: check(value as written) -> value, its JSON schema, and the
    kind of quantity ("": a pure number)."""

    check: Callable
    schema: dict
    kind: str = ""

    def __get_pydantic_core_schema__(self, source, handler):
        return core_schema.no_info_before_validator_function(self.check, handler(source))

    def __get_pydantic_json_schema__(self, schema, handler):
        return dict(self.schema)
