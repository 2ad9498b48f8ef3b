"""The decorators every compiled kernel uses, so that all share one set of flags.

``error_model="numpy"`` keeps division from raising (a raise would stop LLVM from vectorising);
the fast-math flags allow fused multiply-add and reciprocal division but keep NaN and infinity
meaningful, because the march looks for them. Kernels allocate nothing, so reference counting is
off: it would stop vectorisation too, and doubles the time to compile.
"""

from functools import update_wrapper
from typing import Any

import numba
import numpy as np
from numba import types

from aircolumn.flow.compiled import cache, seam
from aircolumn.flow.compiled.compile_progress import at_work
from aircolumn.flow.compiled.plain import PLAIN

cache.choose_folder()

_FLAGS = {
    "error_model": "numpy",
    "fastmath": {"contract", "nsz", "arcp"},
    "_nrt": False,
}
# No way in from Python, nothing to keep on disk, and no machine code of its own (link_only.py).
_INNER: dict[str, Any] = {**_FLAGS, "no_cpython_wrapper": True, "no_cfunc_wrapper": True}
if seam.INNER:
    from aircolumn.flow.compiled.link_only import InnerCompiler

    _INNER["pipeline_class"] = InnerCompiler


class Inner:
    """A function for compiled code to call; called from Python it is the plain Python it is written
    in, which spares a process that calls it a few times half a second of compiling.

    Numba takes it for the compiled function because of ``_numba_type_``.
    """

    declared = 0

    def __init__(self, function, **flags):
        update_wrapper(self, function)
        self.py_func = function
        self.compiled = numba.njit(**_INNER, **flags)(function)
        self._numba_type_ = types.Dispatcher(self.compiled)
        Inner.declared += 1

    def __call__(self, *args):
        """Plain Python: on numbers, and on arrays where there are no branches."""
        return self.py_func(*args)


class EntryPoint:
    """A function that Python calls; it lets go of the interpreter's lock while it runs. It is
    compiled at the first call, or by ``make``, and kept on disk."""

    def __init__(self, function, *arguments):
        update_wrapper(self, function)
        self.arguments = arguments
        self.compiled = numba.njit(nogil=True, cache=True, **_FLAGS)(function)
        if seam.SUMS:
            from aircolumn.flow.compiled.checksummed_cache import keep_with_sums

            self.compiled = keep_with_sums(self.compiled)

    def make(self):
        """Load the compiled function, or compile it."""
        with at_work(Inner.declared), seam.no_blas_looked_for():
            self.compiled.compile(self.arguments)

    def __call__(self, *args):
        """Run compiled."""
        if not self.compiled.overloads:
            self.make()
        return self.compiled(*args)


class Plain:
    """An entry in plain Python: division by zero gives an infinity there as in compiled code."""

    def __init__(self, function):
        update_wrapper(self, function)
        self.function = function

    def make(self):
        """Nothing has to be compiled."""

    def __call__(self, *args):
        """Run as it is written."""
        with np.errstate(all="ignore"):
            return self.function(*args)


def kernel(function):
    """Compile a loop over places of the duct arrays; its array arguments must not overlap."""
    flags = {"noalias": True} if seam.NOALIAS else {}
    return function if PLAIN else Inner(function, forceinline=True, **flags)


def inlined(function):
    """Compile a function that is always inlined into its caller."""
    return function if PLAIN else Inner(function, forceinline=True)


def routine(function):
    """Compile a function that is called, not inlined, and whose arrays may overlap."""
    return function if PLAIN else Inner(function)


def entry(*arguments):
    """Compile a function that Python calls with arguments of these Numba types."""
    return Plain if PLAIN else lambda function: EntryPoint(function, *arguments)


def plain_integers(count: int):
    """0, 1, ... as arguments that choose something inside a compiled function.

    Of a Python integer in a global, Numba takes the value as part of the argument's type and
    compiles the function again for each value; of a NumPy integer it takes the type only.
    """
    return np.arange(count, dtype=np.int64)
