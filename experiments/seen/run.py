"""How often foreshortening hides a true curl, and how late it is seen at 15, 7.5 and 3.8 frames a second.

    python -m experiments.seen.run --out results/seen [--count 40] [--overwrite]

Run from the repository's root; it may be stopped and started again (records are kept). Insertions: the demo cases of
experiments/, a bent tip rolled in steps of 45 degrees, two of them also with a closed mouth, and the first `count` random ones of experiments/folding.
Each first true curl is looked at from a grid of views and from the usual ones. Written: rows.csv, summary.txt, seen.png.
"""

import argparse
import csv
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import degrees, radians
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from experiments.folding.run import case_of
from experiments.seen.figure import save_figure
from tipmech.files.scene import read_case
from tipmech.insertion.case import Case
from tipmech.insertion.classify import curl_start, curled_rows, travel
from tipmech.insertion.imaging import Imaging, frames, row_times
from tipmech.insertion.projection import View, image_matrix, view_matrix
from tipmech.insertion.record import Record
from tipmech.insertion.record_file import load, save
from tipmech.insertion.run import advance
from tipmech.insertion.seen import Detector, end_side, held, plane_view, scores
from tipmech.outcome import Stop

FOLDER = Path(__file__).parents[1]
DEMOS = ("advance_demo", "knuckle_demo", "local_presentation")
ROLLS = tuple(range(0, 360, 45))  # degrees
SMALL_ROLLS = tuple(range(-30, 31, 10))
LAO = tuple(range(-60, 61, 15))
CRANIAL = tuple(range(-40, 41, 10))
USUAL = tuple((lao, cranial) for lao in (-30, 45) for cranial in (-25, 25))  # within references' LAO 30-45, RAO 20-30
RATES = (15.0, 7.5, 3.8)  # frames/s
HANDS = (5e-3, 1e-3)  # m/s: median of short strokes; the drive's default
SEEDS = 5  # moments of the first frame, and noises
BEFORE, AFTER = 3e-3, 3e-3  # m of travel about the start of the true curl in which it may be seen


@dataclass(frozen=True)
class Curl:
    """First true curl of a record. view : across its plane; side : channel of the wire's end; from its start on."""

    name: str
    record: Record
    start: float
    row: int
    side: int
    across: View


def cases(count: int) -> Iterator[tuple[str, Case]]:
    """Names and cases of the experiment."""
    for demo in DEMOS:
        case = read_case(FOLDER / f"{demo}.toml").case
        for roll in ROLLS if case.tip_shape.angle != 0.0 else (0,):
            yield f"{demo}_roll{roll}", rolled(case, roll)
    for demo in ("advance_demo", "local_presentation"):  # the tear without a mouth: curls in the true lumen
        case = read_case(FOLDER / f"{demo}.toml").case
        for roll in SMALL_ROLLS if case.tip_shape.angle != 0.0 else (0,):
            tear = replace(case.scene.tear, gap=0.0)
            yield f"{demo}_closed_roll{roll}", rolled(replace(case, scene=replace(case.scene, tear=tear)), roll)
    for index in range(count):
        yield f"random_{index}", case_of(index)


def rolled(case: Case, roll: float) -> Case:
    """The case with its tip's bend at a roll, degrees."""
    return replace(case, tip_shape=replace(case.tip_shape, roll=radians(roll)))


def records(folder: Path, count: int, overwrite: bool) -> Iterator[tuple[str, Record]]:
    """Records of the cases, run or read again; those not solved before any curl are left out by the caller."""
    for name, case in cases(count):
        path = folder / "records" / f"{name}.nc"
        if path.exists() and not overwrite:
            yield name, load(path)
            continue
        record = advance(case)
        save(record, path, overwrite=overwrite)
        yield name, record


def curl_of(name: str, record: Record) -> Curl | None:
    """First true curl of a record."""
    start = curl_start(record) if len(record.feed) else float("nan")
    if np.isnan(start):
        return None
    path = travel(record)
    row = int(np.searchsorted(path, start - 1e-12))
    last = int(np.searchsorted(path, start + AFTER))
    rows = np.flatnonzero(curled_rows(record)[: last + 1])
    return Curl(name, record, start, row, end_side(record, row), plane_view(record, int(rows[-1]), Imaging()))


