"""Move cache lines as numba cannot say: in one go, past the caches, and asked for before they are read.

Computes: nothing; a copy of sixteen single-precision numbers, of which no part is written before all are read; the
same by a non-temporal store, so that memory is not first read where it is only going to be written; and a hint to
fetch a line, so that it comes while something else is worked on.
Units: none.
Source: LLVM Language Reference, `store` with `!nontemporal`, `llvm.prefetch`, `fence`.
Limits: `start` of what is written past the caches must lie on a cache line; other threads see it after `settled` only.
"""
# mypy: disable-error-code="no-untyped-def,no-untyped-call,untyped-decorator,call-arg,import-untyped"
# ruff: noqa: ANN001, ANN201, ANN202

from __future__ import annotations

from llvmlite import ir
from numba.core import types
from numba.extending import intrinsic, overload

LINE = 16  # single-precision numbers a cache line


def copy_line(target, start, source, begin):
    """Copy sixteen numbers from `source[begin:]` to `target[start:]`."""
    target[start : start + LINE] = source[begin : begin + LINE]


def write_line(target, start, source, begin):
    """Copy a cache line from `source[begin:]` to `target[start:]`, past the caches where compiled."""
    target[start : start + LINE] = source[begin : begin + LINE]


def ask_for(source, begin):
    """Ask for the cache line of `source[begin]`; it need not lie within the array."""


def settled():
    """Wait until all that this thread has written can be seen."""


def _moved(context, builder, signature, values):
    """Load a line and store it; return the store."""
    to = context.make_array(signature.args[0])(context, builder, values[0]).data
    out = context.make_array(signature.args[2])(context, builder, values[2]).data
    line = ir.VectorType(ir.FloatType(), LINE).as_pointer()
    held = builder.load(builder.bitcast(builder.gep(out, [values[3]]), line), align=4)
    return builder.store(held, builder.bitcast(builder.gep(to, [values[1]]), line), align=4)


@intrinsic
def _move_line(_context, target, start, source, begin):
    def build(context, builder, signature, values):
        _moved(context, builder, signature, values)
        return context.get_dummy_value()

    return types.void(target, start, source, begin), build


@intrinsic
def _store_line(_context, target, start, source, begin):
    def build(context, builder, signature, values):
        stored = _moved(context, builder, signature, values)
        stored.align = 4 * LINE
        stored.set_metadata("nontemporal", builder.module.add_metadata([ir.Constant(ir.IntType(32), 1)]))
        return context.get_dummy_value()

    return types.void(target, start, source, begin), build


@intrinsic
def _prefetch(_context, source, begin):
    def build(context, builder, signature, values):
        byte, number = ir.IntType(8).as_pointer(), ir.IntType(32)
        data = context.make_array(signature.args[0])(context, builder, values[0]).data
        there = builder.bitcast(builder.gep(data, [values[1]]), byte)
        form = ir.FunctionType(ir.VoidType(), [byte, number, number, number])
        hint = builder.module.declare_intrinsic("llvm.prefetch", [byte], form)
        builder.call(hint, [there, number(0), number(3), number(1)])  # for reading, nearest cache, data
        return context.get_dummy_value()

    return types.void(source, begin), build


@intrinsic
def _fence(_context):
    def build(context, builder, _signature, _values):
        builder.fence("seq_cst")
        return context.get_dummy_value()

    return types.void(), build


@overload(copy_line)
def _copy_line(target, start, source, begin):
    def copy(target, start, source, begin):
        _move_line(target, start, source, begin)

    return copy


@overload(write_line)
def _write_line(target, start, source, begin):
    def copy(target, start, source, begin):
        _store_line(target, start, source, begin)

    return copy


@overload(ask_for)
def _ask_for(source, begin):
    def ask(source, begin):
        _prefetch(source, begin)

    return ask


@overload(settled)
def _settled():
    def wait():
        _fence()

    return wait
