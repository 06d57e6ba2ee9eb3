"""The folder of a study: chunks written atomically, a manifest, resume, and no silent overwriting.

- manifest.json: kind, hash, spec, code version, packages, seeds, machine, status, wall time
- chunks/CELL/KEY.parquet: rows of finished chunks, each with its checksum; chunks.url: where they lie instead
- rows.parquet, rows.csv: all rows, once finished
- cells.parquet, cells.csv: estimates by cell (and incidence of a map; attempts and pairs of a study of attempts; a
  sensitivity study has morris and indices instead, a study of curls looks, tells, thresholds, predictive and roc)

Parquet is SI with the names of the code; CSV is for readers: users' units in the names, words beside codes. No file
holds the folder's own place: it may be moved. A full disk ends a study as one sentence (`Stopped`); what is finished
stays.
"""

import errno
import hashlib
import json
import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ..checks import InputError
from ..whole import whole_file
from .chunks import Chunks, InFolder, in_store
from .columns import for_readers
from .spec import plain, study_hash
from .table import Damaged, Table, concat, from_parquet, to_parquet, write_csv, write_parquet
from .task import Stopped
from .version import code_version, environment

FORMAT = 3  # of the folder; 2: all chunks in one folder; 1: they may lack a checksum
FORMATS = (1, 2, FORMAT)  # that are read and gone on with
TREE, SEALED = 3, 2  # formats from which on chunks are a tree, and bear a checksum
CHUNKS = "chunks"
ELSEWHERE = "chunks.url"  # file with the URL under which chunks lie in place of the folder
LOCK = ".tipmech.lock"  # in the folder while a command holds it (hold.py): nobody's result
REPORT = "report"  # name of a study's report without its ending
REPORTS = tuple(f"{REPORT}.{end}" for end in ("html", "pdf"))  # made of a study's tables: they go when these change
PICTURES = tuple(
    f"{name}.png"
    for name in (
        *("map", "incidence", "threshold", "attempts", "course", "compare"),
        *("atlas", "calibration", "sensitivity", "curl"),
    )
)  # drawn of a study's tables by its command: they go with these
FULL = {errno.ENOSPC, errno.EDQUOT}  # no room on the disk, or no more of it for this user
TABLES = (
    "rows",
    "cells",
    "incidence",
    "attempts",
    "pairs",
    "calibration",
    "morris",
    "indices",
    "comparisons",
    "trends",
    "interactions",
    "sizes",
    "replicates",
    "shares",
    "reliability",
    "looks",
    "tells",
    "predictive",
    "thresholds",
    "roc",
)  # names of the result tables
OCCUPIED = "is not empty and is not a study's result folder (no readable manifest.json); allowed: a new folder"
UNREADABLE = "is not a study's result folder (no readable manifest.json); allowed: the result folder of a study"
NAMED_FIELDS = 3  # fields named in the sentence that refuses another study
FOLLOWING = {"factors", "wires"}  # mostly follow from other fields: named only where nothing else differs
WHOLE = {"base"}  # tables of arrays, named without their parts


class DamagedChunks(UserWarning):
    """Chunks were found cut short or altered: they count as missing and are computed again."""


class OutdatedReport(UserWarning):
    """A report or a picture in the folder was made of tables that have changed: it was removed."""


@dataclass(frozen=True)
class Store:
    """An open study folder; made by `open_store`."""

    folder: Path
    manifest: dict[str, Any]

    @property
    def finished(self) -> bool:
        """Whether all rows were computed in an earlier run."""
        return bool(self.manifest["status"] == "finished")

    def kept(self, keys: Sequence[str]) -> set[str]:
        """Those of the chunks that are finished and whole; one `DamagedChunks` warning tells of any that are not."""
        kept, damaged = set(), []
        for key, content in self._chunks.get(keys):
            try:
                if content is not None:
                    self._table(key, content)
                    kept.add(key)
            except Damaged as error:
                damaged.append(error.name)
        if damaged:
            more = f" and {len(damaged) - 1} more" if len(damaged) > 1 else ""
            what = "is damaged (cut short or altered)" if not more else "are damaged (cut short or altered)"
            warnings.warn(f"{damaged[0]}{more} {what}; computed again", DamagedChunks, stacklevel=2)
        return kept

    def put(self, key: str, rows: Table) -> None:
        """Store a finished chunk."""
        with writing(self.folder):
            self._chunks.put(key, to_parquet(rows))

    def gather(self, keys: Sequence[str]) -> Table:
        """Rows of finished chunks in the given order, whatever the order they were finished in.

        Raises
        ------
        Damaged
            if one is not as it was written, or not there
        """
        return concat([self._table(key, content) for key, content in self._chunks.get(keys)])

    def chunks_there(self) -> int:
        """Number of finished chunks."""
        return self._chunks.count()

    def put_table(self, name: str, table: Table) -> None:
        """Write a result table as NAME.parquet (SI) and NAME.csv (users' units), NAME being one of `TABLES`."""
        if name not in TABLES:
            raise ValueError(f"table name is {name!r}; allowed: {', '.join(TABLES)}")
        with writing(self.folder):
            write_parquet(table, self.folder / f"{name}.parquet")
            write_csv(for_readers(table), self.folder / f"{name}.csv")

    def carried_out_by(self, gpu: str) -> None:
        """Note in the manifest that some of the rows are computed by a GPU, whose sums round otherwise."""
        if gpu not in self.manifest.get("gpus", []):
            self.manifest["gpus"] = [*self.manifest.get("gpus", []), gpu]
            with writing(self.folder):
                _write_manifest(self.folder, self.manifest)

    def finish(self, **more: Any) -> dict[str, Any]:
        """Mark the study as finished, with further entries, and return the manifest."""
        if not self.finished:
            self.manifest.update(status="finished", **more)
            with writing(self.folder):
                _write_manifest(self.folder, self.manifest)
        return self.manifest

    @property
    def _chunks(self) -> Chunks:
        return _chunks_of(self.folder, self.manifest)

    def _table(self, key: str, content: bytes | None) -> Table:
        if content is None:
            raise Damaged(self._chunks.name(key), "it is not there")
        return from_parquet(content, self._chunks.name(key), sealed=self.manifest["format"] >= SEALED)


