"""The one place that names private parts of Numba and llvmlite.

They are tried here, when something has to be compiled. Where Numba no longer has one of them, what rests on
it is done without, and the terminal is told: without INNER compiling takes longer and every process does it,
without NOALIAS the march is slower, and without VIEWS there is no compiled march at all (plain.py).
"""

import sys
from contextlib import contextmanager
from typing import Any

from aircolumn import process

TESTED = "0.62 to 0.68"
missing: list[str] = []


@contextmanager
def _tried(what: str):
    try:
        yield
    except (ImportError, AttributeError):
        missing.append(what)


@contextmanager
def no_blas_looked_for():
    """While Numba makes itself ready: it loads scipy.linalg, a sixth of a second, only to see whether
    there is a BLAS, which no kernel needs. Left out in the program's own process; elsewhere somebody
    may want to compile linear algebra."""
    ready = "scipy.linalg" in sys.modules or "numba.np.arraymath" in sys.modules
    if ready or not process.as_program:
        yield
        return
    sys.modules["scipy.linalg"] = None  # type: ignore[assignment]  # its import fails: Numba goes on
    try:
        yield
    finally:
        del sys.modules["scipy.linalg"]


with _tried("NOALIAS"):
    from numba.core.cpu import CPUTargetOptions
    from numba.core.options import TargetOptions

    # Array arguments of our kernels never overlap. LLVM can then vectorise without run-time overlap
    # checks, which would cost more than the short loops themselves. Numba has the flag but offers
    # it to other targets only; this offers it to the CPU too.
    if not hasattr(CPUTargetOptions, "noalias"):
        CPUTargetOptions.noalias = TargetOptions.Mapping("noalias")
with _tried("VIEWS"):
    from llvmlite import ir
    from numba.core.registry import cpu_target
    from numba.np.arrayobj import populate_array

    ir.IntType(64).as_pointer()

    def typing_context() -> Any:
        """In which Numba finds the type of a global."""
        return cpu_target.typing_context


with _tried("INNER"):
    from numba.core.codegen import JITCodeLibrary
    from numba.core.compiler import Compiler
    from numba.core.compiler_machinery import FunctionPass, register_pass
    from numba.core.untyped_passes import FixupArgs

    for _name in (
        "_optimize_functions",
        "_optimize_final_module",
        "_finalize_final_module",
        "_finalize_dynamic_globals",
        "_ensure_finalized",
        "codegen",
    ):
        getattr(JITCodeLibrary, _name)

NOALIAS, VIEWS, INNER = (what not in missing for what in ("NOALIAS", "VIEWS", "INNER"))
if missing:
    import numba

    print(
        f"Numba {numba.__version__} is not one that aircolumn was tested with ({TESTED}):"
        + (
            " the solver is slower"
            if VIEWS
            else " the solver runs in plain Python, some hundred times slower"
        )
        + " (pip install 'numba<0.69')",
        file=sys.stderr,
    )

__all__ = [
    "INNER",
    "NOALIAS",
    "VIEWS",
    "Compiler",
    "FixupArgs",
    "FunctionPass",
    "JITCodeLibrary",
    "ir",
    "populate_array",
    "register_pass",
    "typing_context",
]
