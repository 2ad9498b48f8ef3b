"""The decorators every compiled kernel uses, so that all share one set of flags.

``error_model="numpy"`` keeps division from raising (a raise would stop LLVM from vectorising);
the fast-math flags allow fused multiply-add and reciprocal division but keep NaN and infinity
meaningful, because the march looks for them. Kernels allocate nothing, so reference counting is
off: it would stop vectorisation too, and doubles the time to compile.
"""

from functools import update_wrapper

import numba
import numpy as np
from numba import types
from numba.core.cpu import CPUTargetOptions
from numba.core.options import TargetOptions

from aircolumn.compiled import cache  # noqa: F401 - says where Numba keeps what it compiles
from aircolumn.compiled.inner import InnerCompiler
from aircolumn.compiled.kept import keep_with_sums
from aircolumn.compiled.making import at_work

# Array arguments of our kernels never overlap. LLVM can then vectorise without run-time overlap
# checks, which would cost more than the short loops themselves. Numba has the flag but offers it
# to other targets only; this line offers it to the CPU too.
if not hasattr(CPUTargetOptions, "noalias"):
    CPUTargetOptions.noalias = TargetOptions.Mapping("noalias")


_FLAGS = {
    "error_model": "numpy",
    "fastmath": {"contract", "nsz", "arcp"},
    "_nrt": False,
}
# No way in from Python, nothing to keep on disk, and no machine code of its own (inner.py).
_INNER = {
    **_FLAGS,
    "no_cpython_wrapper": True,
    "no_cfunc_wrapper": True,
    "pipeline_class": InnerCompiler,
}


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


class Entry:
    """A function that Python calls; it lets go of the interpreter's lock while it runs. It is
    compiled at the first call, or by ``make``, and kept on disk."""

    def __init__(self, function, *arguments):
        update_wrapper(self, function)
        self.arguments = arguments
        self.compiled = keep_with_sums(numba.njit(nogil=True, cache=True, **_FLAGS)(function))

    def make(self):
        """Load the compiled function, or compile it."""
        with at_work(Inner.declared):
            self.compiled.compile(self.arguments)

    def __call__(self, *args):
        """Run compiled."""
        if not self.compiled.overloads:
            self.make()
        return self.compiled(*args)


def kernel(function):
    """Compile a loop over places of the duct arrays; its array arguments must not overlap."""
    return Inner(function, noalias=True, forceinline=True)


def inlined(function):
    """Compile a function that is always inlined into its caller."""
    return Inner(function, forceinline=True)


def routine(function):
    """Compile a function that is called, not inlined, and whose arrays may overlap."""
    return Inner(function)


def entry(*arguments):
    """Compile a function that Python calls with arguments of these Numba types."""
    return lambda function: Entry(function, *arguments)


def plain_integers(count: int):
    """0, 1, ... as arguments that choose something inside a compiled function.

    Of a Python integer in a global, Numba takes the value as part of the argument's type and
    compiles the function again for each value; of a NumPy integer it takes the type only.
    """
    return np.arange(count, dtype=np.int64)
