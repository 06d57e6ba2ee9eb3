"""`tipmech wire`: profiles and bench figures of designs, side by side."""

from collections.abc import Callable
from math import pi
from pathlib import Path
from typing import Any

import numpy as np

from ..bench.tip_load import TipLoad, tip_load, tip_load_band
from ..profile import Profile
from ..show.wire import WireEntry, wire_figure
from ..units import from_si
from ..wire.design import Design, profile
from .terminal import finish, guard, print_json, print_table, progress, write_json

PICTURE, FIGURES = "wire.png", "wire.json"
FREE_LENGTHS = (5e-3, 10e-3, 15e-3)  # m
STATIONS = (1e-3, 10e-3, 30e-3, 100e-3)  # m from the tip, where the bending stiffness is listed


def run(designs: list[Design], folder: Path, *, as_json: bool, overwrite: bool) -> None:
    """Bench every design, draw the figure, print the table."""
    guard(folder, (PICTURE, FIGURES), overwrite)
    figures: list[dict[str, float]] = []
    definition = ""
    with progress("bench tests", quiet=as_json) as report:
        for k, design in enumerate(designs):
            report(k, len(designs))
            values, definition = bench_figures(profile(design))
            figures.append(values)
    texts = [tuple((label, show(values)) for label, show in ROWS) for values in figures]
    entries = [
        WireEntry(d, profile(d), profile(d, "sliding"), profile(d, "bonded"), t)
        for d, t in zip(designs, texts, strict=True)
    ]
    paths = [wire_figure(entries, folder / PICTURE, f"Tip load: {definition}.")]
    facts: dict[str, Any] = {
        "tip_load_definition": definition,
        "wires": [{"name": d.name, "note": d.note, **v} for d, v in zip(designs, figures, strict=True)],
    }
    paths.append(write_json(facts, folder / FIGURES))
    if as_json:
        print_json({**facts, "files": paths})
        return
    table = [(label, *(dict(t)[label] for t in texts)) for label, _ in ROWS]
    print_table("wires (invented unless their file says otherwise)", ("", *(d.name for d in designs)), table)
    print(f"tip load: {definition}")
    finish(paths)


def bench_figures(stock: Profile) -> tuple[dict[str, float], str]:
    """Figures of one profile, users' units in the names, and the definition of its tip load."""
    tests: dict[float, TipLoad] = {length: tip_load(stock, length) for length in FREE_LENGTHS}
    band = tip_load_band(stock)
    main = tests[10e-3]
    values = {f"tip_load_{length * 1e3:g}mm_gf": from_si(t.force, "gf") for length, t in tests.items()}
    values |= {
        "tip_load_10mm_free_tip_gf": from_si(band.free, "gf"),
        "tip_load_10mm_pinned_gf": from_si(band.pinned, "gf"),
        "tip_load_10mm_travel_mm": from_si(main.travel, "mm"),
        "tip_pressure_kPa": from_si(main.force / (pi * stock.tip_radius**2), "kPa"),
        "tip_diameter_mm": from_si(2 * stock.tip_radius, "mm"),
        "diameter_mm": from_si(2 * float(stock.radius[0]), "mm"),
        "friction": stock.friction,
    }
    stiffness = stock.at("EI1", np.array(STATIONS))
    values |= {f"EI_{s * 1e3:g}mm_N_mm2": from_si(float(v), "N_mm2") for s, v in zip(STATIONS, stiffness, strict=True)}
    return values, main.definition


def _number(key: str) -> Callable[[dict[str, float]], str]:
    return lambda values: f"{values[key]:.3g}"


ROWS: tuple[tuple[str, Callable[[dict[str, float]], str]], ...] = (
    *((f"tip load at {x:g} mm, gf", _number(f"tip_load_{x:g}mm_gf")) for x in (5, 10, 15)),
    (
        "... at 10 mm, tip free to pinned, gf",
        lambda v: f"{v['tip_load_10mm_free_tip_gf']:.3g} to {v['tip_load_10mm_pinned_gf']:.3g}",
    ),
    ("tip pressure at 10 mm, kPa", _number("tip_pressure_kPa")),
    ("tip diameter, mm", _number("tip_diameter_mm")),
    ("outer diameter at the tip, mm", _number("diameter_mm")),
    ("friction (median, wet tissue)", _number("friction")),
    *((f"EI at {x:g} mm from the tip, N mm²", _number(f"EI_{x:g}mm_N_mm2")) for x in (1, 10, 30, 100)),
)
