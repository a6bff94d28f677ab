"""Eight points side by side: a number type that holds one value for each of ``WIDTH`` lanes.

Arithmetic, comparison, ``where``, ``least``, ``greatest``, ``root``, ``exp``, ``log`` work lane by lane, so that what
one lane gives does not hang on what the others hold. Rows of eight are read and written whole: ``get(a, i)`` of an
array (n, WIDTH), ``get3(a, i, j)`` of (n, m, WIDTH); ``put`` and ``put3`` write where a mask is true. A processor
with wide registers does the eight at the price of one or two; on others the compiler takes them in parts.

Exponential and logarithm are series on the reduced argument (Taylor to r^12 with |r| <= ln 2/2; 2 artanh s to s^19
with |s| <= .172), good to a few units of the last place in the range of normal numbers; a library call a lane would
cost more than all else. Without JIT the lanes are numpy rows and everything below is plain numpy.
"""

import math
import operator

import numba
import numpy as np
from llvmlite import ir
from numba.core import cgutils, types
from numba.core.typeconv import Conversion
from numba.core.typing.templates import ConcreteTemplate, infer_global, signature
from numba.extending import intrinsic, lower_builtin, lower_cast, models, register_model

WIDTH = 8
ALIGN = 64  # bytes of a row
ROOT_HALF = 0x3FE6A09E667F3BCD  # the bits of sqrt(1/2)
FUSED = ("contract",)  # a product and a sum may be rounded once
F64, I64, BIT = ir.DoubleType(), ir.IntType(64), ir.IntType(1)
ROW, WHOLE, BITS = ir.VectorType(F64, WIDTH), ir.VectorType(I64, WIDTH), ir.VectorType(BIT, WIDTH)


