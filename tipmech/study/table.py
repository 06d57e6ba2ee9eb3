"""Tables of a study: one array per column. Written as Parquet and CSV under a temporary name, then renamed.

Parquet files bear a checksum over all their bytes in their own metadata (`seal`).
"""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..checks import InputError
from ..whole import whole_file
from .seal import BLANK, fits, seal

Table = dict[str, NDArray[Any]]
"""Columns of equal length by name."""

Row = Mapping[str, Any]

SEAL = "tipmech.seal"  # name of the checksum in a Parquet file's metadata


class Damaged(InputError):
    """A Parquet file that is not as it was written, as one sentence."""

    def __init__(self, name: str, why: str) -> None:
        self.name = name
        super().__init__(f"{name}: is damaged ({why}); allowed: a file as the study wrote it")


def from_rows(rows: Sequence[Row]) -> Table:
    """Table of rows that all have the same keys."""
    if not rows:
        return {}
    return {key: np.array([row[key] for row in rows]) for key in rows[0]}


def to_rows(table: Table) -> list[dict[str, Any]]:
    """Rows of a table as plain Python values, the inverse of `from_rows`."""
    columns = (table[name].tolist() for name in table)
    return [dict(zip(table, values, strict=True)) for values in zip(*columns, strict=True)]


def length(table: Table) -> int:
    """Number of rows."""
    return len(next(iter(table.values()))) if table else 0


def concat(tables: Sequence[Table]) -> Table:
    """Tables with the same columns, one under the other."""
    filled = [t for t in tables if length(t)]
    return {key: np.concatenate([t[key] for t in filled]) for key in filled[0]} if filled else {}


def select(table: Table, mask: NDArray[np.bool_]) -> Table:
    """Rows of a table where `mask` is true."""
    return {key: column[mask] for key, column in table.items()}


def to_parquet(table: Table) -> bytes:
    """Content of a Parquet file of a table, with its checksum."""
    import pyarrow as pa
    import pyarrow.parquet as pq

    data, buffer = pa.table({k: pa.array(v) for k, v in table.items()}), pa.BufferOutputStream()
    whole = [k for k, v in table.items() if v.dtype.kind != "f"]  # least and most of floats leave out nan: readers that
    with pq.ParquetWriter(buffer, data.schema, write_statistics=whole) as writer:  # trust them take isnan for false
        writer.write_table(data)
        writer.add_key_value_metadata({SEAL: BLANK.decode()})
    return seal(buffer.getvalue().to_pybytes())


def write_parquet(table: Table, path: Path) -> None:
    """Write a table as Parquet with its checksum: complete or not at all."""
    with whole_file(path) as temporary:
        temporary.write_bytes(to_parquet(table))


def write_csv(table: Table, path: Path) -> None:
    """Write a table as CSV: complete or not at all."""
    import pyarrow as pa
    from pyarrow import csv

    with whole_file(path) as temporary:
        csv.write_csv(pa.table({k: pa.array(v) for k, v in table.items()}), temporary)


def read_parquet(path: Path, sealed: bool = False) -> Table:
    """Read a table written by `write_parquet`; arguments and errors as of `from_parquet`."""
    return from_parquet(path.read_bytes(), str(path), sealed)


def from_parquet(content: bytes, name: str, sealed: bool = False) -> Table:
    """Table of a Parquet file's content.

    name : of the file, for the reader
    sealed : refuse a file without a checksum too (files of earlier versions have none)

    Raises
    ------
    Damaged
        if the file is cut short or altered
    """
    import pyarrow as pa
    import pyarrow.parquet as pq

    whole = fits(content)
    if whole is False or (sealed and whole is None):
        raise Damaged(name, "its checksum does not fit" if whole is False else "it is cut short: no checksum")
    try:
        data = pq.read_table(pa.BufferReader(content))
    except (pa.ArrowException, OSError):
        raise Damaged(name, "it cannot be read as Parquet") from None
    return {column: np.asarray(data.column(column).to_numpy()) for column in data.column_names}
