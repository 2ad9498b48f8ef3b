"""Machine code of an entry: made of LLVM's bitcode for this processor, kept on disk, loaded and called. It
needs llvmlite alone; Numba (front_end.py) comes in where there is no bitcode.

Bitcode is that of a release, which ships (``NAME.bitcode``), or fresh from the compiler. It is optimised here
as Numba would optimise it, so that both give the same machine code. Shipped bitcode names the sources it was
made of and the kind of system it is for; where either is another, it is passed over. It is made anew for a
release (march/ship.py).

Numba's way of calling (its conventions are private: numba.core.callconv and datamodel; checked against Numba
by tests/flow/test_compiled.py): an address for what is returned, one for an exception, then the arguments; an
array as two addresses that are null here, the number of its items, the size of one, the address of the first,
and its shape and strides. It returns 0 where all went well. Tried on Linux alone: elsewhere Numba calls, and
keeps what it compiles.
"""

import ctypes
import json
import sys
import zlib
from collections.abc import Callable, Sequence
from contextlib import suppress
from hashlib import sha256
from pathlib import Path
from typing import Any

import numpy as np

from aircolumn.flow.compiled import kept
from aircolumn.flow.compiled.cache import kept_in
from aircolumn.sources import KERNELS, digest_of

TRIED = sys.platform == "linux"
FAST = 3  # level of optimisation, as Numba has it
_NUMBERS = {"int64": ctypes.c_int64, "boolean": ctypes.c_int8, "float64": ctypes.c_double}
_DIMENSIONS = {"::1]": 1, ":,::1]": 2}
_ADDRESS, _WORD = ctypes.c_void_p, ctypes.c_int64
_alive: list[Any] = []  # engines, whose code is gone with them


def ready(name: str, arguments: Sequence[str]) -> Callable | None:
    """The entry ``name`` from machine code that is kept, or from bitcode that ships; None without either."""
    raw = kept.read(_object_path(name))
    if raw is not None:
        symbol, _, code = raw.partition(b"\n")
        with suppress(RuntimeError, OSError):
            return _loaded(symbol.decode(), code, arguments)
    shipped = _shipped(name)
    if shipped is None:
        return None
    kept.tell_once("making the solver ready for this processor (once; it is kept) ...")
    with suppress(RuntimeError, OSError):
        return from_bitcode(name, arguments, shipped)
    return None


def from_bitcode(name: str, arguments: Sequence[str], made: tuple[str, bytes]) -> Callable:
    """The entry ``name`` from (symbol, bitcode), its machine code kept.

    Raises RuntimeError for bitcode that is none.
    """
    symbol, bitcode = made
    code = _machine_code(bitcode)
    kept.write(_object_path(name), symbol.encode() + b"\n" + code)
    return _loaded(symbol, code, arguments)


def _llvm() -> Any:
    """llvmlite's binding, ready for this processor."""
    import llvmlite.binding as llvm

    for start in ("initialize", "initialize_native_target", "initialize_native_asmprinter"):
        with suppress(RuntimeError, AttributeError):  # newer ones need no first call
            getattr(llvm, start)()
    return llvm


def _machine(llvm: Any) -> Any:
    features = llvm.get_host_cpu_features().flatten()
    target = llvm.Target.from_default_triple()
    return target.create_target_machine(opt=FAST, jit=True, cpu=llvm.get_host_cpu_name(), features=features)


def _object_path(name: str) -> Path:
    """Where machine code of this processor is kept: a home may be shared by machines of several kinds."""
    llvm = _llvm()
    kind = f"{llvm.get_host_cpu_name()} {llvm.get_host_cpu_features().flatten()} {llvm.llvm_version_info}"
    return kept_in() / f"{name}-{sha256(kind.encode()).hexdigest()[:12]}.o"


def _machine_code(bitcode: bytes) -> bytes:
    """Optimised for this processor."""
    llvm = _llvm()
    module, machine = llvm.parse_bitcode(bitcode), _machine(llvm)
    options = llvm.create_pipeline_tuning_options(FAST)
    options.loop_vectorization, options.slp_vectorization = True, False
    builder = llvm.create_pass_builder(machine, options)
    builder.getModulePassManager().run(module, builder)
    return machine.emit_object(module)


def _loaded(symbol: str, code: bytes, arguments: Sequence[str]) -> Callable:
    """Machine code as a function for Python to call."""
    llvm = _llvm()
    engine = llvm.create_mcjit_compiler(llvm.parse_assembly(""), _machine(llvm))
    engine.add_object_file(llvm.ObjectFileRef.from_data(code))
    engine.finalize_object()
    address = engine.get_function_address(symbol)
    if not address:
        raise RuntimeError(f"no {symbol}")
    _alive.append(engine)
    return _callable(address, arguments)


def _callable(address: int, arguments: Sequence[str]) -> Callable:
    kinds: list[Any] = []
    shapes: list[tuple[str, int]] = []  # numbers and dimensions of each array, in turn
    for name in arguments:
        number, _, form = name.partition("[")
        dimensions = _DIMENSIONS.get(form, 0)
        if dimensions:
            shapes.append((number, dimensions))
            kinds += [_ADDRESS, _ADDRESS, _WORD, _WORD, _ADDRESS, *[_WORD] * (2 * dimensions)]
        else:
            kinds.append(_NUMBERS[name])
    run = ctypes.CFUNCTYPE(ctypes.c_int32, _ADDRESS, _ADDRESS, *kinds)(address)

    def call(*values: Any) -> tuple[int, int]:
        returned, raised = (_WORD * 2)(), _ADDRESS()
        flat, due = list[Any](), iter(shapes)
        for value in values:
            flat += _flattened(value, *next(due)) if isinstance(value, np.ndarray) else [value]
        status = run(ctypes.addressof(returned), ctypes.addressof(raised), *flat)
        if status != 0:
            raise RuntimeError(f"compiled code ended with status {status}")
        return returned[0], returned[1]

    return call


def _flattened(array: np.ndarray, number: str, dimensions: int) -> list[Any]:
    """What stands for an array. Raises TypeError for one that compiled code would misread."""
    if array.dtype != number or array.ndim != dimensions or not array.flags.c_contiguous:
        raise TypeError(f"a C-contiguous array of {number} with {dimensions} dimensions is expected")
    return [None, None, array.size, array.itemsize, array.ctypes.data, *array.shape, *array.strides]


def _shipped(name: str) -> tuple[str, bytes] | None:
    """(symbol, bitcode) of a release, if it is of these sources and for this kind of system."""
    raw = kept.read(_shipped_path(name))
    if raw is None:
        return None
    head, _, packed = raw.partition(b"\n")
    said = json.loads(head)
    llvm = _llvm()
    fits = said["sources"] == digest_of(KERNELS) and said["triple"] == llvm.get_default_triple()
    if not fits or tuple(said["llvm"]) > llvm.llvm_version_info:
        return None
    return said["symbol"], zlib.decompress(packed)


def _shipped_path(name: str) -> Path:
    return Path(__file__).with_name(f"{name}.bitcode")


def ship(name: str, made: tuple[str, bytes]) -> Path:
    """Write the file of an entry that ships; its path."""
    llvm, (symbol, bitcode) = _llvm(), made
    head = {
        "sources": digest_of(KERNELS),
        "triple": llvm.get_default_triple(),
        "llvm": llvm.llvm_version_info,
        "symbol": symbol,
    }
    path = _shipped_path(name)
    packed = zlib.compress(bitcode, 9)
    path.write_bytes(kept.with_sum(json.dumps(head).encode() + b"\n" + packed))
    return path
