"""Tables of a study: one array per column. Written as Parquet and CSV under a temporary name, then renamed."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..whole import whole_file

Table = dict[str, NDArray[Any]]
"""Columns of equal length by name."""

Row = Mapping[str, Any]


def from_rows(rows: Sequence[Row]) -> Table:
    """Table of rows that all have the same keys."""
    if not rows:
        return {}
    return {key: np.array([row[key] for row in rows]) for key in rows[0]}


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


def write_parquet(table: Table, path: Path) -> None:
    """Write a table as Parquet: complete or not at all."""
    import pyarrow as pa
    import pyarrow.parquet as pq

    with whole_file(path) as temporary:
        pq.write_table(pa.table({k: pa.array(v) for k, v in table.items()}), temporary)


def write_csv(table: Table, path: Path) -> None:
    """Write a table as CSV: complete or not at all."""
    import pyarrow as pa
    from pyarrow import csv

    with whole_file(path) as temporary:
        csv.write_csv(pa.table({k: pa.array(v) for k, v in table.items()}), temporary)


def read_parquet(path: Path) -> Table:
    """Read a table written by `write_parquet`."""
    import pyarrow.parquet as pq

    data = pq.read_table(path)
    return {name: np.asarray(data.column(name).to_numpy()) for name in data.column_names}
