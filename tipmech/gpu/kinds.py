"""Types of lanes for numba's CUDA target, and kernels as its device functions."""

import re
from functools import cache
from math import prod
from typing import Any

import numpy as np
from llvmlite import ir
from numba.cuda import cgutils, types
from numba.cuda.codegen import CUDACodeLibrary
from numba.cuda.compiler import _compile_pyfunc_with_fixup, compile_cuda
from numba.cuda.descriptor import cuda_target
from numba.cuda.dispatcher import CUDADispatcher
from numba.cuda.extending import (
    infer_getattr,
    intrinsic,
    lower_getattr_generic,
    models,
    register_model,
    typeof_impl,
)
from numba.cuda.typing.templates import AttributeTemplate
from numba.cuda.ufuncs import ufunc_db

from ..kernel import Kernel, unliteral
from .lanes import LAST, RAGGED, WORD, Slot, make_of
from .team import CALLED, STANDS_FOR

ARCH = (9, 0)  # compute capability compiled for
LONG = 600  # instructions: a longer function stays one, called from wherever it is needed


class Lanes(types.Type):
    """Type of one lane's bundle: an address."""

    def __init__(self, slot: Slot) -> None:
        self.slot = slot
        super().__init__(f"lanes {slot.cls.__name__} {slot.start} {make_of(slot)}")


@register_model(Lanes)
class LanesModel(models.PrimitiveModel):
    """The address of the lane's first word."""

    def __init__(self, dmm: Any, kind: Lanes) -> None:
        super().__init__(dmm, kind, ir.IntType(8).as_pointer())


def kind_of(slot: Slot) -> Any:
    """Type of a field to a kernel."""
    if slot.kind == "bundle":
        return Lanes(slot)
    if slot.kind == "tuple":
        return types.UniTuple(types.float64, len(slot.inner))
    number = types.int64 if slot.dtype.kind == "i" else types.float64
    return types.Array(number, len(slot.shape), "A") if slot.kind == "array" else number


@infer_getattr
class LaneFields(AttributeTemplate):
    """Types of the fields."""

    key = Lanes

    def generic_resolve(self, kind: Lanes, attr: str) -> Any:
        """Type of a field."""
        fields = kind.slot.cls._fields
        return kind_of(kind.slot.inner[fields.index(attr)]) if attr in fields else None


@lower_getattr_generic(Lanes)
def _(context: Any, builder: Any, kind: Lanes, base: Any, attr: str) -> Any:
    """A field: the address of lanes within stays that of the lane."""
    slot = kind.slot.inner[kind.slot.cls._fields.index(attr)]
    if slot.kind == "bundle":
        return base
    if slot.kind == "tuple":
        items = [builder.load(_place(builder, base, s.start * WORD, ir.DoubleType())) for s in slot.inner]
        return context.make_tuple(builder, kind_of(slot), items)
    number = ir.IntType(64) if slot.dtype.kind == "i" else ir.DoubleType()
    if slot.kind == "number":
        return builder.load(_place(builder, base, slot.start * WORD, number))
    return _view(context, builder, slot, base, number)


def _place(builder: Any, base: Any, at: int, number: Any) -> Any:
    """Address so many bytes behind a lane's first word."""
    at = builder.gep(base, [_word(at)], inbounds=True)
    return builder.bitcast(at, number.as_pointer())


def _view(context: Any, builder: Any, slot: Slot, base: Any, number: Any) -> Any:
    """A lane's array."""
    view = context.make_array(kind_of(slot))(context, builder)
    shape = [_word(n) for n in slot.shape]
    if slot.mark == RAGGED:
        shape[0] = builder.load(_place(builder, base, slot.start * WORD, shape[0].type))
    strides = [_word(WORD * prod(slot.shape[k + 1 :])) for k in range(len(shape))]
    if slot.mark == LAST:
        strides[0] = _word(0)
    context.populate_array(
        view,
        data=_place(builder, base, slot.first * WORD, number),
        shape=shape,
        strides=strides,
        itemsize=_word(WORD),
        meminfo=None,
    )
    return view._getvalue()


def _word(n: int) -> Any:
    """A constant."""
    return ir.Constant(ir.IntType(64), n)


