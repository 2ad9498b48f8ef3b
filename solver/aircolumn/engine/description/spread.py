"""How uncertain a value is, as the engine file states it: ``{value: 420 mm, plus_minus: 2 mm}``.

``plus_minus`` is the half-width of the interval that holds the true value in 95 of 100 cases, the
distribution being normal (expanded uncertainty with a coverage factor of 2: JCGM 100:2008, the GUM, 6.2).
It has the value's unit or another of its kind (kelvins for a temperature), or is a share of it (``5 %``);
that of a value in per cent is in points of it. Values of a list or group all move together.
"""

from typing import Any

from aircolumn.engine.description.units import kind_with, split_quantity, unit_factor

VALUE, PLUS_MINUS = "value", "plus_minus"
SHARE = "%"


def check_spread(value: Any, spread: Any) -> None:
    """Raise ValueError if ``spread`` cannot be that of ``value``, both as written."""
    for one in _singles(value):
        spread_of(one, spread)


def spread_of(value: Any, spread: Any) -> tuple[float, bool]:
    """(half-width, whether it is a share of the value) of one value as written; SI, kelvins for a
    temperature. Raises ValueError."""
    unit = _unit_of(value, "value: a number, or a number with its unit, is expected here")
    number, own = _number_of(spread)
    if not 0.0 < number < 1e9:
        raise ValueError(f"'{spread}': a number greater than 0 is expected here")
    if own == SHARE and unit != SHARE:
        _check_share(value, number, unit)
        return 0.01 * number, True
    if not unit and not own:
        return number, False
    kind = kind_with(unit) if unit else None
    if kind == "temperature":
        kind = "temperature difference"
    factor = unit_factor(own, kind) if kind else None
    if factor is None:
        raise ValueError(f"'{spread}' does not go with '{value}': write it in {unit or 'no unit'}, or in %")
    return number * factor[0], False


def si_half_width(value: Any, si: float, spread: Any) -> float:
    """Half-width, SI, of a value as written that is ``si``."""
    wide, is_share = spread_of(value, spread)
    return wide * abs(si) if is_share else wide


def _check_share(value: Any, number: float, unit: str) -> None:
    """Raise ValueError for a share of what has no share: nought, and a temperature, whose zero hangs on its
    unit."""
    kind = kind_with(unit) if unit else None
    size = split_quantity(value)[0] if unit else float(value)
    if kind in ("temperature", "temperature difference"):
        kelvins = 0.01 * number * abs(size) or number
        raise ValueError(
            f"'{number:g} %' of {value}: a temperature has no percentage; write it in K, as {kelvins:.3g} K"
        )
    if size == 0.0:
        raise ValueError(f"'{number:g} %' of {value} is nothing; write it as 2{f' {unit}' if unit else ''}")


def _singles(value: Any) -> list[Any]:
    """The single values in a value, list or group."""
    if isinstance(value, dict):
        return [v for inner in value.values() for v in _singles(inner)]
    return [v for inner in value for v in _singles(inner)] if isinstance(value, list) else [value]


def _unit_of(value: Any, said: str) -> str:
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        return ""
    try:
        return split_quantity(value)[1] if isinstance(value, str) else ""
    except ValueError:
        raise ValueError(said) from None


def _number_of(spread: Any) -> tuple[float, str]:
    if isinstance(spread, (int, float)) and not isinstance(spread, bool):
        return float(spread), ""
    try:
        return split_quantity(spread if isinstance(spread, str) else "")
    except ValueError:
        raise ValueError("plus_minus: a number with its unit is expected here, as 2 mm or 5 %") from None
