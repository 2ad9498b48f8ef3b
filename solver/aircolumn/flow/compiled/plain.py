"""The march in plain Python: for a debugger, for coverage, and for an IndexError where it belongs.

With AIRCOLUMN_PLAIN=1 in the environment, or with a Numba that cannot compile it, every kernel is the Python
function it is written as, and the views that kernels make of the blocks (views.py) are these: the same look
at the same arrays, with bounds checked. A step takes some five hundred times as long. Figures agree with
those of compiled code to rounding (which contracts products and sums, and takes reciprocals); from rest, the
sign of a speed that is nothing but rounding decides which side's gas an end shows.
"""

import os

import numpy as np

PLAIN = os.environ.get("AIRCOLUMN_PLAIN", "0") not in ("", "0")


class Row:
    """A row of numbers that takes an index, as compiled code knows it; not from the end."""

    __slots__ = ("numbers",)

    def __init__(self, numbers):
        self.numbers = numbers

    def __getitem__(self, place):
        if place < 0:
            raise IndexError(f"place {place} of a row of {len(self.numbers)}")
        return self.numbers[place]

    def __setitem__(self, place, value):
        if place < 0:
            raise IndexError(f"place {place} of a row of {len(self.numbers)}")
        self.numbers[place] = value


def columns(place: int):
    """Function: how many columns block ``place`` has."""
    return lambda blocks: blocks[place].shape[-1]


def row(place: int, dtype=None):
    """Function: block ``place``, of one dimension."""
    return lambda blocks: Row(blocks[place].reshape(-1))


def whole(place: int, dtype=None, dimensions: int = 2):
    """Function: block ``place`` as an array."""
    return lambda blocks: blocks[place]


def plane(place: int):
    """Function: one plane of block ``place``, as a matrix."""
    return lambda blocks, number: blocks[place][number]


def named(kind, *lines):
    """Function: the rows of blocks, (place, number of rows, type of numbers), under the names of
    ``kind``."""
    return lambda blocks: kind(*(Row(r) for place, _, _ in lines for r in _rows(blocks[place])))


def named_in_plane(kind, *lines):
    """As ``named``, of the plane whose number is the function's second argument."""
    return lambda blocks, number: kind(
        *(Row(r) for place, _, _ in lines for r in _rows(blocks[place][number]))
    )


def numbers(kind, place: int):
    """Function: the numbers of a block of one dimension under the names of ``kind``."""
    return lambda blocks: kind(*blocks[place])


def _rows(block):
    return block if block.ndim == 2 else block[np.newaxis]
