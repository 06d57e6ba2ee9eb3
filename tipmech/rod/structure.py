"""A rod with what holds and loads it: numbered, checked and turned into the arrays of the kernels."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, get_args

import numpy as np
from scipy.spatial.transform import Rotation

from .build import Rod
from .elastic import Array, RodArrays
from .errors import ComponentError, GeometryError, SupportConflictError
from .loads import Foundation, LineLoad, Load, Moment, Potential
from .mechanism import joined_ends, refuse_mechanism
from .model import BoolArray, Model, Pose
from .numbering import acting_on_sections, forces_of, joints_of, node_index, numbering, per_element
from .supports import POSITIONS, ROTATIONS, Hinge, Support, components


@dataclass(frozen=True)
class Structure:
    """A rod, its supports, hinges and loads; checked when built.

    rod : Rod
    supports, hinges, loads : what acts at its nodes
    foundation : Foundation, optional
    potential : callable, optional
        further smooth energy of the node positions; what it may hold is not checked for mechanisms
    plane : "x", "y" or "z", optional
        keep all motion in the plane across this axis, which must be a section axis everywhere: two-dimensional
        problems, for which `count` then sees no way out of the plane
    model : Model, the same as arrays
    nodes : nodes that have a section frame of their own, in order

    Raises
    ------
    RodInputError
        one of its kinds (`errors.py`), naming what is wrong
    """

    rod: Rod
    supports: Sequence[Support] = ()
    hinges: Sequence[Hinge] = ()
    loads: Sequence[Load] = ()
    foundation: Foundation | None = None
    potential: Potential | None = None
    plane: str | None = None
    model: Model = field(init=False, repr=False, compare=False)
    nodes: tuple[int, ...] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        for name, kinds in (("supports", Support), ("hinges", Hinge), ("loads", Load)):
            _check_kinds(name, getattr(self, name), kinds)
        held = _held(self.rod, self.supports)
        released = _released(self.rod, self.hinges)
        springs = _springs(self.rod, self.foundation)
        flat = _flat(self.rod, self.plane)
        if self.plane is not None:
            _refuse_loads_across(self.loads, flat, self.plane)
            _refuse_motion_across(held, flat, self.plane)
        position, rotation = held.position | flat[0], held.rotation | flat[1]
        released = joined_ends(self.rod, rotation, released, acting_on_sections(self.rod, self.loads))
        if self.potential is None:
            refuse_mechanism(self.rod, position, rotation, released, springs)
        nodes, model = _model(self, held, released, springs, flat)
        object.__setattr__(self, "model", model)
        object.__setattr__(self, "nodes", nodes)

    @property
    def unsymmetric(self) -> bool:
        """True where a load has no potential: moments and following forces."""
        return len(self.model.force_at) + len(self.model.moment_at) > 0

    @property
    def loaded_at_rest(self) -> bool:
        """True where something acts at load factor 0."""
        return self.potential is not None or any(load.constant for load in self.loads)

    @property
    def size(self) -> int:
        """Number of unknowns."""
        return len(self.model.fixed)

    def reference(self) -> Pose:
        """The stress-free state."""
        at_nodes = [self.rod.sections[i, 0] for i in self.nodes]
        q = np.concatenate([self.rod.frames, np.reshape(at_nodes, (-1, 4))])
        return Pose(self.rod.points.copy(), q, np.zeros((len(self.model.tied), 3)))

    def place(self, node: int, component: str) -> int:
        """Index of an unknown: position "x", "y", "z" of a node, or rotation "1", "2", "3" of a node's own frame."""
        i = node_index(self.rod, node, "component")
        if component in tuple(POSITIONS):
            return int(self.model.at_node[i]) + POSITIONS.index(component)
        if component not in tuple(ROTATIONS):
            message = f"component {component!r}; allowed: one of 'xyz123'"
            raise ComponentError(message)
        if i not in self.nodes:
            message = f"node {node} has no section frame of its own: it carries no support, moment or corner"
            raise ComponentError(message)
        return int(self.model.at_frame[self.rod.elements + self.nodes.index(i)]) + ROTATIONS.index(component)


