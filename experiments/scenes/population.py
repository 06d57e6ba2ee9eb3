"""Are insertions solved over all eight scenes? 1,000 random ones, drawn about each scene's values (draw.py).

    python -m experiments.scenes.population --out results/scenes [--count 1000] [--workers 2]
    python -m experiments.scenes.population --case 17        run one of them again; print its case file and its course

Run from the repository's root; it may be stopped and started again. Written to OUT: rows.csv (one insertion a row),
summary.txt: per scene and pooled, the share solved to the end of its moves (and up to its first curl), the share whose
energy audit closes within 1 %, the outcomes, the draws refused, and every insertion to look at with its index.
"""

import time
from collections import Counter
from collections.abc import Sequence
from math import nan
from pathlib import Path
from typing import Any

import numpy as np

from experiments.command import command_line, print_progress
from experiments.population import Population
from experiments.scenes.draw import SCENES, SEED, Drawn, insertion, tip_load_gf, toml_text
from experiments.stability.run import class_of, touched
from tipmech.insertion.classify import classify, curl_start, travel
from tipmech.insertion.record import Outcome, Record
from tipmech.insertion.run import advance
from tipmech.outcome import LABEL_WORDS, STOP_WORDS, Label, Stop
from tipmech.study.execute import Task, run_tasks, tasks_of
from tipmech.study.store import open_store
from tipmech.study.table import Table, from_rows, select, write_csv

CHUNK = 8
AUDIT_LIMIT, SOLVED_WANTED, AUDIT_WANTED = 0.01, 0.995, 0.99
COURSE_ROWS = 60  # printed of one insertion
MM, MN = 1e3, 1e3


def rows_of(task: Task) -> Table:
    """Rows of the insertions of one task."""
    _warm_up()
    return from_rows([_row(k) for k in range(task.first, task.last)])


_WARM: list[bool] = []  # of a worker process: compiled code is loaded before the first time is taken


def _warm_up() -> None:
    if not _WARM:
        advance(insertion(0).case)
        _WARM.append(True)


def _row(index: int) -> dict[str, Any]:
    drawn = insertion(index)
    begin = time.process_time()
    record = advance(drawn.case)
    seconds = time.process_time() - begin
    outcome = classify(record)
    return {
        "index": index,
        "scene": SCENES.index(drawn.scene),
        "refused": len(drawn.refused),
        "solved": int(record.stop != Stop.NOT_CONVERGED),
        **_measured(record, outcome),
        "seconds": seconds,
        **_drawn_columns(drawn),
    }


def _measured(record: Record, outcome: Outcome) -> dict[str, Any]:
    """What came of an insertion; its audit at the end and where its first curl began (nan: none)."""
    start = curl_start(record) if len(record.feed) else nan
    curl = int(np.searchsorted(travel(record), start)) if start == start else -1
    return {
        "curled": int(start == start),
        "class": class_of(outcome),
        "where": outcome.where,
        "shape": outcome.shape,
        "label": outcome.label,
        "stop": outcome.stop,
        "touched": int(touched(record)),
        "jammed": int(outcome.jammed),
        "holes": len(record.holes),
        "extension_mm": MM * outcome.extension,
        "feed_mm": MM * float(record.feed[-1]) if len(record.feed) else 0.0,
        "max_push_mn": MN * outcome.max_push,
        "audit_error": outcome.audit_error,
        "audit_at_curl": float(record.audit_error[curl]) if curl >= 0 else nan,
        "increments": outcome.increments,
        "iterations": outcome.iterations,
        "held": int(np.sum(record.held)),
    }


def _drawn_columns(drawn: Drawn) -> dict[str, Any]:
    """Some of what was drawn, for looking at failures."""
    t, scene = drawn.tables, drawn.case.scene
    return {
        "preset": t["wire"]["preset"],
        "tip_load_gf": tip_load_gf(drawn),
        "friction": t["wire"]["friction"],
        "bend_deg": t["tip_shape"]["bend_deg"],
        "roll_deg": t["tip_shape"]["roll_deg"],
        "azimuth_deg": t["tear"]["azimuth_deg"],
        "mouth_gap_mm": MM * scene.tear.gap,
        "flap_mm": MM * scene.wall.flap_thickness,
        "modulus_mpa": scene.wall.youngs_modulus * 1e-6,
        "thickness_mm": MM * scene.channel.thickness,
        "room_mm": MM * scene.channel.room,
        "pressure_kpa": scene.channel.pressure * 1e-3,
        "fracture_energy_j_m2": scene.channel.fracture_energy,
        "support_to_tear_mm": MM * scene.support.distance,
        "force_cap_n": drawn.case.drive.force_cap,
    }


