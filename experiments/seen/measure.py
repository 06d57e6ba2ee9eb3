"""What is seen of one insertion from many views, beside what is true, as rows of a table in mm and degrees."""

from dataclasses import dataclass
from math import degrees, nan, radians
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tipmech.insertion.classify import curl_start, curled_rows, travel
from tipmech.insertion.imaging import Imaging, frames, row_times
from tipmech.insertion.projection import View, image_matrix, view_matrix
from tipmech.insertion.record import Record
from tipmech.insertion.seen import Detector, end_side, held, plane_view, scores

LAO = tuple(range(-60, 61, 15))
CRANIAL = tuple(range(-40, 41, 10))
USUAL = tuple((lao, cranial) for lao in (-30, 45) for cranial in (-25, 25))  # within LAO 30-45, RAO 20-30, +-20-30
RATES = (15.0, 7.5, 3.8)  # frames/s
HANDS = (5e-3, 1e-3)  # m/s: median of short strokes; the drive's default
SEEDS = 5  # moments of the first frame, and noises
BEFORE, AFTER = 3e-3, 3e-3  # m of travel about the start of the true curl in which it may be seen
MM = 1e3
Row = dict[str, Any]


@dataclass(frozen=True)
class Curl:
    """First true curl of an insertion. start: travel at which it began, m; row: of the record; across: view across its
    plane."""

    start: float
    row: int
    across: View


@dataclass(frozen=True)
class Watched:
    """k frames of an insertion from one view: whether each shows a curl, whether there is one, travel in m, row of the
    record."""

    shown: NDArray[np.bool_]
    true: NDArray[np.bool_]
    path: NDArray[np.float64]
    row: NDArray[np.int64]


def curl_of(record: Record) -> Curl | None:
    """First true curl of a record; None where there is none."""
    start = curl_start(record) if len(record.feed) else nan
    if np.isnan(start):
        return None
    path = travel(record)
    row = int(np.searchsorted(path, start - 1e-12))
    last = int(np.searchsorted(path, start + AFTER))
    rows = np.flatnonzero(curled_rows(record)[: last + 1])
    return Curl(start, row, plane_view(record, int(rows[-1]), Imaging()))


def group_of(record: Record, curl: Curl | None) -> str:
    """True state in words: where the first curl lies, or the wire's end where there is none."""
    row = len(record.feed) - 1 if curl is None else curl.row
    return f"{'no curl' if curl is None else 'curl'}, {'false' if end_side(record, row) == 2 else 'true'} lumen"


def watch(record: Record, imaging: Imaging, view: View, window: tuple[float, float] | None = None) -> Watched:
    """Frames of the record from one view; window: only those between two times, s."""
    seen = frames(record, imaging, view, window)
    shown = scores(seen, Detector()) >= Detector().threshold
    return Watched(np.asarray(shown), curled_rows(record)[seen.row], travel(record)[seen.row], seen.row)


def late_of(curl: Curl | None, watched: Watched) -> float:
    """Travel from the start of the true curl until it was seen, m; nan: not seen within BEFORE and AFTER of it."""
    if curl is None:
        return nan
    near = (watched.path >= curl.start - BEFORE) & (watched.path <= curl.start + AFTER)
    first = held(watched.shown[near], Detector().hold)
    return float(watched.path[near][first] - curl.start) if first >= 0 else nan


def near_times(record: Record, curl: Curl, imaging: Imaging) -> tuple[float, float]:
    """Times between which the curl may be seen, s; frames go on, the hand at rest, where the record ends before."""
    path, at = travel(record), row_times(record, imaging)
    over = curl.start + AFTER > path[-1]
    end = float(at[-1]) + imaging.linger if over else float(np.interp(curl.start + AFTER, path, at))
    return float(np.interp(curl.start - BEFORE, path, at)), end


def angle_between(a: View, b: View) -> float:
    """Angle between two lines of sight, degrees, at most 90."""
    return degrees(float(np.arccos(min(1.0, abs(float(view_matrix(a)[2] @ view_matrix(b)[2]))))))


def to_axis(record: Record, row: int, view: View) -> float:
    """Angle between the line of sight and the vessel's axis at the leading point of a row, degrees, at most 90."""
    _, tangent, _, _ = record.case.scene.centreline.frame(record.lead_s[row : row + 1])
    sight = image_matrix(record.case.scene, Imaging().orientation, view)[2]
    return degrees(float(np.arccos(min(1.0, abs(float(sight @ tangent[0]))))))


def grid_rows(name: str, record: Record, curl: Curl | None) -> list[Row]:
    """The whole insertion from the grid's views, the usual ones, and across the curl's plane; 15 frames/s, 5 mm/s."""
    imaging = Imaging(hand_rate=HANDS[0])
    views = [("grid", View(radians(a), radians(b))) for a in LAO for b in CRANIAL]
    views += [("usual", View(radians(a), radians(b))) for a, b in USUAL]
    views += [] if curl is None else [("across", curl.across)]
    return [view_row(name, record, curl, imaging, kind, view) for kind, view in views]


def view_row(name: str, record: Record, curl: Curl | None, imaging: Imaging, kind: str, view: View) -> Row:
    """The whole insertion from one view: frames, first curl seen anywhere, and the true one's lateness."""
    watched = watch(record, imaging, view)
    shown, true = watched.shown, watched.true
    first = held(shown, Detector().hold)
    row = len(record.feed) - 1 if curl is None else curl.row
    return {
        "set": kind,
        "name": name,
        "group": group_of(record, curl),
        "lao_deg": round(degrees(view.lao), 3),
        "cranial_deg": round(degrees(view.cranial), 3),
        "to_normal_deg": nan if curl is None else angle_between(view, curl.across),
        "to_axis_deg": to_axis(record, row, view),
        "late_mm": MM * late_of(curl, watched),
        "first_seen_mm": MM * float(watched.path[first]) if first >= 0 else nan,
        "first_seen_side": end_side(record, int(watched.row[first])) if first >= 0 else -1,
        "true_mm": nan if curl is None else MM * curl.start,
        "frames_curled_shown": int(np.sum(true & shown)),
        "frames_curled_not_shown": int(np.sum(true & ~shown)),
        "frames_shown_not_curled": int(np.sum(shown & ~true)),
        "frames_neither": int(np.sum(~shown & ~true)),
    }


def rate_rows(name: str, record: Record, curl: Curl) -> list[Row]:
    """The curl from the usual views and across its plane at each frame rate, speed of the hand and seed."""
    views = [("usual", View(radians(a), radians(b))) for a, b in USUAL] + [("across", curl.across)]
    out = []
    for rate in RATES:
        for hand in HANDS:
            for seed in range(SEEDS):
                imaging = Imaging(frame_rate=rate, hand_rate=hand, seed=seed)
                window = near_times(record, curl, imaging)
                out += [
                    {
                        "set": kind,
                        "name": name,
                        "group": group_of(record, curl),
                        "lao_deg": round(degrees(view.lao), 3),
                        "cranial_deg": round(degrees(view.cranial), 3),
                        "frames_per_s": rate,
                        "hand_mm_s": MM * hand,
                        "seed": seed,
                        "late_mm": MM * late_of(curl, watch(record, imaging, view, window)),
                    }
                    for kind, view in views
                ]
    return out
