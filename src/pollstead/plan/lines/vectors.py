"""Sixteen whole numbers at once, as one value of the compiled code: the only module that knows the compiler.

``kernel`` is written in these words alone. They become explicit vectors, which the compiler turns into
whatever the machine has; each gives the same bits on every machine, because it is a whole-number operation
or a single operation of IEEE 754 (never a sum of several, nothing contracted). ``vectors_checked`` has the
same words on numpy arrays, slowly and with every place checked.

A *time* is a whole number from 2**52 up and below 2**53: as a double its bits are a normal number, and such
numbers stand in the order of their bits. So the earlier of two takes one operation wherever doubles do.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from llvmlite import ir
from numba import njit, types
from numba.extending import intrinsic, models, register_model

from pollstead.plan.lines.parts import words_of_parts

if TYPE_CHECKING:
    from collections.abc import Callable

LANES = 16

_BIT, _HALF, _WHOLE, _REAL = ir.IntType(1), ir.IntType(32), ir.IntType(64), ir.DoubleType()
_BITS, _HALVES, _WHOLES, _REALS = (ir.VectorType(one, LANES) for one in (_BIT, _HALF, _WHOLE, _REAL))
_INNER: dict[str, Any] = {
    "nogil": True,
    "error_model": "numpy",
    "no_cpython_wrapper": True,
    "no_cfunc_wrapper": True,
}
_LOW_32 = (1 << 32) - 1
_REAL_ONES = 0x433 << 52
"""The bits of 2.0**52: below it, whole numbers stand in a double's last 52 bits as they are."""


class _LanesType(types.Type):
    """Sixteen whole numbers of 64 bits."""

    def __init__(self) -> None:
        super().__init__(name="lanes")


class _ChoiceType(types.Type):
    """Sixteen yes-or-no answers."""

    def __init__(self) -> None:
        super().__init__(name="choice")


@register_model(_LanesType)
class _LanesModel(models.PrimitiveModel):
    def __init__(self, manager: Any, kind: Any) -> None:
        super().__init__(manager, kind, _WHOLES)  # type: ignore[no-untyped-call]


@register_model(_ChoiceType)
class _ChoiceModel(models.PrimitiveModel):
    def __init__(self, manager: Any, kind: Any) -> None:
        super().__init__(manager, kind, _BITS)  # type: ignore[no-untyped-call]


_KINDS: tuple[Any, Any] = (_LanesType, _ChoiceType)
_LANES, _CHOICE = (kind() for kind in _KINDS)


def compiled(function: Any) -> Any:
    """Compile to machine code, kept on the disk where a folder for it can be written.

    Where neither the package's folder nor the person's own can be written, numba refuses to keep it; then
    it is compiled anew in each run, which costs seconds and changes no number. What is kept counts for the
    words of all files that compiled parts come from; numba itself looks at the date of the function's file.
    """
    try:
        dispatcher: Any = njit(cache=True, nogil=True, error_model="numpy")(function)
    except RuntimeError as error:
        if "cannot cache" not in str(error):
            raise
        return njit(nogil=True, error_model="numpy")(function)
    dispatcher._cache._cache_file._source_stamp = words_of_parts(function.__module__)
    return dispatcher


def inlined(function: Any) -> Any:
    """A part of a compiled function, put in where it is called."""
    jit: Any = njit(forceinline=True, **_INNER)
    return jit(function)


def inner(function: Any) -> Any:
    """A part of a compiled function, called from there alone and kept with it."""
    jit: Any = njit(**_INNER)
    return jit(function)


def _extension(function: Any) -> Any:
    """An operation that the compiled code knows; without types for the checker of types."""
    return intrinsic(function)


def _filled(value: int) -> Any:
    return ir.Constant(_WHOLES, [value] * LANES)


def _spread(builder: Any, number: Any) -> Any:
    """A scalar in every lane."""
    one = builder.insert_element(ir.Constant(_WHOLES, ir.Undefined), number, ir.Constant(_HALF, 0))
    return builder.shuffle_vector(one, ir.Constant(_WHOLES, ir.Undefined), ir.Constant(_HALVES, [0] * LANES))


