"""A process of ours that takes and gives JSON documents, one a line: the solver of a tab, or its drawing in space."""

import asyncio
import json
import subprocess
import sys
import threading
from collections.abc import Callable
from pathlib import Path
from queue import Queue
from typing import Any


class Process:
    """A module of the page run as a process of its own; it starts at once.

    What it says is handed over in the thread that listens, from its first word on.

    Parameters
    ----------
    module : str
        of this package, with a `main`
    arguments : str
        handed to it
    folder : Path, optional
        where it may write: cleared, once it has ended, of files that it had not finished
    """

    def __init__(self, module: str, *arguments: str, folder: Path | None = None) -> None:
        self._folder = folder
        given = arguments if folder is None else (str(folder), *arguments)
        command = [sys.executable, "-m", f"{__package__}.{module}", *given]
        self._process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE)
        self._closed = False
        self._commands: Queue[bytes] = Queue()
        threading.Thread(target=self._write, daemon=True).start()

    def listen(self, on_message: Callable[[dict[str, Any]], None], on_end: Callable[[], None]) -> None:
        """Have what it says handed to `on_message` in the running loop, and its end, unless it was stopped, to
        `on_end`."""
        loop = asyncio.get_running_loop()

        def hand_over(call: Callable[..., None], *arguments: Any) -> None:
            if not self._closed and not loop.is_closed():
                loop.call_soon_threadsafe(call, *arguments)

        def read() -> None:
            assert self._process.stdout is not None
            for line in self._process.stdout:
                if line.endswith(b"\n"):  # else it was killed while it wrote
                    hand_over(on_message, json.loads(line))
            self._wait()
            hand_over(on_end)

        threading.Thread(target=read, daemon=True).start()

    @property
    def alive(self) -> bool:
        """Whether it has not ended."""
        return self._process.poll() is None

    def send(self, **command: Any) -> None:
        """Hand it a command as soon as it takes it; nothing happens once it has ended."""
        self._commands.put(json.dumps(command).encode() + b"\n")

    def _write(self) -> None:
        """Write commands: in a thread of its own, for a process that is still starting takes nothing for seconds."""
        assert self._process.stdin is not None
        try:
            while line := self._commands.get():
                self._process.stdin.write(line)
                self._process.stdin.flush()
        except (BrokenPipeError, ConnectionResetError, ValueError):
            return  # it has ended, which `listen` reports

    def stop(self) -> None:
        """End it, whatever it is doing; its end is not reported."""
        self._closed = True
        self._commands.put(b"")
        if self._process.poll() is None:
            self._process.kill()
            threading.Thread(target=self._wait).start()

    def _wait(self) -> None:
        """Wait until it has ended; what it was writing then stays under its temporary name (`whole.whole_file`), and
        goes."""
        self._process.wait()
        if self._folder is not None:
            for left in self._folder.glob(f".*.{self._process.pid}.part"):
                left.unlink(missing_ok=True)