def open_store(out: Path | str, kind: str, spec: Any, overwrite: bool = False, roots: Sequence[str] = ()) -> Store:
    """Open the folder of a study: new, or the same study to go on with.

    roots: further sources that decide the rows of this kind of study (`version.code_version`).

    Raises
    ------
    InputError
        if the folder holds another study or something else, or cannot be written
    """
    folder, code = Path(out), code_version(*roots)
    manifest = {
        "format": FORMAT,
        "kind": kind,
        "hash": study_hash(kind, spec, code),
        "code": code,
        "status": "running",
        "name": getattr(spec, "name", kind),
        "seed": getattr(spec, "seed", None),
        "environment": environment(),
        "spec": plain(spec),
    }
    with writing(folder):
        if _occupied(folder):
            old = _read_manifest(folder)
            if overwrite:
                _clear(folder, old)
            elif old["hash"] != manifest["hash"]:
                raise InputError(_other(folder, old, manifest))
            else:
                _sweep(folder)
                return Store(folder, old)
        _chunks_of(folder, manifest)  # refused here if it cannot be
        folder.mkdir(parents=True, exist_ok=True)
        _write_manifest(folder, manifest)
    return Store(folder, manifest)


def refuse_foreign(out: Path | str, kind: str, overwrite: bool = False, roots: Sequence[str] = ()) -> None:
    """Refuse what can be refused before the bench has run for a spec: `open_store` compares the specs.

    Raises
    ------
    InputError
        if the folder is a file or holds something else than a study, or (without `overwrite`) a study of another kind
        or of other code
    """
    folder = Path(out)
    if not _occupied(folder):
        return
    old, new = _read_manifest(folder), {"kind": kind, "code": code_version(*roots)}
    if not overwrite and any(old.get(key) != new[key] for key in new):
        raise InputError(_other(folder, old, new))


def read_store(out: Path | str) -> Store:
    """Open a finished or unfinished study folder for reading; the manifest tells which."""
    folder = Path(out)
    if not folder.is_dir():
        raise InputError(f"{folder}: there is no such folder; allowed: the result folder of a study")
    return Store(folder, _read_manifest(folder, UNREADABLE))


def place_chunks(folder: Path, url: str) -> None:
    """Write down in a study's folder that its chunks lie under a URL, before it begins.

    Raises
    ------
    InputError
        if the URL cannot be used here, or if the folder has its chunks elsewhere already
    """
    in_store(url, "")
    there = _elsewhere(folder)
    if there == url:
        return
    if there is not None or _occupied(folder):
        has = "in it" if there is None else f"at {there}"
        raise InputError(f"{folder}: has its chunks {has}, not at {url}; allowed: another folder, or --chunks left out")
    with writing(folder), whole_file(folder / ELSEWHERE) as temporary:
        temporary.write_text(f"{url}\n", encoding="utf-8")


@contextmanager
def reports_kept_true(folder: Path) -> Iterator[None]:
    """Remove reports, and pictures that the block has not drawn anew, if it leaves tables other than their own."""
    there = {path: path.stat().st_mtime_ns for name in (*REPORTS, *PICTURES) if (path := folder / name).is_file()}
    before = _digests(folder) if there else {}
    try:
        yield
    finally:
        if there and _digests(folder) != before:
            _drop([p for p, drawn in there.items() if p.is_file() and p.stat().st_mtime_ns == drawn])


def _digests(folder: Path) -> dict[str, str]:
    """Digest of each table in a folder."""
    paths = [path for name in TABLES if (path := folder / f"{name}.parquet").is_file()]
    return {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in paths}


