"""Named tuples of arrays that are handed from kernel to kernel by their place in memory.

Numba hands a tuple over field by field: some 600 words at each call for a model and its workspace, in machine code and
in the text that is compiled. A bundle is laid out once, where Python calls, and every kernel below gets a pointer. Its
fields never change (the arrays' contents do), which is what the loads tell the optimiser, so that it keeps them as
freely as arguments.
"""

from collections.abc import Callable
from functools import partial
from typing import Any, TypeVar

from llvmlite import ir
from numba import types
from numba.core import cgutils
from numba.core.datamodel import models
from numba.core.imputils import impl_ret_borrowed, lower_getattr_generic
from numba.core.typing.templates import AttributeTemplate, infer_getattr
from numba.extending import NativeValue, register_model, typeof_impl, unbox

C = TypeVar("C", bound=type)


def bundle(cls: C) -> C:
    """Make a class of named tuples a bundle in kernels. Kernels read its fields; only Python makes one."""

    def kind(value: Any, context: Any) -> "Bundle":
        return Bundle(cls, tuple(typeof_impl(v, context) for v in value))

    typeof_impl.register(cls)(kind)
    return cls


class Bundle(types.Type):
    """Type of a bundle: its class and the types of its fields."""

    def __init__(self, cls: type, kinds: tuple[Any, ...]) -> None:
        self.fields, self.types = cls._fields, kinds  # type: ignore[attr-defined]
        inside = ", ".join(f"{f}: {k}{getattr(k, 'fields', '')}" for f, k in zip(self.fields, kinds, strict=True))
        super().__init__(f"bundle {cls.__module__}.{cls.__qualname__}({inside})")


@register_model(Bundle)
class BundleModel(models.PrimitiveModel):
    """A bundle is the address of its fields, one after another; a bundle in a bundle lies within it."""

    def __init__(self, dmm: Any, kind: Bundle) -> None:
        inside = [m.layout if isinstance(m, BundleModel) else m.get_value_type() for m in map(dmm.lookup, kind.types)]
        self.layout: Any = ir.LiteralStructType(inside)
        super().__init__(dmm, kind, self.layout.as_pointer())


@infer_getattr
class BundleFields(AttributeTemplate):
    """Types of the fields."""

    key = Bundle

    def generic_resolve(self, kind: Bundle, attr: str) -> Any:  # type: ignore[override]
        """Type of a field."""
        return kind.types[kind.fields.index(attr)] if attr in kind.fields else None


@lower_getattr_generic(Bundle)
def _(context: Any, builder: Any, kind: Bundle, address: Any, attr: str) -> Any:
    """A field's value, or the address of a bundle within."""
    k = kind.fields.index(attr)
    place = cgutils.gep_inbounds(builder, address, 0, k)
    if isinstance(kind.types[k], Bundle):
        return place
    value = builder.load(place)
    value.set_metadata("tbaa", _constant(builder.module))
    return impl_ret_borrowed(context, builder, kind.types[k], value)


def _constant(module: Any) -> Any:
    """What says that a load reads what never changes (LLVM language reference, tbaa, the flag of constant memory)."""
    root = module.add_metadata([ir.MetaDataString(module, "tipmech")])
    one = ir.Constant(ir.IntType(64), 1)
    field = module.add_metadata([ir.MetaDataString(module, "field"), root, ir.Constant(ir.IntType(64), 0)])
    return module.add_metadata([field, field, ir.Constant(ir.IntType(64), 0), one])


@unbox(Bundle)
def _(kind: Bundle, obj: Any, c: Any) -> NativeValue:
    """Lay a bundle out on the stack of the call from Python."""
    address = cgutils.alloca_once(c.builder, c.context.data_model_manager[kind].layout)
    failed = cgutils.alloca_once_value(c.builder, cgutils.false_bit)
    cleanups: list[Callable[[], None]] = []
    _fill(kind, obj, address, failed, cleanups, c)

    def cleanup() -> None:
        for undo in reversed(cleanups):
            undo()

    # behind this the optimiser does not see how the fields came to be there: they have always been
    hide = ir.FunctionType(address.type, [address.type])
    address = c.builder.asm(hide, "", "=r,0,~{memory}", [address], side_effect=True)
    return NativeValue(address, is_error=c.builder.load(failed), cleanup=cleanup)


def _fill(kind: Bundle, obj: Any, address: Any, failed: Any, cleanups: list[Callable[[], None]], c: Any) -> None:
    """Store all fields; named tuples have as many items as fields, so none lacks."""
    for k, inside in enumerate(kind.types):
        item = c.pyapi.tuple_getitem(obj, k)
        place = cgutils.gep_inbounds(c.builder, address, 0, k)
        if isinstance(inside, Bundle):
            _fill(inside, item, place, failed, cleanups, c)
            continue
        native = c.unbox(inside, item)
        c.builder.store(native.value, place)
        with c.builder.if_then(native.is_error, likely=False):
            c.builder.store(cgutils.true_bit, failed)
        if native.cleanup is not None:
            cleanups.append(native.cleanup)
        if c.context.enable_nrt:  # in code that counts references the caller lets go of its own
            cleanups.append(partial(c.context.nrt.decref, c.builder, inside, native.value))
