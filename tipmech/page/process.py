"""A process of ours that takes and gives JSON documents, one a line: the solver of a tab, or its drawing in space."""

import asyncio
import json
import sys
from collections.abc import Callable
from typing import Any

LONGEST = 2**24  # bytes of a line: a picture is some 2**16


class Process:
    """A module of the page run as a process of its own.

    Parameters
    ----------
    module : str
        of this package, with a `main`
    arguments : str
        handed to it
    """

    def __init__(self, module: str, *arguments: str) -> None:
        self._command = [sys.executable, "-m", f"{__package__}.{module}", *arguments]
        self._process: asyncio.subprocess.Process | None = None
        self._waiting: list[dict[str, Any]] = []
        self._task: asyncio.Task[None] | None = None
        self._closed = False
        self.on_message: Callable[[dict[str, Any]], None] = self._waiting.append
        self.on_end: Callable[[], None] = lambda: None

    async def start(self) -> None:
        """Start it; what it says before anyone listens is kept."""
        pipe = asyncio.subprocess.PIPE
        self._process = await asyncio.create_subprocess_exec(*self._command, stdin=pipe, stdout=pipe, limit=LONGEST)
        self._task = asyncio.create_task(self._read(self._process))

    def listen(self, on_message: Callable[[dict[str, Any]], None], on_end: Callable[[], None]) -> None:
        """Have what it says, from its first word on, handed to `on_message`, and its end to `on_end`."""
        self.on_message, self.on_end = on_message, on_end
        kept, self._waiting = self._waiting, []
        for message in kept:
            on_message(message)
        if self._task is not None and self._task.done():
            on_end()

    async def _read(self, process: asyncio.subprocess.Process) -> None:
        assert process.stdout is not None
        while line := await process.stdout.readline():
            self.on_message(json.loads(line))
        await process.wait()
        if not self._closed:
            self.on_end()

    def send(self, **command: Any) -> None:
        """Hand it a command; nothing happens once it has ended."""
        if self._process is None or self._process.stdin is None or self._process.returncode is not None:
            return
        try:
            self._process.stdin.write(json.dumps(command).encode() + b"\n")
        except (BrokenPipeError, ConnectionResetError):
            return

    def stop(self) -> None:
        """End it, whatever it is doing; its end is not reported."""
        self._closed = True
        if self._process is not None and self._process.returncode is None:
            self._process.kill()
