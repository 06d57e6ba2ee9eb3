"""A rod along any space curve, free of stress as built.

Rest lengths are the chords between points; frames stand on the chords; natural curvature and twist are what turns one
frame into the next. Rigidities enter as compliances over arc length, so that a jump of the section is exact wherever
it lies.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, fields, replace
from math import isfinite, pi

import numpy as np
from scipy.spatial.transform import Rotation

from ..bending import MomentLaw, straight_rows
from ..profile import Profile
from .elastic import Array
from .errors import GeometryError, NodeError, RigidityError, ShapeError
from .numbers import direction, real, real_array, whole

SHARP = 0.5 * pi  # rad between neighbouring chords: more than this is a corner and must be named as one
PARALLEL = 1e-6  # sine of the angle below which a director lies along the tangent
ON_NODE = 1e-9  # of the rod's length: a break so close to a node lies on it


@dataclass(frozen=True)
class Section:
    """Rigidities of a cross-section.

    EI1, EI2 : bending rigidities about the section's axes 1 and 2, N m2
    GJ : torsional rigidity, N m2
    GA1, GA2 : shear rigidities along the axes 1 and 2, shear coefficients included, N
    EA : axial rigidity, N
    law : MomentLaw of one row, optional: bending beyond the limit at which it leaves the line, see `section_law`
    """

    EI1: float
    EI2: float
    GJ: float
    GA1: float
    GA2: float
    EA: float
    law: MomentLaw | None = field(default=None, compare=False)

    def __post_init__(self) -> None:
        for name in ("EI1", "EI2", "GJ", "GA1", "GA2", "EA"):
            value = getattr(self, name)
            if not (isfinite(value) and value > 0.0):
                message = f"{name} of a section is {value}; allowed: a finite number greater than 0"
                raise RigidityError(message)
        if self.law is not None and len(self.law.limit) != 1:
            message = f"the law of a section has {len(self.law.limit)} rows; allowed: one"
            raise ShapeError(message)

    @classmethod
    def of_round(cls, modulus: float, diameter: float, poisson: float = 0.3) -> "Section":
        """Solid round section of Young's modulus (Pa), diameter (m) and Poisson's ratio.

        Shear coefficient 6 (1 + nu)/(7 + 6 nu), Cowper 1966, from memory.

        Raises
        ------
        RigidityError
            for a modulus or diameter that is not positive, or an impossible Poisson's ratio
        """
        if not (isfinite(diameter) and diameter > 0.0):
            message = f"diameter of a round section is {diameter}; allowed: a finite length greater than 0, m"
            raise RigidityError(message)
        if not -1.0 < poisson <= 0.5:
            message = f"Poisson's ratio of a round section is {poisson}; allowed: greater than -1, at most 0.5"
            raise RigidityError(message)
        area, second = pi * diameter**2 / 4.0, pi * diameter**4 / 64.0
        shear = modulus / (2.0 * (1.0 + poisson))
        cut = shear * area * 6.0 * (1.0 + poisson) / (7.0 + 6.0 * poisson)
        bend = modulus * second
        return cls(bend, bend, 2.0 * shear * second, cut, cut, modulus * area)

    @property
    def compliance(self) -> Array:
        """1/EI1, 1/EI2, 1/GJ, 1/GA1, 1/GA2, 1/EA."""
        return 1.0 / np.array([self.EI1, self.EI2, self.GJ, self.GA1, self.GA2, self.EA])


@dataclass(frozen=True)
class Rod:
    """A rod of N elements in its stress-free shape.

    points : ndarray, shape (N + 1, 3), nodes, m
    frames : ndarray, shape (N, 4), quaternions (w, x, y, z) of the elements' frames: section axes 1, 2 and tangent
    sections : ndarray, shape (N + 1, 2, 4), frames of the section at each node, seen from the element before and from
        the one behind; they differ at corners only
    lengths : ndarray, shape (N,), rest lengths, m
    half : ndarray, shape (N, 2, 3), angle per moment of the first and the second half of each element, 1/(N m)
    stretch : ndarray, shape (N, 3), GA1, GA2, EA, N
    natural : ndarray, shape (N + 1, 2, 3), natural curvature and twist before and behind each node, 1/m
    corners : inner nodes at which the rod has a rigid corner
    law : MomentLaw, bending of the N elements beyond the line, or None
    """

    points: Array
    frames: Array
    sections: Array
    lengths: Array
    half: Array
    stretch: Array
    natural: Array
    corners: frozenset[int]
    law: MomentLaw | None = None

    @property
    def elements(self) -> int:
        """Number of elements N."""
        return len(self.lengths)

    @property
    def length(self) -> float:
        """Rest length, m."""
        return float(np.sum(self.lengths))

    @property
    def arc(self) -> Array:
        """Arc length of each node, shape (N + 1,), m."""
        return np.concatenate([[0.0], np.cumsum(self.lengths)])

    @property
    def tributary(self) -> Array:
        """Length belonging to each node, shape (N + 1,), m."""
        out = np.zeros(self.elements + 1)
        out[:-1] += 0.5 * self.lengths
        out[1:] += 0.5 * self.lengths
        return out


def rod_along(
    points: Array,
    sections: Section | Sequence[Section],
    *,
    breaks: Sequence[float] | None = None,
    directors: Array | Sequence[float] | None = None,
    corners: Sequence[int] = (),
) -> Rod:
    """Rod along a polyline of nodes, free of stress in this shape.

    Parameters
    ----------
    points : ndarray, shape (N + 1, 3)
        nodes, m; elements need not be equal
    sections : Section or sequence of Section
        one for the whole rod, or one for each stretch between `breaks`
    breaks : sequence of float, optional
        arc lengths at which the section changes, m; default: the inner nodes (one section for each element)
    directors : ndarray, shape (3,) or (N, 3), optional
        direction of the section's axis 1, one for all elements or one for each, made perpendicular to the chords;
        default: rotation-minimising from an arbitrary start
    corners : sequence of int, optional
        inner nodes at which two straight or curved pieces meet in a rigid corner (a frame's): the angle there is not
        smeared into a curvature

    Raises
    ------
    ShapeError, NonFiniteError, GeometryError, NodeError, RigidityError
        naming what is wrong
    """
    points = real_array(points, "points of a rod").copy()
    if points.ndim != 2 or points.shape[1] != 3 or len(points) < 2:
        message = f"points have shape {points.shape}; allowed: (N + 1, 3) with at least one element"
        raise ShapeError(message)
    chords = np.diff(points, axis=0)
    lengths = np.linalg.norm(chords, axis=1)
    if np.any(lengths <= 1e-12 * np.sum(lengths)):
        message = f"element {int(np.argmin(lengths))} has no length: nodes must differ"
        raise GeometryError(message)
    count = len(lengths)
    for c in corners:
        if isinstance(c, bool) or not isinstance(c, int | np.integer) or not 0 < c < count:
            message = f"corner at node {c!r}; allowed: inner nodes 1 to {count - 1}"
            raise NodeError(message)
    tangents = chords / lengths[:, None]
    _check_angles(tangents, set(corners))
    frames = _frames(tangents, directors)
    natural, ends = _natural(frames, lengths, set(corners))
    half, stretch = _compliances(lengths, sections, breaks)
    wxyz = np.roll(frames.as_quat(), 1, axis=1)
    law = _law(lengths, sections, breaks)
    return Rod(points, wxyz, ends, lengths, half, stretch, natural, frozenset(corners), law)


def straight(
    length: float,
    elements: int,
    sections: Section | Sequence[Section],
    *,
    axis: Sequence[float] = (0.0, 0.0, 1.0),
    director: Sequence[float] | None = None,
    breaks: Sequence[float] | None = None,
) -> Rod:
    """Straight rod of equal elements from the origin along `axis`; arguments as for `rod_along`, lengths in m.

    Along +z without a director the section's axes 1, 2 are x, y.

    Raises
    ------
    GeometryError
        where the length is not greater than 0; else as `rod_along`
    """
    if real(length, "length of a rod") <= 0.0:
        message = f"the length of a rod is {length} m; allowed: greater than 0"
        raise GeometryError(message)
    whole(elements, "number of elements", 1)
    e = direction(axis, "axis of a rod")
    points = np.linspace(0.0, length, elements + 1)[:, None] * e[None, :]
    return rod_along(points, sections, breaks=breaks, directors=director)


def profile_rod(profile: Profile, lengths: Array) -> Rod:
    """Straight rod along +z for a `Structure`, base at node 0; each element has the section at its middle.

    Parameters
    ----------
    profile : Profile
        rigidities over distance from the tip
    lengths : ndarray, shape (N,)
        element lengths from the base to the tip, m
    """
    from_tip = node_distances(lengths)
    middle = 0.5 * (from_tip[1:] + from_tip[:-1])
    values = [profile.at(key, middle).tolist() for key in ("EI1", "EI2", "GJ", "GA", "GA", "EA")]
    sections = [Section(*column) for column in zip(*values, strict=True)]
    points = np.zeros((len(lengths) + 1, 3))
    points[1:, 2] = np.cumsum(lengths)
    return replace(rod_along(points, sections), law=profile.law_at(middle))


def _law(lengths: Array, sections: Section | Sequence[Section], breaks: Sequence[float] | None) -> MomentLaw | None:
    """Law of each element, or None where no section has one."""
    parts = [sections] if isinstance(sections, Section) else list(sections)
    if all(p.law is None for p in parts):
        return None
    arc = np.concatenate([[0.0], np.cumsum(lengths)])
    inner = arc[1:-1] if breaks is None else np.asarray(breaks, dtype=float)
    inner = np.zeros(0) if isinstance(sections, Section) else inner
    away = np.array([np.min(np.abs(arc - b)) for b in inner])
    if np.any(away > ON_NODE * arc[-1]):
        message = (
            f"sections with a moment law change at {inner[np.argmax(away)]:g} m, inside an element; allowed: at nodes"
        )
        raise GeometryError(message)
    tables = [p.law or straight_rows(1) for p in parts]
    of_element = np.searchsorted(inner, 0.5 * (arc[1:] + arc[:-1]))
    whole = MomentLaw(*(np.concatenate([getattr(t, f.name) for t in tables]) for f in fields(MomentLaw)))
    return whole.rows(of_element)


def node_distances(lengths: Array) -> Array:
    """Distance of each node from the tip, shape (N + 1,), m: decreasing from the total length to 0."""
    return np.concatenate([np.cumsum(lengths[::-1])[::-1], [0.0]])


def _check_angles(tangents: Array, corners: set[int]) -> None:
    cosine = np.sum(tangents[1:] * tangents[:-1], axis=1)
    for i in range(1, len(tangents)):
        if cosine[i - 1] < -1.0 + 1e-9:
            message = f"the rod runs back on itself at node {i}"
            raise GeometryError(message)
        if i not in corners and cosine[i - 1] < np.cos(SHARP) - 1e-9:
            message = f"neighbouring elements at node {i} differ by more than 90 deg: refine, or name it in corners"
            raise GeometryError(message)


def _frames(tangents: Array, directors: Array | Sequence[float] | None) -> Rotation:
    """Frames on the chords, from directors or by the least rotation from chord to chord."""
    count = len(tangents)
    if directors is not None:
        wanted = real_array(directors, "directors", [(3,), (count, 3)])
        first = np.broadcast_to(wanted, (count, 3))
    else:
        first = np.empty((count, 3))
        t = tangents[0]
        start = np.array([1.0, 0.0, 0.0]) if abs(t[0]) < 0.9 else np.array([0.0, 1.0, 0.0])
        first[0] = start - (start @ t) * t
        cosine = np.sum(tangents[:-1] * tangents[1:], axis=1)
        spin = np.cross(np.eye(3), np.cross(tangents[:-1], tangents[1:])[:, None, :])  # matrices of the cross product
        turns = np.eye(3) + spin + spin @ spin / (1.0 + cosine)[:, None, None]
        for j in range(1, count):
            first[j] = turns[j - 1] @ first[j - 1]
    across = first - np.sum(first * tangents, axis=1)[:, None] * tangents
    size = np.linalg.norm(across, axis=1)
    small = size <= PARALLEL * np.linalg.norm(first, axis=1)
    if np.any(small):
        message = f"the director of element {int(np.argmax(small))} lies along its tangent"
        raise GeometryError(message)
    one = across / size[:, None]
    return Rotation.from_matrix(np.stack([one, np.cross(tangents, one), tangents], axis=2))


def _natural(frames: Rotation, lengths: Array, corners: set[int]) -> tuple[Array, Array]:
    """Natural curvature (N + 1, 2, 3) and section frames (N + 1, 2, 4) before and behind each node.

    At an end and on the sides of a corner the curvature is that of the next joint inside the piece, 0 in a piece
    of one element.
    """
    count = len(lengths)
    smooth = np.zeros((count + 1, 3))
    smooth[1:-1] = 2.0 * (frames[:-1].inv() * frames[1:]).as_rotvec() / (lengths[1:] + lengths[:-1])[:, None]
    natural = np.stack([smooth, smooth], axis=1)
    breaks = {0, count} | corners
    for i in breaks:
        natural[i, 0] = smooth[i - 1] if i > 0 and i - 1 not in breaks else 0.0
        natural[i, 1] = smooth[i + 1] if i < count and i + 1 not in breaks else 0.0
    before = frames * Rotation.from_rotvec(0.5 * lengths[:, None] * natural[1:, 0])
    behind = frames * Rotation.from_rotvec(-0.5 * lengths[:, None] * natural[:-1, 1])
    ends = np.empty((count + 1, 2, 4))
    ends[1:, 0] = np.roll(before.as_quat(), 1, axis=1)
    ends[:-1, 1] = np.roll(behind.as_quat(), 1, axis=1)
    ends[0, 0], ends[-1, 1] = ends[0, 1], ends[-1, 0]
    return natural, ends


def _compliances(
    lengths: Array, sections: Section | Sequence[Section], breaks: Sequence[float] | None
) -> tuple[Array, Array]:
    """Compliance of the elements' halves (N, 2, 3) and mean GA1, GA2, EA of the elements (N, 3)."""
    arc = np.concatenate([[0.0], np.cumsum(lengths)])
    if isinstance(sections, Section):
        parts, inner = [sections], np.zeros(0) if breaks is None else real_array(breaks, "breaks")
    else:
        parts = list(sections)
        inner = arc[1:-1] if breaks is None else real_array(breaks, "breaks")
    if inner.ndim != 1 or len(parts) != len(inner) + 1:
        message = f"{len(parts)} sections for {inner.size + 1} stretches of the rod"
        raise ShapeError(message)
    knots = np.concatenate([[0.0], inner, [arc[-1]]])
    if not np.all(np.diff(knots) > 0.0):
        message = f"breaks are {inner.tolist()}; allowed: increasing between 0 and the rod's length {arc[-1]:g} m"
        raise GeometryError(message)
    steps = np.diff(knots)[:, None] * np.stack([p.compliance for p in parts])
    total = np.concatenate([np.zeros((1, 6)), np.cumsum(steps, axis=0)])
    middle = 0.5 * (arc[1:] + arc[:-1])

    def upto(s: Array) -> Array:
        return np.stack([np.interp(s, knots, total[:, c]) for c in range(6)], axis=1)

    low, mid, high = upto(arc[:-1]), upto(middle), upto(arc[1:])
    half = np.stack([mid[:, :3] - low[:, :3], high[:, :3] - mid[:, :3]], axis=1)
    return half, lengths[:, None] / (high[:, 3:] - low[:, 3:])
