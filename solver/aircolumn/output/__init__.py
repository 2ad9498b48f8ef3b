"""What commands print, write and draw, by subject: text, files, pictures, page. Here: the usual cautions,
under every result, and the looks of lines, in pictures and on the page."""

from typing import Any

SHORT = "A prediction is not a clearance to run."
CAUTION = (
    f"{SHORT} Spinning engines and dynamometers, fuel, backfire and printed parts under heat and"
    " vacuum can hurt people; keep to rotational-speed and valve-train limits, emissions law and"
    " local codes, and leave testing to qualified people."
)
# From dark to light, so that grey print keeps an order; checked for the common colour blindnesses
# by their differing lightness.
STYLES: list[dict[str, Any]] = [
    {"color": "#14213d", "linestyle": "-", "marker": "o"},
    {"color": "#b3541e", "linestyle": "--", "marker": "s"},
    {"color": "#2a9d8f", "linestyle": "-.", "marker": "^"},
    {"color": "#8a6fb3", "linestyle": ":", "marker": "D"},
    {"color": "#c9a227", "linestyle": (0, (6, 2, 1, 2, 1, 2)), "marker": "v"},
]
