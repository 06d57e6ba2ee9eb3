"""The figures of experiments/seen as text: agreement by outcome, curls hidden by the view, false alarms, lateness."""

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.stats import binomtest

from experiments.seen.measure import AFTER, BEFORE, CRANIAL, HANDS, LAO, MM, RATES, USUAL, Row

Array = NDArray[np.float64]
GROUPS = ("no curl, true lumen", "no curl, false lumen", "curl, false lumen", "curl, true lumen")
RESAMPLES = 2000  # of insertions: the 95 % ends of a share move by some 2 % of themselves
BINS = tuple(range(0, 90, 15))  # degrees


def column(rows: Sequence[Row], name: str) -> Array:
    """One column as numbers."""
    return np.array([r[name] for r in rows], dtype=float)


def share_of(rows: Sequence[Row], hit: Callable[[Row], bool]) -> tuple[float, float, float, int]:
    """Share of rows (at least one) that are hits, the ends of its 95 % interval, and the number of insertions.

    The interval comes from drawing insertions (not views) anew; where all rows agree, which leaves nothing to draw,
    it is Wilson's of that many insertions.
    """
    names = sorted({r["name"] for r in rows})
    hits = np.array([sum(hit(r) for r in rows if r["name"] == n) for n in names], dtype=float)
    sizes = np.array([sum(r["name"] == n for r in rows) for n in names], dtype=float)
    share = float(hits.sum() / sizes.sum())
    if share in (0.0, 1.0):
        ends = binomtest(round(share * len(names)), len(names)).proportion_ci(0.95, "wilson")
        return share, float(ends.low), float(ends.high), len(names)
    drawn = np.random.default_rng(0).integers(0, len(names), (RESAMPLES, len(names)))
    low, high = np.quantile(hits[drawn].sum(axis=1) / sizes[drawn].sum(axis=1), [0.025, 0.975])
    return share, float(low), float(high), len(names)


def interval(rows: Sequence[Row], hit: Callable[[Row], bool]) -> str:
    """Share of rows that are hits, its interval and both counts, in words."""
    if not rows:
        return "- (none)"
    share, low, high, count = share_of(rows, hit)
    return f"{share:4.0%} ({low:.0%}-{high:.0%}; {count} insertions, {len(rows)} looks)"


def is_seen(row: Row) -> bool:
    """The true curl was seen in its time."""
    return not np.isnan(row["late_mm"])


def has_seen(row: Row) -> bool:
    """Some curl was seen at some time."""
    return not np.isnan(row["first_seen_mm"])


def is_early(row: Row) -> bool:
    """The first curl seen came before the true one's time."""
    return bool(row["first_seen_mm"] < row["true_mm"] - MM * BEFORE)


def kappa(a: float, b: float, c: float, d: float) -> tuple[float, float]:
    """Agreement and Cohen's kappa of counts: both, first only, second only, neither."""
    n = a + b + c + d
    agree = (a + d) / n
    chance = ((a + b) * (a + c) + (c + d) * (b + d)) / n**2
    return agree, (agree - chance) / (1.0 - chance)


def outcome_table(rows: Sequence[Row]) -> list[str]:
    """Agreement by true outcome: the table of the page, in its form."""
    lines = [
        "| true outcome | insertions | a curl seen at some time, grid | usual views | in the true one's time, grid | "
        "usual views | frames curled that show it | frames not curled that show one |",
        "|---|---|---|---|---|---|---|---|",
    ]
    for group in GROUPS:
        here = [r for r in rows if r["group"] == group]
        if not here:
            continue
        grid, usual = ([r for r in here if r["set"] == kind] for kind in ("grid", "usual"))
        both, missed, alarm, neither = (column(grid, name).sum() for name in FRAMES)
        curled = group.startswith("curl")
        cells = [group, str(len({r["name"] for r in here}))]
        cells += [f"{np.mean([has_seen(r) for r in part]):.0%}" for part in (grid, usual)]
        cells += [f"{np.mean([is_seen(r) for r in part]):.0%}" if curled else "-" for part in (grid, usual)]
        cells += [f"{both / (both + missed):.0%}" if both + missed else "-", f"{alarm / (alarm + neither):.1%}"]
        lines.append("| " + " | ".join(cells) + " |")
    return lines


FRAMES = ("frames_curled_shown", "frames_curled_not_shown", "frames_shown_not_curled", "frames_neither")


def agreement(rows: Sequence[Row]) -> list[str]:
    """Agreement and kappa over looks and over frames, for the grid and the usual views."""
    lines = []
    for kind in ("grid", "usual"):
        part = [r for r in rows if r["set"] == kind]
        true = np.array([r["group"].startswith("curl") for r in part])
        seen = np.array([has_seen(r) for r in part])
        looks = kappa(*(float(np.sum(x & y)) for x, y in ((true, seen), (true, ~seen), (~true, seen), (~true, ~seen))))
        shots = kappa(*(float(column(part, name).sum()) for name in FRAMES))
        lines.append(
            f"{kind:<6} looks agree {looks[0]:.0%}, kappa {looks[1]:.2f}; frames agree {shots[0]:.1%}, "
            f"kappa {shots[1]:.2f} (look: one insertion from one view)"
        )
    return lines


