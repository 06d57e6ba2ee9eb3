"""A finished study as an xarray Dataset: rows over tip load x angle x point, estimates over tip load x angle. SI.

Of a comparison over arm x design x angle x point, of which arms are combinations of factors and replicates.
"""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from ..checks import InputError
from ..units import from_si
from .columns import CODES, ENDS, UNITS
from .factors import unit_of
from .store import Store, read_store
from .table import Table, length, read_parquet

GRIDS = {"map": True, "threshold": True, "attempts": True, "curl": False, "compare": True, "procedures": True}
"""Kinds of studies that are read, and whether they have cells."""
COMPARED = ("compare", "procedures")
PLACE = {"tip_load_index", "angle_index", "tip_load", "angle", "index"}  # columns that become coordinates
ARM = {"arm", "replicate", "design_words"}  # the same of a comparison, with the factors (f_)
OF_POINT = ("x_", "cap_", "scramble", "seed")  # beginnings of columns that are the same for every tip load and angle
OF_POINT_COMPARED = ("scramble", "seed")  # of a comparison, in which factors change what was drawn
SI = {"gf": "N", "mN": "N", "mm": "m", "mm2": "m2", "deg": "rad", "MPa": "Pa", "kPa": "Pa", "J_per_m2": "J m-2"}
SI |= {"N_per_mm": "N m-1"}
"""SI unit of a column by the unit that readers get it in; every other column is a number without a unit."""


def open_study(folder: Path | str) -> xr.Dataset:
    """Read the result folder of a finished study that has a grid.

    Parameters
    ----------
    folder : path
        folder of `tipmech map`, `threshold`, `attempts`, `curl` or `compare`

    Returns
    -------
    Dataset
        dimensions tip_load (N), angle (rad), point; with tip_load_gf and angle_deg beside them. Of a comparison arm,
        design, angle, point: the tip load stands beside the design, the factors' levels (f_NAME) and the replicate
        beside the arm. Variables: every column of rows.parquet (of what was drawn, and seeds, over point alone; of a
        comparison seeds alone), and of cells.parquet as cell_NAME over all dimensions but point (a study of curls has
        none). Units in `attrs["units"]`, codes in `attrs["flag_values"]` and `attrs["flag_meanings"]`; whole numbers of
        what was not run are nan. `attrs` has kind, name, code, hash and seed of the study.

    Raises
    ------
    InputError
        if it is no study's folder, if the study is not finished or has no such grid, or if a file is damaged
    """
    store = read_store(folder)
    kind = str(store.manifest["kind"])
    if kind not in GRIDS:
        what = f"holds a study of the kind '{kind}', which has no grid"
        raise InputError(f"{folder}: {what}; allowed: {', '.join(GRIDS)}; its tables are read as they are")
    if not store.finished:
        what = f"holds a study that is not finished ({store.chunks_there()} chunks)"
        raise InputError(f"{folder}: {what}; allowed: a finished one, or its chunks as they are")
    rows, cells = _table(store, "rows"), _table(store, "cells") if GRIDS[kind] else {}
    if not length(rows):
        raise InputError(f"{folder}: holds no row, for no angle fits the vessel; allowed: a study with at least one")
    compared = kind in COMPARED
    cell = ("arm", "design", "angle") if compared else ("tip_load", "angle")
    coordinates, sizes = _coordinates(_study(store), rows, cells, cell)
    shape = (*sizes, int(rows["index"].max()) + 1)
    left_out = PLACE | (ARM if compared else set())
    of_point = OF_POINT_COMPARED if compared else OF_POINT
    grid = (*_places(rows, cell), rows["index"])
    variables = {
        name: _of_point(name, column, rows["index"], shape[-1])
        if name.startswith(of_point)
        else _variable(name, (*cell, "point"), column, _spread(column, grid, shape))
        for name, column in rows.items()
        if name not in left_out
    }
    variables |= {
        f"cell_{name}": _variable(name, cell, column, _spread(column, _places(cells, cell), sizes))
        for name, column in cells.items()
        if name not in left_out and not (compared and name.startswith("f_"))
    }
    coordinates["point"] = ("point", np.arange(shape[-1]), {"units": "1"})
    known = {name: store.manifest[name] for name in ("kind", "name", "code", "hash", "seed")}
    return xr.Dataset(variables, coordinates, known)


def _study(store: Store) -> Mapping[str, Any]:
    """Plain data of the study in the manifest's spec, which may hold it one or two tables down."""
    spec = store.manifest["spec"]
    while "tip_loads" not in spec:
        spec = spec["study"] if "study" in spec else spec["compare"]
    return dict(spec)


def _coordinates(
    study: Mapping[str, Any], rows: Table, cells: Table, cell: Sequence[str]
) -> tuple[dict[str, Any], tuple[int, ...]]:
    """Coordinates of all dimensions but point, and the sizes of these."""
    loads, angles = np.array(study["tip_loads"], dtype=float), np.array(study["angles"], dtype=float)
    along = cell[-2]  # what the tip loads are along
    out: dict[str, Any] = {
        "tip_load": (along, loads, {"units": "N"}),
        "angle": ("angle", angles, {"units": "rad"}),
        "tip_load_gf": (along, [from_si(v, "gf") for v in loads], {"units": "gf"}),
        "angle_deg": ("angle", [from_si(v, "deg") for v in angles], {"units": "degree"}),
    }
    if along == "tip_load":
        return out, (len(loads), len(angles))
    arms, first = np.unique(cells["arm"], return_index=True)
    of_design = [str(cells["design_words"][cells["tip_load_index"] == i][0]) for i in range(len(loads))]
    out |= {
        "arm": ("arm", arms, {"units": "1"}),
        "replicate": ("arm", cells["replicate"][first], {"units": "1"}),
        "design": ("design", of_design, {"units": "1"}),
    }
    for name, column in cells.items():
        if name.startswith("f_"):
            unit = unit_of(name.removeprefix("f_")) if column.dtype.kind == "f" else ""
            out[name] = ("arm", column[first], {"units": SI.get(unit, unit) if unit not in ("", "-") else "1"})
    return out, (len(arms), len(loads), len(angles))


def _places(table: Table, cell: Sequence[str]) -> tuple[NDArray[Any], ...]:
    """Place of each row of a table along the dimensions of a cell; arms are numbered from 0 without a gap."""
    at = (table["tip_load_index"], table["angle_index"])
    return at if cell[0] == "tip_load" else (np.unique(table["arm"], return_inverse=True)[1], *at)


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


def _variable(name: str, dimensions: Sequence[str], column: NDArray[Any], values: NDArray[Any]) -> xr.Variable:
    """Values of a column with its unit, as in CSV: whole numbers are counts and flags and have none; and its codes."""
    unit = UNITS.get(ENDS.sub("", name)) if column.dtype.kind == "f" else None
    codes = CODES.get("rung" if name.startswith("rung_") else name)
    attributes: dict[str, Any] = {"units": "1" if unit is None else SI[unit[0]]}
    if codes is not None:
        meanings = " ".join(words.replace(" ", "_") for words in codes.values())
        attributes |= {"flag_values": list(codes), "flag_meanings": meanings}
    return xr.Variable(dimensions, values, attributes)