@contextmanager
def writing(folder: Path) -> Iterator[None]:
    """Turn what the system says against writing into a study's folder into one sentence."""
    try:
        yield
    except OSError as error:
        if error.errno in FULL:
            why = f"the disk is full ({error.strerror}), finished parts are kept; allowed: room made, the same again"
            raise Stopped(f"{folder}: {why}") from None
        why = f"cannot be written ({error.strerror}); allowed: a folder you may write to"
        raise InputError(f"{folder}: {why}") from None


def _occupied(folder: Path) -> bool:
    if folder.exists() and not folder.is_dir():
        raise InputError(f"{folder}: is a file; allowed: a new folder, or the result folder of the same study")
    return folder.is_dir() and any(path.name not in (LOCK, ELSEWHERE) for path in folder.iterdir())


def _read_manifest(folder: Path, otherwise: str = OCCUPIED) -> dict[str, Any]:
    """Manifest of a study folder; anything else in its place is an `InputError` that says `otherwise`."""
    try:
        data: Any = json.loads((folder / "manifest.json").read_text(encoding="utf-8"))
        if not isinstance(data, dict) or data.get("format") not in FORMATS or not {"hash", "status"} <= set(data):
            raise ValueError
    except (OSError, ValueError):
        raise InputError(f"{folder}: {otherwise}") from None
    return data


def _write_manifest(folder: Path, manifest: dict[str, Any]) -> None:
    with whole_file(folder / "manifest.json") as temporary:
        temporary.write_text(json.dumps(manifest, indent=1, allow_nan=False), encoding="utf-8")


def _other(folder: Path, old: dict[str, Any], new: dict[str, Any]) -> str:
    """The sentence that refuses a folder with another study in it."""
    if old.get("kind") != new["kind"]:
        what = f"a study of another kind ({old.get('kind')})"
    elif old.get("code") != new["code"]:
        what = f"a study computed by other code ({old.get('code')}, now {new['code']}: version+digest of the sources)"
    else:
        seen = differences(old.get("spec"), new["spec"])
        found = [d for d in seen if d.split()[0] not in FOLLOWING] or seen
        more = f" and {len(found) - NAMED_FIELDS} more" if len(found) > NAMED_FIELDS else ""
        words = f"{', '.join(found[:NAMED_FIELDS])}{more}; in SI" if found else f"hash {old['hash']}, now {new['hash']}"
        what = f"another study ({words})"
    return f"{folder}: holds {what}; allowed: another folder, or --overwrite to start it anew"


def differences(old: Any, new: Any, place: str = "") -> list[str]:
    """Fields in which two specs (plain data) differ, in the order of the new one; short values with them."""
    if isinstance(old, dict) and isinstance(new, dict) and place not in WHOLE:
        names = [name for name in dict.fromkeys([*new, *old]) if name != "workers"]
        inner = f"{place}." if place and place != "study" else ""
        return [d for name in names for d in differences(old.get(name), new.get(name), f"{inner}{name}")]
    if json.dumps(old) == json.dumps(new):
        return []
    if any(isinstance(value, dict | list) for value in (old, new)):
        return [f"{place} differs"]
    return [f"{place} was {json.dumps(old, ensure_ascii=False)}, now {json.dumps(new, ensure_ascii=False)}"]


def _drop(paths: Sequence[Path]) -> None:
    """Remove reports and pictures made of tables that are no more, and say so."""
    for path in paths:
        path.unlink()
        warnings.warn(f"{path}: removed, for it told of other results", OutdatedReport, stacklevel=2)


def _elsewhere(folder: Path) -> str | None:
    """URL under which the chunks of a folder lie; None: in it."""
    path = folder / ELSEWHERE
    return path.read_text(encoding="utf-8").strip() if path.is_file() else None


def _chunks_of(folder: Path, manifest: dict[str, Any]) -> Chunks:
    """Where the chunks of a study lie."""
    url = _elsewhere(folder)
    if url is not None:
        return in_store(url, manifest["hash"])
    return InFolder(folder / CHUNKS, flat=manifest["format"] < TREE)


def _clear(folder: Path, manifest: dict[str, Any]) -> None:
    """Remove what a study wrote into its folder, pictures and report too, the manifest last; foreign files stay."""
    _chunks_of(folder, manifest).clear()
    _drop([path for name in REPORTS if (path := folder / name).exists()])
    tables = [folder / f"{name}{end}" for name in TABLES for end in (".parquet", ".csv")]
    for path in [*tables, *(folder / name for name in PICTURES), *folder.glob(".*.part")]:
        path.unlink(missing_ok=True)
    (folder / "manifest.json").unlink(missing_ok=True)


def _sweep(folder: Path) -> None:
    """Remove the incomplete files of a killed run."""
    InFolder(folder / CHUNKS).sweep()
    for path in folder.glob(".*.part"):
        path.unlink(missing_ok=True)
