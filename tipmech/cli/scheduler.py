"""`--scheduler` of studies: on which workers a study runs."""

from collections.abc import Iterator
from contextlib import contextmanager
from types import ModuleType

from ..checks import InputError

LOCAL = "local"


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
    """What to hand to a study as its workers: so many processes here, or the workers behind a scheduler."""
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
