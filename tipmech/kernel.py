"""The one decorator of compiled kernels. Floor 0.

Options: cached on disk; released GIL; division by zero gives inf or nan, which the solvers detect; no reference
counting (`_nrt=False`), which on bundles of arrays handed from kernel to kernel costs more than the mechanics (elastic
assembly at 120 elements 43 us with it, 16 us without; contact 250 and 55 us). A kernel therefore allocates nothing
and does not assign slice to slice.
"""

import hashlib
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar, cast

from numba import njit

F = TypeVar("F", bound=Callable[..., Any])

ROOMS = ("rod", "vessel", "insertion", "bench")  # where kernels live


def _fingerprint() -> str:
    """Digest of the sources of all kernels: numba's own cache key does not see an edit in a callee's file."""
    digest = hashlib.sha256()
    root = Path(__file__).parent
    for room in ROOMS:
        for path in sorted((root / room).glob("*.py")):
            digest.update(path.name.encode())
            digest.update(path.read_bytes())
    digest.update(Path(__file__).read_bytes())
    return digest.hexdigest()


SOURCES = _fingerprint()


def kernel(function: F) -> F:
    """Compile `function` without reference counting; an edit of any kernel's source makes the cached code void."""
    return _compile(function, _nrt=False)


def inlined(function: F) -> F:
    """A kernel compiled as a part of its callers: for those called for every point with bundles of arrays, whose
    handing over (some 250 words) would cost more than their work."""
    return _compile(function, _nrt=False, forceinline=True)


def kernel_with_memory(function: F) -> F:
    """Compile `function` with reference counting: for the few outer loops that allocate."""
    return _compile(function)


def _compile(function: F, **options: Any) -> F:
    """`function` compiled with what all kernels have in common, and `options` of its own."""
    return cast(F, _keyed(njit(cache=True, nogil=True, error_model="numpy", **options)(function)))


def _keyed(compiled: Any) -> Any:
    """Key the compiled function's disk cache by the sources of all kernels (plain Python functions pass)."""
    cache = getattr(compiled, "_cache", None)
    file = getattr(cache, "_cache_file", None)
    if file is not None:
        file._source_stamp = SOURCES
    return cast(Any, compiled)
