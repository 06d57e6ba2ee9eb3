"""Bends of a shaped tip in its free form, as the tests in a tube take them. SI units."""

from dataclasses import dataclass
from math import degrees, pi, radians

import numpy as np
from numpy.typing import NDArray

from ..checks import check_positive, check_range
from ..rod.elastic import Array
from ..wire.design import Design


@dataclass(frozen=True)
class Arc:
    """One bend: `angle` (rad) spread evenly over `length` (m).

    start : m, from the tip's end to the bend's distal end
    roll : rad, from the axis about which the wire bends most easily to the bend's own, about the wire
    """

    angle: float
    length: float
    start: float = 0.0
    roll: float = 0.0

    def __post_init__(self) -> None:
        check_range(self.angle, name="angle", low=0.0, high=pi, above=True)
        check_positive(self.length, name="length")
        check_range(self.start, name="start", low=0.0)
        check_range(self.roll, name="roll", low=-2.0 * pi, high=2.0 * pi)

    @property
    def end(self) -> float:
        """Proximal end, m from the tip."""
        return self.start + self.length


@dataclass(frozen=True)
class Shape:
    """Bends of a tip that do not overlap, the most distal one first; none: a straight tip."""

    arcs: tuple[Arc, ...] = ()

    @classmethod
    def of(cls, design: Design) -> "Shape":
        """The preshape of a design: its first and its second bend, those that turn at all."""
        arcs = [Arc(design.bend.angle, design.bend.length)] if design.bend.angle > 0.0 else []
        if (second := design.second_bend) is not None and second.angle > 0.0:
            arcs.append(Arc(second.angle, second.length, second.distance, second.roll))
        return cls(tuple(arcs))

    @property
    def reach(self) -> float:
        """Proximal end of the last bend, m from the tip; 0 where there is none."""
        return max((arc.end for arc in self.arcs), default=0.0)

    def inside(self, distance: Array) -> NDArray[np.bool_]:
        """Which distances from the tip (m) lie in a bend."""
        out = np.zeros(len(distance), dtype=np.bool_)
        for arc in self.arcs:
            out |= (distance >= arc.start) & (distance <= arc.end)
        return out

    def curvature(self, low: Array, high: Array) -> Array:
        """Mean natural curvature between distances from the tip (m), about the section's axes 1 and 2, (n, 2), 1/m."""
        out = np.zeros((len(low), 2))
        for arc in self.arcs:
            covered = np.maximum(np.minimum(high, arc.end) - np.maximum(low, arc.start), 0.0) / (high - low)
            out += (covered * arc.angle / arc.length)[:, None] * np.array([np.cos(arc.roll), np.sin(arc.roll)])
        return out

    def at_nodes(self, distance: Array) -> Array:
        """Mean natural curvature of each node's share of a rod, shape (N + 1, 2), 1/m.

        distance : ndarray, shape (N + 1,), of the nodes from the tip's end, m, the base first. A share goes from the
        middle of the element before to that of the one behind: over the shares' lengths the bends' angles are whole.
        """
        edges = np.concatenate([[distance[0]], 0.5 * (distance[1:] + distance[:-1]), [distance[-1]]])
        return self.curvature(edges[1:], edges[:-1])

    def words(self) -> str:
        """The shape in words."""
        if not self.arcs:
            return "straight tip"
        said = []
        for arc in self.arcs:
            text = f"{degrees(arc.angle):.3g} deg over {arc.length * 1e3:.3g} mm"
            text += f" from {arc.start * 1e3:.3g} mm behind the tip" if arc.start > 0.0 else ""
            said.append(text + (f" in a plane turned by {degrees(arc.roll):.3g} deg" if arc.roll != 0.0 else ""))
        return f"tip shaped by {' and '.join(said)}"


STRAIGHT = Shape()


def one_bend(angle: float, length: float) -> Shape:
    """A tip bent by `angle` (rad) over its distal `length` (m)."""
    return Shape((Arc(angle, length),))


STANDARD_TIP = one_bend(radians(45.0), 2e-3)
"""Shape with which a straight wire is turned beside its straight one: usual ones are bent by 30 to 60 degrees."""
