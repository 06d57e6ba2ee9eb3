"""Figures of the stability experiment: shifts of the threshold, agreement and kappa of outcomes, for each setting.

    python -m experiments.stability.summary results/stability [--write experiments/stability/summary.json]

Prints a table and, on request, writes the summary with its code version. A summary made with the code as it is goes
into the package as tipmech/study/stability.json; maps print one line of it (tipmech/study/uncertainty.py).
"""

import argparse
import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from experiments.stability.run import BASE, BEYOND, IN_CURLED, NO_CLASS, STEPS, UNSOLVED
from experiments.stability.settings import SETTINGS
from tipmech.study.store import read_store
from tipmech.study.table import Table, read_parquet, select
from tipmech.study.threshold import Status
from tipmech.whole import whole_file

QUANTILES = (0.5, 0.8, 0.9)
CLASSES = ("not in the false channel", "in it, not curled", "in it, curled")
FEWEST_SHARE = 0.15  # no class may be rarer, or kappa says little


def threshold_summary(rows: Table) -> dict[str, Any]:
    """Shifts of F* over the cases with one crossing: mean, quantiles of the size, censored and unsolved searches.

    A shift beyond the farthest step counts with that step, so quantiles below its share are exact; a search that was
    not solved is left out and counted.
    """
    base = select(rows, rows["setting"] == BASE)
    single, wide = base["status"] == Status.ONE_CROSSING, base["ended"] == UNSOLVED
    crossing = base["index"][single & ~wide]
    settings = {}
    for number, setting in enumerate(SETTINGS):
        mine = select(rows, (rows["setting"] == number) & np.isin(rows["index"], crossing))
        known = mine["ended"] != UNSOLVED
        shift = mine["shift"][known]
        size = np.abs(shift)
        settings[setting.key] = {
            "words": setting.words,
            "numeric": setting.numeric,
            "n": int(known.sum()),
            "not_solved": int((~known).sum()),
            "beyond": int(np.sum(mine["ended"] == BEYOND)),
            "non_monotone": int(np.sum(mine["odd"])),
            "mean": _number(np.mean(shift)) if len(shift) else None,
            **{f"q{round(100 * q)}": _number(np.quantile(size, q)) if len(size) else None for q in QUANTILES},
        }
    return {
        "cases": int(len(base["index"])),
        "one_crossing": int(len(crossing)),
        "not_bracketed": int(np.sum(single & wide)),
        **{s.name.lower(): int(np.sum(base["status"] == s)) for s in Status if s != Status.ONE_CROSSING},
        "jammed": int(np.sum(base["jammed"])),
        "largest_step": STEPS[-1],
        "settings": settings,
    }


def outcome_summary(rows: Table, numbers: Sequence[int] = tuple(range(len(SETTINGS)))) -> dict[str, Any]:
    """Agreement of the class with the standard one, and Cohen's kappa, over insertions that touched a lip or the front;
    and agreement and kappa of the finer label of the map, with each of the numbered settings.

    An insertion not solved with either setting is left out of that setting's figures and counted.
    """
    base = select(rows, rows["setting"] == BASE)
    keep = (base["touched"] == 1) & (base["class"] != NO_CLASS)
    index, standard, label = base["index"][keep], base["class"][keep], base["label"][keep]
    settings = {}
    for number in numbers:
        setting, mine = SETTINGS[number], select(rows, rows["setting"] == number)
        where = {int(i): k for k, i in enumerate(mine["index"])}
        rows_of_mine = [where[int(i)] for i in index]
        other = np.array(mine["class"][rows_of_mine], dtype=int)
        solved = other != NO_CLASS
        agreement, kappa = agreement_kappa(standard[solved], other[solved])
        same, finer = agreement_kappa(label[solved], mine["label"][rows_of_mine][solved])
        settings[setting.key] = {
            "n": int(solved.sum()),
            "not_solved": int((~solved).sum()),
            "agreement": _number(agreement),
            "kappa": _number(kappa),
            "label_agreement": _number(same),
            "label_kappa": _number(finer),
        }
    shares = [float(np.mean(standard == k)) if len(standard) else 0.0 for k in range(IN_CURLED + 1)]
    return {
        "drawn": int(len(base["index"])),
        "touched_and_solved": int(len(index)),
        "not_solved": int(np.sum(base["class"] == NO_CLASS)),
        "jammed": int(np.sum(base["jammed"][keep])),
        "shares": {words: round(share, 4) for words, share in zip(CLASSES, shares, strict=True)},
        "balanced": bool(min(shares) >= FEWEST_SHARE),
        "settings": settings,
    }


