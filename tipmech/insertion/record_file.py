"""A record on disk: one NetCDF-4 file with units on every variable and the case as JSON in the attributes."""

from __future__ import annotations

import json
from dataclasses import fields, is_dataclass
from pathlib import Path
from types import UnionType
from typing import Any, Union, get_args, get_origin, get_type_hints

import numpy as np

from .. import CAUTION, __version__
from ..whole import whole_file
from .case import Case
from .record import Record

FORMAT = 3
"""Raised when variables change their meaning (2: plug, margins, holes; frames of a flat wire turn with its roll;
3: the lips' forces apart from those of the window's floor and of holes)."""

DIMENSIONS: dict[str, tuple[str, ...]] = {
    "positions": ("increment", "node", "axis"),
    "quaternions": ("increment", "element", "component"),
    "side": ("increment", "node"),
    "margins": ("increment", "side_of_margin", "station"),
    "holes": ("hole", "hole_value"),
}  # every other variable has the dimension "increment" alone

UNITS: dict[str, str] = {
    "feed": "m",
    "turn": "rad",
    "positions": "m",
    "quaternions": "1",
    "push": "N",
    "torque": "N m",
    "tip_force": "N",
    "tip_angle": "rad",
    "tip_s": "m",
    "lead_s": "m",
    "lead_false_s": "m",
    "lead_back_s": "m",
    "side": "1",
    "force_true": "N",
    "force_false": "N",
    "force_lip": "N",
    "force_floor": "N",
    "force_hole": "N",
    "force_lip_along": "N",
    "force_front": "N",
    "force_plug": "N",
    "force_front_back": "N",
    "front": "m",
    "front_back": "m",
    "plug": "m",
    "front_centre": "m",
    "opened_area": "m2",
    "margins": "m",
    "holes": "m",  # its fourth value, the increment, has no unit
    "lip": "m",
    "energy_elastic": "J",
    "energy_contact": "J",
    "energy_drive": "J",
    "work_hand": "J",
    "diss_friction": "J",
    "diss_front": "J",
    "diss_margin": "J",
    "diss_plug": "J",
    "diss_viscous": "J",
    "released_at_snaps": "J",
    "audit_error": "1",
    "count_stuck": "1",
    "count_released": "1",
    "count_met": "1",
    "iterations": "1",
    "held": "1",
    "limb_approach": "1",
}
SCALARS = ("stop", "contact_angle")


def save(record: Record, path: str | Path, *, overwrite: bool = False) -> Path:
    """Write a record to a NetCDF-4 file, under a temporary name first, and return the path.

    Raises
    ------
    FileExistsError
        if the file is there and `overwrite` is false
    """
    import xarray

    path = Path(path)
    if path.exists() and not overwrite:
        raise FileExistsError(f"{path} is already there; it is replaced only when told to overwrite")
    variables = {
        name: (DIMENSIONS.get(name, ("increment",)), np.asarray(getattr(record, name)), {"units": unit})
        for name, unit in UNITS.items()
    }
    attributes = {
        "title": "one simulated insertion of a guidewire (tipmech)",
        "format": FORMAT,
        "tipmech_version": __version__,
        "caution": CAUTION,
        "case": case_to_json(record.case),
        "stop": int(record.stop),
        "contact_angle": float(record.contact_angle),
        "contact_angle_units": "rad",
    }
    compression = {name: {"zlib": True, "complevel": 3, "_FillValue": None} for name in variables}
    with whole_file(path) as temporary:
        xarray.Dataset(variables, attrs=attributes).to_netcdf(temporary, engine="h5netcdf", encoding=compression)
    return path


def load(path: str | Path) -> Record:
    """Record read from a file that `save` wrote.

    Raises
    ------
    ValueError
        if the file is no record of this format; FileNotFoundError if it is not there
    """
    import xarray

    path = Path(path)
    if not path.is_file():
        raise FileNotFoundError(f"{path}: there is no such record")
    try:
        dataset = xarray.load_dataset(path, engine="h5netcdf")
    except (OSError, ValueError) as error:
        raise ValueError(f"{path}: cannot be read as a NetCDF-4 record ({error})") from None
    if dataset.attrs.get("format") != FORMAT or not set(UNITS) <= set(dataset.data_vars):
        raise ValueError(f"{path}: not a tipmech record of format {FORMAT}")
    values = {name: dataset[name].to_numpy() for name in UNITS}
    case = case_from_json(str(dataset.attrs["case"]))
    return Record(
        case=case, stop=int(dataset.attrs["stop"]), contact_angle=float(dataset.attrs["contact_angle"]), **values
    )


def case_to_json(case: Case) -> str:
    """Case as JSON text; `case_from_json` gives an equal case back, bit for bit."""
    return json.dumps(_plain(case))


def case_from_json(text: str) -> Case:
    """Case from the text that `case_to_json` made."""
    case = from_plain(Case, json.loads(text))
    assert isinstance(case, Case)
    return case


def _plain(value: Any) -> Any:
    """Dataclasses as dictionaries, arrays as lists; Python writes floats so that they read back exactly."""
    if is_dataclass(value) and not isinstance(value, type):
        return {f.name: _plain(getattr(value, f.name)) for f in fields(value)}
    if isinstance(value, np.ndarray):
        return value.tolist()
    if isinstance(value, tuple | list):
        return [_plain(v) for v in value]
    if isinstance(value, np.generic):
        return value.item()
    return value


def from_plain(kind: Any, value: Any) -> Any:
    """Value of type `kind` from plain data: the inverse of `_plain`."""
    if value is None:
        return None
    if is_dataclass(kind) and isinstance(kind, type):
        hints = get_type_hints(kind)
        return kind(**{name: from_plain(hints[name], v) for name, v in value.items()})
    origin, inside = get_origin(kind), get_args(kind)
    if origin in (Union, UnionType):
        return from_plain(next(a for a in inside if a is not type(None)), value)
    if origin is tuple:
        each = inside[:1] * len(value) if inside[-1] is Ellipsis else inside
        return tuple(from_plain(k, v) for k, v in zip(each, value, strict=True))
    if origin is np.ndarray:
        return np.array(value, dtype=float)
    return value
