"""Views of the blocks of arrays that kernels work on: for compiled code (intrinsics.py), or for
plain Python (plain.py), under the same names."""

from typing import Any

from aircolumn.flow.compiled import plain

_kind: Any = plain
if not plain.PLAIN:
    from aircolumn.flow.compiled import intrinsics

    _kind = intrinsics

table_of, address_of = _kind.table_of, _kind.address_of
columns, row, whole, plane = _kind.columns, _kind.row, _kind.whole, _kind.plane
named, named_in_plane, numbers = _kind.named, _kind.named_in_plane, _kind.numbers
