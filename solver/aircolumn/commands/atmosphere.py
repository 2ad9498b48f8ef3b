"""``atmosphere``: a torque or power by every atmosphere standard."""

from aircolumn.commands.options import NAMES_OF_STANDARDS
from aircolumn.description.units import split_quantity, to_si
from aircolumn.dyno.atmosphere import STATEMENTS, Atmosphere
from aircolumn.errors import RequestError
from aircolumn.report.atmosphere_report import atmosphere_table

KINDS = {"pressure": "pressure", "temperature": "temperature", "humidity": "share"}
#: least and greatest (SI), and the same in words
LIMITS = {
    "pressure": (50e3, 120e3, "50 to 120 kPa"),
    "temperature": (223.15, 333.15, "-50 to 60 degC"),
    "humidity": (0.0, 1.0, "0 to 100 %"),
}


def arguments(parser):
    """VALUE, what it is stated at, the air."""
    parser.add_argument("value", metavar="VALUE", help="with its unit: '250 N m', '180 hp'")
    parser.add_argument(
        "--stated", default="observed", metavar="NAME",
        help=f"what VALUE is stated at: observed (default), {NAMES_OF_STANDARDS}",
    )  # fmt: skip
    parser.add_argument("--pressure", required=True, metavar="P", help="barometer: '97.5 kPa'")
    parser.add_argument(
        "--temperature", required=True, metavar="T", help="of the inlet air: '30 degC'"
    )
    parser.add_argument(
        "--humidity", default="0 %", metavar="H", help="relative: '40 %%' (default: dry air)"
    )


def run(args):
    """Print."""
    if args.stated not in STATEMENTS:
        raise RequestError(f"--stated '{args.stated}' is not known; use {', '.join(STATEMENTS)}")
    air = {}
    for name, kind in KINDS.items():
        try:
            air[name] = to_si(getattr(args, name), kind)
        except ValueError as error:
            raise RequestError(f"--{name}: {error}") from None
    for name, (low, high, words) in LIMITS.items():
        if not low <= air[name] <= high:
            raise RequestError(f"--{name} {getattr(args, name)} is not within {words}")
    number, unit = _torque_or_power(args.value)
    print(atmosphere_table(number, unit, args.stated, Atmosphere(**air)))


def _torque_or_power(text) -> tuple[float, str]:
    """(number, unit) of a torque or power, in the user's own unit."""
    for kind in ("torque", "power"):
        try:
            to_si(text, kind)
            return split_quantity(text)
        except ValueError:
            continue
    raise RequestError(
        f"'{text}' is not a torque or power with its unit, such as '250 N m' or '180 hp'"
    )
