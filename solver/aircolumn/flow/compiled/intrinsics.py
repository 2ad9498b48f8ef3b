"""Blocks of arrays behind one number: how compiled code gets at what it works on.

Compiled functions that take dozens of arrays are slow to compile and slow to call: every array is
described by seven words or more, which are copied at each call. Here they take one number instead,
the address of a table with a line for each block,

    address of the block, planes, rows, columns

(blocks of fewer dimensions have 1 in front), and make views of the blocks they need where they need
them. A row is the address of its first number, and takes an index; matrices are arrays. A view
costs a load. The table does not change while compiled code runs, which the compiler is told, so it
loads once. Whoever makes the table keeps the blocks alive.
"""

from typing import Any

from numba import types
from numba.extending import intrinsic

from aircolumn.flow.compiled.seam import ir, populate_array

WORD = ir.IntType(64)
ADDRESS, PLANES, ROWS, COLUMNS = range(4)
WIDTH = 4


class _Block:
    """Block ``place`` of the table at ``table``, in code being generated."""

    def __init__(self, context, builder, table, place, dtype):
        self.context, self.builder, self.dtype = context, builder, dtype
        self.table = builder.inttoptr(table, WORD.as_pointer())
        self.place = place

    def entry(self, column):
        """A number of the block's line, which never changes."""
        builder = self.builder
        where = builder.gep(self.table, [WORD(WIDTH * self.place + column)])
        load = builder.load(where)
        load.set_metadata("invariant.load", builder.module.add_metadata([]))
        return load

    def pointer(self, *steps):
        """Address of the numbers that lie ``steps`` beyond the first (products of words)."""
        builder, at = self.builder, self.entry(ADDRESS)
        for step in steps:
            at = builder.add(at, builder.mul(step, WORD(8)))
        return builder.inttoptr(at, self.context.get_data_type(self.dtype).as_pointer())

    def array(self, pointer, shape):
        """A view of ``shape`` (words) at ``pointer``."""
        context, builder = self.context, self.builder
        kind = types.Array(self.dtype, len(shape), "C")
        view = context.make_array(kind)(context, builder)
        strides = [WORD(8)]
        for extent in reversed(shape[1:]):
            strides.insert(0, builder.mul(strides[0], extent))
        populate_array(view, data=pointer, shape=shape, strides=strides, itemsize=WORD(8), meminfo=None)
        return view._getvalue()

    def product(self, *factors):
        """Product of words."""
        total = factors[0]
        for factor in factors[1:]:
            total = self.builder.mul(total, factor)
        return total


def columns(place: int):
    """Compiled function: how many columns block ``place`` has."""

    @intrinsic
    def count(typingctx, table):
        def build(context, builder, signature, args):
            return _Block(context, builder, args[0], place, types.int64).entry(COLUMNS)

        return types.int64(types.int64), build

    return count


def row(place: int, dtype: str = "float64"):
    """Compiled function: block ``place``, of one dimension, by its first number's address."""
    number: Any = getattr(types, dtype)
    kind = types.CPointer(number)

    @intrinsic
    def view(typingctx, table):
        def build(context, builder, signature, args):
            return _Block(context, builder, args[0], place, number).pointer()

        return kind(types.int64), build

    return view


def whole(place: int, dtype: str = "float64", dimensions: int = 2):
    """Compiled function: block ``place`` of the table at an address, as an array."""
    number: Any = getattr(types, dtype)
    kind = types.Array(number, dimensions, "C")

    @intrinsic
    def view(typingctx, table):
        def build(context, builder, signature, args):
            block = _Block(context, builder, args[0], place, number)
            shape = [block.entry(c) for c in (PLANES, ROWS, COLUMNS)[3 - dimensions :]]
            return block.array(block.pointer(), shape)

        return kind(types.int64), build

    return view


def plane(place: int):
    """Compiled function: one plane of block ``place``, as a matrix."""
    kind = types.Array(types.float64, 2, "C")

    @intrinsic
    def view(typingctx, table, number):
        def build(context, builder, signature, args):
            block = _Block(context, builder, args[0], place, types.float64)
            shape = [block.entry(ROWS), block.entry(COLUMNS)]
            return block.array(block.pointer(block.product(args[1], *shape)), shape)

        return kind(types.int64, types.int64), build

    return view


def named(kind, *blocks):
    """Compiled function: the rows of blocks, (place, number of rows, type of numbers), under the
    names of ``kind``."""
    made = _rows_type(kind, blocks)

    @intrinsic
    def view(typingctx, table):
        def build(context, builder, signature, args):
            return _rows(context, builder, made, blocks, args[0])

        return made(types.int64), build

    return view


def named_in_plane(kind, *blocks):
    """As ``named``, of the plane whose number is the function's second argument."""
    made = _rows_type(kind, blocks)

    @intrinsic
    def view(typingctx, table, number):
        def build(context, builder, signature, args):
            return _rows(context, builder, made, blocks, *args)

        return made(types.int64, types.int64), build

    return view


def _rows_type(kind, blocks):
    rows = [types.CPointer(getattr(types, dtype)) for _, count, dtype in blocks for _ in range(count)]
    return types.NamedTuple(rows, kind)


def _rows(context, builder, made, blocks, table, number=None):
    views = []
    for place, count, dtype in blocks:
        block = _Block(context, builder, table, place, getattr(types, dtype))
        columns = block.entry(COLUMNS)
        before = [] if number is None else [block.product(number, block.entry(ROWS), columns)]
        for row in range(count):
            views.append(block.pointer(*before, block.product(WORD(row), columns)))
    return context.make_tuple(builder, made, views)


def numbers(kind, place: int):
    """Compiled function: the numbers of a block of one dimension under the names of ``kind``."""
    made = types.NamedUniTuple(types.float64, len(kind._fields), kind)

    @intrinsic
    def view(typingctx, table):
        def build(context, builder, signature, args):
            block = _Block(context, builder, args[0], place, types.float64)
            values = [builder.load(block.pointer(WORD(i))) for i in range(len(kind._fields))]
            return context.make_tuple(builder, made, values)

        return made(types.int64), build

    return view


@intrinsic
def bits_of(typingctx, value):
    """The 64 bits of a number as a whole number."""

    def build(context, builder, signature, args):
        return builder.bitcast(args[0], WORD)

    return types.int64(types.float64), build


@intrinsic
def from_bits(typingctx, bits):
    """The number with these 64 bits."""

    def build(context, builder, signature, args):
        return builder.bitcast(args[0], ir.DoubleType())

    return types.float64(types.int64), build
