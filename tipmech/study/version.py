"""Which code computed a study: the version and a digest of the sources that decide an outcome."""

import ast
import hashlib
import platform
from collections.abc import Iterator, Sequence
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

from .. import __version__

ROOTS = (
    "insertion/run.py",
    "insertion/classify.py",
    "bench/tip_load.py",
    "wire/design.py",
    *(f"study/{name}.py" for name in ("build", "events", "inputs", "spec", "threshold")),
    *(f"study/run_{name}.py" for name in ("attempts", "map", "threshold")),
)
"""Files that decide an outcome, with all they import from other rooms."""
PACKAGES = ("numpy", "scipy", "numba", "pyarrow", "SALib")


@cache
def code_version(*more: str) -> str:
    """Version and the first 10 hex digits of the SHA-256 over the sources that decide an outcome.

    more: further roots of one kind of study, which count for its digest only. Files are taken in the order of their
    path, with line ends made equal, so that it does not depend on the system.
    """
    root = Path(__file__).resolve().parent.parent
    digest = hashlib.sha256()
    for path in deciding(root, more):
        digest.update(path.relative_to(root).as_posix().encode())
        digest.update(path.read_bytes().replace(b"\r\n", b"\n"))
    return f"{__version__}+{digest.hexdigest()[:10]}"


def deciding(root: Path, more: Sequence[str] = ()) -> list[Path]:
    """The roots (and `more`), what they import from other rooms than their own study's, and the shipped wires.

    In the order of path.
    """
    found: set[Path] = set()
    left = [root / name for name in (*ROOTS, *more)]
    while left:
        path = left.pop()
        if path not in found:
            found.add(path)
            left += [p for p in _imported(path, root) if p.relative_to(root).parts[0] != "study"]
    found |= set((root / "wire" / "presets").glob("*.toml"))
    return sorted(found, key=lambda p: p.relative_to(root).as_posix())


def _imported(path: Path, root: Path) -> Iterator[Path]:
    """Files of this package that a file imports (all its imports are relative)."""
    for node in ast.walk(ast.parse(path.read_bytes())):
        if isinstance(node, ast.ImportFrom) and node.level:
            base = path.parents[node.level - 1]
            names = [node.module.replace(".", "/")] if node.module else [alias.name for alias in node.names]
            names += [f"{node.module.replace('.', '/')}/{alias.name}" for alias in node.names] if node.module else []
            for name in names:
                for file in (base / f"{name}.py", base / name / "__init__.py"):
                    if file.is_file() and file.is_relative_to(root):
                        yield file


def environment() -> dict[str, str]:
    """Versions of Python and the numerical packages, and the kind of machine (no names)."""
    out = {"python": platform.python_version(), "machine": f"{platform.system()} {platform.machine()}"}
    for name in PACKAGES:
        try:
            out[name] = version(name)
        except PackageNotFoundError:
            out[name] = "not installed"
    return out
