"""A centreline from measured points, and how tightly and how near to itself a centreline runs. SI units.

Points -> smoothing spline -> as few biarcs as follow it (biarc.py). Where the points lie in space and how they are
turned does not matter: a centreline starts at the origin along +z, and only lengths, curvatures and the planes of the
arcs among themselves are kept. theory, "The vessel".
"""

from dataclasses import dataclass, replace
from math import atan2, cos, pi, sin

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import make_splprep
from scipy.spatial.distance import cdist

from .biarc import Arcs, fewest
from .scene import Centreline

Array = NDArray[np.float64]

DEVIATION = 0.05e-3  # m, of the arcs from the smoothed curve: a seventh of a flap, a thirtieth of a lumen's radius
SAMPLE = 0.05e-3  # m between samples of the smoothed curve: the sagitta of a 2 mm bend over it is 0.2 um
LEAST_SAMPLES, MOST_SAMPLES = 400, 20000  # samples of a curve, whatever its length
DEGREE = 3  # of the spline: continuous curvature
AZIMUTH_REACH = 5e-3  # m, either way of a place: the stretch whose mean bend says which side is the outer one (J)
STEP = 0.2e-3  # m between places compared for the closest approach: too large by at most step^2/(4 distance), 3 um


@dataclass(frozen=True)
class Fit:
    """A centreline through points and how far off it is.

    line : the centreline; arcs : the same where the points are
    deviation : largest distance of the smoothed curve from the arcs, m
    rms, farthest : root mean square and largest distance of the points from the arcs, m
    """

    line: Centreline
    arcs: Arcs
    deviation: float
    rms: float
    farthest: float


def through_points(points: Array, smoothing: float, deviation: float = DEVIATION) -> Fit:
    """Centreline through points in their order.

    A cubic spline over the chord length, the smoothest (least jumps of the third derivative) with a root-mean-square
    distance of `smoothing` from the points (Dierckx, Curve and Surface Fitting with Splines, 1993; scipy
    `make_splprep`), followed by the fewest biarcs within `deviation` of it.

    Parameters
    ----------
    points : ndarray, shape (n, 3)
        points along the vessel, m, n >= 4, no neighbour repeated
    smoothing : float
        root-mean-square distance of the spline from the points, m; 0: through every point
    deviation : float
        largest distance of the spline from the arcs, m

    Raises
    ------
    ValueError
        fewer than four points, another shape, numbers that are not finite, a repeated neighbour
    """
    points = np.asarray(points, dtype=float)
    if points.ndim != 2 or points.shape[1] != 3 or len(points) <= DEGREE:
        raise ValueError(f"points has shape {points.shape}; allowed: (n, 3) with n of at least {DEGREE + 1}")
    if not np.all(np.isfinite(points)):
        raise ValueError("points holds a number that is not finite; allowed: finite numbers")
    chords = np.linalg.norm(np.diff(points, axis=0), axis=1)
    if np.any(chords == 0.0):
        raise ValueError(f"points repeats a point at row {int(np.argmin(chords)) + 1}; allowed: each point once")
    centre, size = points.mean(axis=0), float(chords.sum())
    scaled = (points - centre) / size  # of order 1, for the spline's own tolerances
    spline, _ = make_splprep(scaled.T, k=DEGREE, s=len(points) * (smoothing / size) ** 2)
    count = int(np.clip(size / SAMPLE, LEAST_SAMPLES, MOST_SAMPLES))
    u = np.linspace(0.0, 1.0, count + 1)
    curve, slope = centre + size * spline(u).T, spline(u, 1).T
    tangents = slope / np.linalg.norm(slope, axis=1)[:, None]
    arcs, reached = fewest(curve, tangents, deviation)
    off = arcs.distance(points)
    return Fit(arcs.centreline(), arcs, reached, float(np.sqrt(np.mean(off**2))), float(off.max()))


def facing(line: Centreline, s: float) -> Centreline:
    """The same line with azimuth 0 on its outer side at arc length `s` (m).

    The outer side is that of the mean bend (curvature vector in the rotation-minimising frame) over 5 mm either way,
    so that it does not hang on where one arc ends; where all of that is straight, that of the first bend of the line.
    """
    s = min(max(s, 0.0), line.length)
    mean, at = np.zeros(2), 0.0
    for length, kappa, plane in zip(line.lengths, line.curvatures, line.planes, strict=True):
        inside = min(at + length, s + AZIMUTH_REACH) - max(at, s - AZIMUTH_REACH)
        if inside > 0.0:
            mean += kappa * inside * np.array([cos(plane), sin(plane)])
        at += length
    bent = [plane for kappa, plane in zip(line.curvatures, line.planes, strict=True) if kappa > 0.0]
    if not bent:
        return line
    inner = atan2(mean[1], mean[0]) if np.any(mean) else bent[0]
    return replace(line, planes=tuple(_wrapped(plane - inner + pi) for plane in line.planes))


def _wrapped(angle: float) -> float:
    """Angle between -pi and pi, pi itself kept."""
    return pi - (pi - angle) % (2.0 * pi)


def tightest_bend(line: Centreline) -> tuple[float, float]:
    """Radius of the tightest bend (inf: straight) and the arc length of its middle, m."""
    k = int(np.argmax(line.curvatures))
    kappa = line.curvatures[k]
    return (1.0 / kappa if kappa > 0.0 else float("inf")), float(sum(line.lengths[:k]) + 0.5 * line.lengths[k])


def closest_approach(line: Centreline, clear: float) -> tuple[float, float, float]:
    """Least distance of parts of a line that lie at least (pi/2) `clear` apart along it, and the two places, m.

    A tube of diameter `clear` along the line runs into itself if this distance is less than `clear`. It finds nothing
    else, and misses nothing, where the line bends no tighter than with radius clear/2: there the chord over a length l
    of line is at least that of a circle of this radius (Schur), clear sin(l/clear), so that places nearer in space than
    `clear` are nearer along the line than clear arcsin(1), or belong to different parts.
    """
    apart = 0.5 * pi * clear
    s = np.linspace(0.0, line.length, max(2, int(np.ceil(line.length / STEP)) + 1))
    x = line.frame(s)[0]
    nearest, first, second = float("inf"), float("nan"), float("nan")
    for i in range(len(s)):
        far = int(np.searchsorted(s, s[i] + apart))
        if far >= len(s):
            break
        distance = cdist(x[i : i + 1], x[far:])[0]
        j = int(np.argmin(distance))
        if distance[j] < nearest:
            nearest, first, second = float(distance[j]), float(s[i]), float(s[far + j])
    return nearest, first, second
