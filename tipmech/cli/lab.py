"""`tipmech lab`: the page on this machine in which the solver runs."""

import os
from pathlib import Path

import typer

from .. import CAUTION
from ..page.guard import LOOPBACK
from ..page.workers import Workers, free_port


def run(folder: Path, host: str, port: int, *, show: bool) -> None:
    """Serve the page until interrupted. The process that solves starts before the framework is loaded, beside it."""
    port = free_port(host, port)
    name = f"[{host}]" if ":" in host else host
    folder.mkdir(parents=True, exist_ok=True)
    workers = Workers(folder)
    typer.echo(f"http://{name}:{port}/ until Ctrl-C; records go to {folder}")
    if name not in LOOPBACK:
        typer.echo("others who reach this machine can use the page: --host 127.0.0.1 keeps it to yourself", err=True)
    typer.echo(CAUTION)
    os.environ["NICEGUI_STORAGE_PATH"] = str(folder)  # read when the framework is loaded; nothing is stored
    from ..page.server import serve

    serve(workers, folder, host, port, show=show)
