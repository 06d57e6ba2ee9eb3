"""Studies over a calibrated wire: scales of the columns from the posterior that a study file names, and its table."""

from dataclasses import dataclass
from math import degrees
from pathlib import Path
from typing import Any

from ..files.study_tables import StudyTables
from ..files.wire import asked_wire
from ..lab.scale import Scale, read_scale
from ..study.estimates import wider_interval

WIRES = 8  # columns where the file names no number
EVENTS = ("entered", "extended", "curled")


@dataclass(frozen=True)
class Columns:
    """Columns of a study that are wires of a calibration: where from, and how many equally likely ones."""

    scale: Scale
    count: int

    @property
    def scales(self) -> tuple[float, ...]:
        """Scales of EI, increasing, each as likely as the others."""
        return tuple(self.scale.middles(self.count).tolist())

    def words(self) -> str:
        """What the columns are, for titles and notes."""
        return (
            f"columns: {self.count} equally likely wires of the calibration {self.scale.path.name}, "
            f"scale of EI {self.scale.words()}"
        )


def columns_of(file: Path, tables: StudyTables) -> Columns | None:
    """Columns from the posterior that a study file names (its path counts from the file's folder); None: it names none.

    Raises
    ------
    InputError
        when it is no posterior, or that of another wire
    """
    wire = tables.wire
    if wire.posterior is None:
        return None
    scale = read_scale(file.parent / wire.posterior, asked_wire(file, wire.preset, wire.file), wire.coupling)
    return Columns(scale, wire.posterior_wires or WIRES)


def over_rows(lines: list[dict[str, Any]]) -> list[tuple[str, ...]]:
    """Rows of the printed table: each event's probability with its interval, and its range over the wires."""
    return [
        (f"{degrees(line['angle']):.0f}°", f"{line['n_solved']}/{line['n']}", *(_chance(line, e) for e in EVENTS))
        for line in lines
    ]


def _chance(line: dict[str, Any], event: str) -> str:
    """Probability with the wider of the scrambles' and Wilson's interval; below, its range over the wires."""
    name = f"p_{event}"
    low, high = wider_interval(*(line[f"{name}_{end}"] for end in ("low", "high", "wilson_low", "wilson_high")))
    return f"{line[name]:.2f} ({low:.2f}-{high:.2f})\n{line[f'{name}_least']:.2f} to {line[f'{name}_most']:.2f}"
