"""What is wrong with a structure is said before any iteration, by kind and by name."""

import numpy as np
import pytest

from tipmech.rod.build import Section, rod_along, straight
from tipmech.rod.continuation import critical_point, switch, trace
from tipmech.rod.errors import (
    ComponentError,
    GeometryError,
    MechanismError,
    NodeError,
    NonFiniteError,
    RangeError,
    RigidityError,
    RodInputError,
    ShapeError,
    SupportConflictError,
)
from tipmech.rod.loads import Force, Foundation, LineLoad, Moment, weight
from tipmech.rod.solve import Control, displace, solve, solve_path
from tipmech.rod.structure import Structure
from tipmech.rod.supports import Hinge, Support, clamp, pin
from tipmech.validation.planar import _arch

S = Section(1.0, 1.0, 1.0, 1e4, 1e4, 1e4)
ROD = straight(1.0, 10, S)
LINE = np.linspace(0.0, 1.0, 6)[:, None] * np.array([0.0, 0.0, 1.0])
NAN = float("nan")


HELD_ROD = Structure(ROD, [clamp(0)], loads=[Force(-1, (0.1, 0.0, 0.0))])


def short_potential(x: np.ndarray) -> tuple[float, np.ndarray, np.ndarray]:
    return 0.0, np.zeros((5, 3)), np.zeros((5, 3, 3))


def with_point(i: int, value: object) -> np.ndarray:
    out = LINE.copy()
    out[i] = value
    return out


