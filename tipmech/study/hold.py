"""One command at a time in the folder of a study."""

from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from filelock import FileLock, Timeout

from ..checks import InputError
from .store import LOCK, writing

HELD = "another command is writing into this folder; allowed: another folder, or the same again when it has ended"


@contextmanager
def held(folder: Path) -> Iterator[None]:
    """Keep every other command out of a study's folder while this one writes into it.

    The system lets go of the lock when the process ends, however that ends. Where nothing was written, folders made
    for the lock go again.

    Raises
    ------
    InputError
        if another command holds the folder
    """
    made = [path for path in (folder, *folder.parents) if not path.exists()]
    lock = FileLock(folder / LOCK, timeout=0)
    with writing(folder):
        folder.mkdir(parents=True, exist_ok=True)
        try:
            lock.acquire()
        except Timeout:
            raise InputError(f"{folder}: {HELD}") from None
    try:
        yield
    finally:
        with suppress(PermissionError):  # Windows: the file goes when it is let go of
            (folder / LOCK).unlink(missing_ok=True)  # held still: who waits for it sees that its file is gone
        lock.release()
        with suppress(OSError):
            for path in made:
                path.rmdir()