def summary_text(rows: Table, code: str) -> str:
    """The table by scene, and the insertions to look at."""
    head = f"{'scene':20s} {'runs':>5s} {'solved':>8s} {'to curl':>8s} {'audit':>8s} {'50 %':>7s} {'99 %':>7s} "
    head += f"{'largest':>8s} {'curled':>7s} {'touched':>8s} {'refused':>8s} {'s':>6s}"
    lines = [
        f"code {code}; {len(rows['index'])} random insertions, seed {SEED}",
        f"solved: to the end of the moves (wanted >= {SOLVED_WANTED:.1%}); to curl: to the first curl or the end; "
        f"audit: closes within 1 %, of the solved (wanted >= {AUDIT_WANTED:.0%}), its error's quantiles and largest;",
        "refused: draws that the checks of case files refused, for each one kept; s: median processor time",
        head,
    ]
    for number, scene in enumerate(SCENES):
        mine = select(rows, rows["scene"] == number)
        if len(mine["index"]):
            lines.append(_line(scene, mine))
    lines.append(_line("pooled", rows))
    labels = Counter(LABEL_WORDS[Label(int(x))] for x in rows["label"])
    stops = Counter(STOP_WORDS[Stop(int(x))] for x in rows["stop"])
    lines.append("outcomes: " + ", ".join(f"{words} {count}" for words, count in labels.most_common()))
    lines.append("ended: " + ", ".join(f"{words} {count}" for words, count in stops.most_common()))
    solved, audit = rows["solved"] == 1, _audit(rows)
    for words, mask in (
        ("not solved before any curl", ~solved & (rows["curled"] == 0)),
        ("not solved after its first curl", ~solved & (rows["curled"] == 1)),
        ("audit above 1 %", solved & (audit >= AUDIT_LIMIT)),
    ):
        lines.append(f"{words} ({int(mask.sum())}), --case:")
        named = sorted((SCENES[int(s)], int(i)) for s, i in zip(rows["scene"][mask], rows["index"][mask], strict=True))
        for scene in SCENES:
            if mine := [str(i) for s, i in named if s == scene]:
                lines.append(f"  {scene}: " + " ".join(mine))
    return "\n".join(lines)


def _audit(rows: Table) -> Any:
    return np.where(np.isfinite(rows["audit_error"]), rows["audit_error"], np.inf)


def _line(name: str, rows: Table) -> str:
    """One line of the table."""
    solved = rows["solved"] == 1
    until_curl = np.mean(solved | (rows["curled"] == 1))
    audit = _audit(rows)[solved]
    a50, a99, most = (*np.quantile(audit, [0.5, 0.99]), audit.max()) if solved.any() else (nan, nan, nan)
    closed = np.mean(audit < AUDIT_LIMIT) if solved.any() else nan
    return (
        f"{name:20s} {len(rows['index']):5d} {np.mean(solved):8.2%} {until_curl:8.2%} {closed:8.2%} {a50:7.2%} "
        f"{a99:7.2%} {most:8.2%} {np.mean(rows['curled']):7.1%} {np.mean(rows['touched']):8.1%} "
        f"{np.mean(rows['refused']):8.2f} {np.median(rows['seconds']):6.2f}"
    )


def run(out: Path, count: int, workers: int, overwrite: bool = False) -> str:
    """Run, or go on with, the experiment into `out`; return the summary."""
    store = open_store(out, "scenes", Population("any", SEED, count), overwrite)
    tasks = tasks_of([(0, 0)], count, CHUNK)
    wall = run_tasks(store, tasks, rows_of, workers, print_progress)
    rows = store.gather([t.key for t in tasks])
    store.put_table("rows", rows)
    names = {"scene": np.array(SCENES)[rows["scene"].astype(int)]}
    words = {"label_words": np.array([LABEL_WORDS[Label(int(x))] for x in rows["label"]])}
    write_csv(rows | names | words, out / "rows.csv")
    store.finish(wall_time_of_last_run_s=round(wall, 1), workers=workers)
    text = summary_text(rows, store.manifest["code"])
    (out / "summary.txt").write_text(text + "\n", encoding="utf-8")
    return text


def run_again(index: int) -> None:
    """Run one insertion again; print its case file and its course."""
    drawn = insertion(index)
    print(f"# {drawn.scene}, insertion {index}, seed {SEED}\n" + toml_text(drawn.tables))
    record = advance(drawn.case)
    outcome = classify(record)
    print("feed mm   push mN    tip mm   lead mm  front mm  its held stuck   angle  audit")
    for k in range(0, len(record.feed), max(1, len(record.feed) // COURSE_ROWS)):
        print(
            f"{MM * record.feed[k]:7.3f} {MN * record.push[k]:9.3f} {MM * record.tip_s[k]:9.4f} "
            f"{MM * record.lead_s[k]:9.4f} {MM * record.front[k]:9.4f} {record.iterations[k]:4d} {record.held[k]:4d} "
            f"{record.count_stuck[k]:5d} {np.degrees(record.tip_angle[k]):7.1f} {record.audit_error[k]:6.2%}"
        )
    print(f"{LABEL_WORDS[Label(outcome.label)]}; {STOP_WORDS[Stop(record.stop)]}; audit {outcome.audit_error:.2%}")


def main(arguments: Sequence[str] | None = None) -> None:
    """Command line."""
    command_line(__doc__, 1000, run, run_again, arguments)


if __name__ == "__main__":
    main()
