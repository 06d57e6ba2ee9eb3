"""A curl as it is seen: a detector that knows the shape on the screen only, and how far it agrees with what is true.

Theory, "What is seen". The detector reads `Frames` (apparent centrelines); channel, depth and the true state are not in
them. The agreement compares with insertion/classify.
"""

from dataclasses import dataclass
from math import pi

import numpy as np
from numpy.typing import NDArray

from ..checks import FieldError, check_positive
from .classify import curl_start, curled_rows, travel
from .imaging import Frames, Imaging, frames, row_times
from .projection import View, patient_matrix, view_along
from .record import Record

Array = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

TIP = 1e-3  # m: a chord over five pixels; over fewer it jitters by more than 10 degrees (J)
BEHIND = 8e-3  # m: over less, the wire's own slant across its channel counts; over more, the bends of the vessel (J)
REACH = 10e-3  # m: a curl not longer than this is looked for; longer, the vessel's own bends would count (J)
TURNED = 0.5 * pi  # the definition of a true curl
AHEAD = 1.0  # diameters: the definition of a true curl
APART = 1.0  # pixels left free between two limbs: else they are one line on the screen (J)
HOLD = 2  # frames (J)
LEADING = 1e-9  # m: the leading point of the false channel is the wire's own
CURL_PART = 6e-3  # m of distal wire whose plane is that of the curl


@dataclass(frozen=True)
class Detector:
    """Thresholds of a seen curl. All lengths are apparent: in the image, at the patient.

    Parameters
    ----------
    tip : float
        chord that gives the tip's direction, m
    behind : float
        chord that gives the direction of the wire behind a point, m
    reach : float
        bights are looked for within this length of the tip, m
    turned : float
        angle between the two directions from which the tip counts as turned back, rad
    ahead : float
        lead of the bight over the tip, diameters
    apart : float
        free space between the tip's limb and the wire behind, pixels
    hold : int
        frames in a row that must show it
    threshold : float
        of the score; 1: the thresholds above as they are
    """

    tip: float = TIP
    behind: float = BEHIND
    reach: float = REACH
    turned: float = TURNED
    ahead: float = AHEAD
    apart: float = APART
    hold: int = HOLD
    threshold: float = 1.0

    def __post_init__(self) -> None:
        for name in ("tip", "behind", "reach", "turned", "ahead", "apart", "threshold"):
            check_positive(getattr(self, name), name=name)
        if self.hold < 1:
            raise FieldError("hold", self.hold, "a whole number of frames, at least 1")


def scores(seen: Frames, detector: Detector) -> Array:
    """Score of each frame, shape (k,): how far it shows a curl; at the detector's threshold and above it does."""
    return np.array([line_score(line, seen, detector) for line in seen.lines])


def line_score(line: Array, seen: Frames, detector: Detector) -> float:
    """Score of one apparent centreline (m, 2): theory (75).

    For each point i within reach of the tip that might be the bight, the smallest of three ratios to their thresholds:
    the tip's turn against the wire behind i, the lead of i over the tip along that direction, and the space between
    the tip's chord and the wire up to i. The largest over i counts; 0 where the line is too short.
    """
    tip, behind, reach = (max(1, round(v / seen.step)) for v in (detector.tip, detector.behind, detector.reach))
    last = len(line) - 1
    first = max(tip, last - reach)
    if last <= first:
        return 0.0
    toward = _unit(line[last] - line[last - tip])
    bight = np.arange(first, last)
    back = line[bight] - line[np.maximum(bight - behind, 0)]
    size = np.linalg.norm(back, axis=1)
    along = back / np.where(size > 0.0, size, 1.0)[:, None]
    turned = np.arccos(np.clip(along @ toward, -1.0, 1.0)) * (size > 0.0) * bool(toward.any())
    lead = np.einsum("ij,ij->i", line[bight] - line[last], along)
    gap = _apart(line, first, tip) - seen.width
    ratios = (
        turned / detector.turned,
        lead / (detector.ahead * seen.width),
        gap / (detector.apart * seen.pixel),
    )
    return max(0.0, float(np.min(ratios, axis=0).max()))


def _apart(line: Array, first: int, tip: int) -> Array:
    """For each point i from `first` to the last but one: how far the tip's chord stands off the wire up to i, m.

    Mean over the last `tip` points (those beyond i) of the smallest distance to a point up to i: a mean, because the
    largest of some ten jittering points shows a gap where there is none.
    """
    last = len(line) - 1
    ends = np.arange(last - tip + 1, last + 1)
    away = np.linalg.norm(line[ends, None, :] - line[None, :-1, :], axis=2)
    nearest = np.minimum.accumulate(away, axis=1)[:, first:]  # [j, i]: to the points up to first + i
    beyond = ends[:, None] > np.arange(first, last)[None, :]
    return np.asarray((nearest * beyond).sum(axis=0) / beyond.sum(axis=0))


def _unit(v: Array) -> Array:
    """Direction of v; zero where it has none."""
    size = np.linalg.norm(v)
    return np.asarray(v / size if size > 0.0 else v)


