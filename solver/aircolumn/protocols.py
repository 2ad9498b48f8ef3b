"""Callables that are passed around, by name."""

from collections.abc import Callable

#: told how much is done, and of how much (None: not known yet)
ProgressCallback = Callable[[int, int | None], object]