def _operation(result: Any, given: tuple[Any, ...], build: Callable[..., Any]) -> Any:
    """An operation of lanes: what it takes, what it gives, and how `build` says it to the compiler."""

    def generate(_context: Any, builder: Any, _signature: Any, arguments: Any) -> Any:
        return build(builder, *arguments)

    if len(given) == 1:

        @_extension
        def one(_typing: Any, a: Any) -> Any:
            return result(*given), generate

        return one
    if len(given) == 2:

        @_extension
        def two(_typing: Any, a: Any, b: Any) -> Any:
            return result(*given), generate

        return two

    @_extension
    def three(_typing: Any, a: Any, b: Any, c: Any) -> Any:
        return result(*given), generate

    return three


def _of_two(builder: Any, a: Any, b: Any, name: str) -> Any:
    # A comparison and a choice would say the same, but the compiler takes two operations for it here.
    kind = ir.FunctionType(_REALS, [_REALS, _REALS])
    name = f"{name}.v{LANES}f64"
    known = builder.module.globals.get(name)
    function = ir.Function(builder.module, kind, name) if known is None else known
    reals = [builder.bitcast(side, _REALS) for side in (a, b)]
    return builder.bitcast(builder.call(function, reals, fastmath=("nnan",)), _WHOLES)


def _nearest(builder: Any, a: Any, factor: Any) -> Any:
    two_52 = builder.bitcast(_filled(_REAL_ONES), _REALS)
    real = builder.fsub(builder.bitcast(builder.or_(a, _filled(_REAL_ONES)), _REALS), two_52)
    product = builder.fmul(real, builder.bitcast(factor, _REALS))
    return builder.sub(builder.bitcast(builder.fadd(product, two_52), _WHOLES), _filled(_REAL_ONES))


def _somewhere(builder: Any, choice: Any) -> Any:
    whole = builder.bitcast(choice, ir.IntType(LANES))
    return builder.icmp_unsigned("!=", whole, ir.Constant(ir.IntType(LANES), 0))


_TWO = (_LANES, _LANES)

all_of = _operation(_LANES, (types.int64,), _spread)
"""The same number in all lanes."""
plus = _operation(_LANES, _TWO, lambda b, x, y: b.add(x, y))
minus = _operation(_LANES, _TWO, lambda b, x, y: b.sub(x, y))
times = _operation(_LANES, _TWO, lambda b, x, y: b.mul(x, y))
times_32 = _operation(
    _LANES, _TWO, lambda b, x, y: b.mul(b.and_(x, _filled(_LOW_32)), b.and_(y, _filled(_LOW_32)))
)
"""Whole numbers below 2**32 multiplied: one operation where the machine has no wider one."""
both = _operation(_LANES, _TWO, lambda b, x, y: b.and_(x, y))
either = _operation(_LANES, _TWO, lambda b, x, y: b.or_(x, y))
unlike = _operation(_LANES, _TWO, lambda b, x, y: b.xor(x, y))
up = _operation(_LANES, (_LANES, types.int64), lambda b, x, n: b.shl(x, _spread(b, n)))
"""Shifted by so many bits to the left; 0 to 63."""
down = _operation(_LANES, (_LANES, types.int64), lambda b, x, n: b.lshr(x, _spread(b, n)))
"""Shifted by so many bits to the right, zeros coming in; 0 to 63."""
less = _operation(_CHOICE, _TWO, lambda b, x, y: b.icmp_signed("<", x, y))
same = _operation(_CHOICE, _TWO, lambda b, x, y: b.icmp_signed("==", x, y))
choose = _operation(_LANES, (_CHOICE, _LANES, _LANES), lambda b, c, x, y: b.select(c, x, y))
"""The first where the choice is yes, else the second."""
somewhere = _operation(types.boolean, (_CHOICE,), _somewhere)
"""Whether the choice is yes in any lane."""
sooner = _operation(_LANES, _TWO, lambda b, x, y: _of_two(b, x, y, "llvm.minnum"))
"""The smaller of two times, see above."""
later = _operation(_LANES, _TWO, lambda b, x, y: _of_two(b, x, y, "llvm.maxnum"))
"""The larger of two times."""
nearest = _operation(_LANES, _TWO, _nearest)
"""Whole numbers below 2**52 times doubles (see `load_real`), to the nearest whole; the product < 2**51."""