def held(shown: BoolArray, hold: int) -> int:
    """First frame at which `hold` frames in a row have shown it (-1: none)."""
    run = 0
    for k, now in enumerate(shown):
        run = run + 1 if now else 0
        if run >= hold:
            return k
    return -1


@dataclass(frozen=True)
class Seen:
    """What was seen of an insertion from one view, beside what was true. nan: it did not happen.

    Attributes
    ----------
    frames : Frames
        what stood on the screen, k frames
    path, score : ndarray, shape (k,)
        of each frame: travel of the hand, m; the detector's score
    true : ndarray of bool, shape (k,)
        whether the wire was curled in it (insertion/classify)
    threshold : float
        score from which a frame shows a curl
    true_time, true_path : float
        start of the first true curl, s and m
    seen_time, seen_path : float
        frame at which a curl had been seen long enough, s and m
    true_side, seen_side : int
        channel of the wire's end at these moments (`end_side`; -1: no such moment)
    hidden_by_view : bool
        a true curl that was not seen from here, but would have been across its own plane at the same rate and noise
    """

    frames: Frames
    path: Array
    score: Array
    true: BoolArray
    threshold: float
    true_time: float
    true_path: float
    seen_time: float
    seen_path: float
    true_side: int
    seen_side: int
    hidden_by_view: bool

    @property
    def shown(self) -> BoolArray:
        """Whether each frame shows a curl, shape (k,)."""
        return np.asarray(self.score >= self.threshold)

    @property
    def late(self) -> float:
        """Travel of the hand from the start of the true curl until it was seen, m (negative: seen before)."""
        return self.seen_path - self.true_path

    @property
    def false_alarm(self) -> bool:
        """A curl was seen, and there was none in the whole record."""
        return not np.isnan(self.seen_time) and np.isnan(self.true_time)

    @property
    def misleads(self) -> bool:
        """The curl that was seen lay in the true lumen."""
        return self.seen_side == 0

    @property
    def confusion(self) -> tuple[int, int, int, int]:
        """Frames: curled and shown, curled and not shown, not curled but shown, neither."""
        shown = self.shown
        pairs = ((self.true, shown), (self.true, ~shown), (~self.true, shown), (~self.true, ~shown))
        a, b, c, d = (int(np.sum(x & y)) for x, y in pairs)
        return a, b, c, d


def look(
    record: Record, imaging: Imaging, view: View, detector: Detector, window: tuple[float, float] | None = None
) -> Seen:
    """What the detector sees of a record from one view, and how far that agrees with the true state.

    window : only frames between these times, s (all). Raises FieldError as `imaging.frames` does.
    """
    seen = frames(record, imaging, view, window)
    score = scores(seen, detector)
    path = travel(record)
    at = row_times(record, imaging)
    start = curl_start(record)
    first = held(score >= detector.threshold, detector.hold)
    true_row = -1 if np.isnan(start) else int(np.searchsorted(path, start - 1e-12))
    missed = true_row >= 0 and first < 0
    return Seen(
        frames=seen,
        path=path[seen.row],
        score=score,
        true=curled_rows(record)[seen.row],
        threshold=detector.threshold,
        true_time=float(at[true_row]) if true_row >= 0 else float("nan"),
        true_path=start,
        seen_time=float(seen.time[first]) if first >= 0 else float("nan"),
        seen_path=float(path[seen.row[first]]) if first >= 0 else float("nan"),
        true_side=end_side(record, true_row),
        seen_side=end_side(record, int(seen.row[first])) if first >= 0 else -1,
        hidden_by_view=missed and _shown_across(record, imaging, detector, window),
    )


def look_from_all(record: Record, imaging: Imaging, detector: Detector) -> tuple[Seen, ...]:
    """`look` from each of the views; none where the record is empty."""
    return tuple(look(record, imaging, view, detector) for view in imaging.views) if len(record.feed) else ()


def plane_view(record: Record, row: int, imaging: Imaging) -> View:
    """View across the plane in which the wire's distal CURL_PART lie at a row (least squares), from in front of the
    chest."""
    points = record.positions[row]
    arc = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
    end = points[arc >= arc[-1] - CURL_PART]
    normal = np.linalg.svd(end - end.mean(axis=0))[2][2]
    direction = patient_matrix(record.case.scene, imaging.orientation) @ normal
    return view_along(-direction if direction[1] > 0.0 else direction)  # y is toward the back


def _shown_across(
    record: Record, imaging: Imaging, detector: Detector, window: tuple[float, float] | None = None
) -> bool:
    """Whether the curl is seen from a view across its own plane, of any row in which the wire is curled."""
    rows = np.flatnonzero(curled_rows(record))
    for row in {int(rows[0]), int(rows[-1])}:
        seen = frames(record, imaging, plane_view(record, row, imaging), window)
        if held(scores(seen, detector) >= detector.threshold, detector.hold) >= 0:
            return True
    return False


def end_side(record: Record, row: int) -> int:
    """Channel of the wire's end at a row: 2 if its leading point or its tip is in the false channel, else 0; -1 for row
    -1. In the window it still is in the true lumen."""
    if row < 0:
        return -1
    leads = bool(record.lead_false_s[row] >= record.lead_s[row] - LEADING)
    return 2 if leads or record.side[row, -1] == 2 else 0
