"""Reads a finished study's folder: manifest, tables, spec; anything else is refused in one sentence."""

import copy
import hashlib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from ...checks import InputError
from ...insertion.record_file import from_plain
from ...study import run_atlas, run_compare, run_curl, run_procedures, run_sensitivity
from ...study.compare_spec import TIP_LOAD, CompareSpec, words_of_design
from ...study.run_atlas import AtlasSpec
from ...study.run_attempts import AttemptsSpec
from ...study.run_curl import CurlSpec
from ...study.run_procedures import ProceduresSpec
from ...study.run_threshold import ThresholdSpec
from ...study.sensitivity import SensitivitySpec
from ...study.spec import StudySpec, study_hash
from ...study.store import TABLES, Store, read_store
from ...study.table import Table, length, read_parquet
from ...study.version import code_version

KEYS = ("code", "name", "seed", "environment", "spec")  # of a manifest, without which nothing can be told
NEEDED: dict[str, tuple[str, ...]] = {
    "map": ("rows", "cells", "incidence"),
    "threshold": ("rows", "cells"),
    "attempts": ("rows", "attempts", "cells", "incidence", "pairs"),
    "compare": ("rows", "cells", "comparisons"),
    "procedures": ("rows", "cells", "comparisons"),
    "atlas": ("rows", "shares", "reliability"),
    "sensitivity": ("rows", "morris", "indices"),
    "curl": ("rows", "looks", "tells", "predictive", "thresholds", "roc"),
}
"""Kinds of study, and the tables that their commands always write."""

SPECS: dict[str, type] = {
    "map": StudySpec,
    "threshold": ThresholdSpec,
    "attempts": AttemptsSpec,
    "compare": CompareSpec,
    "procedures": ProceduresSpec,
    "atlas": AtlasSpec,
    "sensitivity": SensitivitySpec,
    "curl": CurlSpec,
}
ROOTS: dict[str, tuple[str, ...]] = {
    "compare": run_compare.ROOTS,
    "procedures": run_procedures.ROOTS,
    "atlas": run_atlas.ROOTS,
    "sensitivity": run_sensitivity.ROOTS,
    "curl": run_curl.ROOTS,
}
"""Further sources that count for the digest of a kind of study."""

SHOWN_DIGITS = 16  # of a file's SHA-256


@dataclass(frozen=True)
class Finished:
    """A finished study as its folder holds it.

    spec : the manifest's, plain data in SI; study : that part of it which is a map's (the whole of a map's own)
    """

    folder: Path
    kind: str
    manifest: dict[str, Any]
    tables: dict[str, Table]

    @property
    def spec(self) -> dict[str, Any]:
        """Spec of the manifest, plain data in SI; of a comparison of procedures all its fields side by side."""
        own = dict(self.manifest["spec"])
        return {**own.pop("compare"), **own} if self.kind == "procedures" else own

    @property
    def study(self) -> dict[str, Any]:
        """Grid, vessel, shared unknowns and protocol: the spec of a map, or the part of another's that is the same."""
        return dict(self.spec.get("study", self.spec))

    @property
    def compares(self) -> bool:
        """Whether it compares designs, of insertions or of procedures."""
        return self.kind in ("compare", "procedures")

    @property
    def of_procedures(self) -> bool:
        """Whether a row is a procedure with all its attempts."""
        return self.kind in ("attempts", "procedures")

    @property
    def by(self) -> str:
        """What tells the designs apart."""
        return str(self.spec.get("by", TIP_LOAD))

    @property
    def designs(self) -> list[str]:
        """The designs in words."""
        levels = self.spec.get("levels") if self.compares else None
        return [words_of_design(self.by, value) for value in levels or self.study["tip_loads"]]

    @property
    def rows(self) -> Table:
        """One row for each insertion, case or procedure."""
        return self.tables["rows"]

    @property
    def code(self) -> str:
        """Code version that computed the study."""
        return str(self.manifest["code"])

    @property
    def own_code(self) -> str:
        """Code version of this kind of study now: that which writes the report."""
        return code_version(*ROOTS.get(self.kind, ()))

    @property
    def hash_agrees(self) -> bool:
        """Whether kind, spec and code of the manifest give the hash that it states."""
        return bool(study_hash(self.kind, copy.deepcopy(self.manifest["spec"]), self.code) == self.manifest["hash"])

    def rebuilt(self) -> Any:
        """Spec as the object that the study's command works with.

        Raises
        ------
        KeyError, TypeError, ValueError
            where the code that computed the study had other fields
        """
        return from_plain(SPECS[self.kind], self.manifest["spec"])

    def files(self) -> list[tuple[str, str, str, str]]:
        """Name, rows, columns and SHA-256 (its first digits) of the manifest and of every table."""
        out = [("manifest.json", "", "", self._digest("manifest.json"))]
        for name, table in self.tables.items():
            size = (str(length(table)), str(len(table)))
            out.append((f"{name}.parquet", *size, self._digest(f"{name}.parquet")))
        return out

    def _digest(self, name: str) -> str:
        return hashlib.sha256((self.folder / name).read_bytes()).hexdigest()[:SHOWN_DIGITS]


def read_finished(folder: Path | str) -> Finished:
    """Read the folder of a finished study of any kind.

    Raises
    ------
    InputError
        where it is no study's folder, an unfinished study or one of another kind, or a table is missing or damaged
    """
    store = read_store(folder)
    kind = str(store.manifest.get("kind"))
    if kind not in NEEDED:
        raise InputError(f"{folder}: holds a study of kind {kind}; allowed: {', '.join(NEEDED)}")
    lacking = [key for key in KEYS if key not in store.manifest]
    if lacking:
        raise InputError(f"{folder}: its manifest.json lacks {', '.join(lacking)}; allowed: one as a study wrote it")
    if not store.finished:
        raise InputError(f"{folder}: the study is not finished; allowed: a finished one (give its command again)")
    tables = {name: table for name in TABLES if (table := _table(store, name)) is not None}
    missing = [f"{name}.parquet" for name in NEEDED[kind] if name not in tables]
    if missing:
        raise InputError(f"{folder}: lacks {', '.join(missing)}; allowed: a whole folder (give its command again)")
    if not length(tables["rows"]):
        raise InputError(f"{folder}: its rows.parquet holds no row; allowed: a study in which something was computed")
    return Finished(Path(folder), kind, store.manifest, tables)


def _table(store: Store, name: str) -> Table | None:
    """A table of the folder, None where it has none of that name."""
    path = store.folder / f"{name}.parquet"
    return read_parquet(path, sealed=store.manifest["format"] >= 2) if path.is_file() else None


def lines(table: Table) -> list[dict[str, Any]]:
    """Rows of a table of columns, as plain Python values."""
    names = list(table)
    return [
        dict(zip(names, values, strict=True))
        for values in zip(*(np.asarray(table[n]).tolist() for n in names), strict=True)
    ]