WRONG = [
    (ShapeError, "points have shape", lambda: rod_along(np.zeros((4, 2)), S)),
    (ShapeError, "points have shape", lambda: rod_along(np.zeros((1, 3)), S)),
    (NonFiniteError, r"points of a rod is nan at \(2, 0\)", lambda: rod_along(with_point(2, NAN), S)),
    (GeometryError, "element 2 has no length", lambda: rod_along(with_point(2, LINE[3]), S)),
    (GeometryError, "runs back on itself at node 2", lambda: rod_along(with_point(3, LINE[1]), S)),
    (GeometryError, "node 4 differ by more than 90 deg", lambda: rod_along(with_point(5, (1.0, 0.0, 0.7)), S)),
    (GeometryError, "director of element 0", lambda: rod_along(LINE, S, directors=(0.0, 0.0, 2.0))),
    (ShapeError, "directors has shape", lambda: rod_along(LINE, S, directors=np.ones((3, 3)))),
    (NonFiniteError, r"directors is nan at \(0,\)", lambda: rod_along(LINE, S, directors=(NAN, 0.0, 0.0))),
    (NodeError, "corner at node 5", lambda: rod_along(LINE, S, corners=[5])),
    (ShapeError, "2 sections for 5 stretches", lambda: rod_along(LINE, [S, S])),
    (GeometryError, r"breaks are \[1.5\]; allowed: increasing", lambda: rod_along(LINE, [S, S], breaks=[1.5])),
    (GeometryError, "length of a rod is -1.0 m", lambda: straight(-1.0, 10, S)),
    (GeometryError, "length of a rod is 0.0 m", lambda: straight(0.0, 10, S)),
    (RigidityError, "GJ of a section is 0", lambda: Section(1.0, 1.0, 0.0, 1.0, 1.0, 1.0)),
    (RigidityError, "EA of a section is nan", lambda: Section(1.0, 1.0, 1.0, 1.0, 1.0, NAN)),
    (RigidityError, "foundation stiffness", lambda: Foundation(-1.0)),
    (ComponentError, "support components 'xw'", lambda: Support(0, "xw")),
    (ComponentError, "does not hold", lambda: Support(0, "x", displacement=(0.0, 1.0, 0.0))),
    (NonFiniteError, "turn is nan", lambda: Support(0, turn=(NAN, 0.0, 0.0))),
    (ComponentError, "hinge components '4'", lambda: Hinge(1, "4")),
    (NonFiniteError, "force at node 3", lambda: Force(3, (0.0, NAN, 0.0))),
    (ShapeError, "moment at node 3", lambda: Moment(3, (0.0, 1.0))),
    (NonFiniteError, r"line load is nan at \(1,\)", lambda: LineLoad((0.0, NAN, 0.0))),
    (ShapeError, "line load has shape", lambda: LineLoad((0.0, 1.0))),
    (ShapeError, "line load has shape", lambda: Structure(ROD, [clamp(0)], loads=[LineLoad(np.ones((3, 3)))])),
    (ShapeError, "foundation stiffness", lambda: Structure(ROD, foundation=Foundation(np.ones(3)))),
    (GeometryError, "does not lie in a plane across z", lambda: Structure(ROD, [clamp(0)], plane="z")),
    (ComponentError, "plane is 'xy'", lambda: Structure(ROD, [clamp(0)], plane="xy")),
    (NodeError, "support at node 11", lambda: Structure(ROD, [clamp(11)])),
    (NodeError, "load at node -12", lambda: Structure(ROD, [clamp(0)], loads=[Force(-12, (0, 0, 1))])),
    (NodeError, "hinge at node 2.0", lambda: Structure(ROD, [clamp(0)], [Hinge(2.0)])),  # type: ignore[arg-type]
    (
        SupportConflictError,
        "node 10 prescribe component 'x' twice: 0.1 and 0",
        lambda: Structure(ROD, [clamp(0), Support(10, "x", "", displacement=(0.1, 0.0, 0.0)), pin(-1)]),
    ),
    (
        SupportConflictError,
        "component '3' twice",
        lambda: Structure(ROD, [clamp(0), Support(0, "", "3", turn=(0.0, 0.0, 0.2))]),
    ),
    (NonFiniteError, "load factors", lambda: solve(Structure(ROD, [clamp(0)]), NAN)),
    (NonFiniteError, "control values", lambda: displace(Structure(ROD, [clamp(0)]), Control(np.ones((11, 3))), [NAN])),
    (NodeError, "control at node 12", lambda: Control.of_node(Structure(ROD, [clamp(0)]), 12, "x")),
    (ShapeError, "weights of a control", lambda: displace(Structure(ROD, [clamp(0)]), Control(np.ones((3, 3))), [1.0])),
    (
        ShapeError,
        "another structure",
        lambda: solve(Structure(ROD, [clamp(0)]), start=solve(Structure(rod_along(LINE, S), [clamp(0)]))),
    ),
    (NonFiniteError, "step", lambda: trace(Structure(ROD, [clamp(0)]), step=NAN)),
    (NonFiniteError, "turn is inf", lambda: trace(HELD_ROD, step=0.1, turn=float("inf"))),
    (RangeError, "turn is 0.0", lambda: trace(HELD_ROD, step=0.1, turn=0.0)),
    (ShapeError, "until has shape", lambda: trace(HELD_ROD, step=0.1, until=(0.0, 1.0, 2.0))),  # type: ignore[arg-type]
    (ShapeError, "stop_at is 0", lambda: trace(HELD_ROD, step=0.1, stop_at=0)),
    (ShapeError, "max_points is nan", lambda: trace(HELD_ROD, step=0.1, max_points=NAN)),  # type: ignore[arg-type]
    (RangeError, "step is 0", lambda: critical_point(HELD_ROD, 1.0, step=0)),
    (
        ShapeError,
        "another structure",
        lambda: trace(HELD_ROD, step=0.1, away_from=solve(Structure(rod_along(LINE, S), [clamp(0)]))),
    ),
    (ShapeError, "one number each", lambda: solve(HELD_ROD, [1.0, 2.0])),  # type: ignore[arg-type]
    (ShapeError, "max_iterations is -1", lambda: solve(HELD_ROD, max_iterations=-1)),
    (ShapeError, "number of elements is 2.5", lambda: straight(1.0, 2.5, S)),  # type: ignore[arg-type]
    (GeometryError, "axis of a rod is", lambda: straight(1.0, 10, S, axis=(0.0, 0.0, 0.0))),
    (NonFiniteError, "length of a rod is nan", lambda: straight(NAN, 10, S)),
    (NodeError, "corner at node 1.5", lambda: rod_along(LINE, S, corners=[1.5])),  # type: ignore[list-item]
    (ShapeError, "1 sections for 2 stretches", lambda: rod_along(LINE, S, breaks=[0.5])),
    (NodeError, "control at node True", lambda: Control.of_node(HELD_ROD, True, "x")),
    (NodeError, "control at node 1.5", lambda: Control.of_node(HELD_ROD, 1.5, "x")),  # type: ignore[arg-type]
    (NonFiniteError, "weights of a control is nan", lambda: displace(HELD_ROD, Control(np.full((11, 3), NAN)), [0.1])),
    (NonFiniteError, "allowed: real numbers", lambda: Force(0, (1j, 0.0, 0.0))),  # type: ignore[arg-type]
    (NonFiniteError, "allowed: real numbers", lambda: Force(0, "abc")),  # type: ignore[arg-type]
    (ComponentError, "follower is 'no'", lambda: Force(0, (1.0, 0.0, 0.0), follower="no")),  # type: ignore[arg-type]
    (ShapeError, "displacement has shape", lambda: Support(0, displacement=(0.0, 0.0))),  # type: ignore[arg-type]
    (RangeError, "turn 7 rad with a free component", lambda: Support(0, "xyz", "3", turn=(0.0, 0.0, 7.0))),
    (GeometryError, "direction of the weight", lambda: weight(1.0, (0.0, 0.0, 0.0))),
    (RigidityError, "mass per length is -1", lambda: weight(-1.0)),
    (ComponentError, "supports is Support", lambda: Structure(ROD, clamp(0))),  # type: ignore[arg-type]
    (ComponentError, "loads is .None", lambda: Structure(ROD, [clamp(0)], loads=[None])),  # type: ignore[list-item]
    (ShapeError, "gradient and Hessian", lambda: solve(Structure(ROD, [clamp(0)], potential=short_potential))),
    *(
        (ComponentError, "plane of motion", lambda load=load: Structure(ROD, [clamp(0)], loads=[load], plane="y"))
        for load in (
            Force(3, (0.0, 1.0, 0.0)),
            Force(3, (0.0, 1.0, 0.0), follower=True),
            LineLoad((0.0, 1.0, 0.0)),
            LineLoad((0.0, 1.0, 0.0), follower=True),
            Moment(-1, (1.0, 0.0, 0.0)),
            Moment(-1, (0.0, 0.0, 1.0), follower=True),
        )
    ),
    *(
        (
            SupportConflictError,
            "out of the plane",
            lambda support=support: Structure(ROD, [clamp(0), support], plane="y"),
        )
        for support in (
            Support(-1, "y", "", displacement=(0.0, 0.1, 0.0)),
            Support(-1, "", "3", turn=(0.0, 0.0, 1.0)),
        )
    ),
]


