"""A row of what an engine file may leave out."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from aircolumn.engine.description.engine_file import Engine


@dataclass(frozen=True)
class LeftOut:
    """Keys that are assumed alike where they are left out, as the file would write their paths.

    half_width: as a number in the unit ``unit`` ("": SI or plain), or a share for TIMES; settle: what would
    settle it; value: of an engine that leaves them out (None: the keys' own defaults); when: whether the
    engine has such a thing at all; change: of OWN, what it does to the data of such an engine (None: the file
    says it). beside: a key of the same group that tells this one by a table: where it is stated (with a
    ``table``), or only where it is not (without).
    """

    keys: tuple[str, ...]
    half_width: str | float
    way: str
    source: str
    settle: str
    value: Callable[[Engine], Any] | None = None
    when: Callable[[Engine], bool] = lambda engine: True
    change: Callable[[dict, Engine], Callable[[dict, float], dict] | None] | None = None
    beside: str = ""
    table: Mapping[str, float] | None = None
