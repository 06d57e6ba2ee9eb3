"""The disk cache of numba, keyed by what a kernel's code depends on instead of by the date of its file."""

from collections.abc import Callable, Iterator
from typing import Any

from numba import types
from numba.core.caching import CompileResultCacheImpl, FunctionCache
from numba.core.compiler import compile_result

from .bundle import Bundle
from .digest import Digest
from .parts import PartLibrary


class WholeImpl(CompileResultCacheImpl):
    """File names without line numbers: a function that moves in its file keeps its code."""

    face = "whole"

    def get_filename_base(self, fullname: str, abiflags: str) -> str:
        """Name of the index and data files of a kernel, without ending."""
        name = super().get_filename_base(fullname, abiflags)
        return str(name.replace(f"-{self.locator.get_disambiguator()}.", f"-{self.face}."))


class PartImpl(WholeImpl):
    """Parts in files of their own."""

    face = "part"

    def rebuild(self, target_context: Any, payload: Any) -> Any:
        """A part from the disk: nothing of it goes to the machine."""
        (name, _, bitcode), fndesc, environment, signature, objectmode, lifted, annotation, reload_init, envs = payload
        library = PartLibrary.rebuilt(target_context.codegen(), name, bitcode)
        return compile_result(
            target_context=target_context,
            typing_context=target_context.typing_context,
            library=library,
            environment=environment,
            entry_point=target_context.get_executable(library, fndesc, environment),
            fndesc=fndesc,
            type_annotation=annotation,
            signature=signature,
            objectmode=objectmode,
            lifted=lifted,
            reload_init=reload_init,
            referenced_envs=envs,
        )


class WholeCache(FunctionCache):
    """Disk cache of a kernel's machine code."""

    _impl_class = WholeImpl

    def __init__(self, function: Callable[..., Any], digest: Digest) -> None:
        super().__init__(function)
        self._digest = digest

    def load_overload(self, sig: Any, target_context: Any) -> Any:
        """The cached code for a signature, None where there is none for the present sources."""
        self._cache_file._source_stamp = self._digest.value
        try:
            return super().load_overload(sig, target_context)
        except ImportError:  # of another state of the sources, when one of its functions was in a module now gone
            return None

    def save_overload(self, sig: Any, data: Any) -> None:
        """Keep the code for a signature."""
        self._cache_file._source_stamp = self._digest.value
        super().save_overload(sig, data)

    def _index_key(self, sig: Any, codegen: Any) -> Any:
        """Key of numba and the fields of all named tuples handed in: numba itself knows these by name only."""
        return (*super()._index_key(sig, codegen), tuple(fields(sig)))


class PartCache(WholeCache):
    """Disk cache of a kernel's intermediate code."""

    _impl_class = PartImpl


def fields(sig: Any) -> Iterator[tuple[str, ...]]:
    """Names of the fields of all named tuples and bundles in a signature, in order."""
    kinds: tuple[Any, ...] = sig if isinstance(sig, tuple) else sig.args
    for kind in kinds:
        if isinstance(kind, (types.BaseNamedTuple, Bundle)):
            yield kind.fields  # type: ignore[union-attr]
        if isinstance(kind, (types.BaseTuple, Bundle)):
            yield from fields(tuple(kind.types))  # type: ignore[union-attr]
