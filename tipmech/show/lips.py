"""What the tear's lips take of the push: the axial force that the wire hands over at their edges, read off a record.

A lip's normal force lies mostly across the vessel, and only its part along the vessel can be laid beside the axial
force of a front. It follows from equilibrium: the force inside the wire is its stiffness times the strain of its
elements, theory (3), and what differs from one element to the next acts on the node between them.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from ..insertion.case import Case
from ..insertion.record import Array, Record
from ..insertion.shape import element_lengths
from ..vessel.build import lip_rounding, support_mouth
from ..vessel.walls import HOLE
from .view import project


def lips_along(record: Record) -> Array:
    """Axial force of the tear's lips on the wire at each row, N, shape (n,); against the advance is positive.

    Along the local axis of the vessel, on the nodes at the edges of the lips (`_at_edges`): of each what goes beyond
    friction, which is what the force across the axis on that node can give (Coulomb). Walls press across the axis and
    so give nothing. Support, fronts and holes are left out.
    """
    found = np.zeros(len(record.feed))
    rows = np.flatnonzero(record.lead_s >= record.case.scene.tear.start - _reach(record))
    if len(rows) == 0:
        return found
    s, near = _at_edges(record, rows)
    of_row, node = np.nonzero(near)
    if len(node) == 0:
        return found
    inside = _inside(record.case, record.positions[rows], record.quaternions[rows])
    _, along, _, _ = record.case.scene.centreline.frame(s[of_row, node])
    jump = inside[of_row, node] - inside[of_row, node - 1]
    axial = np.einsum("ij,ij->i", jump, along)
    across = np.linalg.norm(jump - axial[:, None] * along, axis=1)
    beyond = np.sign(axial) * np.maximum(np.abs(axial) - record.case.friction * across, 0.0)
    np.add.at(found, rows[of_row], beyond)
    return found


def _reach(record: Record) -> float:
    """How far from an edge a node may lie that takes of its force, m: its rounding, and a diameter of the wire."""
    return lip_rounding(record.case.scene) + 2.0 * float(record.case.profile.radius[0])


def _at_edges(record: Record, rows: NDArray[np.intp]) -> tuple[Array, NDArray[np.bool_]]:
    """Axial positions of the nodes at rows, m, and whether each lies at the edge of a lip: along the vessel, within the
    window's width on its side of the vessel, not in a hole, ahead of the support, before the front; (rows, N + 1)."""
    case, positions = record.case, record.positions[rows]
    tear, reach = case.scene.tear, _reach(record)
    s, depth, lateral = project(case.scene, positions)
    near = (np.abs(s - tear.start) <= reach) | (np.abs(s - tear.end) <= reach)
    near &= (depth > 0.0) & (np.abs(lateral) <= tear.half_width + reach)
    near &= record.side[rows] != HOLE
    near &= s < record.front[rows, None] - reach
    near &= np.cumsum(_ahead(case, positions, s) > reach, axis=1) > 1  # all nodes behind the first that has left it
    return s, near


def _ahead(case: Case, positions: Array, s: Array) -> Array:
    """How far nodes lie ahead of the support's mouth, along its axis, m; (rows, N + 1)."""
    scene = case.scene
    if scene.support.follows:
        return s - (scene.tear.start - scene.support.distance)
    mouth, frame = support_mouth(scene, 2.0 * float(case.profile.radius[0]))
    return np.asarray((positions - mouth) @ frame[2])


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
