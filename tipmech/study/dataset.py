"""A finished study as an xarray Dataset: rows over tip load x angle x point, estimates over tip load x angle. SI."""

from pathlib import Path
from typing import Any

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from ..checks import InputError
from ..units import from_si
from .columns import CODES, ENDS, UNITS
from .store import Store, read_store
from .table import Table, length, read_parquet

CELL = ("tip_load", "angle")
PLACE = {"tip_load_index", "angle_index", "tip_load", "angle", "index"}  # columns that become coordinates
OF_POINT = ("x_", "cap_", "scramble", "seed")  # beginnings of columns that are the same for every tip load and angle
SI = {"gf": "N", "mN": "N", "mm": "m", "mm2": "m2", "deg": "rad", "MPa": "Pa", "kPa": "Pa", "J_per_m2": "J m-2"}
SI |= {"N_per_mm": "N m-1"}
"""SI unit of a column by the unit that readers get it in; every other column is a number without a unit."""


def open_study(folder: Path | str) -> xr.Dataset:
    """Read the result folder of a finished map, threshold or study of attempts.

    Parameters
    ----------
    folder : path
        folder of `tipmech map`, `tipmech threshold` or `tipmech attempts`

    Returns
    -------
    Dataset
        dimensions tip_load (N), angle (rad), point; with tip_load_gf and angle_deg beside them. Variables: every column
        of rows.parquet (what was drawn, and seeds, over point alone), and of cells.parquet as cell_NAME over
        tip_load x angle. Units in `attrs["units"]`, codes in `attrs["flag_values"]` and `attrs["flag_meanings"]`;
        whole numbers of cells that were not run are nan. `attrs` has kind, name, code, hash and seed of the study.

    Raises
    ------
    InputError
        if it is no study's folder, if the study is not finished or has no such grid, or if a file is damaged
    """
    store = read_store(folder)
    if not store.finished:
        what = f"holds a study that is not finished ({store.chunks_there()} chunks)"
        raise InputError(f"{folder}: {what}; allowed: a finished one, or its chunks as they are")
    rows, cells = _table(store, "rows"), _table(store, "cells")
    if not length(rows) or not set(rows) >= PLACE or not set(cells) >= PLACE - {"index"}:
        raise InputError(f"{folder}: holds no rows over tip load, angle and point; allowed: a map, threshold, attempts")
    shape = (int(cells["tip_load_index"].max()) + 1, int(cells["angle_index"].max()) + 1, int(rows["index"].max()) + 1)
    loads, angles = np.full(shape[0], np.nan), np.full(shape[1], np.nan)
    loads[cells["tip_load_index"]], angles[cells["angle_index"]] = cells["tip_load"], cells["angle"]
    grid = (rows["tip_load_index"], rows["angle_index"], rows["index"])
    variables = {
        name: _of_point(name, column, rows["index"], shape[2])
        if name.startswith(OF_POINT)
        else _variable(name, (*CELL, "point"), column, _spread(column, grid, shape))
        for name, column in rows.items()
        if name not in PLACE
    }
    at = (cells["tip_load_index"], cells["angle_index"])
    variables |= {
        f"cell_{name}": _variable(name, CELL, column, _spread(column, at, shape[:2]))
        for name, column in cells.items()
        if name not in PLACE
    }
    coordinates = {
        "tip_load": ("tip_load", loads, {"units": "N"}),
        "angle": ("angle", angles, {"units": "rad"}),
        "point": ("point", np.arange(shape[2]), {"units": "1"}),
        "tip_load_gf": ("tip_load", [from_si(v, "gf") for v in loads], {"units": "gf"}),
        "angle_deg": ("angle", [from_si(v, "deg") for v in angles], {"units": "degree"}),
    }
    known = {name: store.manifest[name] for name in ("kind", "name", "code", "hash", "seed")}
    return xr.Dataset(variables, coordinates, known)


def _table(store: Store, name: str) -> Table:
    path = store.folder / f"{name}.parquet"
    if not path.is_file():
        raise InputError(f"{path}: there is no such file; allowed: the tables of a finished study")
    return read_parquet(path)


def _spread(column: NDArray[Any], place: tuple[NDArray[Any], ...], shape: tuple[int, ...]) -> NDArray[Any]:
    """A column laid out on the grid; what has no row is nan (whole numbers become floats where there is any)."""
    whole = column.dtype.kind in "iub"
    if whole and len(column) == int(np.prod(shape)):
        out = np.zeros(shape, column.dtype)
    else:
        out = np.full(shape, np.nan) if whole or column.dtype.kind == "f" else np.full(shape, "", object)
    out[place] = column
    return out


def _of_point(name: str, column: NDArray[Any], index: NDArray[Any], count: int) -> xr.Variable:
    """A column that depends on the point alone."""
    out = np.zeros(count, column.dtype)
    out[index] = column
    if not np.array_equal(out[index], column):
        raise ValueError(f"column {name} differs between cells; allowed: the same for each point")
    return _variable(name, ("point",), column, out)


def _variable(name: str, dimensions: tuple[str, ...], column: NDArray[Any], values: NDArray[Any]) -> xr.Variable:
    """Values of a column with its unit, as in CSV: whole numbers are counts and flags and have none; and its codes."""
    unit = UNITS.get(ENDS.sub("", name)) if column.dtype.kind == "f" else None
    codes = CODES.get("rung" if name.startswith("rung_") else name)
    attributes: dict[str, Any] = {"units": "1" if unit is None else SI[unit[0]]}
    if codes is not None:
        meanings = " ".join(words.replace(" ", "_") for words in codes.values())
        attributes |= {"flag_values": list(codes), "flag_meanings": meanings}
    return xr.Variable(dimensions, values, attributes)
