"""`tipmech lab`: the page on this machine in which the solver runs."""

from pathlib import Path

import typer

from .. import CAUTION
from ..page.guard import LOOPBACK
from ..page.server import free_port, serve


def run(folder: Path, host: str, port: int, *, show: bool) -> None:
    """Serve the page until interrupted."""
    port = free_port(host, port)
    name = f"[{host}]" if ":" in host else host
    typer.echo(f"http://{name}:{port}/ until Ctrl-C; records go to {folder}")
    if name not in LOOPBACK:
        typer.echo("others who reach this machine can use the page: --host 127.0.0.1 keeps it to yourself", err=True)
    typer.echo(CAUTION)
    serve(folder, host, port, show=show)
