"""Where the finished chunks of a study lie: in its own folder, or in any store that fsspec reaches.

Either is a tree, a folder for each cell and the chunks of the cell in it. A folder's chunk appears whole or not at all;
of another store the checksum inside each chunk tells (`seal`).
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

from ..checks import InputError
from ..whole import whole_file
from .task import Stopped

AT_ONCE = 256  # chunks asked of a store together: it answers each in some 10 ms, and all side by side
END = ".parquet"


class Chunks(Protocol):
    """Content of chunks by key."""

    def name(self, key: str) -> str:
        """Name of a chunk for the reader."""
        ...

    def put(self, key: str, content: bytes) -> None:
        """Store a chunk."""
        ...

    def get(self, keys: Sequence[str]) -> Iterator[tuple[str, bytes | None]]:
        """Each key with the content of its chunk, in order; None: there is none."""
        ...

    def count(self) -> int:
        """How many there are."""
        ...

    def clear(self) -> None:
        """Remove all."""
        ...


@dataclass(frozen=True)
class InFolder:
    """Chunks under a folder of this machine; flat: of folders of earlier versions, all in one."""

    folder: Path
    flat: bool = False

    def name(self, key: str) -> str:
        """Name of a chunk for the reader."""
        return str(self._path(key))

    def put(self, key: str, content: bytes) -> None:
        """Store a chunk: complete or not at all."""
        with whole_file(self._path(key)) as temporary:
            temporary.write_bytes(content)

    def get(self, keys: Sequence[str]) -> Iterator[tuple[str, bytes | None]]:
        """Each key with the content of its chunk, in order; None: there is none."""
        for key in keys:
            try:
                yield key, self._path(key).read_bytes()
            except FileNotFoundError:
                yield key, None

    def count(self) -> int:
        """How many there are."""
        return sum(1 for _ in self.folder.rglob(f"*{END}"))

    def clear(self) -> None:
        """Remove all."""
        import shutil

        shutil.rmtree(self.folder, ignore_errors=True)

    def sweep(self) -> None:
        """Remove the incomplete files of a killed run."""
        for path in self.folder.rglob(".*.part"):
            path.unlink(missing_ok=True)

    def _path(self, key: str) -> Path:
        return self.folder / f"{key}{END}" if self.flat else self.folder / cell_of(key) / f"{key}{END}"


@dataclass(frozen=True)
class InStore:
    """Chunks under a URL of fsspec's: s3://BUCKET/PLACE, gs://, sftp:// and the like.

    system : fsspec's file system; root : place of one study in it, of which `url` tells the reader
    """

    system: Any
    root: str
    url: str

    def name(self, key: str) -> str:
        """Name of a chunk for the reader."""
        return f"{self.url}/{cell_of(key)}/{key}{END}"

    def put(self, key: str, content: bytes) -> None:
        """Store a chunk."""
        path = self._path(key)
        try:
            self.system.makedirs(path.rpartition("/")[0], exist_ok=True)
            self.system.pipe_file(path, content)
        except Exception as error:  # every store has its own
            raise self._lost(error) from None

    def get(self, keys: Sequence[str]) -> Iterator[tuple[str, bytes | None]]:
        """Each key with the content of its chunk, in order; None: there is none."""
        for k in range(0, len(keys), AT_ONCE):
            paths = {self._path(key): key for key in keys[k : k + AT_ONCE]}
            try:
                found = self.system.cat(list(paths), on_error="return")
            except Exception as error:
                raise self._lost(error) from None
            for path, key in paths.items():
                content = found[path]
                if isinstance(content, FileNotFoundError):
                    yield key, None
                elif isinstance(content, Exception):
                    raise self._lost(content)
                else:
                    yield key, content

    def count(self) -> int:
        """How many there are."""
        try:
            return len(self.system.glob(f"{self.root}/*/*{END}"))
        except Exception as error:
            raise self._lost(error) from None

    def clear(self) -> None:
        """Remove all."""
        try:
            if self.system.exists(self.root):
                self.system.rm(self.root, recursive=True)
        except Exception as error:
            raise self._lost(error) from None

    def _path(self, key: str) -> str:
        return f"{self.root}/{cell_of(key)}/{key}{END}"

    def _lost(self, error: Exception) -> Stopped:
        why = f"{type(error).__name__}: {' '.join(str(error).split())}"
        return Stopped(f"{self.url}: cannot be used ({why}); allowed: a store that answers, the same again")


def cell_of(key: str) -> str:
    """Folder of a chunk: its key without the points that it holds."""
    return key.rsplit("_", 2)[0]


def in_store(url: str, study: str) -> InStore:
    """Chunks of the study with this hash at a URL; others that lie there are not touched.

    Raises
    ------
    InputError
        if fsspec, or what it needs for such a URL, is not installed, or if the URL is none
    """
    try:
        from fsspec.core import url_to_fs
    except ModuleNotFoundError:
        what = "needs the package 'fsspec', which is not installed"
        raise InputError(f"--chunks: {what}; allowed: pip install 'tipmech[scale]' first") from None
    if "://" not in url:
        raise InputError(f"--chunks: is {url!r}; allowed: a URL, such as s3://BUCKET/PLACE (a folder: leave it out)")
    try:
        system, root = url_to_fs(url.rstrip("/"))
    except (ImportError, ValueError, OSError) as error:
        why = " ".join(str(error).split())
        raise InputError(f"--chunks: {url} cannot be used ({why}); allowed: a URL that fsspec reads here") from None
    return InStore(system, f"{root}/{study}", f"{url.rstrip('/')}/{study}")
