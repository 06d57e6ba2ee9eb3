"""The data dictionary: every column of every table with its units and meaning, columns of one meaning together."""

import re
from typing import Any

import numpy as np

from ...study.columns import CODES, ENDS, UNITS
from ...study.dataset import SI
from ...units import label
from .folder import Finished
from .meanings import COMMON, OWN
from .parts import Block, Section, Text, grid

WIDTHS = (40, 11, 11, 38)  # of the columns, %
WRITTEN = {"m2": "m²", "N m-1": "N/m", "J m-2": "J/m²"}  # SI units as this page writes them
UNKNOWN = "not described by the code that wrote this report"


def dictionary(study: Finished) -> Section:
    """A table of columns for each table of the folder."""
    blocks: list[Block] = [
        Text(
            "Each table is in the folder as NAME.parquet (SI, names as here) and NAME.csv (users' units at the end "
            "of the "
            "names, a column NAME_words after each code). “1” marks a number without a unit: counts, codes, flags, "
            "probabilities, shares. nan stands for “never” or “none”. Definitions: docs/results.md, “Tables of a "
            "study”, "
            "docs/theory.md, “Outcome”."
        )
    ]
    for name, table in study.tables.items():
        rows = [
            (", ".join(names), unit, csv, words)
            for (words, unit, csv), names in columns(study.kind, name, table).items()
        ]
        head = ("columns", "SI unit (Parquet)", "unit in CSV", "meaning")
        blocks.append(grid(f"Columns of {name}", head, rows, f"{name}.parquet", WIDTHS))
    codes = [(name, "; ".join(f"{code}: {words}" for code, words in CODES[name].items())) for name in _coded(study)]
    if codes:
        blocks.append(
            grid(
                "Codes in words", ("column", "codes"), codes, "tipmech/outcome.py of the code that wrote this", (15, 85)
            )
        )
    return Section("dictionary", "Data dictionary", tuple(blocks))


def columns(kind: str, name: str, table: dict[str, Any]) -> dict[tuple[str, str, str], list[str]]:
    """Columns of a table by (meaning, SI unit, unit in CSV), in the table's order."""
    out: dict[tuple[str, str, str], list[str]] = {}
    for column, values in table.items():
        key = (meaning(kind, name, column), *units(column, np.asarray(values)))
        out.setdefault(key, []).append(column)
    return out


def meaning(kind: str, table: str, column: str) -> str:
    """What a column means."""
    if table == "rows" and kind in ("compare", "atlas"):
        kind = "map"
    if table == "cells" and column == "opened_area" and kind == "map":
        return "mean newly opened area over solved insertions"
    for pattern, words in (*_own(kind, table), *COMMON):
        if re.fullmatch(pattern, column):
            return words.replace("insertion", "procedure") if kind == "procedures" else words
    return UNKNOWN


def _own(kind: str, table: str) -> tuple[tuple[str, str], ...]:
    """Meanings of one table's own columns; of procedures that are compared those of both that they come from."""
    own = OWN.get(f"{kind}/{table}", ())
    if kind != "procedures":
        return own
    return own + OWN.get(f"{'attempts' if table == 'rows' else 'compare'}/{table}", ())


def units(column: str, values: np.ndarray[Any, Any]) -> tuple[str, str]:
    """SI unit of a column, and the unit of its CSV twin."""
    if values.dtype.kind in "OUS":
        return "words", "words"
    base = ENDS.sub("", column)
    if base not in UNITS or values.dtype.kind != "f":
        return "1", "1"
    key = UNITS[base][0]
    return WRITTEN.get(SI[key], SI[key]), label(key)


def _coded(study: Finished) -> list[str]:
    """Columns of codes in the folder's tables, each once, in order."""
    found = []
    for table in study.tables.values():
        for column, values in table.items():
            name = re.sub(r"^rung_\d+$", "rung", column)
            if name in CODES and np.asarray(values).dtype.kind in "iu" and name not in found:
                found.append(name)
    return found
