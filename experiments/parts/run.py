"""What each part buys at the same tip load: second strand, inner coil, stranded coil, jacket against core and one coil.

    python -m experiments.parts.run --out results/parts [--tip-load-gf 0.8] [--overwrite]

Five wires that differ in one part (the jacketed one has slimmer coils too) have their cores ground to one simulated tip
load (10 mm, plate friction 0.2), then go through all bench tests. Written to OUT: parts.csv (figures in users' units),
parts.png (each over that of core and one coil), the ground wires. Invented wires, parts sliding on each other. Some
30 s on one core.
"""

import argparse
import sys
from collections.abc import Sequence
from dataclasses import replace
from math import degrees
from pathlib import Path

import numpy as np
import pandas as pd

from tipmech.bench.suite import Suite, run_suite
from tipmech.bench.tip_load import tip_load
from tipmech.cli.terminal import guard
from tipmech.files.wire import read_wire, write_wire
from tipmech.show.style import SERIES, add_note, new_figure, save, tidy
from tipmech.units import from_si, to_si
from tipmech.wire.design import Design
from tipmech.wire.grind import grind
from tipmech.wire.report import turning

HERE = Path(__file__).parent
WIRES = {
    "base": "core and one coil",
    "strand": "second strand",
    "inner": "inner coil",
    "stranded": "stranded coil",
    "jacket": "jacket",
}
TIP_LOAD = 0.8  # gf
GROUPS = {
    "torque": (
        "GJ over EI at 10 mm",
        "GJ wound up over EI",
        "lag, straight tip, deg",
        "lag, shaped tip, deg",
        "ratio, shaped tip",
    ),
    "shape": ("share of a shape kept", "radius that sets the tip, mm", "bend radius without set, mm"),
    "support": ("lateral, 20 mm, N/m", "EI at 20 mm, N mm2", "EI at 50 mm, N mm2", "bows between supports, mN"),
    "way": ("drag round a bend, mN",),
}


def figures(design: Design, scale: float, suite: Suite) -> dict[str, float]:
    """Figures of a ground wire, users' units in the names."""
    if suite.not_made:
        raise RuntimeError(f"{design.name}: {suite.not_made}")
    ten = np.array([10e-3])
    bend, torque, shaped, turn = suite.bend, suite.torque, suite.torque_shaped, turning(design, ten)
    return {
        "core times": scale,
        "tip load, gf": from_si(suite.main.force_within(0.25e-3), "gf"),
        "GJ over EI at 10 mm": float((suite.stock.at("GJ", ten) / suite.stock.at("EI1", ten))[0]),
        "GJ wound up over EI": float(
            (np.maximum(turn.clockwise, turn.counterclockwise) / suite.stock.at("EI1", ten))[0]
        ),
        "lag, straight tip, deg": degrees(torque.lag),
        "lag, shaped tip, deg": degrees(shaped.lag),
        "ratio, shaped tip": shaped.ratio,
        "share of a shape kept": float(np.max(bend.kept)),
        "radius that sets the tip, mm": from_si(bend.set_radius, "mm"),
        "bend radius without set, mm": from_si(bend.kink_radius, "mm"),
        "lateral, 20 mm, N/m": suite.lateral[-1].stiffness,
        "EI at 20 mm, N mm2": from_si(suite.flexure.apparent_at(20e-3), "N_mm2"),
        "EI at 50 mm, N mm2": from_si(suite.flexure.apparent_at(50e-3), "N_mm2"),
        "bows between supports, mN": from_si(suite.prolapse.critical, "mN"),
        "drag round a bend, mN": from_si(suite.track.drag, "mN"),
    }


def measure(wanted_gf: float) -> tuple[pd.DataFrame, dict[str, Design]]:
    """Table of all wires, one row each, and the ground designs."""
    rows, designs = {}, {}
    for key, word in WIRES.items():
        print(word, file=sys.stderr, flush=True)
        design = read_wire(HERE / f"{key}.toml")
        ground = grind(design, to_si(wanted_gf, "gf"), lambda stock: tip_load(stock).force)
        note = f"{design.note}; core times {ground.scale:.4f} over the distal 30 mm for {wanted_gf:g} gf"
        designs[key] = replace(ground.design, note=note)
        rows[word] = figures(designs[key], ground.scale, run_suite(designs[key]))
    return pd.DataFrame.from_dict(rows, orient="index"), designs


def draw(table: pd.DataFrame, path: Path, wanted_gf: float) -> Path:
    """Every figure over that of core and one coil."""
    figure = new_figure(9.0, 6.2)
    ax = figure.add_axes((0.27, 0.16, 0.7, 0.76))
    names = [name for group in GROUPS.values() for name in group]
    over = table[names] / table[names].iloc[0]
    place = np.arange(len(names))[::-1]
    for k, (word, row) in enumerate(list(over.iterrows())[1:]):
        shift = 0.3 - 0.2 * k
        ax.hlines(place + shift, 1.0, row, color=SERIES[k], linewidth=1.5)
        ax.plot(row, place + shift, "osD^"[k], color=SERIES[k], markersize=5, label=str(word))
    ax.axvline(1.0, color="#22272e", linewidth=0.8)
    ax.set_xscale("log", base=2)
    ax.set_xticks([0.25, 0.5, 1.0, 2.0, 4.0], ["0.25", "0.5", "1", "2", "4"])
    ax.set_yticks(place, [f"{name}  [{table[name].iloc[0]:.3g}]" for name in names])
    ax.set_xlabel("over core and one coil (its figure in brackets)", fontsize=9)
    ax.set_title(f"What each part buys at a tip load of {wanted_gf:g} gf", fontsize=10, loc="left")
    ax.legend(fontsize=8, framealpha=0.9)
    tidy(ax)
    add_note(figure, "Invented wires, cores ground to the same simulated tip load, parts sliding on each other.")
    return save(figure, path)


def main(arguments: Sequence[str] | None = None) -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--tip-load-gf", type=float, default=TIP_LOAD)
    parser.add_argument("--overwrite", action="store_true")
    args = parser.parse_args(arguments)
    names = ["parts.csv", "parts.png", *(f"{key}.toml" for key in WIRES)]
    guard(args.out, names, args.overwrite)
    table, designs = measure(args.tip_load_gf)
    args.out.mkdir(parents=True, exist_ok=True)
    for key, design in designs.items():
        (args.out / f"{key}.toml").unlink(missing_ok=True)
        write_wire(design, args.out / f"{key}.toml")
    draw(table, args.out / "parts.png", args.tip_load_gf)
    table.to_csv(args.out / "parts.csv", float_format="%.5g", index_label="wire")
    print(table.T.to_string(float_format=lambda value: f"{value:.4g}"))


if __name__ == "__main__":
    main()
