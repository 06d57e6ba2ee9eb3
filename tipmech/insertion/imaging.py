"""What stands on the screen: the frames of an insertion from one direction of view, pixels and noise included.

A frame holds the apparent centreline of the wire's radiopaque length and nothing else: no depth, no channel, no vessel.
"""

from dataclasses import dataclass, field
from math import floor, pi, radians

import numpy as np
from numpy.typing import NDArray

from ..checks import FieldError, check_positive, check_range
from .projection import Orientation, View, foreshortening, image_matrix, project
from .record import Record

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]

MOST_FRAMES = 20000  # in one view: 22 minutes at 15 a second; beyond it a rate has a wrong unit
TIP_PART = 10e-3  # m of the wire behind its tip over which foreshortening is stated


@dataclass(frozen=True)
class Imaging:
    """How the insertion is looked at. Defaults: docs/parameters.md, "[imaging]".

    Parameters
    ----------
    views : tuple of View
        directions of view; each is judged alone
    frame_rate : float
        frames per second
    pixel : float
        size of a pixel at the patient, m
    noise : float
        standard deviation of the apparent centreline in each direction, every point and frame for itself, m
    radiopaque : float
        length of wire seen, from the tip, m
    hand_rate : float or None
        speed of the hand in m/s; None: the drive's
    turn_rate : float
        speed at which the hand turns, rad/s
    linger : float
        time for which frames go on after the last move, s
    orientation : Orientation
        how the vessel lies in the patient
    seed : int
        of the noise and of the moment of the first frame

    Raises
    ------
    FieldError
        naming the field, its value and what is allowed
    """

    views: tuple[View, ...] = (View(radians(-30.0), radians(25.0)), View(radians(45.0), radians(25.0)))
    frame_rate: float = 15.0
    pixel: float = 0.2e-3
    noise: float = 0.1e-3
    radiopaque: float = 30e-3
    hand_rate: float | None = None
    turn_rate: float = pi / 2
    linger: float = 1.0
    orientation: Orientation = field(default_factory=Orientation)
    seed: int = 0

    def __post_init__(self) -> None:
        if not self.views:
            raise FieldError("views", "empty", "at least one direction of view")
        for name in ("frame_rate", "pixel", "radiopaque", "turn_rate"):
            check_positive(getattr(self, name), name=name)
        for name in ("noise", "linger"):
            check_range(getattr(self, name), name=name, low=0.0)
        if self.hand_rate is not None:
            check_positive(self.hand_rate, name="hand_rate")


@dataclass(frozen=True)
class Frames:
    """Frames of one insertion from one view, k of them. SI units.

    Attributes
    ----------
    view : View
        direction of view
    time : ndarray, shape (k,)
        since the first move, s
    row : ndarray of int, shape (k,)
        the record's row that each frame shows
    lines : tuple of ndarray, each (m, 2)
        apparent centreline from the proximal end of the radiopaque length to the tip, (right, top), m: points one step
        of apparent length apart, displaced by the noise and put on the pixels
    step : float
        that apparent length, m
    width : float
        apparent diameter of the wire, m
    pixel : float
        size of a pixel at the patient, m
    foreshortening : ndarray, shape (k,)
        length of the distal TIP_PART of wire in the image over its own, -
    """

    view: View
    time: Array
    row: IntArray
    lines: tuple[Array, ...]
    step: float
    width: float
    pixel: float
    foreshortening: Array


def row_times(record: Record, imaging: Imaging) -> Array:
    """Time of each recorded row by the hand's speeds, s; a snap takes none."""
    rate = record.case.drive.rate if imaging.hand_rate is None else imaging.hand_rate
    fed = np.abs(np.diff(record.feed, prepend=0.0)) / rate
    turned = np.abs(np.diff(record.turn, prepend=0.0)) / imaging.turn_rate
    return np.asarray(np.cumsum(np.maximum(fed, turned)))  # a hand that turns while it advances does both at once


def frame_count(duration: float, imaging: Imaging) -> int:
    """Frames of moves that take `duration` seconds, the lingering included.

    Raises
    ------
    FieldError
        if there are more than MOST_FRAMES
    """
    count = floor((duration + imaging.linger) * imaging.frame_rate) + 1
    if count > MOST_FRAMES:
        raise FieldError(
            "frame_rate",
            imaging.frame_rate,
            f"at most {MOST_FRAMES} frames; the moves take {duration:.0f} s at the hand's speed",
        )
    return count


def frames(record: Record, imaging: Imaging, view: View, window: tuple[float, float] | None = None) -> Frames:
    """Frames of a record from one view.

    A frame shows the last recorded equilibrium before it: nothing is made up between two rows. The first frame comes at
    a seeded moment of the first interval.

    Parameters
    ----------
    record : Record
        at least one row
    imaging : Imaging
        rates, pixels, noise
    view : View
        direction of view
    window : (float, float), optional
        only frames between these times, s

    Raises
    ------
    FieldError
        if there were more than MOST_FRAMES
    """
    at = row_times(record, imaging)
    count = frame_count(float(at[-1]), imaging)
    time: Array = (np.random.default_rng(imaging.seed).random() + np.arange(count, dtype=float)) / imaging.frame_rate
    number = np.flatnonzero(time <= at[-1] + imaging.linger)
    if window is not None:
        number = number[(time[number] >= window[0]) & (time[number] <= window[1])]
    time = time[number]
    row = np.maximum(np.searchsorted(at, time + 1e-12, side="right") - 1, 0)
    matrix = image_matrix(record.case.scene, imaging.orientation, view)
    own = {int(k): _seen_part(record.positions[k], imaging.radiopaque) for k in np.unique(row)}
    clean = {k: _apparent(project(points, matrix), imaging.pixel) for k, points in own.items()}
    short = {k: foreshortening(_seen_part(points, TIP_PART), matrix) for k, points in own.items()}
    return Frames(
        view=view,
        time=time,
        row=row,
        lines=tuple(_blurred(clean[int(k)], imaging, int(n)) for k, n in zip(row, number, strict=True)),
        step=imaging.pixel,
        width=2.0 * float(record.case.profile.radius[0]),
        pixel=imaging.pixel,
        foreshortening=np.array([short[int(k)] for k in row]),
    )


def _seen_part(points: Array, length: float) -> Array:
    """Distal `length` (m) of a line of points (n, 3) that ends at the tip."""
    arc = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
    start = arc[-1] - length
    if start <= 0.0:
        return points
    first = np.array([np.interp(start, arc, points[:, i]) for i in range(3)])
    return np.vstack([first, points[arc > start]])


def _apparent(flat: Array, step: float) -> Array:
    """Points of a plane line (n, 2) at equal steps of its own length counted back from its last point, (m, 2)."""
    arc = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(flat, axis=0), axis=1))])
    back = np.arange(floor(arc[-1] / step + 1e-9), -1, -1) * step
    return np.column_stack([np.interp(arc[-1] - back, arc, flat[:, i]) for i in range(2)])


def _blurred(line: Array, imaging: Imaging, number: int) -> Array:
    """The line with the noise of frame `number`, on the centres of pixels."""
    noise = np.random.default_rng([imaging.seed, 1 + number]).normal(0.0, 1.0, line.shape)
    return np.asarray(np.round((line + imaging.noise * noise) / imaging.pixel) * imaging.pixel)
