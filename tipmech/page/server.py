"""The server of the page: listens, hands every tab its own processes, answers to itself only."""

import asyncio
import logging
import os
import socket
from pathlib import Path

from .. import CAUTION
from ..checks import InputError
from .process import Process

NEXT_READY = 20.0  # s after which a process is started for a tab to come
MOST_TABS = 6  # at once: each has processes of its own
FULL = f"{MOST_TABS} tabs are open, which is the most; close one and load this page again."


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
            self._ready = Process("worker", str(self._folder))

    def take(self) -> Process:
        """The one that waits, or a new one; another is started a while later."""
        ready, self._ready = self._ready, None
        asyncio.get_running_loop().call_later(NEXT_READY, self.prepare)
        return ready or Process("worker", str(self._folder))

    def close(self) -> None:
        """End the one that waits."""
        if self._ready is not None:
            self._ready.stop()


def free_port(host: str, port: int) -> int:
    """`port` if it can be listened on (0: any that can).

    Raises
    ------
    InputError
        if it cannot
    """
    try:
        with socket.socket(socket.AF_INET6 if ":" in host else socket.AF_INET, socket.SOCK_STREAM) as probe:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            probe.bind((host, port))
            return int(probe.getsockname()[1])
    except OSError as error:
        raise InputError(
            f"{host}, port {port}: cannot be listened on ({error.strerror}); allowed: an address of this machine, "
            "--port with another number, 0 for any that is free"
        ) from None


def serve(folder: Path, host: str, port: int, *, show: bool) -> None:
    """Serve the page until interrupted; `folder` is where records go, `show` opens a browser."""
    folder.mkdir(parents=True, exist_ok=True)
    workers, tabs = Workers(folder), [0]
    os.environ["NICEGUI_STORAGE_PATH"] = str(folder)  # read when the framework is loaded; nothing is stored
    from nicegui import app, ui

    from .guard import Guard, hosts_of

    logging.getLogger("nicegui").setLevel(logging.ERROR)

    def page() -> None:
        from .layout import Page

        if tabs[0] >= MOST_TABS:
            ui.label(FULL)
            ui.label(CAUTION)
            return
        tabs[0] += 1

        def gone() -> None:
            tabs[0] -= 1

        ui.context.client.on_delete(gone)
        Page(folder, workers.take)

    app.on_shutdown(workers.close)
    app.add_middleware(Guard, hosts=hosts_of(host, port))
    ui.run(
        page,
        host=host,
        port=port,
        title="tipmech lab",
        favicon="📐",
        show=show,
        reload=False,
        show_welcome_message=False,
        tailwind=False,
        message_history_length=100,
        reconnect_timeout=5.0,
        gzip_middleware_factory=None,
    )