def lane_reader(slot: Slot) -> Any:
    """Device function (address of all lanes, number of one) -> the lane's bundle."""

    @intrinsic
    def lane(typingctx: Any, address: Any, number: Any) -> Any:
        def generate(context: Any, builder: Any, signature: Any, args: Any) -> Any:
            address, number = args
            at = builder.add(address, builder.mul(number, _word(slot.words * WORD)))
            return builder.inttoptr(at, ir.IntType(8).as_pointer())

        return Lanes(slot)(types.int64, types.int64), generate

    return lane


@typeof_impl.register(Kernel)
def _(kernel: Kernel, context: Any) -> Any:
    """What a kernel is to a kernel that calls it on the GPU."""
    return types.Dispatcher(device(kernel))


class Device(CUDADispatcher):
    """A kernel as a device function; compiled for ARCH, whatever device there is or none."""

    def compile_device(self, args: Any, return_type: Any = None) -> Any:
        """Compile for argument types, once."""
        if args not in self.overloads:
            inline = self.targetoptions["forceinline"]
            done = compile_cuda(self.py_func, return_type, args, forceinline=inline, nvvm_options={"opt": 3}, cc=ARCH)
            if self.targetoptions["called"]:
                for function in done.library._module.functions:
                    if not function.is_declaration:
                        function.attributes.add("noinline")
            self.overloads[args] = done
            done.target_context.insert_user_function(done.entry_point, done.fndesc, [done.library])
        return self.overloads[args]

    def get_call_template(self, args: Any, kws: Any) -> Any:
        """One version for all values of an integer or a bool."""
        return super().get_call_template(tuple(map(unliteral, args)), {n: unliteral(a) for n, a in kws.items()})


@cache
def device(kernel: Kernel) -> Any:
    """A kernel, or what stands for it, as a device function."""
    called = kernel in CALLED
    inline = bool(kernel.whole.targetoptions.get("forceinline")) and not called
    options = {"device": True, "forceinline": inline, "opt": True, "called": called}
    return Device(STANDS_FOR.get(kernel, kernel.py_func), options)


def _rounding(name: str) -> Any:
    """What numba's CUDA target lacks: floor and ceil that stay floats, by the GPU's own library."""

    def generate(context: Any, builder: Any, signature: Any, args: Any) -> Any:
        kind = ir.FunctionType(ir.DoubleType(), [ir.DoubleType()])
        return builder.call(cgutils.get_or_insert_function(builder.module, kind, name), args)

    return generate


ufunc_db()[np.floor] = {"d->d": _rounding("__nv_floor")}
ufunc_db()[np.ceil] = {"d->d": _rounding("__nv_ceil")}


class Library(CUDACodeLibrary):
    """Code library that names every module once (numba: once for each way to it, 60,000 for an insertion's 600)."""

    @property
    def modules(self) -> Any:
        """All modules, its own first."""
        found: dict[int, Any] = {}
        self._gather(found)
        return list(found.values())

    def _gather(self, found: dict[int, Any]) -> None:
        if id(self._module) not in found:
            found[id(self._module)] = self._module
            for library in self._linking_libraries:
                library._gather(found)

    def finalize(self) -> None:
        """Functions of the libraries below serve this one alone."""
        self._raise_if_finalized()
        for library in self._linking_libraries:
            for function in library._module.functions:
                if not function.is_declaration:
                    function.linkage = "linkonce_odr"
                    if "alwaysinline" not in function.attributes and _size(function) > LONG:
                        function.attributes.add("noinline")
        self._finalized = True


def _size(function: Any) -> int:
    """Number of instructions of a function, as it is before anything is optimised."""
    return sum(len(block.instructions) for block in function.blocks)


cuda_target.target_context.codegen()._library_class = Library


def program(entry: Any, numbers: int = 2, name: str = "lanes") -> str:
    """Program (PTX) of an entry, by that name, that takes so many whole numbers: the address of the blocks first."""
    kind = types.void(*[types.int64] * numbers)
    library, _ = _compile_pyfunc_with_fixup(entry, kind, device=False, abi="numba", cc=ARCH)
    text = str(library.get_asm_str(cc=ARCH))
    (made,) = re.findall(r"\.entry (\w+)", text)
    return text.replace(made, name)
