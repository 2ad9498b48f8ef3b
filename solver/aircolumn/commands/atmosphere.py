"""``atmosphere``: a torque or power by every atmosphere standard."""

from dataclasses import dataclass
from functools import partial

from aircolumn.commands import options
from aircolumn.commands.options import option, positional
from aircolumn.commands.results import Answer
from aircolumn.engine.description.units import split_quantity, to_si
from aircolumn.errors import RequestError
from aircolumn.measured.atmosphere import STATEMENTS, Atmosphere, same_vapour
from aircolumn.output.atmosphere import ByStandard, atmosphere_table, corrected

KINDS = {"pressure": "pressure", "temperature": "temperature", "humidity": "share"}
#: least and greatest (SI), and the same in words
LIMITS = {
    "pressure": (50e3, 120e3, "50 to 120 kPa"),
    "temperature": (223.15, 333.15, "-50 to 60 degC"),
    "humidity": (0.0, 1.0, "0 to 100 %"),
}


@dataclass(frozen=True)
class Request(options.Arguments):
    """What ``atmosphere`` is asked: as it was typed."""

    value: str = positional(metavar="VALUE", help="with its unit: '250 N m', '180 hp'")
    stated: str = option(
        default="observed",
        metavar="NAME",
        help=f"what VALUE is stated at: observed (default), {options.NAMES_OF_STANDARDS}",
    )
    pressure: str = option(required=True, metavar="P", help="barometer: '97.5 kPa'")
    temperature: str = option(required=True, metavar="T", help="of the inlet air: '30 degC'")
    humidity: str = option(default="0 %", metavar="H", help="relative: '40 %%' (default: dry air)")
    humidity_temperature: str | None = option(
        metavar="T", help="of the air in which humidity was measured (default: the inlet air)"
    )


def run(request: Request) -> Answer[dict[str, ByStandard]]:
    """One torque or power by every standard."""
    if request.stated not in STATEMENTS:
        raise RequestError(f"--stated '{request.stated}' is not known; use {', '.join(STATEMENTS)}")
    air = {name: _value(name, getattr(request, name)) for name in KINDS}
    if request.humidity_temperature is not None:
        at = _value("temperature", request.humidity_temperature, "humidity-temperature")
        air["humidity"] = min(float(same_vapour(air["humidity"], at, air["temperature"])), 1.0)
    number, unit = _torque_or_power(request.value)
    asked = number, unit, request.stated, Atmosphere(**air)
    return Answer([atmosphere_table(*asked)], wrap=False, result=partial(corrected, *asked))


def _value(name: str, text: str, option: str = "") -> float:
    """A stated quantity of the air, SI. Raises RequestError."""
    option, (low, high, words) = option or name, LIMITS[name]
    try:
        value = to_si(text, KINDS[name])
    except ValueError as error:
        raise RequestError(f"--{option}: {error}") from None
    if not low <= value <= high:
        raise RequestError(f"--{option} {text} is not within {words}")
    return value


def _torque_or_power(text: str) -> tuple[float, str]:
    """(number, unit) of a torque or power, in the user's own unit. Raises RequestError."""
    for kind in ("torque", "power"):
        try:
            to_si(text, kind)
            return split_quantity(text)
        except ValueError:
            continue
    raise RequestError(f"'{text}' is not a torque or power with its unit, such as '250 N m' or '180 hp'")