def _place(context: Any, builder: Any, signature: Any, arguments: Any, kind: Any) -> Any:
    """Where `LANES` numbers of an array begin, as a pointer to a vector of `kind`."""
    array = context.make_array(signature.args[0])(context, builder, arguments[0])
    return builder.bitcast(builder.gep(array.data, [arguments[1]]), kind.as_pointer())


@_extension
def load(_typing: Any, array: Any, at: Any) -> Any:
    """Sixteen numbers of an int64 array from place `at` on."""

    def generate(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        return builder.load(_place(context, builder, signature, arguments, _WHOLES), align=8)

    return _LANES(array, types.int64), generate


@_extension
def load_real(_typing: Any, array: Any, at: Any) -> Any:
    """The bits of sixteen numbers of a float64 array from place `at` on, for `nearest` alone."""

    def generate(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        return builder.load(_place(context, builder, signature, arguments, _WHOLES), align=8)

    return _LANES(array, types.int64), generate


@_extension
def load_narrow(_typing: Any, array: Any, at: Any) -> Any:
    """Sixteen numbers of an int32 array from place `at` on."""

    def generate(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        narrow = builder.load(_place(context, builder, signature, arguments, _HALVES), align=4)
        return builder.sext(narrow, _WHOLES)

    return _LANES(array, types.int64), generate


@_extension
def store(_typing: Any, array: Any, at: Any, lanes: Any) -> Any:
    """Put sixteen numbers into an int64 array."""

    def generate(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        builder.store(arguments[2], _place(context, builder, signature, arguments, _WHOLES), align=8)
        return context.get_dummy_value()

    return types.void(array, types.int64, _LANES), generate


@_extension
def store_narrow(_typing: Any, array: Any, at: Any, lanes: Any) -> Any:
    """Put sixteen numbers into an int32 array; each fits."""

    def generate(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        narrow = builder.trunc(arguments[2], _HALVES)
        builder.store(narrow, _place(context, builder, signature, arguments, _HALVES), align=4)
        return context.get_dummy_value()

    return types.void(array, types.int64, _LANES), generate


def _looked_up(context: Any, builder: Any, signature: Any, arguments: Any, kind: Any) -> Any:
    # One load for each lane: faster than the machines' own gathering where it was measured, same everywhere.
    array = context.make_array(signature.args[0])(context, builder, arguments[0])
    found = ir.Constant(kind, ir.Undefined)
    for lane in range(LANES):
        place = ir.Constant(_HALF, lane)
        pointer = builder.gep(array.data, [builder.extract_element(arguments[1], place)])
        found = builder.insert_element(found, builder.load(pointer), place)
    return found


@_extension
def look_up(_typing: Any, array: Any, places: Any) -> Any:
    """The numbers of an int64 array at sixteen places."""

    def generate(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        return _looked_up(context, builder, signature, arguments, _WHOLES)

    return _LANES(array, _LANES), generate


@_extension
def look_up_narrow(_typing: Any, array: Any, places: Any) -> Any:
    """The numbers of an int32 array at sixteen places."""

    def generate(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        return builder.sext(_looked_up(context, builder, signature, arguments, _HALVES), _WHOLES)

    return _LANES(array, _LANES), generate


def machine() -> str:
    """The widest vectors of the processor that the compiled code is for: avx512, avx2, sse or other."""
    from llvmlite.binding import get_process_triple
    from numba.core.registry import cpu_target

    features = cpu_target.target_context.codegen()._tm_features  # the same text that the cache is keyed by
    for feature, name in (("+avx512f", "avx512"), ("+avx2", "avx2")):
        if feature in features.split(","):
            return name
    return "sse" if get_process_triple().startswith("x86_64") else "other"
