"""Kernels as parts of others: intermediate code, linked and left for the whole to optimise and emit.

Built on numba's compiler pipeline: a part has a code library that stops before optimisation and machine code.
"""

import gc
from typing import Any

from llvmlite import binding
from numba.core.codegen import JITCodeLibrary
from numba.core.compiler import Compiler, Flags

SELDOM = 100_000  # new objects before a search for garbage (Python: 700)


class PartLibrary(JITCodeLibrary):
    """Code library of a part: its own intermediate code and that of the parts it calls."""

    def finalize(self) -> None:
        """Link the parts it calls; no optimisation, no machine code."""
        for library in dict.fromkeys(self._linking_libraries):
            self._final_module.link_in(library._get_module_for_linking(), preserve=True)
        self._finalize_dynamic_globals()
        self._finalized = True

    def get_pointer_to_function(self, name: str) -> int:
        """No machine code: a null pointer."""
        self._ensure_finalized()
        return 0

    @property
    def codegen(self) -> Any:
        """What numba registers the environments of executable code with: a part has none."""
        return _NoEnvironments

    def serialize_using_object_code(self) -> tuple[str, str, bytes]:
        """For the disk cache: the intermediate code."""
        return self.name, "part", self._get_module_for_linking().as_bitcode()

    @classmethod
    def rebuilt(cls, codegen: Any, name: str, bitcode: bytes) -> "PartLibrary":
        """A part from its intermediate code."""
        library = cls(codegen, name)
        library._final_module = binding.parse_bitcode(bitcode)
        library._finalized = True
        return library


class _NoEnvironments:
    @staticmethod
    def set_env(name: str, env: Any) -> None:
        """Nothing to point to."""


class KernelFlags(Flags):
    """The compiler's flags, compared by what was set before all options are listed (numba asks some 60,000 times)."""

    __slots__ = ()

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Flags) and (self._values == other._values or bool(super().__eq__(other)))

    def __hash__(self) -> int:
        return len(self.options)  # type: ignore[attr-defined]  # of values nothing: they change after flags are made


class WholeCompiler(Compiler):
    """The compiler of numba, with Python's search for cyclic garbage less often meanwhile (10 % of the time of a cold
    start, for 35 MB more; without any search 275 MB)."""

    def __init__(self, typingctx: Any, targetctx: Any, library: Any, *args: Any, **kws: Any) -> None:
        super().__init__(typingctx, targetctx, library, *args, **kws)
        self.state.flags = KernelFlags(self.state.flags)

    def compile_extra(self, func: Any) -> Any:
        """Compile a function and the parts it calls."""
        before = gc.get_threshold()
        gc.set_threshold(SELDOM, *before[1:])
        try:
            return super().compile_extra(func)
        finally:
            gc.set_threshold(*before)


class PartCompiler(Compiler):
    """The compiler of numba, with the code library of a part."""

    def __init__(self, typingctx: Any, targetctx: Any, library: Any, *args: Any, **kws: Any) -> None:
        super().__init__(typingctx, targetctx, library, *args, **kws)
        self.state.flags = KernelFlags(self.state.flags)
        self.state.library = PartLibrary(self.state.targetctx.codegen(), "part")
        self.state.library.enable_object_caching()
