"""What the tear's lips take of the push: the axial force that the wire hands over there, read off a record.

A lip's normal force lies mostly across the vessel, and only its part along the vessel can be laid beside the axial
force of a front. It follows from equilibrium: the force inside the wire is its stiffness times the strain of its
elements, theory (3), and what differs from one element to the next acts on the node between them.
"""

from __future__ import annotations

import numpy as np
from scipy.spatial.transform import Rotation

from ..insertion.case import Case
from ..insertion.record import Array, Record
from ..insertion.shape import element_lengths
from ..vessel.walls import HOLE
from .view import project


def lips_along(record: Record) -> Array:
    """Axial force of the tear's lips on the wire at each row, N, shape (n,); against the advance is positive.

    Along the local axis of the vessel, friction there included; on the nodes within a diameter of the window, and in
    holes of the flap. Walls press across the axis and give nothing; the wire in the support and the fronts are left
    out.
    """
    found = np.zeros(len(record.feed))
    low, high = _zone(record)
    rows = np.flatnonzero(record.lead_s >= low)
    if len(rows) == 0:
        return found
    scene = record.case.scene
    s, _, _ = project(scene, record.positions[rows])
    near = (s >= low) & (s <= high[rows, None]) | (record.side[rows] == HOLE)
    near[:, 0] = False  # the hand holds it
    of_row, node = np.nonzero(near)
    if len(node) == 0:
        return found
    inside = _inside(record.case, record.positions[rows], record.quaternions[rows])
    _, along, _, _ = scene.centreline.frame(s[of_row, node])
    handed = np.einsum("ij,ij->i", inside[of_row, node] - inside[of_row, node - 1], along)
    np.add.at(found, rows[of_row], handed)
    return found


def _zone(record: Record) -> tuple[float, Array]:
    """Axial positions between which a node lies at the lips, m: the first, and the last of each row, shape (n,)."""
    scene, diameter = record.case.scene, 2.0 * float(record.case.profile.radius[0])
    tear = scene.tear
    mouth = tear.end + diameter if scene.start == "pocket" else tear.start - scene.support.distance
    return max(tear.start - diameter, mouth), np.minimum(tear.end, record.front - 2.0 * diameter) + diameter


def _inside(case: Case, positions: Array, quaternions: Array) -> Array:
    """Forces inside the wire, N, tension along it: of each element, and none ahead of the tip; (n, N + 1, 3)."""
    lengths = element_lengths(case)
    node = case.numerics.length - np.concatenate([[0.0], np.cumsum(lengths)])
    middle = 0.5 * (node[1:] + node[:-1])
    stiff = np.stack([case.profile.at(name, middle) for name in ("GA", "GA", "EA")], axis=1)
    frames = Rotation.from_quat(quaternions.reshape(-1, 4), scalar_first=True)
    strain = frames.inv().apply((np.diff(positions, axis=1) / lengths[:, None]).reshape(-1, 3)) - [0.0, 0.0, 1.0]
    force = frames.apply(strain * np.tile(stiff, (len(positions), 1))).reshape(*quaternions.shape[:2], 3)
    return np.concatenate([force, np.zeros((len(force), 1, 3))], axis=1)
