"""Processes that solve, one of them ready for the tab to come; and the port. Loads neither framework nor solver."""

import asyncio
import socket
from ipaddress import IPv6Address, ip_address
from pathlib import Path

from ..checks import InputError, shown
from .process import Process

NEXT_READY = 20.0  # s after which a process is started for a tab to come


class Workers:
    """Processes that solve: one waits ready, so that a tab need not wait for one to start.

    Parameters
    ----------
    folder : Path
        where they may write
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._ready: Process | None = None
        self.prepare()

    def prepare(self) -> None:
        """Start one that waits."""
        if self._ready is None:
            self._ready = Process("worker", folder=self._folder)

    def take(self) -> Process:
        """The one that waits, or a new one where none does or it has ended; another is started a while later."""
        ready, self._ready = self._ready, None
        asyncio.get_running_loop().call_later(NEXT_READY, self.prepare)
        return ready if ready is not None and ready.alive else Process("worker", folder=self._folder)

    def close(self) -> None:
        """End the one that waits."""
        if self._ready is not None:
            self._ready.stop()


def free_port(host: str, port: int) -> int:
    """`port` if it can be listened on (0: any that can).

    Raises
    ------
    InputError
        if it cannot, or `host` stands for all addresses: the page answers to requests for one (guard.py)
    """
    try:
        with socket.socket(socket.AF_INET6 if ":" in host else socket.AF_INET, socket.SOCK_STREAM) as probe:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            probe.bind((host, port))
            address, number = probe.getsockname()[:2]
    except OSError as error:
        raise InputError(
            f"{host}, port {port}: cannot be listened on ({error.strerror}); allowed: an address of this machine, "
            "--port with another number, 0 for any that is free"
        ) from None
    if _all_addresses(address):
        raise InputError(
            f"--host is {shown(host)}, which stands for all addresses; allowed: one of this machine's own, by which "
            "others then open the page"
        )
    return int(number)


def _all_addresses(address: str) -> bool:
    """Whether a bound address stands for every one of the machine."""
    bound = ip_address(address)
    mapped = bound.ipv4_mapped if isinstance(bound, IPv6Address) else None
    return bound.is_unspecified or (mapped is not None and mapped.is_unspecified)