def seen_at(curl: Curl, imaging: Imaging, view: View) -> float:
    """Travel past the start of the true curl at which it had been seen, m (nan: not within AFTER).

    At the end of a record the hand rests and frames go on; they count where the record ends within AFTER.
    """
    path, at = travel(curl.record), row_times(curl.record, imaging)
    begin = float(np.interp(curl.start - BEFORE, path, at))
    over = curl.start + AFTER > path[-1]
    end = float(at[-1]) + imaging.linger if over else float(np.interp(curl.start + AFTER, path, at))
    seen = frames(curl.record, imaging, view, (begin, end))
    first = held(scores(seen, Detector()) >= 1.0, Detector().hold)
    return float(path[seen.row[first]] - curl.start) if first >= 0 else float("nan")


def angle_between(a: View, b: View) -> float:
    """Angle between two lines of sight, radians, at most pi/2."""
    return float(np.arccos(min(1.0, abs(float(view_matrix(a)[2] @ view_matrix(b)[2])))))


def to_axis(curl: Curl, view: View) -> float:
    """Angle between the line of sight and the vessel's axis at the curl, radians, at most pi/2."""
    record = curl.record
    _, tangent, _, _ = record.case.scene.centreline.frame(record.lead_s[curl.row : curl.row + 1])
    sight = image_matrix(record.case.scene, Imaging().orientation, view)[2]
    return float(np.arccos(min(1.0, abs(float(sight @ tangent[0])))))


def grid_rows(curl: Curl) -> list[dict[str, Any]]:
    """The curl from every view of the grid at 15 frames/s, hand at 5 mm/s; and from across its own plane."""
    imaging = Imaging(hand_rate=HANDS[0])
    best = seen_at(curl, imaging, curl.across)
    out = []
    for lao in LAO:
        for cranial in CRANIAL:
            view = View(radians(lao), radians(cranial))
            out.append(
                {
                    "set": "grid", "name": curl.name, "side": curl.side, "lao_deg": lao, "cranial_deg": cranial,
                    "frames_per_s": RATES[0], "hand_mm_s": 1e3 * HANDS[0], "seed": 0,
                    "to_normal_deg": degrees(angle_between(view, curl.across)),
                    "to_axis_deg": degrees(to_axis(curl, view)),
                    "late_mm": 1e3 * seen_at(curl, imaging, view), "across_late_mm": 1e3 * best,
                }
            )  # fmt: skip
    return out


def rate_rows(curl: Curl) -> list[dict[str, Any]]:
    """The curl from the usual views and from across its plane at each frame rate and speed of the hand."""
    views = [("usual", View(radians(a), radians(b))) for a, b in USUAL] + [("across", curl.across)]
    return [
        {
            "set": kind, "name": curl.name, "side": curl.side, "lao_deg": degrees(view.lao),
            "cranial_deg": degrees(view.cranial), "frames_per_s": rate, "hand_mm_s": 1e3 * hand, "seed": seed,
            "to_normal_deg": degrees(angle_between(view, curl.across)), "to_axis_deg": degrees(to_axis(curl, view)),
            "late_mm": 1e3 * seen_at(curl, Imaging(frame_rate=rate, hand_rate=hand, seed=seed), view),
            "across_late_mm": float("nan"),
        }
        for kind, view in views
        for rate in RATES
        for hand in HANDS
        for seed in range(SEEDS)
    ]  # fmt: skip


def alarms(record: Record) -> int:
    """From how many of the usual views a curl is seen in a record without a true one (15 frames/s, 5 mm/s)."""
    imaging = Imaging(hand_rate=HANDS[0])
    views = [View(radians(a), radians(b)) for a, b in USUAL]
    return sum(held(scores(frames(record, imaging, v), Detector()) >= 1.0, Detector().hold) >= 0 for v in views)


def share(values: NDArray[np.bool_]) -> str:
    """Share in percent and count."""
    return f"{np.mean(values):6.1%} of {len(values)}" if len(values) else "     - of 0"


