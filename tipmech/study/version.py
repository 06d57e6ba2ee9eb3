"""Which code computed a study: the version and a digest of the sources that decide an outcome."""

import hashlib
import platform
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

from .. import __version__

DECIDING = (
    "profile.py",
    "outcome.py",
    "smooth.py",
    "rod",
    "vessel",
    "wire",
    "bench",
    "insertion",
    *(f"study/{name}.py" for name in ("build", "events", "inputs", "run_map", "run_threshold", "spec", "threshold")),
)
PACKAGES = ("numpy", "scipy", "numba", "pyarrow")


@cache
def code_version() -> str:
    """Version and the first 10 hex digits of the SHA-256 over the sources that decide an outcome.

    Files are taken in the order of their path, with line ends made equal, so that it does not depend on the system.
    """
    root = Path(__file__).resolve().parent.parent
    files = [p for name in DECIDING for p in ([root / name] if name.endswith(".py") else (root / name).rglob("*"))]
    digest = hashlib.sha256()
    for path in sorted(files, key=lambda p: p.relative_to(root).as_posix()):
        if path.suffix in (".py", ".toml") and path.is_file():
            digest.update(path.relative_to(root).as_posix().encode())
            digest.update(path.read_bytes().replace(b"\r\n", b"\n"))
    return f"{__version__}+{digest.hexdigest()[:10]}"


def environment() -> dict[str, str]:
    """Versions of Python and the numerical packages, and the kind of machine (no names)."""
    out = {"python": platform.python_version(), "machine": f"{platform.system()} {platform.machine()}"}
    for name in PACKAGES:
        try:
            out[name] = version(name)
        except PackageNotFoundError:
            out[name] = "not installed"
    return out
