"""Does the reduced model's diagram hold over the scenes? Random insertions of each beside what it predicts.

    python -m experiments.scenes.regime --out results/scenes_regime [--count 40] [--workers 2]

Run from the repository's root; minutes. The first `count` random insertions (draw.py) of each scene that the reduced
model covers (a tear, and no plug) are run and laid beside it. Printed, and written to OUT/summary.txt: by scene and
pooled, agreement and kappa of the regime, and of the contest in the pocket among those that came in; OUT/runs.csv has
every run with its numbers, OUT/regime.png the diagram.
"""

import argparse
from collections.abc import Sequence
from pathlib import Path

from experiments.command import print_progress
from experiments.scenes.draw import SCENES, insertion
from tipmech.regime.contest import Regime
from tipmech.show.regime import counts, regime_figure
from tipmech.show.style import save
from tipmech.study.evaluate import evaluate
from tipmech.study.execute import Progress
from tipmech.study.overlay import Job, Overlay, agreement, inside, job_of, outside_model, overlay
from tipmech.study.table import Table, length, select, write_csv
from tipmech.study.version import code_version

COUNT = 40


def jobs_of(count: int) -> list[Job]:
    """The first `count` insertions of each scene that the model covers; the scene as their source."""
    out: list[Job] = []
    covered = [name for k, name in enumerate(SCENES) if not outside_model(insertion(k).case.scene)]
    wanted = [k for k in range(count * len(SCENES)) if SCENES[k % len(SCENES)] in covered]
    for done, k in enumerate(wanted, start=1):
        drawn = insertion(k)
        out.append(job_of(drawn.case, evaluate(drawn.case), drawn.scene))
        print_progress(Progress(done, len(wanted), 0.0, None))
    return out


def summary_text(result: Overlay) -> str:
    """Agreement by scene and pooled, with the confusion of all."""
    head = f"{'scene':20s} {'runs':>5s} {'agree':>7s} {'kappa':>6s}   {'came in':>7s} {'agree':>7s} {'kappa':>6s}"
    lines = [f"code {code_version()}", head]
    for name in [*dict.fromkeys(result.runs["source"].tolist()), "pooled"]:
        runs = result.runs if name == "pooled" else select(result.runs, result.runs["source"] == name)
        lines.append(f"{name:20s} {_agreed(runs)}   {_agreed(inside(runs), 7)}")
    for title, table in (("all", result.runs), ("came in, in the pocket", inside(result.runs))):
        lines.append(f"{title}: simulated (rows) by predicted: {', '.join(r.name.lower() for r in Regime)}")
        lines += ["  " + " ".join(f"{v:5d}" for v in row) for row in counts(table).tolist()]
    return "\n".join(lines)


def _agreed(table: Table, width: int = 5) -> str:
    if not length(table):
        return f"{0:{width}d} {'-':>7s} {'-':>6s}"
    same, kappa, n = agreement(counts(table))
    return f"{n:{width}d} {100 * same:6.1f}% {kappa:6.2f}"


def main(arguments: Sequence[str] | None = None) -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--count", type=int, default=COUNT)
    parser.add_argument("--workers", type=int, default=2)
    args = parser.parse_args(arguments)
    result = overlay(jobs_of(args.count), args.workers)
    args.out.mkdir(parents=True, exist_ok=True)
    text = summary_text(result)
    write_csv(result.runs, args.out / "runs.csv")
    save(regime_figure(result), args.out / "regime.png")
    (args.out / "summary.txt").write_text(text + "\n", encoding="utf-8")
    print("\n" + text)


if __name__ == "__main__":
    main()
