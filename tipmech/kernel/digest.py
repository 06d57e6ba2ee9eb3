"""Digest of all that decides a kernel's machine code: its byte code, and whatever it reads from its module.

That is: kernels it calls (with all that decides theirs), constants, fields of named tuples, and this package's own
sources. A name that stands for anything else is refused, so that no change goes unseen.
"""

import hashlib
from collections.abc import Callable, Iterator
from functools import cached_property
from pathlib import Path
from types import BuiltinFunctionType, CodeType, ModuleType
from typing import Any

import numpy as np

HERE = b"".join(p.read_bytes() for p in sorted(Path(__file__).parent.glob("*.py")))
PLAIN = (int, float, complex, str, bool, type(None), np.generic)


class Digest:
    """Digest of a function compiled with `options`; made when first asked for, when its module is complete."""

    def __init__(self, function: Callable[..., Any], options: str) -> None:
        self._function, self._options = function, options

    @cached_property
    def value(self) -> str:
        """SHA-256, hexadecimal."""
        sha = hashlib.sha256(HERE)
        sha.update(self._options.encode())
        for item in (*_code(self._function), *_reads(self._function)):
            sha.update(item.encode())
            sha.update(b"\n")
        return sha.hexdigest()


def _code(function: Any) -> Iterator[str]:
    """Byte code and what it refers to by number; not the docstring, nor names of files and lines."""
    for code in _nested(function.__code__):
        yield repr((code.co_code, code.co_names, code.co_varnames, code.co_argcount, code.co_freevars, code.co_flags))
        for c in code.co_consts:
            if not isinstance(c, CodeType) and c != function.__doc__:
                yield repr(sorted(map(repr, c)) if isinstance(c, frozenset) else c)
    yield repr((function.__defaults__, function.__kwdefaults__))


def _nested(code: CodeType) -> Iterator[CodeType]:
    """A code object and those within it."""
    yield code
    for constant in code.co_consts:
        if isinstance(constant, CodeType):
            yield from _nested(constant)


def _reads(function: Any) -> Iterator[str]:
    """What a function reads from its module and its closure, one line each."""
    names = {name for code in _nested(function.__code__) for name in code.co_names}
    found = {name: function.__globals__[name] for name in names if name in function.__globals__}
    found |= {
        n: c.cell_contents for n, c in zip(function.__code__.co_freevars, function.__closure__ or (), strict=True)
    }
    for name in sorted(found):
        yield f"{name} = {_value(found[name], function, name)}"


def _value(value: Any, function: Any, name: str) -> str:
    """A value that a kernel reads, in words that differ where the value does."""
    digest = getattr(value, "digest", None)
    if isinstance(digest, Digest):
        return digest.value
    if isinstance(value, PLAIN):
        return f"{type(value).__name__} {value!r}"
    if isinstance(value, tuple):
        return f"{type(value).__name__} {[_value(v, function, name) for v in value]}"
    if isinstance(value, np.ndarray):
        return f"array {value.dtype} {value.shape} {value.tobytes().hex()}"
    if isinstance(value, type) and hasattr(value, "_fields"):
        return f"named tuple {value._fields} {value._field_defaults}"  # type: ignore[attr-defined]
    if isinstance(value, BuiltinFunctionType) or value in (int, float, bool, abs, max, min, range):
        return f"{value.__module__}.{value.__qualname__}"
    if isinstance(value, ModuleType) and value.__name__.partition(".")[0] != function.__module__.partition(".")[0]:
        return f"{value.__name__} {getattr(value, '__version__', '')}"
    raise TypeError(
        f"kernel {function.__module__}.{function.__qualname__} reads {name}, a {type(value).__name__}; it may read "
        "kernels, numbers, strings, arrays, tuples, named tuples and modules of other packages"
    )
