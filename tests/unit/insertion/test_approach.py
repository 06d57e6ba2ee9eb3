"""The whole wire laid along the vessel, and supports that are bent as it is."""

from dataclasses import replace
from math import exp

import numpy as np
import pytest
from insertion_cases import NUMERICS, SUPPORT, TEAR, make_case, make_scene

from tipmech.insertion.build import build
from tipmech.insertion.case import Move
from tipmech.insertion.run import advance
from tipmech.insertion.shape import laid_curvature, lay
from tipmech.outcome import Stop
from tipmech.rod.mesh import graded_lengths
from tipmech.vessel.scene import Centreline, Lumen, Plug

BEND = Centreline.arc(5e-3, 10e-3, 1.2, 40e-3, plane=0.3)
FOLLOWS = replace(SUPPORT, distance=6e-3, offset=(0.0, 0.0), follows=True)


def approach(**parts):
    scene = {"centreline": BEND, "tear": replace(TEAR, start=28e-3), "support": FOLLOWS}
    scene |= {"start": "approach", "tip_distance": 5e-3}
    return make_case(scene=make_scene(**scene | parts), bend=0.0)


def test_a_wire_is_laid_along_the_vessel_free_of_stress():
    case = approach()
    model, work, _ = build(case)
    nodes, frames, clamp, axis = lay(case)
    np.testing.assert_allclose(np.linalg.norm(np.diff(nodes, axis=0), axis=1), model.rod.length, rtol=1e-9)
    end, tangent, _, _ = BEND.frame(np.array([23e-3 - case.profile.tip_radius]))
    np.testing.assert_allclose(nodes[-1], end[0], atol=5e-6)  # chords of an arc: third order of the element over radius
    np.testing.assert_allclose(axis, [0.0, 0.0, 1.0], atol=1e-12)
    curvature = laid_curvature(frames, clamp, model.rod.span)
    assert np.max(np.linalg.norm(curvature, axis=1)) == pytest.approx(100.0, rel=1e-9)  # 1/m: that of the bend
    np.testing.assert_allclose(curvature[:, 2], 0.0, atol=1e-9)  # the frame turns as little as it can


def test_a_bent_support_made_straight_is_the_straight_one():
    straight = replace(SUPPORT, offset=(0.0, 0.0))
    line = Centreline((5e-3, 20e-3, 20e-3), (0.0, 0.0, 0.0), (0.0, 0.0, 0.0))
    case = make_case(5e-8, 40.0, scene=make_scene(centreline=line, support=straight))
    bent = replace(case, scene=replace(case.scene, support=replace(straight, follows=True)))
    a, b = advance(case), advance(bent)
    assert a.stop == b.stop
    assert len(a.push) == len(b.push)
    np.testing.assert_allclose(a.push[:60], b.push[:60], atol=1e-3 * np.max(np.abs(a.push[:60])))


@pytest.mark.parametrize("angle", [0.8, 1.6])
def test_push_through_a_bent_support_follows_the_capstan(angle):
    """dP_proximal / dP_distal = exp(mu theta) (Euler-Eytelwein): two pushes, so that what the bent wire adds by its
    stiffness falls out."""
    friction, arc, free = 0.3, 10e-3 * angle, 1.5e-3
    line = Centreline((2e-3, arc, 40e-3), (0.0, 100.0, 0.0), (0.0, 0.0, 0.0))
    numerics = replace(NUMERICS, elements=160, length=35e-3, longest=0.3e-3)
    pushes, forces = [], (0.01, 0.02)
    for force in forces:
        scene = make_scene(
            centreline=line,
            lumen=Lumen(0.25e-3),
            tear=replace(TEAR, start=arc + 14e-3, intact=True),
            support=replace(FOLLOWS, distance=11e-3, inner_radius=0.2e-3, friction=friction),
            start="approach",
            tip_distance=11e-3 - free,
            plug=Plug(arc + 5e-3, arc + 14e-3, force),
        )
        case = make_case(3e-8, 0.0, scene=scene, numerics=numerics, moves=(Move("advance", 3e-3),), friction=0.0)
        record = advance(case)
        assert record.stop == Stop.PROTOCOL_DONE
        assert record.force_plug[-1] == pytest.approx(force, rel=1e-6)
        pushes.append(record.push[-1])
    assert (pushes[1] - pushes[0]) / (forces[1] - forces[0]) == pytest.approx(exp(friction * angle), rel=0.03)


def test_elements_are_no_longer_than_wanted():
    lengths = graded_lengths(150e-3, 240, 1e-3)
    assert lengths.sum() == pytest.approx(150e-3, rel=1e-12)
    assert lengths.max() <= 1e-3
    assert np.all(np.diff(lengths) <= 1e-12)
    with pytest.raises(ValueError, match="do not make"):
        graded_lengths(150e-3, 100, 1e-3)


def test_a_plug_yields_at_its_force_and_closes_behind_the_wire():
    plug = Plug(14e-3, 16e-3, 0.01)
    scene = make_scene(tear=replace(TEAR, intact=True), plug=plug, support=replace(SUPPORT, offset=(0.0, 0.0)))
    moves = (Move("advance", 5e-3), Move("withdraw", 1.5e-3), Move("advance", 4e-3))
    record = advance(make_case(2e-7, 0.0, scene=scene, moves=moves))
    assert record.force_plug.max() == pytest.approx(plug.force, rel=1e-6)
    deep = int(np.argmax(record.feed >= 5e-3 - 1e-9))
    back = int(np.argmin(record.feed[deep:])) + deep
    assert record.plug[back] < record.plug[deep] - 0.8e-3
    assert record.force_plug[back] == 0.0
    assert record.lead_s[-1] > plug.end  # through, and free again
    assert record.force_plug[-1] < 1e-12
    first = record.plug[deep] - plug.start
    again = plug.end - record.plug[back]
    assert record.diss_plug[-1] == pytest.approx(plug.force * (first + again), rel=0.02)
    assert record.audit_error[-1] < 0.01