def foreshortening_lines(rows: Sequence[Row]) -> list[str]:
    """Curls hidden by the view, over the angle to the curl's plane and to the vessel's axis; best and worst view."""
    across = [r for r in rows if r["set"] == "across"]
    visible = {r["name"] for r in across if is_seen(r)}
    grid = [r for r in rows if r["set"] == "grid" and r["name"] in visible]
    lines = [
        f"not seen from across their own plane either: {sum(not is_seen(r) for r in across)} of {len(across)} curls",
        f"hidden by the view, of the others: {interval(grid, lambda r: not is_seen(r))}",
    ]
    for group in GROUPS[2:]:
        lines.append(f"  {group}: {interval([r for r in grid if r['group'] == group], lambda r: not is_seen(r))}")
    for name, words in (("to_normal_deg", "the normal of the curl's plane"), ("to_axis_deg", "the vessel's axis")):
        for low in BINS:
            part = [r for r in grid if low <= r[name] < low + 15 + (low == BINS[-1])]
            lines.append(f"  sight {low:2d}-{low + 15} deg off {words}: {interval(part, lambda r: not is_seen(r))}")
    hidden = {v: np.mean([not is_seen(r) for r in grid if at(r) == v]) for v in ((a, b) for a in LAO for b in CRANIAL)}
    for words, view in (("least", min(hidden, key=hidden.__getitem__)), ("most", max(hidden, key=hidden.__getitem__))):
        lines.append(f"  hidden {words} from LAO {view[0]}, cranial {view[1]}: {hidden[view]:.0%}")
    return lines


def at(row: Row) -> tuple[int, int]:
    """View of a row, whole degrees."""
    return round(row["lao_deg"]), round(row["cranial_deg"])


def misleading_lines(rows: Sequence[Row]) -> list[str]:
    """What the first curl that is seen is: from the usual views, and how often a curl is seen where there is none."""
    lines = []
    for kind in ("usual", "grid"):
        seen = [r for r in rows if r["set"] == kind and has_seen(r)]
        lines.append(f"first curls seen, {kind} views: {len(seen)} looks")
        for words, hit in (
            ("wire's end in the false lumen", lambda r: r["first_seen_side"] == 2),
            ("wire's end in the true lumen: misleads", lambda r: r["first_seen_side"] == 0),
            ("no true curl in the whole insertion", lambda r: not r["group"].startswith("curl")),
            (f"true curl, but more than {MM * BEFORE:g} mm later", is_early),
        ):
            lines.append(f"  {words}: {interval(seen, hit)}")
    plain = [r for r in rows if r["set"] == "grid" and not r["group"].startswith("curl")]
    lines.append(f"a curl seen, insertions without one, grid: {interval(plain, has_seen)}")
    for low in BINS:
        part = [r for r in plain if low <= r["to_axis_deg"] < low + 15 + (low == BINS[-1])]
        lines.append(f"  sight {low:2d}-{low + 15} deg off the vessel's axis: {interval(part, has_seen)}")
    return lines


def late_table(rows: Sequence[Row]) -> list[str]:
    """Lateness by frame rate and hand."""
    lines = [
        "| views | hand, mm/s | frames/s | not seen | travel past the start, 10 / 50 / 90 %, mm | "
        "more than 0.05 mm before the start |",
        "|---|---|---|---|---|---|",
    ]
    for kind in ("across", "usual"):
        for hand in HANDS:
            for rate in RATES:
                part = [r for r in rows if (r["set"], r["frames_per_s"], r["hand_mm_s"]) == (kind, rate, MM * hand)]
                late = column(part, "late_mm")
                seen = late[~np.isnan(late)]
                spread = " / ".join(f"{v:+.2f}" for v in np.quantile(seen, [0.1, 0.5, 0.9])) if len(seen) else "-"
                before = f"{np.mean(seen < -0.05):.0%}" if len(seen) else "-"
                lines.append(
                    f"| {kind} | {MM * hand:g} | {rate:g} | {np.mean(np.isnan(late)):.0%} | {spread} | {before} |"
                )
    return lines


def summary_text(rows: Sequence[Row], rates: Sequence[Row], lost: int) -> str:
    """All figures of the experiment."""
    count = len({r["name"] for r in rows})
    return "\n".join(
        [
            f"{count + lost} insertions, {lost} of them not solved before any curl and left out",
            f"grid: {len(LAO) * len(CRANIAL)} views, LAO {LAO[0]} to {LAO[-1]}, cranial {CRANIAL[0]} to {CRANIAL[-1]}; "
            f"usual: {', '.join(f'({a}, {b})' for a, b in USUAL)}; 15 frames/s, hand at {MM * HANDS[0]:g} mm/s",
            f"a true curl counts as seen from {MM * BEFORE:g} mm before to {MM * AFTER:g} mm past its start",
            "intervals: 95 %, insertions drawn anew",
            "",
            *outcome_table(rows),
            "",
            *agreement(rows),
            "",
            *foreshortening_lines(rows),
            "",
            *misleading_lines(rows),
            "",
            *late_table(rates),
        ]
    )
