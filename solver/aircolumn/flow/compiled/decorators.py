"""The decorators every compiled kernel uses. None of them needs a compiler before something is compiled: what
was compiled before is loaded without (kept.py, machine_code.py).
"""

from collections.abc import Callable
from functools import cached_property, update_wrapper
from threading import RLock
from typing import Any

import numpy as np

from aircolumn.flow.compiled import machine_code
from aircolumn.flow.compiled.plain import PLAIN
from aircolumn.flow.compiled.views import Table

_lock = RLock()


class Inner:
    """A function for compiled code to call; called from Python it is the plain Python it is written in.

    Numba takes it for the compiled function because of ``_numba_type_``.
    """

    declared = 0

    def __init__(self, function, **flags):
        update_wrapper(self, function)
        self.py_func, self.flags = function, flags
        Inner.declared += 1

    @cached_property
    def compiled(self):
        """Numba's function, made when the first caller is compiled."""
        from aircolumn.flow.compiled import front_end

        return front_end.inner(self.py_func, **self.flags)

    @property
    def _numba_type_(self):
        from aircolumn.flow.compiled import front_end

        return front_end.type_of(self.compiled)

    def __call__(self, *args):
        """Plain Python: on numbers, and on arrays where there are no branches."""
        return self.py_func(*args)


class EntryPoint:
    """A function that Python calls, with a table of blocks first (views.py); it lets go of the interpreter's
    lock while it runs. It is loaded or compiled at the first call, or by ``make``.

    arguments: types of Numba by name. kept: whether its machine code is kept on disk; such a function returns
    two whole numbers.
    """

    def __init__(self, function, *arguments: str, kept: bool = False):
        update_wrapper(self, function)
        self.py_func, self.name = function, function.__name__
        self.arguments, self.kept = arguments, kept
        self.call: Callable | None = None

    def make(self) -> None:
        """Load the machine code, or compile it."""
        with _lock:  # one thread compiles, the others wait for it
            if self.call is None:
                self.call = self._made()

    def _made(self) -> Callable:
        if PLAIN:
            return self._plain
        own = self.kept and machine_code.TRIED
        if own and (found := machine_code.ready(self.name, self.arguments)) is not None:
            return found
        from aircolumn.flow.compiled import seam

        if not seam.VIEWS:  # the terminal has been told
            return self._plain
        from aircolumn.flow.compiled import front_end

        with front_end.compiling(Inner.declared):
            if not (own and front_end.KEEPS):
                return front_end.function(self.py_func, self.arguments, self.kept)
            made = front_end.bitcode(self.py_func, self.arguments)
        return machine_code.from_bitcode(self.name, self.arguments, made)

    def _plain(self, table: Any, *args: Any) -> Any:
        """As it is written: division by zero gives an infinity as in compiled code."""
        with np.errstate(all="ignore"):
            return self.py_func(table.blocks if isinstance(table, Table) else table, *args)

    def __call__(self, table: Any, *args: Any) -> Any:
        """Run."""
        if self.call is None:
            self.make()
        assert self.call is not None
        if self.call == self._plain:
            return self._plain(table, *args)
        return self.call(table.address if isinstance(table, Table) else table, *args)


def kernel(function):
    """Compile a loop over places of the duct arrays; its array arguments must not overlap."""
    return function if PLAIN else Inner(function, forceinline=True, noalias=True)


def inlined(function):
    """Compile a function that is always inlined into its caller."""
    return function if PLAIN else Inner(function, forceinline=True)


def routine(function):
    """Compile a function that is called, not inlined, and whose arrays may overlap."""
    return function if PLAIN else Inner(function)


def entry(*arguments: str, kept: bool = False):
    """Compile a function that Python calls with arguments of these types of Numba, by name."""
    return lambda function: EntryPoint(function, *arguments, kept=kept)


def plain_integers(count: int):
    """0, 1, ... as arguments that choose something inside a compiled function.

    Of a Python integer in a global, Numba takes the value as part of the argument's type and
    compiles the function again for each value; of a NumPy integer it takes the type only.
    """
    return np.arange(count, dtype=np.int64)
