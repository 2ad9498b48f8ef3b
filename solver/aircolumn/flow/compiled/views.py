"""Views of the blocks of arrays that kernels work on: to compiled code intrinsics (intrinsics.py), to Python
the same look in plain Python (plain.py), under the same names."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from aircolumn.flow.compiled import plain


class BothWays:
    """A function that Python runs as ``plain``; compiled code takes what ``build`` makes, an intrinsic."""

    def __init__(self, plain: Callable, build: Callable) -> None:
        self.plain, self.build = plain, build

    @cached_property
    def compiled(self) -> Any:
        """Numba's intrinsic, made when something that calls it is compiled."""
        return self.build()

    @property
    def _numba_type_(self) -> Any:
        from aircolumn.flow.compiled import front_end

        return front_end.type_of(self.compiled)

    def __call__(self, *args: Any) -> Any:
        """In plain Python."""
        return self.plain(*args)


def _of(name: str) -> Callable:
    """The kind of view ``name`` of both modules."""

    def view(*arguments: Any) -> BothWays:
        def build() -> Any:
            from aircolumn.flow.compiled import intrinsics

            return getattr(intrinsics, name)(*arguments)

        return BothWays(getattr(plain, name)(*arguments), build)

    return view


columns, row, whole, plane = _of("columns"), _of("row"), _of("whole"), _of("plane")
named, named_in_plane, numbers = _of("named"), _of("named_in_plane"), _of("numbers")


@dataclass(frozen=True, eq=False)
class Table:
    """Blocks, and a line for each in memory: address, planes, rows, columns (intrinsics.py)."""

    blocks: tuple
    lines: np.ndarray

    @property
    def address(self) -> int:
        """What compiled code is given for its blocks."""
        return self.lines.ctypes.data


def table_of(blocks: Sequence[np.ndarray]) -> Table:
    """The table of ``blocks``, which it keeps alive.

    Raises ValueError for a block that does not lie in memory row by row, has more than three
    dimensions, or whose numbers do not have 8 bytes.
    """
    lines = []
    for block in blocks:
        if not block.flags.c_contiguous or block.itemsize != 8 or block.ndim > 3:
            raise ValueError("a block is a C-contiguous array of 8-byte numbers, 3-D at most")
        shape = (1,) * (3 - block.ndim) + block.shape
        lines.append((block.__array_interface__["data"][0], *shape))
    return Table(tuple(blocks), np.array(lines, dtype=np.int64))