@dataclass(frozen=True)
class Held:
    """Prescribed components: masks and values at load factor 1, shape (N + 1, 3) each."""

    position: BoolArray
    rotation: BoolArray
    displacement: Array
    turn: Array


def _held(rod: Rod, supports: Sequence[Support]) -> Held:
    shape = (rod.elements + 1, 3)
    held = Held(np.zeros(shape, bool), np.zeros(shape, bool), np.zeros(shape), np.zeros(shape))
    for support in supports:
        i = node_index(rod, support.node, "support")
        for names, known, given, mask, values in (
            (support.position, POSITIONS, support.displacement, held.position, held.displacement),
            (support.rotation, ROTATIONS, support.turn, held.rotation, held.turn),
        ):
            for a in components(names, known, "support"):
                if mask[i, a] and values[i, a] != given[a]:
                    both = f"{values[i, a]:g} and {given[a]:g}"
                    message = f"supports at node {i} prescribe component {known[a]!r} twice: {both}"
                    raise SupportConflictError(message)
                mask[i, a], values[i, a] = True, given[a]
    return held


def _flat(rod: Rod, plane: str | None) -> tuple[BoolArray, BoolArray]:
    """Position and rotation components that would leave the plane, shape (3,) each."""
    if plane is None:
        return np.zeros(3, bool), np.zeros(3, bool)
    if plane not in tuple(POSITIONS):
        message = f"plane is {plane!r}; allowed: 'x', 'y' or 'z'"
        raise ComponentError(message)
    axis = POSITIONS.index(plane)
    frames = Rotation.from_quat(np.roll(rod.frames, -1, axis=1)).as_matrix()
    across = np.abs(frames[:, axis, :2]) > 1.0 - 1e-9
    for a in (0, 1):
        if np.all(across[:, a]):
            return np.arange(3) == axis, np.arange(3) != a
    message = f"the rod does not lie in a plane across {plane} with a section axis along it: give it directors"
    raise GeometryError(message)


def _check_kinds(name: str, given: object, kinds: Any) -> None:
    """Check that a field is a sequence of what it may hold."""
    if isinstance(given, Sequence) and all(isinstance(item, kinds) for item in given):
        return
    words = " or ".join(kind.__name__ for kind in get_args(kinds) or (kinds,))
    message = f"{name} is {given!r}; allowed: a sequence of {words}"
    raise ComponentError(message)


def _refuse_loads_across(loads: Sequence[Load], flat: tuple[BoolArray, BoolArray], plane: str) -> None:
    """Loads with a part out of the plane of the motion would vanish without a word: forces across it, moments in it.

    In space that is the plane's axis, in the section's axes the one that lies across.
    """
    across = ~flat[1]  # section axes about which the sections may turn: the one across the plane
    for load in loads:
        kept = across if load.follower else flat[0]
        lost = ~kept if isinstance(load, Moment) else kept
        vector = np.reshape(load.vector, (-1, 3))
        if np.any(vector[:, lost] != 0.0):
            which = "line load" if isinstance(load, LineLoad) else f"{type(load).__name__.lower()} at node {load.node}"
            part = "in" if isinstance(load, Moment) else "across"
            message = f"{which} is {vector[0].tolist()}; its part {part} the plane of motion (across {plane}) must be 0"
            raise ComponentError(message)


def _refuse_motion_across(held: "Held", flat: tuple[BoolArray, BoolArray], plane: str) -> None:
    """Prescribed motion out of the plane contradicts it."""
    for values, lost, what in ((held.displacement, flat[0], "displacement"), (held.turn, flat[1], "turn")):
        bad = np.flatnonzero(np.any(values[:, lost] != 0.0, axis=1))
        if len(bad):
            given = values[bad[0]].tolist()
            message = f"support at node {bad[0]} prescribes {what} {given}, out of the plane of motion (across {plane})"
            raise SupportConflictError(message)


