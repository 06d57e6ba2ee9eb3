"""How a wire lies in its frames: which way its section is turned in the support, and its stress-free form."""

from math import cos, pi, sin

import numpy as np
from scipy.spatial.transform import Rotation

from ..profile import Profile
from ..rod.mesh import graded_lengths
from ..vessel.build import support_mouth
from .case import Case
from .points import Array


def element_lengths(case: Case) -> Array:
    """Lengths of the elements from the base on, shape (N,), m."""
    return graded_lengths(case.numerics.length, case.numerics.elements, case.numerics.longest)


def section_turn(case: Case) -> float:
    """Angle about the wire's axis from the vessel frame at the support's mouth to the section's axes, rad.

    A flat wire (a ribbon: EI1 and EI2 differ somewhere) has its tip's first bend about its soft axis, for that is the
    way it is shaped (common practice, no source). The roll then turns section and bend together, and the section of a
    straight tip. A round wire has no axes: 0, and the roll turns its bend alone.
    """
    node = case.numerics.length - np.concatenate([[0.0], np.cumsum(element_lengths(case))])
    soft = soft_axis(case.profile, node)
    if soft is None:
        return 0.0
    return case.tip_shape.roll + (0.5 * pi if soft == 0 else 0.0)  # about axis 1 a wire bends across it


def soft_axis(profile: Profile, distance: Array) -> int | None:
    """Section axis (0 or 1) about which the wire bends more under one moment, from its rigidities at distances (m) from
    the tip; None where they are equal at all of them."""
    one, two = profile.at("EI1", distance), profile.at("EI2", distance)
    if np.all(one == two):
        return None
    return 0 if np.sum(1.0 / one) >= np.sum(1.0 / two) else 1


def natural_curvature(case: Case, lengths: Array, imperfection: bool = True) -> Array:
    """Natural curvature and twist at the joints about the section's axes, shape (N + 1, 3), 1/m: preshape and seeded
    imperfection."""
    n = len(lengths)
    position = np.concatenate([[0.0], np.cumsum(lengths)])
    middle = 0.5 * (position[1:] + position[:-1])
    left = np.concatenate([[position[0]], middle])
    right = np.concatenate([middle, [position[-1]]])
    span = right - left
    natural = np.zeros((n + 1, 3))
    turn = section_turn(case)

    def bend(angle: float, length: float, direction: float, end: float = position[-1]) -> None:
        """Add a bend toward `direction`, rad from the vessel frame's first axis.

        The half of the last element that no joint turns stays: each element points as the bend's middle there does.
        """
        share = np.clip(np.minimum(right, end) - np.maximum(left, end - length), 0.0, None)
        share[[0, n]] = 0.0
        kappa = angle / length * share / span
        natural[:, 0] -= kappa * sin(direction - turn)
        natural[:, 1] += kappa * cos(direction - turn)

    shape = case.tip_shape
    if shape.angle != 0.0:
        bend(shape.angle, shape.length, shape.roll)
    if (second := shape.second) is not None and second.angle != 0.0:
        bend(second.angle, second.length, shape.roll + second.roll, position[-1] - second.distance)
    if imperfection and case.numerics.imperfection > 0.0:
        free = max(5e-3, case.scene.channel.length if case.scene.start == "pocket" else case.scene.support.distance)
        direction = float(np.random.default_rng(case.seed).uniform(0.0, 2.0 * pi))
        # a circular arc of deflection y = k L^2/2
        bend(2.0 * case.numerics.imperfection, free, -direction if case.mirror else direction)
    return natural


def lay(case: Case) -> tuple[Array, Array, Array, Array]:
    """The wire as it is laid: nodes (N + 1, 3), m; frames (N, 4) and the clamp's frame (4,), quaternions (w, x, y, z);
    direction (3,) at its base.

    Straight in the support, its tip's end at the mouth; in the approach along the vessel's centreline.
    """
    num, scene = case.numerics, case.scene
    diameter = 2.0 * float(case.profile.radius[0])
    lengths = element_lengths(case)
    along = np.concatenate([[0.0], np.cumsum(lengths)])
    if scene.start != "approach":
        mouth, frame = support_mouth(scene, diameter)
        x, y, z, w = Rotation.from_matrix(_turned(frame, section_turn(case)).T).as_quat()
        clamp = np.array([w, x, y, z])
        nodes = mouth - (num.length + case.profile.tip_radius) * frame[2] + along[:, None] * frame[2]
        return nodes, np.tile(clamp, (num.elements, 1)), clamp, frame[2]
    base = scene.tear.start - scene.tip_distance - case.profile.tip_radius - num.length
    start, t, e1, e2 = scene.centreline.frame(base + np.concatenate([[0.0], 0.5 * (along[1:] + along[:-1])]))
    rows = _turned(np.stack([e1, e2, t]), section_turn(case))
    quats = Rotation.from_matrix(np.moveaxis(rows, 0, -1)).as_quat(scalar_first=True)
    nodes = start[0] + np.concatenate([np.zeros((1, 3)), np.cumsum(lengths[:, None] * t[1:], axis=0)])
    return nodes, quats[1:], quats[0], t[0]


def laid_curvature(frames: Array, clamp: Array, span: Array) -> Array:
    """Curvature and twist at the joints of the wire as laid, shape (N + 1, 3), 1/m: free of stress with these."""
    rotations = Rotation.from_quat(np.vstack([clamp, frames]), scalar_first=True)
    bent = (rotations[:-1].inv() * rotations[1:]).as_rotvec() / span[:-1, None]
    return np.vstack([bent, np.zeros(3)])


def _turned(frame: Array, angle: float) -> Array:
    """Rows of a frame (or of n frames, (3, n, 3)) turned about the third by `angle` (rad); by 0 to the bit."""
    one, two, axis = frame
    return np.stack([cos(angle) * one + sin(angle) * two, cos(angle) * two - sin(angle) * one, axis])