@pytest.mark.parametrize(("kind", "words", "make"), WRONG, ids=[w[1] for w in WRONG])
def test_wrong_input_is_refused(kind, words, make) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(kind, match=words) as caught:
        make()
    assert isinstance(caught.value, RodInputError) and isinstance(caught.value, ValueError)


def test_loads_in_the_plane_pass() -> None:
    loads = [Force(3, (1.0, 0.0, 0.0), follower=True), Moment(-1, (0.0, 1.0, 0.0)), LineLoad((0.1, 0.0, 0.0))]
    assert solve(Structure(ROD, [clamp(0)], loads=loads, plane="y"), 0.1).converged


def test_what_is_given_is_copied() -> None:
    """A buffer that is used again does not change a load that was made of it."""
    buffer = np.array([1e-3, 0.0, 0.0])
    given = [Force(-1, buffer), LineLoad(buffer), Moment(-1, buffer), Force(-1, buffer, follower=True)]
    spring, motion = np.ones(10), np.array([0.0, 0.0, 0.1])
    foundation, support = Foundation(spring), Support(-1, "xyz", "", displacement=motion)  # type: ignore[arg-type]
    buffer[0], spring[0], motion[2] = NAN, NAN, NAN
    for load in given:
        assert np.all(np.isfinite(load.vector))
    assert np.all(np.isfinite(foundation.stiffness)) and support.displacement == (0.0, 0.0, 0.1)


