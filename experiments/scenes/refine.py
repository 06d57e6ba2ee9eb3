"""Do outcomes over the scenes hang on the numerics? Random insertions again, one setting of the solver changed.

    python -m experiments.scenes.refine --of results/scenes --out results/scenes_refined [--wanted 60] [--workers 2]

Run from the repository's root after experiments.scenes.population, whose outcomes are the standard ones; it may be
stopped and started again. Of every scene `wanted` solved insertions are taken: those that touched a lip or the front
first, and where these are fewer, others (in the controls with an intact wall the first ones). They are run with
increments halved, elements doubled, contact points half as far apart and smoothing halved. Compared: the class of
experiments/stability (not in the false channel; in it; in it and curled) and the map's finer label. Written to OUT:
rows.csv and summary.txt with every insertion whose class changed.
"""

import argparse
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np

from experiments.command import print_progress
from experiments.scenes.draw import SCENES, SEED, insertion, tables_of
from experiments.stability.run import BASE, NO_CLASS, outcome_case
from experiments.stability.settings import SETTINGS
from experiments.stability.summary import CLASSES, outcome_summary
from tipmech.study.execute import Task, run_tasks
from tipmech.study.store import open_store, read_store
from tipmech.study.table import Table, concat, from_rows, read_parquet, select, write_csv

REFINED = ("increment", "elements", "spacing", "smoothing")
NUMBERS = tuple(k for k, setting in enumerate(SETTINGS) if setting.key in REFINED)
CHUNK = 3
WANTED, KAPPA_WANTED, AGREEMENT_WANTED = 60, 0.93, 0.95
Picks = tuple[tuple[int, ...], ...]


@dataclass(frozen=True)
class Refinement:
    """What is compared: how many insertions of each scene, of which seed, under which changes."""

    seed: int
    wanted: int
    changes: tuple[str, ...] = REFINED

    @property
    def name(self) -> str:
        """Name in the manifest."""
        return "scenes refined"


def intact(scene: str) -> bool:
    """Whether a scene's wall is whole: then it has no lip."""
    return bool(tables_of(scene)["tear"].get("intact", False))


def picked(rows: Table, wanted: int) -> Picks:
    """Indices of the insertions to compare, by scene, from the rows of experiments.scenes.population."""
    picks = []
    for number, scene in enumerate(SCENES):
        mine = select(rows, (rows["scene"] == number) & (rows["class"] != NO_CLASS))
        first = np.ones_like(mine["touched"]) if intact(scene) else mine["touched"]
        order = np.argsort(1 - first, kind="stable")[:wanted]
        picks.append(tuple(int(i) for i in mine["index"][order]))
    return tuple(picks)


def rows_of(picks: Picks, task: Task) -> Table:
    """Rows of one task: insertions first..last-1 of the picked ones of scene `task.angle`, all changes."""
    rows = []
    for index in picks[task.angle][task.first : task.last]:
        case = insertion(index).case
        rows += [row | {"scene": task.angle} for row in outcome_case(index, case, NUMBERS, standard=False)]
    return from_rows(rows)


def standard_rows(rows: Table, picks: Picks, like: Table) -> Table:
    """Rows of the picked insertions with the standard settings, with the columns of `like`."""
    mine = select(rows, np.isin(rows["index"], [i for pick in picks for i in pick]))
    known = {"setting": np.full(len(mine["index"]), BASE), "extension": mine["extension_mm"] * 1e-3}
    return {key: known.get(key, mine.get(key)) for key in like}


