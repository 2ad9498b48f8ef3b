"""Views of the blocks of arrays that kernels work on: for compiled code (intrinsics.py), or for
plain Python (plain.py), under the same names."""

from aircolumn.compiled.plain import PLAIN

if PLAIN:
    from aircolumn.compiled.plain import (
        address_of,
        columns,
        named,
        named_in_plane,
        numbers,
        plane,
        row,
        table_of,
        whole,
    )
else:
    from aircolumn.compiled.intrinsics import (
        address_of,
        columns,
        named,
        named_in_plane,
        numbers,
        plane,
        row,
        table_of,
        whole,
    )

__all__ = ["address_of", "columns", "named", "named_in_plane", "numbers", "plane", "row",
           "table_of", "whole"]  # fmt: skip