def test_a_potential_without_an_energy_is_no_equilibrium() -> None:
    lost = Structure(ROD, [clamp(0)], potential=lambda x: (NAN, np.zeros_like(x), np.zeros((len(x), 3, 3))))
    assert not solve(lost).converged


FREE = [
    ("6 motions.*rotation about an axis along y.*spin about its own axis.*translation along x", [], []),
    ("1 motion .*spin about its own axis", [pin(0), pin(-1)], []),
    ("3 motions.*rotation about an axis along x.*spin", [pin(0)], []),
    ("1 motion .*translation along z", [Support(0, "xy"), Support(-1, "xy", "")], []),
    ("part from node 5 to node 10 is free in rotation about an axis along", [clamp(0)], [Hinge(5, "1")]),
    ("1 motion .*part from node", [clamp(0), Support(-1, "xy", "")], [Hinge(3, "1"), Hinge(6, "1")]),
    ("part from node 4 to node 10 is free in spin", [clamp(0), Support(-1, "xyz", "12")], [Hinge(4, "3")]),
]


@pytest.mark.parametrize(("words", "supports", "hinges"), FREE, ids=[f[0] for f in FREE])
def test_a_free_motion_is_named(words: str, supports: list[Support], hinges: list[Hinge]) -> None:
    with pytest.raises(MechanismError, match=words):
        Structure(ROD, supports, hinges)


HELD = [
    ([clamp(0)], [], None),
    ([Support(0, "xyz", "3"), pin(-1)], [], None),
    ([clamp(0), Support(-1, "xy", "")], [Hinge(3, "12")], None),
    ([Support(0, "", "3")], [], Foundation(1.0)),
    ([Support(0, "z", "3")], [], Foundation(1.0, "xy")),
    ([pin(0), Support(4, "x", "3"), Support(-1, "y", "")], [], None),
]


@pytest.mark.parametrize(("supports", "hinges", "foundation"), HELD)
def test_what_is_held_passes(supports: list[Support], hinges: list[Hinge], foundation: Foundation | None) -> None:
    s = Structure(ROD, supports, hinges, [Force(5, (1e-3, 0.0, 0.0))], foundation)
    assert solve(s).converged


END_SECTIONS = [
    ("node 0.*frees axis 1 and 2 and 3", [pin(0), clamp(-1)], Hinge(0, "123"), Moment(0, (0.1, 0.0, 0.0))),
    ("node 10.*frees axis 1 and 2", [clamp(0)], Hinge(-1, "12"), Force(-1, (0.1, 0.0, 0.0), follower=True)),
    ("node 0.*frees axis 2", [Support(0, "xyz", "13"), clamp(-1)], Hinge(0, "12"), Moment(0, (0.0, 0.0, 0.1))),
]


@pytest.mark.parametrize(("words", "supports", "hinge", "load"), END_SECTIONS, ids=[e[0] for e in END_SECTIONS])
@pytest.mark.parametrize("potential", [None, lambda x: (0.0, 0.0 * x, np.zeros((len(x), 3, 3)))])
def test_a_loaded_end_section_that_hangs_on_nothing_is_refused(  # type: ignore[no-untyped-def]
    words: str, supports: list[Support], hinge: Hinge, load: Force | Moment, potential
) -> None:
    with pytest.raises(MechanismError, match=words):
        Structure(ROD, supports, [hinge], [load], potential=potential)


@pytest.mark.parametrize(("rotation", "released"), [("3", "12"), ("13", "2"), ("3", "2")])
def test_a_hinge_where_nothing_is_held_changes_nothing(rotation: str, released: str) -> None:
    supports, load = [Support(0, "xyz", rotation), clamp(-1)], Force(5, (30.0, 20.0, 0.0))
    with_hinge, without = (solve(Structure(ROD, supports, hinges, [load])) for hinges in ([Hinge(0, released)], []))
    assert with_hinge.converged and np.max(np.abs(without.displacement)) > 0.05
    np.testing.assert_allclose(with_hinge.x, without.x, atol=1e-12)