def agreement_kappa(a: "np.typing.NDArray[Any]", b: "np.typing.NDArray[Any]") -> tuple[float, float]:
    """Share of equal classes, and Cohen's kappa = (p_o - p_e) / (1 - p_e). nan without data; 1 if all agree."""
    if len(a) == 0:
        return float("nan"), float("nan")
    observed = float(np.mean(a == b))
    expected = sum(float(np.mean(a == k) * np.mean(b == k)) for k in np.union1d(a, b))
    return observed, 1.0 if observed == 1.0 else (observed - expected) / (1.0 - expected)


def summarise(folder: Path) -> dict[str, Any]:
    """Summary of a finished experiment; both halves must have been computed by the same code."""
    parts: dict[str, Any] = {}
    codes = set()
    for name, make in (("thresholds", threshold_summary), ("outcomes", outcome_summary)):
        store = read_store(folder / name)
        if not store.finished:
            raise SystemExit(f"{folder / name}: is not finished; run experiments.stability.run again")
        codes.add(store.manifest["code"])
        parts[name] = make(read_parquet(store.folder / "rows.parquet"))
        parts[name]["environment"] = store.manifest["environment"]
    if len(codes) != 1:
        raise SystemExit(f"{folder}: the two halves were computed by different code ({', '.join(sorted(codes))})")
    return {"code": codes.pop(), **parts}


def table_text(summary: dict[str, Any]) -> str:
    """The summary as a table."""
    t, o = summary["thresholds"], summary["outcomes"]
    head = f"{'change':34s} {'mean':>8s} {'50 %':>7s} {'80 %':>7s} {'90 %':>7s} {'cases':>6s} {'odd':>4s} {'far':>4s} "
    head += f"{'n.s.':>5s} {'agree':>7s} {'kappa':>7s} {'label':>7s} {'runs':>5s} {'n.s.':>5s}"
    lines = [
        f"code {summary['code']}",
        f"F*: {t['cases']} pocket cases, {t['one_crossing']} with one crossing, {t['non_monotone']} non-monotone, "
        f"{t['always_curled']} always curled, {t['never_curled']} never, {t['not_bracketed']} with one crossing not "
        f"bracketed to the end (an insertion not solved, or neither happened in one), {t['not_solved']} not solved; "
        f"{t['jammed']} jammed. Shift ln(F*'/F*) and quantiles of its size; far: beyond {t['largest_step']:g}",
        f"outcomes: {o['drawn']} drawn, {o['touched_and_solved']} touched a lip or the front and were solved, "
        f"{o['not_solved']} not solved, {o['jammed']} jammed; "
        + ", ".join(f"{words} {share:.1%}" for words, share in o["shares"].items())
        + ("" if o["balanced"] else "  (a class is rarer than 15 %)"),
        head,
    ]
    for setting in SETTINGS:
        a, b = t["settings"][setting.key], o["settings"][setting.key]
        mark = "" if setting.numeric else " *"
        shift = " ".join(f"{_text(a[k]):>{w}s}" for k, w in (("mean", 8), ("q50", 7), ("q80", 7), ("q90", 7)))
        counts = f"{a['n']:6d} {a['non_monotone']:4d} {a['beyond']:4d} {a['not_solved']:5d}"
        runs = " ".join(f"{_text(b[k]):>7s}" for k in ("agreement", "kappa", "label_agreement"))
        runs += f" {b['n']:5d} {b['not_solved']:5d}"
        lines.append(f"{setting.words + mark:34s} {shift} {counts} {runs}")
    return "\n".join([*lines, "* a tissue value, not a setting of the solver"])


def _number(value: float) -> float | None:
    """Rounded for the file; None for nan."""
    return None if np.isnan(value) else round(float(value), 5)


def _text(value: float | None) -> str:
    return "-" if value is None else f"{value:.4f}"


def main(arguments: Sequence[str] | None = None) -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--write", type=Path, help="write the summary (JSON) and its table (.txt) here")
    args = parser.parse_args(arguments)
    summary = summarise(args.folder)
    print(table_text(summary))
    if args.write:
        for path, text in (
            (args.write, json.dumps(summary, indent=1)),
            (args.write.with_suffix(".txt"), table_text(summary)),
        ):
            with whole_file(path) as temporary:
                temporary.write_text(text + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