def summary_text(rows: Table, code: str) -> str:
    """Agreement and kappa by scene and pooled, and the insertions whose class changed."""
    words = [SETTINGS[k].words for k in NUMBERS]
    head = f"{'scene':20s} {'runs':>5s} {'touched':>8s} " + " ".join(f"{c:>24s}" for c in CLASSES) + "  "
    lines = [
        f"code {code}; seed {SEED}; for each change: agreement of the class, its kappa, agreement of the finer label, "
        f"how many not solved. Wanted: kappa >= {KAPPA_WANTED} pooled, agreement >= {AGREEMENT_WANTED:.0%} a scene",
        head + " ".join(f"{w:>28s}" for w in words),
    ]
    for number, scene in enumerate(SCENES):
        lines.append(_line(scene, select(rows, rows["scene"] == number)))
    lines.append(_line("pooled", rows))
    torn = np.array([not intact(scene) for scene in SCENES])[rows["scene"].astype(int)]
    touched = np.isin(rows["index"], rows["index"][(rows["setting"] == BASE) & (rows["touched"] == 1)])
    lines.append(_line("pooled, touched", select(rows, torn & touched)))
    lines.append("class changed (index: standard -> changed):")
    base = {
        int(i): int(c) for i, c in zip(*(rows[k][rows["setting"] == BASE] for k in ("index", "class")), strict=True)
    }
    for number in NUMBERS:
        mine = select(rows, rows["setting"] == number)
        for k, scene in enumerate(SCENES):
            there = [
                (int(i), int(c)) for i, c, s in zip(mine["index"], mine["class"], mine["scene"], strict=True) if s == k
            ]
            if changed := [f"{i}: {base[i]} -> {c}" for i, c in sorted(there) if c != base[i]]:
                lines.append(f"  {SETTINGS[number].words}, {scene}: " + ", ".join(changed))
    lines.append(f"  (0 {CLASSES[0]}, 1 {CLASSES[1]}, 2 {CLASSES[2]}, -1 not solved)")
    return "\n".join(lines)


def _line(name: str, rows: Table) -> str:
    """One line of the table, over all its rows; a kappa says nothing where all are of one class."""
    summary = outcome_summary(rows | {"touched": np.ones_like(rows["touched"])}, NUMBERS)
    touched = int(np.sum(rows["touched"][rows["setting"] == BASE]))
    shares = " ".join(f"{share:24.1%}" for share in summary["shares"].values())
    parts = []
    for number in NUMBERS:
        s = summary["settings"][SETTINGS[number].key]
        kappa = "-" if max(summary["shares"].values()) == 1.0 else f"{s['kappa']:.3f}"
        parts.append(f"{s['agreement']:8.1%} {kappa:>6s} {s['label_agreement']:7.1%} {s['not_solved']:4d}")
    return f"{name:20s} {summary['touched_and_solved']:5d} {touched:8d} {shares}   " + " ".join(parts)


def run(population: Path, out: Path, wanted: int, workers: int, overwrite: bool = False) -> str:
    """Run, or go on with, the comparison into `out`; return the summary."""
    source = read_store(population)
    if not source.finished:
        raise SystemExit(f"{population}: is not finished; run experiments.scenes.population again")
    rows = read_parquet(source.folder / "rows.parquet")
    picks = picked(rows, wanted)
    store = open_store(out, "scenes refined", Refinement(SEED, wanted), overwrite)
    tasks = [Task(0, k, i, min(i + CHUNK, len(p))) for k, p in enumerate(picks) for i in range(0, len(p), CHUNK)]
    wall = run_tasks(store, tasks, partial(rows_of, picks), workers, print_progress)
    changed = store.gather([t.key for t in tasks])
    table = concat([standard_rows(rows, picks, changed), changed])
    store.put_table("rows", table)
    write_csv(table, out / "rows.csv")
    store.finish(wall_time_of_last_run_s=round(wall, 1), workers=workers)
    text = summary_text(table, store.manifest["code"])
    (out / "summary.txt").write_text(text + "\n", encoding="utf-8")
    return text


def main(arguments: Sequence[str] | None = None) -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--of", type=Path, required=True, help="folder of experiments.scenes.population")
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--wanted", type=int, default=WANTED, help="insertions of each scene")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--overwrite", action="store_true")
    args = parser.parse_args(arguments)
    print("\n" + run(args.of, args.out, args.wanted, args.workers, args.overwrite))


if __name__ == "__main__":
    main()