def _released(rod: Rod, hinges: Sequence[Hinge]) -> BoolArray:
    out = np.zeros((rod.elements + 1, 3), bool)
    for hinge in hinges:
        i = node_index(rod, hinge.node, "hinge")
        out[i, list(components(hinge.released, ROTATIONS, "hinge"))] = True
    return out


def _springs(rod: Rod, foundation: Foundation | None) -> Array:
    """Stiffness of each node, shape (N + 1, 3, 3), or none."""
    if foundation is None:
        return np.zeros((0, 3, 3))
    line = per_element(rod, foundation.stiffness, (), "foundation stiffness")
    if foundation.directions == "transverse":
        t = np.diff(rod.points, axis=0) / rod.lengths[:, None]
        across = np.eye(3) - t[:, :, None] * t[:, None, :]
    else:
        kept = np.zeros(3)
        kept[list(components(foundation.directions, POSITIONS, "foundation"))] = 1.0
        across = np.broadcast_to(np.diag(kept), (rod.elements, 3, 3))
    share = 0.5 * (line * rod.lengths)[:, None, None] * across
    out = np.zeros((rod.elements + 1, 3, 3))
    out[:-1] += share
    out[1:] += share
    return out


def _model(
    s: Structure, held: Held, released: BoolArray, springs: Array, flat: tuple[BoolArray, BoolArray]
) -> tuple[tuple[int, ...], Model]:
    rod, n = s.rod, s.rod.elements
    tied_nodes: list[int] = np.flatnonzero(np.any(held.rotation, axis=1)).tolist()
    nodes = tuple(sorted(acting_on_sections(rod, s.loads) | set(tied_nodes) | rod.corners))
    at_node, at_frame, size = numbering(n, nodes)
    sides, joints, turned, offset = joints_of(rod, nodes, released)
    fixed, rate, scale = np.zeros(size, bool), np.zeros(size), np.ones(size)
    for a in range(3):
        fixed[at_node + a], rate[at_node + a] = held.position[:, a], held.displacement[:, a]
    for i in tied_nodes:
        k = at_frame[n + nodes.index(i)]
        fixed[k : k + 3] = held.rotation[i]
        rate[k : k + 3] = held.turn[i]
    metric = np.zeros(size)
    soft = float(np.mean(1.0 / np.mean(rod.half, axis=(0, 1)))) * 0.5 / n  # EI/L
    for a in range(3):
        fixed[at_node + a] |= flat[0][a]
        fixed[at_frame + a] |= flat[1][a]
        scale[at_frame + a] = n / rod.length
        metric[at_node + a] = soft * rod.tributary / rod.length**3
        metric[at_frame + a] = soft / n
    metric[fixed] = 0.0
    dead, force_at, force, moment_at, moment = forces_of(rod, nodes, s.loads)
    return nodes, Model(
        rod=RodArrays(rod.lengths, joints[0], rod.stretch, joints[1], joints[2], np.zeros((2, 4))),
        at_node=at_node,
        at_frame=at_frame,
        sides=sides,
        turned=turned,
        offset=offset,
        fixed=fixed,
        rate=rate,
        metric=metric,
        scale=scale,
        anchored=held.position | flat[0],
        tied=np.array([n + nodes.index(i) for i in tied_nodes], dtype=np.int64),
        loose=np.array([not np.all(held.rotation[i]) for i in tied_nodes], dtype=np.int64),
        origin=np.reshape([rod.sections[i, 0] for i in tied_nodes], (-1, 4)).astype(float),
        dead=dead,
        springs=springs,
        rest=rod.points,
        force_at=force_at,
        force=force,
        moment_at=moment_at,
        moment=moment,
    )
