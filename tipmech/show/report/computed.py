"""What was computed: designs, points, seeds, machine, how runs ended, what was not solved."""

from collections.abc import Sequence
from enum import IntEnum
from typing import Any

import numpy as np

from ...outcome import END_WORDS, LABEL_WORDS, STOP_WORDS
from ...study import events, run_attempts
from ...study.columns import DESIGNS
from ...study.compare_spec import TIP_LOAD
from ...study.table import length
from ...study.threshold import Status
from .folder import Finished
from .numbers import number
from .parts import Block, Section, Text, grid


def unsolved(study: Finished) -> tuple[int, int, str]:
    """How many were not solved, of how many, and of what."""
    rows = study.rows
    if study.kind == "threshold":
        return int(np.sum(rows["unsolved_runs"])), int(np.sum(rows["runs"])), "insertions"
    if study.of_procedures:
        return int(np.sum(~run_attempts.solved(rows))), length(rows), "procedures"
    return int(np.sum(~events.solved(rows))), length(rows), "insertions"


def computed(study: Finished) -> Section:
    """Sizes, seeds, ends."""
    manifest, one = study.manifest, study.study
    holes, whole, what = unsolved(study)
    rows = [
        ("kind of study", study.kind),
        ("designs", design_words(study)),
        ("points", point_words(study)),
        ("seed of the study", number(float(manifest["seed"]), 12)),
        ("seed of a point", "follows from the study's seed and the point's index: column seed of rows.parquet"),
        (f"{what} computed", str(whole)),
        ("of them not solved", f"{holes} ({number(100.0 * holes / whole) if whole else 0} %): counted, never dropped"),
        ("wall time of the last run", f"{number(float(manifest.get('wall_time_of_last_run_s', float('nan'))))} s"),
        ("worker processes", str(manifest.get("workers", one["workers"]))),
        *([("GPUs that carried out insertions", ", ".join(manifest["gpus"]))] if "gpus" in manifest else []),
    ]
    blocks: list[Block] = [grid("The computation", ("item", "value"), rows, "manifest.json; counts: rows.parquet")]
    blocks += ends(study)
    if study.kind != "sensitivity":
        blocks.append(
            Text(
                "All designs and angles share their points (common random numbers): the same vessels, rolls and seeds, "
                "row by row, so that differences between designs are paired (join rows.parquet on "
                f"{'arm and index' if 'arm' in study.rows else 'index'})."
            )
        )
    return Section("computed", "What was computed", tuple(blocks))


def design_words(study: Finished) -> str:
    """Designs and angles in numbers."""
    one, spec = study.study, study.spec
    loads, angles = len(one["tip_loads"]), len(one["angles"])
    words = f"{loads} {'tip loads' if study.by == TIP_LOAD else 'designs'} x {angles} commanded angles"
    if study.kind == "sensitivity":
        return f"tip load and angle as under “Inputs”; {spec['sampler']} made the designs"
    if "arm" in study.rows:
        return f"{words} x {len(np.unique(study.rows['arm']))} {'sites' if study.kind == 'atlas' else 'arms'}"
    return words


def point_words(study: Finished) -> str:
    """Points of a cell, or of the designs of a sensitivity study."""
    one, spec = study.study, study.spec
    if study.kind == "sensitivity":
        counts = {code: int(np.sum(study.rows["design"] == code)) for code in DESIGNS}
        sizes = f"{spec['trajectories']} trajectories on {spec['levels']} levels ({counts[0]} insertions)"
        return f"Morris: {sizes}; Saltelli's design: {spec['base_points']} base points ({counts[1]} insertions)"
    if study.kind == "atlas":
        return f"{spec['sites']} sites, {one['points']} scrambled Sobol' points at each, a scramble of its own for each"
    made = len(np.unique(study.rows["scramble"]))
    more = f", to which rounds added scrambles up to {made}" if made > one["scrambles"] else ""
    return f"{one['scrambles']} independent scrambles of {one['points']} Sobol' points in each cell{more}"


def ends(study: Finished) -> list[Block]:
    """How runs ended, in words, with counts; nothing is left out."""
    rows = study.rows
    if study.kind == "threshold":
        words = {s: s.name.lower().replace("_", " ") for s in Status}
        return [_counts("How the searches for F* ended", "status", rows["status"], words)]
    if study.of_procedures:
        return [_counts("How the procedures ended", "end", rows["end"], END_WORDS)]
    return [
        _counts("What insertions came to: the label, first that applies", "label", rows["label"], LABEL_WORDS),
        _counts("Why insertions ended", "stop", rows["stop"], STOP_WORDS),
    ]


def _counts(caption: str, name: str, codes: Any, words: dict[Any, str]) -> Block:
    """Counts of codes by their words."""
    kinds: Sequence[IntEnum] = list(words)
    n = len(codes)
    rows = [
        (words[kind], str(count), f"{100.0 * count / n:.1f} %")
        for kind in kinds
        if (count := int(np.sum(codes == int(kind))))
    ]
    return grid(caption, (name, "rows", "share"), [*rows, ("all", str(n), "100 %")], f"rows.parquet, column {name}")
