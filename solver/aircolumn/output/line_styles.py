"""The looks of lines, in pictures and on the page."""

from typing import Any

# From dark to light, so that grey print keeps an order; checked for the common colour blindnesses
# by their differing lightness.
STYLES: list[dict[str, Any]] = [
    {"color": "#14213d", "linestyle": "-", "marker": "o"},
    {"color": "#b3541e", "linestyle": "--", "marker": "s"},
    {"color": "#2a9d8f", "linestyle": "-.", "marker": "^"},
    {"color": "#8a6fb3", "linestyle": ":", "marker": "D"},
    {"color": "#c9a227", "linestyle": (0, (6, 2, 1, 2, 1, 2)), "marker": "v"},
]