def summary_text(rows: list[dict[str, Any]], curls: list[Curl], plain: list[int], lost: int) -> str:
    """The figures of the experiment as text."""

    def column(name: str, chosen: list[dict[str, Any]]) -> NDArray[np.float64]:
        return np.array([r[name] for r in chosen], dtype=float)

    grid = [r for r in rows if r["set"] == "grid"]
    late, best = column("late_mm", grid), column("across_late_mm", grid)
    normal, axis = column("to_normal_deg", grid), column("to_axis_deg", grid)
    visible = ~np.isnan(best)
    hidden = np.isnan(late) & visible
    lines = [
        f"insertions {len(curls) + len(plain) + lost}: {len(curls)} with a true curl "
        f"({sum(c.side == 2 for c in curls)} in the false lumen, {sum(c.side == 0 for c in curls)} in the true), "
        f"{len(plain)} without, {lost} not solved before one",
        f"a curl is looked for from {1e3 * BEFORE:g} mm before to {1e3 * AFTER:g} mm past the start of the true one",
        "",
        f"{len(LAO) * len(CRANIAL)} views (LAO {LAO[0]} to {LAO[-1]}, cranial {CRANIAL[0]} to {CRANIAL[-1]}), "
        "15 frames/s, 5 mm/s",
        f"not seen from across its own plane either      {share(~visible)}",
        f"hidden by the view (seen from across its plane) {share(hidden[visible])}",
    ]
    for side, words in ((2, "false lumen"), (0, "true lumen")):
        here = visible & (column("side", grid) == side)
        lines.append(f"  curls in the {words:<12}                     {share(hidden[here])}")
    for low in range(0, 90, 15):
        here = visible & (normal >= low) & (normal < low + 15 + (low == 75))
        lines.append(f"  line of sight {low:2d}-{low + 15:2d} deg off the plane's normal {share(hidden[here])}")
    for low in range(0, 90, 30):
        here = visible & (axis >= low) & (axis < low + 30 + (low == 60))
        lines.append(f"  line of sight {low:2d}-{low + 30:2d} deg off the vessel's axis  {share(hidden[here])}")
    at = column("lao_deg", grid), column("cranial_deg", grid)
    per_view = {(a, b): np.mean(hidden[visible & (at[0] == a) & (at[1] == b)]) for a in LAO for b in CRANIAL}
    for words, (view, value) in (
        ("least", min(per_view.items(), key=lambda i: i[1])),
        ("most ", max(per_view.items(), key=lambda i: i[1])),
    ):
        lines.append(f"  hidden {words} from LAO {view[0]}, cranial {view[1]}: {value:.0%}")
    lines += ["", "usual views, travel past the start of the true curl until it was seen (hold: 2 frames)"]
    for kind in ("across", "usual"):
        for hand in HANDS:
            for rate in RATES:
                part = [r for r in rows if (r["set"], r["frames_per_s"], r["hand_mm_s"]) == (kind, rate, 1e3 * hand)]
                v = column("late_mm", part)
                v = v[~np.isnan(v)]
                q = np.quantile(v, [0.1, 0.5, 0.9]) if len(v) else [np.nan] * 3
                lines.append(
                    f"  {kind:<6} {1e3 * hand:g} mm/s {rate:4g}/s: not seen {share(np.isnan(column('late_mm', part)))}; "
                    f"10/50/90 % {q[0]:+.2f} {q[1]:+.2f} {q[2]:+.2f} mm; before the true one {np.mean(v < -0.05):.0%}"
                )
    total = len(USUAL) * len(plain)
    usual = [r for r in rows if (r["set"], r["frames_per_s"], r["hand_mm_s"]) == ("usual", RATES[0], 1e3 * HANDS[0])]
    seen = [r for r in usual if not np.isnan(r["late_mm"])]
    lines += [
        "",
        f"a curl seen where there is none: {sum(plain)} of {total} insertions x usual views, in "
        f"{sum(p > 0 for p in plain)} of {len(plain)} insertions",
        f"first curls seen that lie in the true lumen: {share(np.array([r['side'] == 0 for r in seen]))} (usual views)",
    ]
    return "\n".join(lines)


def run(out: Path, count: int, overwrite: bool = False) -> str:
    """Run, or go on with, the experiment into `out`; return the summary."""
    rows: list[dict[str, Any]] = []
    curls: list[Curl] = []
    plain: list[int] = []
    lost = 0
    for name, record in records(out, count, overwrite):
        curl = curl_of(name, record)
        if curl is not None:
            curls.append(curl)
            rows += grid_rows(curl) + rate_rows(curl)
        elif record.stop == Stop.NOT_CONVERGED:
            lost += 1
        else:
            plain.append(alarms(record))
    with (out / "rows.csv").open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)
    text = summary_text(rows, curls, plain, lost)
    (out / "summary.txt").write_text(text + "\n", encoding="utf-8")
    save_figure(rows, LAO, CRANIAL, out / "seen.png")
    return text


def main(arguments: Sequence[str] | None = None) -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--count", type=int, default=40, help="random insertions beside the demos")
    parser.add_argument("--overwrite", action="store_true")
    args = parser.parse_args(arguments)
    print(run(args.out, args.count, args.overwrite))


if __name__ == "__main__":
    main()
