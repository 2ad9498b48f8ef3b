"""Numba as the front end of the compiler: from Python to LLVM's bitcode, and no further.

All kernels share one set of flags. ``error_model="numpy"`` keeps division from raising (a raise would stop
LLVM from vectorising); the fast-math flags allow fused multiply-add and reciprocal division but keep NaN and
infinity meaningful, because the march looks for them. Kernels allocate nothing, so reference counting is off:
it would stop vectorisation too, and doubles the time to compile.

Functions that only compiled code calls are not made into machine code, and of an entry whose machine code is
kept the linked bitcode is what is wanted (libraries.py): machine_code.py finishes it.

Nothing imports this before something has to be compiled: Numba takes a third of a second to load.
"""

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from typing import Any

import numba
from numba import types

from aircolumn.flow.compiled import seam
from aircolumn.flow.compiled.cache import kept_in
from aircolumn.flow.compiled.compile_progress import at_work
from aircolumn.flow.compiled.kept import tell_once

_FLAGS: dict[str, Any] = {
    "error_model": "numpy",
    "fastmath": {"contract", "nsz", "arcp"},
    "_nrt": False,
}
# No way in from Python, nothing to keep on disk, and no machine code of its own.
_BARE: dict[str, Any] = {**_FLAGS, "no_cpython_wrapper": True, "no_cfunc_wrapper": True}
_TYPES = {
    "int64": types.int64,
    "boolean": types.boolean,
    "float64": types.float64,
    "int64[::1]": types.Array(types.int64, 1, "C"),
    "float64[::1]": types.Array(types.float64, 1, "C"),
    "float64[:,::1]": types.Array(types.float64, 2, "C"),
}
KEEPS = seam.INNER  # whether an entry's bitcode can be had
if KEEPS:
    from aircolumn.flow.compiled.libraries import EntryCompiler, InnerCompiler


@contextmanager
def compiling(functions: int) -> Iterator[None]:
    """While something is compiled that may call so many functions."""
    tell_once("compiling the solver (once; it is kept) ...")
    with at_work(functions), seam.no_blas_looked_for():
        yield


def type_of(compiled: Any) -> Any:
    """The type that Numba gives to one of its functions or intrinsics."""
    if hasattr(compiled, "py_func"):
        return types.Dispatcher(compiled)
    context = seam.typing_context()
    context.refresh()
    return context.resolve_value_type(compiled)


def inner(function: Callable, noalias: bool = False, **flags: Any) -> Any:
    """A function for compiled code to call."""
    if noalias and seam.NOALIAS:
        flags["noalias"] = True
    if KEEPS:
        flags["pipeline_class"] = InnerCompiler
    return numba.njit(**_BARE, **flags)(function)


def function(entry: Callable, arguments: Sequence[str], kept: bool = False) -> Callable:
    """A function for Python to call, compiled and kept as Numba does it."""
    config: Any = numba.config  # its names are made at run time
    config.CACHE_DIR = str(kept_in())
    compiled = numba.njit(nogil=True, **_FLAGS)(entry)
    if kept:
        with suppress(RuntimeError):  # a function of no file cannot be kept
            compiled.enable_caching()
    compiled.compile(tuple(_TYPES[name] for name in arguments))
    return compiled


def bitcode(entry: Callable, arguments: Sequence[str]) -> tuple[str, bytes]:
    """(symbol, bitcode) of an entry with all that it calls."""
    compiled = numba.njit(**_BARE, pipeline_class=EntryCompiler)(entry)
    compiled.compile(tuple(_TYPES[name] for name in arguments))
    (made,) = compiled.overloads.values()
    return made.fndesc.llvm_func_name, made.library.linked
