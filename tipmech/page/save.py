"""What the bench has carried out, as files in one folder: a record (NetCDF) and a table (CSV) of each wire."""

import csv
import re
from pathlib import Path

import numpy as np

from .. import CAUTION, __version__
from ..insertion.classify import travel
from ..insertion.record import Record
from ..insertion.record_file import save
from ..units import from_si
from ..whole import whole_file
from .bench import Bench

COLUMNS: tuple[tuple[str, str], ...] = (
    ("feed_mm", "feed"),
    ("turn_deg", "turn"),
    ("push_mN", "push"),
    ("torque_mN_mm", "torque"),
    ("tip_force_mN", "tip_force"),
    ("force_front_mN", "force_front"),
    ("force_lip_mN", "force_lip"),
    ("force_lip_along_mN", "force_lip_along"),
    ("force_floor_mN", "force_floor"),
    ("front_mm", "front"),
    ("opened_area_mm2", "opened_area"),
    ("energy_elastic_uJ", "energy_elastic"),
    ("diss_friction_uJ", "diss_friction"),
    ("diss_front_uJ", "diss_front"),
    ("diss_margin_uJ", "diss_margin"),
    ("work_hand_uJ", "work_hand"),
)
"""Column with its unit, quantity of the record."""
FACTORS = {"mm": 1e3, "deg": 1.0 / from_si(1.0, "deg"), "mN": 1e3, "mN_mm": 1e6, "mm2": 1e6, "uJ": 1e6}
NAME = re.compile(r"insertion_(\d{3,6})_wire_\d\.(nc|csv)")


def save_bench(bench: Bench, folder: Path) -> list[Path]:
    """Write record and table of every wire into `folder` under the next free number; returns the paths."""
    number = 1 + max((int(m[1]) for p in folder.glob("insertion_*") if (m := NAME.fullmatch(p.name))), default=0)
    paths = []
    for k, lane in enumerate(bench.lanes, start=1):
        record = lane.record()
        stem = folder / f"insertion_{number:03d}_wire_{k}"
        paths.append(save(record, stem.with_suffix(".nc")))
        paths.append(write_table(record, stem.with_suffix(".csv")))
    return paths


def write_table(record: Record, path: Path) -> Path:
    """Write the history of a record as CSV in users' units; first lines (#): version, wire, caution."""
    columns = {"travel_mm": travel(record) * 1e3}
    for column, name in COLUMNS:
        unit = next(u for u in sorted(FACTORS, key=len, reverse=True) if column.endswith(f"_{u}"))
        columns[column] = np.asarray(getattr(record, name)) * FACTORS[unit]
    with whole_file(path) as temporary, temporary.open("w", newline="", encoding="utf-8") as file:
        file.write(f"# tipmech {__version__}; {record.case.profile.name}; invented vessel\n# {CAUTION}\n")
        writer = csv.writer(file)
        writer.writerow(columns)
        writer.writerows(zip(*(c.tolist() for c in columns.values()), strict=True))
    return path