def zeros(*shape, dtype=float):
    """Array of zeros of ``shape`` and a last axis of ``WIDTH`` lanes, its rows on ``ALIGN`` byte boundaries."""
    count = math.prod(shape) * WIDTH
    room = np.zeros(count + ALIGN // 8, dtype=dtype)
    skip = (-room.ctypes.data % ALIGN) // 8
    return room[skip : skip + count].reshape(*shape, WIDTH)


class LanesType(types.Type):
    """``WIDTH`` doubles; a plain number becomes the same in every lane."""

    def __init__(self):
        super().__init__(name="Lanes")

    def can_convert_from(self, typingctx, other):
        """Plain numbers fit."""
        return Conversion.safe if isinstance(other, (types.Float, types.Integer)) else None


class MaskType(types.Type):
    """``WIDTH`` truths."""

    def __init__(self):
        super().__init__(name="LaneMask")

    def can_convert_from(self, typingctx, other):
        """A plain truth fits."""
        return Conversion.safe if isinstance(other, types.Boolean) else None


lanes_t, mask_t = LanesType(), MaskType()


@register_model(LanesType)
class LanesModel(models.PrimitiveModel):
    """A vector of doubles."""

    def __init__(self, dmm, fe_type):
        super().__init__(dmm, fe_type, ROW)


@register_model(MaskType)
class MaskModel(models.PrimitiveModel):
    """A vector of bits."""

    def __init__(self, dmm, fe_type):
        super().__init__(dmm, fe_type, BITS)


def _splat(builder, value, of):
    one = builder.insert_element(ir.Constant(of, ir.Undefined), value, ir.Constant(ir.IntType(32), 0))
    return builder.shuffle_vector(one, ir.Constant(of, ir.Undefined),
                                  ir.Constant(ir.VectorType(ir.IntType(32), WIDTH), [0] * WIDTH))


def _constant(value, of=ROW):
    return ir.Constant(of, [value] * WIDTH)


@lower_cast(types.Float, LanesType)
@lower_cast(types.Integer, LanesType)
def _spread(context, builder, fromty, toty, value):
    return _splat(builder, context.cast(builder, value, fromty, types.float64), ROW)


@lower_cast(types.Boolean, MaskType)
def _spread_truth(context, builder, fromty, toty, value):
    bit = value if value.type == BIT else builder.trunc(value, BIT)
    return _splat(builder, bit, BITS)


def _operator(functions, result, operands, build):
    """Teach numba an operator on lanes or masks; plain numbers are spread first."""
    for function in functions:
        @infer_global(function)
        class _Typing(ConcreteTemplate):
            cases = [signature(result, *operands)]  # noqa: RUF012

        @lower_builtin(function, *operands)
        def _lower(context, builder, sig, args, build=build):
            return build(builder, *args)


PAIR, TRUTHS = (lanes_t, lanes_t), (mask_t, mask_t)
_operator((operator.add, operator.iadd), lanes_t, PAIR, lambda b, x, y: b.fadd(x, y, flags=FUSED))
_operator((operator.sub, operator.isub), lanes_t, PAIR, lambda b, x, y: b.fsub(x, y, flags=FUSED))
_operator((operator.mul, operator.imul), lanes_t, PAIR, lambda b, x, y: b.fmul(x, y, flags=FUSED))
_operator((operator.truediv, operator.itruediv), lanes_t, PAIR, lambda b, x, y: b.fdiv(x, y, flags=FUSED))
_operator((operator.neg,), lanes_t, (lanes_t,), lambda b, x: b.fneg(x))
for _name, _sign in (("lt", "<"), ("le", "<="), ("gt", ">"), ("ge", ">="), ("eq", "==")):
    _operator((getattr(operator, _name),), mask_t, PAIR, lambda b, x, y, s=_sign: b.fcmp_ordered(s, x, y))
_operator((operator.and_, operator.iand), mask_t, TRUTHS, lambda b, x, y: b.and_(x, y))
_operator((operator.or_, operator.ior), mask_t, TRUTHS, lambda b, x, y: b.or_(x, y))
_operator((operator.invert,), mask_t, (mask_t,), lambda b, x: b.xor(x, _constant(True, BITS)))


def _called(name, *operands):
    """The LLVM intrinsic of that name on rows."""
    def build(builder, *args):
        kind = ir.FunctionType(ROW, [ROW] * len(args))
        function = cgutils.get_or_insert_function(builder.module, kind, f"llvm.{name}.v{WIDTH}f64")
        return builder.call(function, args)

    return build


def _place(context, builder, array_type, array, index):
    """Pointer to a row of an array whose last axis are the lanes."""
    struct = context.make_array(array_type)(context, builder, array)
    inside = [*index, ir.Constant(I64, 0)]
    place = cgutils.get_item_pointer(context, builder, array_type, struct, inside, wraparound=False)
    return builder.bitcast(place, ROW.as_pointer())


def _read(typingctx, a, index):
    def build(context, builder, sig, args):
        array, at = args[0], [context.cast(builder, v, t, types.intp)
                              for v, t in zip(args[1:], sig.args[1:], strict=True)]
        return builder.load(_place(context, builder, sig.args[0], array, at), align=8)

    return lanes_t(a, *index), build


def _write(typingctx, a, index):
    def build(context, builder, sig, args):
        array, at = args[0], [context.cast(builder, v, t, types.intp)
                              for v, t in zip(args[1:-2], sig.args[1:-2], strict=True)]
        place = _place(context, builder, sig.args[0], array, at)
        value = builder.select(args[-1], args[-2], builder.load(place, align=8))
        builder.store(value, place, align=8)
        return context.get_dummy_value()

    return types.void(a, *index, lanes_t, mask_t), build


def _row_get(a, i):
    return a[i].copy()


def _row_get3(a, i, j):
    return a[i, j].copy()


def _row_put(a, i, value, on):
    a[i] = np.where(on, value, a[i])


def _row_put3(a, i, j, value, on):
    a[i, j] = np.where(on, value, a[i, j])


def _row_least(a, b):
    return np.where(np.less(a, b), a, b)  # the bound where ``a`` is no number, as compiled


def _row_greatest(a, b):
    return np.where(np.greater(a, b), a, b)


def _row_log(x):
    with np.errstate(all="ignore"):
        return np.log(x)


def _row_exp(x):
    with np.errstate(all="ignore"):
        return np.exp(x)


def _row_bits(on):
    return int((np.asarray(on, dtype=int) << np.arange(WIDTH)).sum())


def _row_four(table, at):
    i = at.astype(int)
    return table[i], table[i + 1], table[i + 2], table[i + 3]


@intrinsic
def _get(typingctx, a, i):
    return _read(typingctx, a, (i,))


@intrinsic
def _get3(typingctx, a, i, j):
    return _read(typingctx, a, (i, j))


@intrinsic
def _put(typingctx, a, i, value, on):
    return _write(typingctx, a, (i,))


@intrinsic
def _put3(typingctx, a, i, j, value, on):
    return _write(typingctx, a, (i, j))


@intrinsic
def _where(typingctx, on, a, b):
    return lanes_t(mask_t, lanes_t, lanes_t), lambda c, builder, s, args: builder.select(*args)


def _least_of(builder, a, b):
    return builder.select(builder.fcmp_ordered("<", a, b), a, b)


def _greatest_of(builder, a, b):
    return builder.select(builder.fcmp_ordered(">", a, b), a, b)


@intrinsic
def _least(typingctx, a, b):
    return lanes_t(lanes_t, lanes_t), lambda c, builder, s, args: _least_of(builder, *args)


@intrinsic
def _greatest(typingctx, a, b):
    return lanes_t(lanes_t, lanes_t), lambda c, builder, s, args: _greatest_of(builder, *args)


@intrinsic
def _root(typingctx, a):
    return lanes_t(lanes_t), lambda c, builder, s, args: _called("sqrt")(builder, args[0])


@intrinsic
def _size(typingctx, a):
    return lanes_t(lanes_t), lambda c, builder, s, args: _called("fabs")(builder, args[0])


@intrinsic
def _floor(typingctx, a):
    return lanes_t(lanes_t), lambda c, builder, s, args: _called("floor")(builder, args[0])


@intrinsic
def _any(typingctx, on):
    def build(context, builder, sig, args):
        byte = builder.bitcast(args[0], ir.IntType(WIDTH))
        return builder.icmp_unsigned("!=", byte, ir.Constant(ir.IntType(WIDTH), 0))

    return types.boolean(mask_t), build


@intrinsic
def _bits(typingctx, on):
    def build(context, builder, sig, args):
        return builder.zext(builder.bitcast(args[0], ir.IntType(WIDTH)), I64)

    return types.int64(mask_t), build


def _shuffle(builder, a, b, picks):
    kind = ir.VectorType(ir.IntType(32), len(picks))
    return builder.shuffle_vector(a, b, ir.Constant(kind, picks))


@intrinsic
def _four(typingctx, table, at):
    """Four numbers that follow one another in a flat table, from an index of each lane's own."""
    def build(context, builder, sig, args):
        start = context.make_array(sig.args[0])(context, builder, args[0]).data
        whole = builder.fptosi(args[1], WHOLE)
        quad = ir.VectorType(F64, 4)
        quads = []
        for lane in range(WIDTH):
            place = builder.gep(start, [builder.extract_element(whole, ir.Constant(ir.IntType(32), lane))])
            quads.append(builder.load(builder.bitcast(place, quad.as_pointer()), align=8))
        pairs = [_shuffle(builder, quads[i], quads[i + 1], list(range(8))) for i in range(0, WIDTH, 2)]
        columns = []
        for first in (0, 2):
            picks = [first, first + 4, first + 8, first + 12, first + 1, first + 5, first + 9, first + 13]
            low, high = _shuffle(builder, *pairs[:2], picks), _shuffle(builder, *pairs[2:], picks)
            columns += [_shuffle(builder, low, high, [0, 1, 2, 3, 8, 9, 10, 11]),
                        _shuffle(builder, low, high, [4, 5, 6, 7, 12, 13, 14, 15])]
        return context.make_tuple(builder, sig.return_type, columns)

    return types.UniTuple(lanes_t, 4)(table, lanes_t), build


def _own(context, builder, name, body):
    """A function of rows in the module at hand, written on first use; the compiler inlines it where that pays."""
    module = builder.module
    if name not in module.globals:
        function = ir.Function(module, ir.FunctionType(ROW, [ROW]), name)
        function.linkage = "internal"
        inside = ir.IRBuilder(function.append_basic_block())
        inside.ret(body(inside, function.args[0]))
    return module.globals[name]


def _series(builder, coefficients, x):
    """Sum of coefficients (of the lowest power first) times powers of ``x``, summed in pairs, pairs of pairs ...

    A sum term by term would wait for every multiplication in turn.
    """
    terms = [_constant(c) for c in coefficients]
    while len(terms) > 1:
        pairs = [builder.fadd(builder.fmul(b, x, flags=FUSED), a, flags=FUSED)
                 for a, b in zip(terms[::2], terms[1::2], strict=False)]
        terms = pairs + terms[2 * len(pairs):]
        x = builder.fmul(x, x, flags=FUSED)
    return terms[0]


EXP = [1.0 / math.factorial(k) for k in range(13)]
LOG = [1.0 / k for k in range(1, 20, 2)]
MOST_EXP = 700.0


def _exp_body(builder, x):
    low = _greatest_of(builder, x, _constant(-MOST_EXP))
    x = _least_of(builder, low, _constant(MOST_EXP))
    n = _called("rint")(builder, builder.fmul(x, _constant(1.0 / math.log(2.0))))
    r = builder.fsub(x, builder.fmul(n, _constant(math.log(2.0)), flags=FUSED), flags=FUSED)
    whole = builder.add(builder.fptosi(n, WHOLE), _constant(1023, WHOLE))
    power = builder.bitcast(builder.shl(whole, _constant(52, WHOLE)), ROW)
    return builder.fmul(power, _series(builder, EXP, r))


def _log_body(builder, x):
    bits = builder.bitcast(x, WHOLE)
    e = builder.ashr(builder.sub(bits, _constant(ROOT_HALF, WHOLE)), _constant(52, WHOLE))
    m = builder.bitcast(builder.sub(bits, builder.shl(e, _constant(52, WHOLE))), ROW)
    s = builder.fdiv(builder.fsub(m, _constant(1.0)), builder.fadd(m, _constant(1.0)))
    series = builder.fmul(builder.fadd(s, s), _series(builder, LOG, builder.fmul(s, s)))
    whole = builder.fmul(builder.sitofp(e, ROW), _constant(math.log(2.0)), flags=FUSED)
    return builder.fadd(series, whole, flags=FUSED)


@intrinsic
def _exp(typingctx, x):
    return lanes_t(lanes_t), lambda c, builder, s, args: builder.call(_own(c, builder, "lanes_exp", _exp_body), args)


@intrinsic
def _log(typingctx, x):
    return lanes_t(lanes_t), lambda c, builder, s, args: builder.call(_own(c, builder, "lanes_log", _log_body), args)


if numba.config.DISABLE_JIT:
    get, get3, put, put3, where = _row_get, _row_get3, _row_put, _row_put3, np.where
    least, greatest, root, size, floor, any_of = _row_least, _row_greatest, np.sqrt, np.abs, np.floor, np.any
    exp, log, four, bits = _row_exp, _row_log, _row_four, _row_bits
else:
    get, get3, put, put3, where = _get, _get3, _put, _put3, _where
    least, greatest, root, size, floor, any_of = _least, _greatest, _root, _size, _floor, _any
    exp, log, four, bits = _exp, _log, _four, _bits
