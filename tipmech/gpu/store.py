"""Machine code of programs, kept on disk: making one takes minutes."""

import hashlib
import os
from collections.abc import Callable
from importlib.metadata import version
from pathlib import Path

from ..whole import whole_file
from .device import Gpu, assembled
from .lanes import Slot, make_of

HERE = Path(__file__).parent


def kept(slot: Slot, digest: str, gpu: Gpu, registers: int, make: Callable[[], str]) -> bytes:
    """Machine code of the program for lanes of this make, as kept or made now.

    digest : of the kernels in it; registers : of a thread at most; make : gives the program (PTX)
    """
    name = f"{program_key(slot, digest)}-{gpu.compute[0]}{gpu.compute[1]}-{registers}"
    path = folder() / f"{name}.cubin"
    if not path.exists():
        code = assembled(make(), registers)
        path.parent.mkdir(parents=True, exist_ok=True)
        with whole_file(path) as temporary:
            temporary.write_bytes(code)
    return path.read_bytes()


def folder() -> Path:
    """Where machine code is kept: numba's folder (NUMBA_CACHE_DIR), else beside this file."""
    asked = os.environ.get("NUMBA_CACHE_DIR")
    return Path(asked) / "gpu" if asked else HERE / "__pycache__"


def program_key(slot: Slot, digest: str) -> str:
    """What tells one program from another: its kernels, how they are compiled for a GPU, the make of its lanes."""
    sha = hashlib.sha256(f"{digest} {version('numba-cuda')}".encode())
    for path in (*sorted(HERE.glob("*.py")), *sorted(HERE.parent.glob("*/on_gpu.py"))):
        sha.update(path.read_bytes())
    sha.update(make_of(slot).encode())
    return sha.hexdigest()[:24]