def test_a_hinge_takes_the_moment_of_the_support_that_it_frees() -> None:
    """Held about 1 and 3, freed about 1 and 2: as held about 3 alone (to first order; small load)."""
    load = Force(5, (0.3, 0.2, 0.0))
    with_hinge = solve(Structure(ROD, [Support(0, "xyz", "13"), clamp(-1)], [Hinge(0, "12")], [load]))
    without = solve(Structure(ROD, [Support(0, "xyz", "3"), clamp(-1)], loads=[load]))
    assert with_hinge.converged
    np.testing.assert_allclose(with_hinge.displacement, without.displacement, atol=1e-3 * np.max(without.displacement))


def test_a_plane_holds_what_leaves_it() -> None:
    s = Structure(ROD, [pin(0), Support(-1, "x", "")], loads=[Force(5, (1.0, 0.0, 0.0))], plane="y")
    assert solve(s).converged
    with pytest.raises(MechanismError, match="1 motion .*rotation about an axis along y"):
        Structure(ROD, [pin(0)], plane="y")


def test_a_spring_in_one_direction_does_not_hold_the_other() -> None:
    with pytest.raises(MechanismError, match="translation along z"):
        Structure(ROD, [Support(0, "", "3")], foundation=Foundation(1.0, "xy"))


def test_a_free_spin_is_not_held_by_the_springs() -> None:
    with pytest.raises(MechanismError, match="spin about its own axis"):
        Structure(ROD, foundation=Foundation(1.0))


def test_what_is_not_reached_is_flagged() -> None:
    """A force that grows without bound on a soft rod: the last good state and the reason come back."""
    soft = straight(1.0, 10, Section(1.0, 1.0, 1.0, 1.0, 1.0, 1.0))
    s = Structure(soft, [clamp(0)], loads=[Force(-1, (0.0, 0.0, 1.0)), Force(5, (3.0, 0.0, 0.0), follower=True)])
    path = solve_path(s, [0.1, 0.2, 1e9, 2e9])
    assert [p.converged for p in path] == [True, True, False]
    assert path[-1].reason
    assert np.all(np.isfinite(path[-1].x))


def test_impossible_sections_are_refused() -> None:
    for diameter, poisson in ((-1e-3, 0.3), (0.0, 0.3), (float("nan"), 0.3), (1e-3, 0.9), (1e-3, -1.0)):
        with pytest.raises(RigidityError, match="allowed"):
            Section.of_round(200e9, diameter, poisson)


def test_a_control_of_two_components_is_refused() -> None:
    s = Structure(straight(1.0, 4, Section.of_round(200e9, 1e-3)), [clamp(0)])
    for component in ("xz", ""):
        with pytest.raises(ComponentError, match="one of"):
            Control.of_node(s, -1, component)


def test_a_force_across_the_plane_of_motion_is_refused() -> None:
    rod = straight(1.0, 4, Section.of_round(200e9, 1e-3))
    with pytest.raises(ComponentError, match="across the plane"):
        Structure(rod, [clamp(0)], loads=[Force(-1, (0.0, 1.0, 0.0))], plane="y")


def test_a_path_needs_a_range_that_holds_its_start() -> None:
    s = Structure(straight(1.0, 4, Section.of_round(200e9, 1e-3)), [clamp(0)], loads=[Force(-1, (1.0, 0.0, 0.0))])
    for until in ((0.2, 0.0), (1.0, 2.0)):
        with pytest.raises(RangeError, match="holds the start"):
            trace(s, step=0.1, until=until)


def test_no_branch_leaves_a_limit_point() -> None:
    limit = trace(_arch(40), step=0.5, until=20.0, stop_at=1).specials[0]
    assert limit.kind == "limit"
    with pytest.raises(RangeError, match="no branch leaves"):
        switch(limit)
