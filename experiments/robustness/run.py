"""Are insertions solved, whatever is drawn? 1,000 random insertions over the whole range of wires, vessels and tissue.

    python -m experiments.robustness.run --out results/robustness [--count 1000] [--workers 2]
    python -m experiments.robustness.run --case 17        run one of them again and print its course

Run from the repository's root; it may be stopped and started again. Printed, and written to OUT/summary.txt: share
solved up to the first curl or the end, quantiles of the audit's error, penetration of the support, and the insertions
that failed, each with the index that runs it again. (Tissue indentation against Hertz: `tipmech validate`.)
"""

import time
from collections import Counter
from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from experiments.command import command_line, print_progress
from experiments.population import Population, insertion
from tipmech.insertion.build import build_points, force_scale
from tipmech.insertion.case import Case
from tipmech.insertion.classify import classify
from tipmech.insertion.record import Record
from tipmech.insertion.run import QUIET, advance
from tipmech.insertion.shape import element_lengths
from tipmech.outcome import LABEL_WORDS, Label, Stop
from tipmech.study.execute import Task, run_tasks, tasks_of
from tipmech.study.store import open_store
from tipmech.study.table import Table, from_rows
from tipmech.vessel.build import support_mouth

SEED = 10
CHUNK = 10
AUDIT_LIMIT, SUPPORT_LIMIT, SOLVED_WANTED, AUDIT_WANTED = 0.01, 0.05, 0.995, 0.99
PARTS = 5  # places looked at on the length that a contact point stands for
ROWS_AT_ONCE = 16


def support_penetration(record: Record) -> float:
    """Deepest penetration of the support's wall or rounded mouth over the whole run, in wire radii.

    Measured on the wire's centreline between the nodes, `PARTS` places for each contact point.
    """
    case = record.case
    mouth, frame = support_mouth(case.scene, 2.0 * float(case.profile.radius[0]))
    axis, support = frame[2], case.scene.support
    points = build_points(case, element_lengths(case))
    part = (np.arange(PARTS) + 0.5) / PARTS - 0.5
    element = np.repeat(points.element, PARTS)
    xi = np.clip((points.xi[:, None] + points.step[:, None] * part).ravel(), 0.0, 1.0)
    radius = np.repeat(points.radius, PARTS)
    deepest = 0.0
    for first in range(0, len(record.feed), ROWS_AT_ONCE):
        x = record.positions[first : first + ROWS_AT_ONCE]
        place = (1.0 - xi)[:, None] * x[:, element] + xi[:, None] * x[:, element + 1] - mouth
        along = place @ axis
        out = np.linalg.norm(place - along[..., None] * axis, axis=-1) - support.inner_radius
        # inside the tube: the wall; within the mouth's rounding: distance from the rounding's centre
        u, v = support.mouth_radius + along, support.mouth_radius - out
        rounding = radius + support.mouth_radius - np.hypot(u, v)
        depth = np.where(along <= -support.mouth_radius, radius + out, np.where(v <= 0.0, radius - along, rounding))
        depth = np.where(along > support.mouth_radius + radius, 0.0, depth)
        deepest = max(deepest, float(np.max(depth / radius)))
    return deepest


def rows_of(population: Population, task: Task) -> Table:
    """Rows of the insertions of one task."""
    _warm_up(population)
    return from_rows([_row(population, k) for k in range(task.first, task.last)])


_WARM: list[bool] = []  # of a worker process: compiled code is loaded before the first time is taken


def _warm_up(population: Population) -> None:
    if not _WARM:
        advance(insertion(population, 0))
        _WARM.append(True)


def _row(population: Population, index: int) -> dict[str, Any]:
    case = insertion(population, index)
    begin = time.perf_counter()
    record = advance(case)
    seconds = time.perf_counter() - begin
    outcome = classify(record)
    solved = outcome.label != Label.NOT_SOLVED
    return {
        "index": index,
        "solved": int(solved),
        "label": outcome.label,
        "stop": outcome.stop,
        "audit_error": outcome.audit_error,
        "penetration": support_penetration(record) if len(record.feed) else float("nan"),
        "feed": float(record.feed[-1]) if len(record.feed) else 0.0,
        "smooth_viscous": _smooth_viscous(record),
        "increments": outcome.increments,
        "iterations": outcome.iterations,
        "seconds": seconds,
        **_input_columns(case),
    }


def _smooth_viscous(record: Record) -> float:
    """Viscous work outside snaps over the work of the push, to and fro: < 2 % wanted.

    That work counts as at least the push of `QUIET` tolerances over the feed, as in the audit: a wire that touches
    nothing does none worth a percentage.
    """
    if len(record.feed) == 0:
        return float("nan")
    pushed = float(np.sum(np.abs(np.diff(record.work_hand, prepend=0.0))))
    least = QUIET * record.case.numerics.tolerance * force_scale(record.case) * float(record.feed[-1])
    return float((record.diss_viscous[-1] - record.released_at_snaps[-1]) / max(pushed, least))


