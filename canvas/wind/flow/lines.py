"""Move cache lines as numba cannot say: in one go, and asked for before they are read.

Computes: nothing; a copy of sixteen single-precision numbers, of which no part is written before all are read; and a
hint to fetch a line, so that it comes while something else is worked on.
Units: none.
Source: LLVM Language Reference, `llvm.prefetch`.
Limits: none.
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


def ask_for(source, begin):
    """Ask for the cache line of `source[begin]`; it need not lie within the array."""


@intrinsic
def _move_line(_context, target, start, source, begin):
    def build(context, builder, signature, values):
        to = context.make_array(signature.args[0])(context, builder, values[0]).data
        out = context.make_array(signature.args[2])(context, builder, values[2]).data
        line = ir.VectorType(ir.FloatType(), LINE).as_pointer()
        held = builder.load(builder.bitcast(builder.gep(out, [values[3]]), line), align=4)
        builder.store(held, builder.bitcast(builder.gep(to, [values[1]]), line), align=4)
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


@overload(copy_line)
def _copy_line(target, start, source, begin):
    def copy(target, start, source, begin):
        _move_line(target, start, source, begin)

    return copy


@overload(ask_for)
def _ask_for(source, begin):
    def ask(source, begin):
        _prefetch(source, begin)

    return ask
