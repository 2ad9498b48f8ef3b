"""The decorators every compiled kernel uses, so that all share one set of flags.

``error_model="numpy"`` keeps division from raising (a raise would stop LLVM from vectorising);
the fast-math flags allow fused multiply-add and reciprocal division but keep NaN and infinity
meaningful, because the march looks for them. Kernels allocate nothing, so reference counting is
off: it would stop vectorisation too, and doubles the time to compile.
"""

from types import FunctionType

import numba
import numpy as np
from numba.core.cpu import CPUTargetOptions
from numba.core.dispatcher import Dispatcher
from numba.core.options import TargetOptions

from aircolumn.compiled import cache  # noqa: F401 - says where Numba keeps what it compiles
from aircolumn.compiled.kept import keep_with_sums

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
# Called from compiled code only: no way in from Python is needed, and nothing to keep on disk.
_INNER = {**_FLAGS, "no_cpython_wrapper": True, "no_cfunc_wrapper": True}


def plain(function):
    """The plain Python of a compiled function and of those it calls: takes arrays, and spares a
    process that calls it a few times only the half second of compiling it."""
    source = function.py_func
    scope = dict(source.__globals__)
    for name in source.__code__.co_names:
        if isinstance(scope.get(name), Dispatcher):
            scope[name] = plain(scope[name])
    return FunctionType(source.__code__, scope, source.__name__)


def kernel(function):
    """Compile a loop over places of the duct arrays; its array arguments must not overlap."""
    return numba.njit(noalias=True, forceinline=True, **_INNER)(function)


def small(function):
    """Compile a small pure function that is always inlined into its caller."""
    return numba.njit(forceinline=True, **_FLAGS)(function)


def routine(function):
    """Compile a function called from compiled code only, whose arrays may overlap.

    Kernels, routines and inlined functions have no way in from Python: calling one there crashes
    the process; use its ``py_func`` (the plain Python) to look at it from a test.
    """
    return numba.njit(**_INNER)(function)


def inlined(function):
    """As ``small``, but called from compiled code only.

    Without a way in from Python it compiles faster. Inlining is also how a function gets at the
    march's blocks for nothing: a call would copy the description of every array it is handed,
    hundreds of words, which for a few cells costs more than the work.
    """
    return numba.njit(forceinline=True, **_INNER)(function)


def entry(function):
    """Compile a function that Python calls; releases the lock while it runs."""
    return keep_with_sums(numba.njit(nogil=True, cache=True, **_FLAGS)(function))


def plain_integers(count: int):
    """0, 1, ... as arguments that choose something inside a compiled function.

    Of a Python integer in a global, Numba takes the value as part of the argument's type and
    compiles the function again for each value; of a NumPy integer it takes the type only.
    """
    return np.arange(count, dtype=np.int64)


def unpacker(kind, *sizes):
    """Compile a function that gives the rows of one or more blocks the names of ``kind``.

    sizes: rows in each block, when there are several. Passing blocks and taking them apart inside
    spares the way in from Python hundreds of array arguments, each of which costs compile time.
    """
    sizes = sizes or (len(kind._fields),)
    blocks = [f"b{k}" for k in range(len(sizes))]
    rows = [f"{b}[{i}]" for b, n in zip(blocks, sizes, strict=True) for i in range(n)]
    scope = {"kind": kind}
    exec(f"def unpack({', '.join(blocks)}): return kind({', '.join(rows)})", scope)
    return numba.njit(forceinline=True, **_INNER)(scope["unpack"])
