"""The server of the page: listens, hands every tab its own processes, answers to itself only."""

import logging
from pathlib import Path

from nicegui import app, ui

from .guard import Guard, hosts_of
from .layout import Page
from .workers import Workers

MOST_TABS = 6  # at once: each has processes of its own
FULL = f"{MOST_TABS} tabs are open, which is the most; close one and load this page again."


def serve(workers: Workers, folder: Path, host: str, port: int, *, show: bool) -> None:
    """Serve the page until interrupted; `folder` is where records go, `show` opens a browser."""
    there: set[str] = set()
    logging.getLogger("nicegui").setLevel(logging.ERROR)

    @ui.page("/")
    def page() -> None:
        client = ui.context.client

        def refused() -> str | None:
            if len(there) >= MOST_TABS:
                return FULL
            there.add(client.id)
            return None

        client.on_delete(lambda: there.discard(client.id))
        Page(folder, workers.take, refused)

    app.on_shutdown(workers.close)
    app.add_middleware(Guard, hosts=hosts_of(host, port))
    ui.run(
        host=host,
        port=port,
        title="tipmech lab",
        language="en-US",
        favicon="📐",
        show=show,
        reload=False,
        show_welcome_message=False,
        tailwind=False,
        message_history_length=100,
        reconnect_timeout=5.0,
        gzip_middleware_factory=None,
    )
