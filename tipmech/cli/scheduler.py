"""`--scheduler` and `--device` of studies: on which workers, or on what else, a study runs."""

from collections.abc import Iterator
from contextlib import contextmanager
from enum import StrEnum
from importlib import import_module
from types import ModuleType
from typing import Any

from ..checks import InputError

LOCAL = "local"


class Device(StrEnum):
    """What carries insertions out. GPU also stands in the place of a scheduler's address."""

    CPU = "cpu"
    GPU = "gpu"


def check_device(device: Device, address: str | None, workers: int | None) -> str | None:
    """Where a study is to run: `Device.GPU`, or as `check_scheduler`; nothing is started.

    Raises
    ------
    InputError
        if a GPU is asked for together with a scheduler, or where there is none, or what it needs is not installed
    """
    if device is Device.CPU:
        return check_scheduler(address, workers)
    if address is not None:
        raise InputError("--device: gpu given with --scheduler; allowed: one of the two")
    _gpu()
    return Device.GPU


def check_scheduler(address: str | None, workers: int | None) -> str | None:
    """Address of a scheduler as it was given; nothing is connected.

    Raises
    ------
    InputError
        if it is malformed, given with `--workers` where these are the scheduler's own, or if Dask is not installed
    """
    if address is not None:
        _cluster().check_address(address)
        if workers is not None and address != LOCAL:
            allowed = f"only with --scheduler {LOCAL}; at an address the scheduler has its workers"
            raise InputError(f"--workers: {workers} given with --scheduler {address}; allowed: {allowed}")
    return address


@contextmanager
def workers_of(address: str | None, workers: int) -> Iterator[int]:
    """What to hand to a study as its workers: so many processes here, the workers behind a scheduler, or a GPU."""
    if address == Device.GPU:
        yield _gpu(workers)
        return
    if address is None:
        yield workers
        return
    with _cluster().connected(address, workers) as found:
        yield found


def _cluster() -> ModuleType:
    """The module of Dask's scheduler; its package is an extra."""
    try:
        import distributed  # noqa: F401
    except ModuleNotFoundError:
        what = "needs the package 'distributed', which is not installed"
        raise InputError(f"--scheduler: {what}; allowed: pip install 'tipmech[scale]' first") from None
    from ..study import cluster

    return cluster


def _gpu(workers: int | None = None) -> Any:
    """A GPU of this machine as workers, with so many processes beside it (None: it is only looked for)."""
    try:
        import_module("cuda.bindings")
        import_module("numba_cuda")
    except ModuleNotFoundError:
        what = "gpu needs the package 'numba-cuda', which is not installed"
        raise InputError(f"--device: {what}; allowed: cpu, or pip install 'tipmech[gpu]' first") from None
    from ..gpu.device import Gpu, gpus

    if not gpus():
        raise InputError("--device: gpu asked for, and no GPU with a driver is found here; allowed: cpu")
    if workers is None:
        return None
    from ..insertion.on_gpu import load
    from ..study.gpu import OnGpu

    return OnGpu(workers, Gpu(), load)
