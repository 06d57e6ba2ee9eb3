"""One look at the screen between two strokes: whether it shows a curl, and how far the tip's end looks bent.

It knows the image only (insertion/imaging, insertion/seen): neither channel nor depth.
"""

from dataclasses import dataclass, replace
from math import inf

import numpy as np
from numpy.typing import NDArray

from .imaging import Frames, Imaging, frames, row_times
from .record import Record
from .seen import Detector, held, scores

Array = NDArray[np.float64]

BACK = (
    4e-3  # m: the wire farther behind the tip than this gives the direction to compare with; a preshape lies before it
)
LEAST_BEHIND = 2e-3  # m of wire behind that: over less its direction jitters like the tip's own


@dataclass(frozen=True)
class Glance:
    """What a look showed.

    curl : a curl, in at least one view, for as many frames as the detector asks; bend : apparent angle between the
    tip's end and the wire behind it while the hand rests, rad: median over those frames (the last one where there is
    none), the largest over the views (0: too little wire seen).
    """

    curl: bool
    bend: float


def glance(record: Record, imaging: Imaging, detector: Detector, number: int) -> Glance:
    """Look at the last strokes.

    Parameters
    ----------
    record : Record
        the strokes since the last look
    imaging : Imaging
        its `linger` is how long the hand rests at each look, s
    detector : Detector
        thresholds of a seen curl
    number : int
        of the look in the procedure: each has its own noise
    """
    seed = int(np.random.SeedSequence([imaging.seed, number]).generate_state(1)[0])
    now = replace(imaging, seed=seed)
    since = float(row_times(record, now)[0])
    curl, bend = False, 0.0
    for view in now.views:
        seen = frames(record, now, view, (since, inf))
        curl = curl or held(scores(seen, detector) >= detector.threshold, detector.hold) >= 0
        resting = [line for line, row in zip(seen.lines, seen.row, strict=True) if row == len(record.feed) - 1]
        if seen.lines:
            bends = [apparent_bend(line, seen, detector) for line in resting or seen.lines[-1:]]
            bend = max(bend, float(np.median(bends)))
    return Glance(curl, bend)


def apparent_bend(line: Array, seen: Frames, detector: Detector) -> float:
    """Angle between the tip's chord and that of the wire from BACK to BACK + `detector.behind` behind the tip, rad.

    line : (m, 2), m, the tip last, points `seen.step` apart
    """
    tip, back, behind = (max(1, round(v / seen.step)) for v in (detector.tip, BACK, detector.behind))
    last = len(line) - 1
    if (last - back) * seen.step < LEAST_BEHIND:
        return 0.0
    near, far = last - back, max(0, last - back - behind)
    a, b = line[last] - line[last - tip], line[near] - line[far]
    return float(np.arctan2(abs(a[0] * b[1] - a[1] * b[0]), a @ b))