def _input_columns(case: Case) -> dict[str, Any]:
    """What was drawn, for looking at failures."""
    scene = case.scene
    return {
        "EI_tip": float(case.profile.EI1[0]),
        "friction": case.friction,
        "bend": case.tip_shape.angle,
        "tilt": scene.support.tilt,
        "pieces": len(scene.centreline.lengths),
        "modulus": scene.wall.youngs_modulus,
        "flap": scene.wall.flap_thickness,
        "gap": scene.tear.gap,
        "room": scene.channel.room,
        "thickness": scene.channel.thickness,
        "pressure": scene.channel.pressure,
        "static_ratio": case.static_ratio,
        "unsupported": scene.support.distance,
    }


def summary_text(rows: Table, code: str) -> str:
    """The table, and the list of insertions to look at."""
    n = len(rows["index"])
    solved = rows["solved"] == 1
    audit = np.where(np.isfinite(rows["audit_error"]), rows["audit_error"], np.inf)
    deep = rows["penetration"]
    a50, a90, a99 = np.quantile(audit[solved], [0.5, 0.9, 0.99]) if solved.any() else (np.nan,) * 3
    closed = float(np.mean(audit[solved] < AUDIT_LIMIT)) if solved.any() else 0.0
    labels = Counter(LABEL_WORDS[Label(int(x))] for x in rows["label"])
    t50, t90 = np.quantile(rows["seconds"], [0.5, 0.9])
    v50, v90 = np.nanquantile(rows["smooth_viscous"], [0.5, 0.9])
    lines = [
        f"code {code}; {n} random insertions",
        f"solved up to the first curl or the end   {np.mean(solved):8.2%}   wanted >= {SOLVED_WANTED:.1%}",
        f"audit closes within 1 %, of the solved   {closed:8.2%}   wanted >= {AUDIT_WANTED:.0%}",
        f"audit error, 50 / 90 / 99 %              {a50:8.2%} {a90:.2%} {a99:.2%}, largest {audit[solved].max():.2%}",
        f"support penetrated, largest (wire radii) {np.nanmax(deep):8.2%}   wanted <= {SUPPORT_LIMIT:.0%}; "
        f"{int(np.sum(deep > SUPPORT_LIMIT))} above",
        f"viscous work outside snaps, 50 / 90 %    {v50:8.2%} {v90:.2%}   wanted < 2 %",
        f"time of an insertion, 50 / 90 %          {t50:7.2f} s {t90:.2f} s",
        "outcomes: " + ", ".join(f"{words} {count}" for words, count in labels.most_common()),
    ]
    for words, mask in (
        ("not solved", ~solved),
        ("audit above 1 %", solved & (audit >= AUDIT_LIMIT)),
        ("support penetrated by more than 5 %", deep > SUPPORT_LIMIT),
    ):
        lines.append(f"{words} ({int(mask.sum())}), --case: " + " ".join(str(int(i)) for i in rows["index"][mask]))
    return "\n".join(lines)


def run_again(index: int) -> None:
    """Run one insertion again and print its course."""
    record = advance(insertion(Population("any", SEED, 0), index))
    outcome = classify(record)
    print(record.case)
    print("feed mm   push mN    tip mm   lead mm  front mm  its held stuck  audit")
    for k in range(0, len(record.feed), max(1, len(record.feed) // 40)):
        mm = (1e3 * v[k] for v in (record.tip_s, record.lead_s, record.front))
        print(f"{1e3 * record.feed[k]:7.2f} {1e3 * record.push[k]:9.3f} " + " ".join(f"{v:9.3f}" for v in mm), end=" ")
        print(f"{record.iterations[k]:4d} {record.held[k]:4d} {record.count_stuck[k]:5d} {record.audit_error[k]:8.4f}")
    end = f"after {1e3 * record.feed[-1]:.2f} mm" if len(record.feed) else "inside the support"
    print(f"{LABEL_WORDS[Label(outcome.label)]}; {Stop(outcome.stop).name} {end}")
    if len(record.feed):
        print(f"support penetrated by {support_penetration(record):.2%} of the radius")


def run(out: Path, count: int, workers: int, overwrite: bool = False) -> str:
    """Run, or go on with, the experiment into `out`; return the summary."""
    population = Population("any", SEED, count)
    store = open_store(out, "robustness", population, overwrite)
    tasks = tasks_of([(0, 0)], count, CHUNK)
    wall = run_tasks(store, tasks, partial(rows_of, population), workers, print_progress)
    rows = store.gather([t.key for t in tasks])
    store.put_table("rows", rows)
    store.finish(wall_time_of_last_run_s=round(wall, 1), workers=workers)
    text = summary_text(rows, store.manifest["code"])
    (out / "summary.txt").write_text(text + "\n", encoding="utf-8")
    return text


def main(arguments: Sequence[str] | None = None) -> None:
    """Command line."""
    command_line(__doc__, 1000, run, run_again, arguments)


if __name__ == "__main__":
    main()
