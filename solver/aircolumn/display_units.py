"""The units in which results are shown: chosen once, then the same on the screen, in pictures and
in CSV files. NetCDF files and the Python interface are SI always.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np

from aircolumn.constants import BTU, FOOT, HORSEPOWER, INCH, INCH_OF_WATER, POUND, POUND_FORCE, ZERO_CELSIUS
from aircolumn.errors import RequestError
from aircolumn.point_figures import SHOWN

SETS = ("metric", "us")
ENVIRONMENT = "AIRCOLUMN_UNITS"


@dataclass(frozen=True)
class Unit:
    """A unit as it is shown: name, factor from SI, decimals in tables, and what is added."""

    name: str
    factor: float = 1.0
    decimals: int = 1
    shift: float = 0.0

    def of(self, si: Any) -> Any:
        """SI values in this unit; never minus zero."""
        return self.factor * np.asarray(si) + self.shift + 0.0

    def number(self, si: Any, decimals: int | None = None, sign: str = "") -> str:
        """A value without the unit's name; sign "+" writes the sign of positive values too."""
        return f"{float(self.of(si)):{sign}z.{self.decimals if decimals is None else decimals}f}"

    def said(self, si: Any, decimals: int | None = None, sign: str = "") -> str:
        """A value with the unit's name."""
        return f"{self.number(si, decimals, sign)} {self.name}".rstrip()


#: kind of quantity: its unit in each of SETS (one for both)
KINDS = {
    "torque": (Unit("N m"), Unit("lbf ft", 1.0 / (FOOT * POUND_FORCE))),
    "power": (Unit("kW", 1e-3), Unit("hp", 1.0 / HORSEPOWER)),
    "mean pressure": (Unit("bar", 1e-5, 2), Unit("psi", INCH**2 / POUND_FORCE)),
    "depression": (Unit("kPa", 1e-3, 2), Unit("inH2O", 1.0 / INCH_OF_WATER)),
    "volume flow": (Unit("L/s", 1e3, 2), Unit("cfm", 60.0 / FOOT**3)),
    "pressure": (Unit("kPa", 1e-3), Unit("psi", INCH**2 / POUND_FORCE, 2)),
    "length": (Unit("mm", 1e3, 0), Unit("in", 1.0 / INCH, 2)),
    "area": (Unit("mm2", 1e6, 0), Unit("in2", INCH**-2, 3)),
    "volume": (Unit("cm3", 1e6), Unit("in3", INCH**-3, 2)),
    "large volume": (Unit("L", 1e3, 2), Unit("in3", INCH**-3, 0)),
    "temperature": (Unit("degC", 1.0, 1, -ZERO_CELSIUS), Unit("degF", 1.8, 1, -459.67)),
    "velocity": (Unit("m/s"), Unit("ft/s", 1.0 / FOOT)),
    "air flow": (Unit("g/s", 1e3), Unit("lb/min", 60.0 / POUND, 2)),
    "fuel per work": (Unit("g/kWh", 3.6e9, 0), Unit("lb/hp h", 3600.0 * HORSEPOWER / POUND, 3)),
    "mass": (Unit("mg", 1e6),),
    "part mass": (Unit("kg", 1.0, 3), Unit("lb", 1.0 / POUND, 3)),
    "energy": (Unit("J"),),
    "work": (Unit("kJ", 1e-3), Unit("Btu", 1.0 / BTU)),
    "temperature difference": (Unit("K"), Unit("degF", 1.8)),
    "share": (Unit("%", 100.0),),
    "angle": (Unit("deg", 1.0, 0),),
    "speed": (Unit("rpm", 1.0, 0),),
    "number": (Unit(""),),
    "count": (Unit("", 1.0, 0),),
}
_BY_SI = {
    "N m": "torque",
    "W": "power",
    "Pa": "pressure",
    "m": "length",
    "m2": "area",
    "m3": "volume",
    "K": "temperature",
    "m/s": "velocity",
    "kg/s": "air flow",
    "kg/J": "fuel per work",
    "kg": "mass",
    "J": "energy",
    "deg": "angle",
    "rev/min": "speed",
    "1": "number",
}
#: values of curves and traces whose SI unit alone does not say how the trade shows them, beside figures
_BY_NAME = {"burned": "share", "humidity": "share"}
_chosen = SETS[0]


def choose(*wishes: str | None) -> None:
    """Show results in the first set of units of ``wishes`` that is not None, else metric.

    Raises RequestError if it is not one of SETS.
    """
    global _chosen
    wish = next((w for w in wishes if w is not None), SETS[0])
    if wish not in SETS:
        raise RequestError(f"{ENVIRONMENT} is '{wish}'; use {' or '.join(SETS)}")
    _chosen = wish


def chosen() -> str:
    """The set of units chosen."""
    return _chosen


def unit(kind: str) -> Unit:
    """The unit of a kind of quantity, as chosen."""
    units = KINDS[kind]
    return units[min(SETS.index(_chosen), len(units) - 1)]


def unit_of(name: Any, si: str) -> Unit:
    """The unit in which the figure ``name`` (SI unit ``si``) is shown."""
    figure = SHOWN.get(name)
    return unit(figure.kind if figure else _BY_NAME.get(name, _BY_SI[si]))


def shown_number(figure: str, si: Any) -> str:
    """A value of a figure for a table: plain numbers, some of which are tiny, to three digits."""
    kind = SHOWN[figure].kind
    return f"{float(si):.3g}" if kind == "number" else unit(kind).number(si)


def counted(number: int, what: str) -> str:
    """ "1 row", "2 rows"."""
    return f"{number} {what}{'' if number == 1 else 's'}"


def said_bore(bore: float) -> str:
    """A bore or another small length, m, in words: to a tenth of a millimetre."""
    size = unit("length")
    return size.said(bore, size.decimals + 1)


def said_place(distance: float) -> str:
    """A distance along a pipe, m, in words: to a millimetre."""
    return unit("length").said(distance)


def said_point(place: Any) -> str:
    """A point, m, in words: to a tenth of a millimetre."""
    size = unit("length")
    return f"({', '.join(size.number(v, size.decimals + 1) for v in place)}) {size.name}"


def said_sizes(sizes: Any, digits: int = 4) -> str:
    """Lengths, m, in words: "30 x 20 mm"."""
    size = unit("length")
    return f"{' x '.join(f'{float(size.of(v)):.{digits}g}' for v in sizes)} {size.name}"


def said_length(length: float, digits: int = 4) -> str:
    """A length, m, in words, to so many digits."""
    size = unit("length")
    return f"{float(size.of(length)):.{digits}g} {size.name}"


def percent(share: float, how: str = "g") -> str:
    """A share in per cent; how: the format of the number."""
    return f"{100.0 * share:{how}} %"


def column_heading(title: Any, shown: Unit) -> str:
    """The heading of a column: "torque [N m]"."""
    return f"{title} [{shown.name}]" if shown.name else title
