"""The decorators of compiled kernels and of the named tuples of arrays they work on. Floor 0.

Common options: cached on disk; released GIL; division by zero gives inf or nan, which the solvers detect; no reference
counting (`_nrt=False`), which on tuples of arrays costs more than the mechanics (elastic assembly at 120 elements 43 us
with it, 16 us without; contact 250 and 55 us). A kernel therefore allocates nothing and does not assign slice to slice.

A kernel has two faces. Called from Python it is a *whole*: machine code with all kernels it calls. Called from another
kernel it is a *part*: intermediate code, linked into the whole and optimised there once (see `parts`). Were every
kernel a whole, each would optimise and emit all kernels below it again.
"""

from collections.abc import Callable
from functools import update_wrapper
from typing import Any, TypeVar, cast

import numba
from numba import types
from numba.extending import typeof_impl

from .bundle import bundle as bundle
from .cache import PartCache, WholeCache
from .digest import Digest
from .parts import PartCompiler, WholeCompiler

F = TypeVar("F", bound=Callable[..., Any])

njit: Any = numba.njit  # typed incompletely
unliteral: Any = types.unliteral
COMMON: dict[str, Any] = {"nogil": True, "error_model": "numpy", "no_cfunc_wrapper": True, "_nrt": False}


def kernel(function: F) -> F:
    """Compile `function`."""
    return _compile(function, forceinline=False)


def inlined(function: F) -> F:
    """A kernel that its callers take in whole: for those called for every point, whose call would cost more than
    their work (contact 57 us with it, 95 us without)."""
    return _compile(function, forceinline=True)


def _compile(function: F, **options: Any) -> F:
    """`function` compiled with what all kernels have in common, and `options` of its own (plain without the JIT).

    Together they name every choice that numba would otherwise take over from the caller that it meets first.
    """
    plain: bool = numba.config.DISABLE_JIT  # type: ignore[attr-defined]
    return function if plain else cast(F, Kernel(function, options))


class Kernel:
    """A compiled function.

    Attributes
    ----------
    py_func : the function itself
    digest : of everything its machine code depends on
    whole, part : numba's dispatchers for calls from Python and from kernels
    """

    def __init__(self, function: Callable[..., Any], options: dict[str, Any]) -> None:
        update_wrapper(self, function)
        self.py_func = function
        self.digest = Digest(function, repr(sorted((COMMON | options).items())))
        self.whole = njit(**COMMON, **options, pipeline_class=WholeCompiler)(function)
        self.whole._cache = WholeCache(function, self.digest)
        self.part = njit(**COMMON, **options, no_cpython_wrapper=True, pipeline_class=PartCompiler)(function)
        self.part._cache = PartCache(function, self.digest)
        template = self.part.get_call_template
        # one version for all values of an integer or a bool: numba would compile one for each constant handed over
        self.part.get_call_template = lambda args, kws: template(
            tuple(unliteral(a) for a in args), {name: unliteral(a) for name, a in kws.items()}
        )

    def __call__(self, *args: Any, **kws: Any) -> Any:
        """Call the machine code."""
        return self.whole(*args, **kws)


@typeof_impl.register(Kernel)
def _(kernel: Kernel, context: Any) -> types.Dispatcher:
    """What a kernel is to a kernel that calls it."""
    return types.Dispatcher(kernel.part)
