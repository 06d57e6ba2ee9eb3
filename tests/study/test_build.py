from dataclasses import replace
from math import cos, pi, radians, sin

import numpy as np
import pytest
from study.made_up import bench, make_spec

from tipmech.checks import FieldError
from tipmech.profile import uniform
from tipmech.study.build import (
    build_case,
    build_pocket_case,
    feasible,
    lateral_extent,
    local_support,
    place_point,
    scale_force,
)
from tipmech.study.inputs import UNKNOWNS, sobol_points
from tipmech.study.spec import BaseScene, Shared, softness_factor, study_hash
from tipmech.vessel.scene import Lumen

HALF = np.full(len(UNKNOWNS), 0.5)


def test_all_cells_share_the_drawn_values():
    spec = make_spec()
    u = sobol_points(spec)[5]
    cases = [build_case(spec, i, j, u, seed=3) for i in (0, 1) for j in (0, 1)]
    assert all(c.scene == cases[0].scene and c.friction == cases[0].friction and c.seed == 3 for c in cases)
    assert cases[1].tip_shape.angle - cases[0].tip_shape.angle == pytest.approx(0.5)
    assert cases[2].profile.EI1[0] == pytest.approx(4.0 * cases[0].profile.EI1[0])


def test_every_drawn_scene_is_possible():
    spec = make_spec(scrambles=16, points=16)
    for u in sobol_points(spec):
        case = build_case(spec, 0, 0, u)  # the scene's own checks run here
        scene = case.scene
        radius = spec.scene.radius_at(scene.tear.start - scene.support.distance)
        assert np.hypot(*scene.support.offset) <= radius - spec.scene.support_outer_radius + 1e-12
        assert scene.channel.room <= pi * (spec.scene.radius_at(scene.tear.start) + scene.wall.flap_thickness) + 1e-12
        assert case.profile.tip_radius <= case.profile.radius[0]
        assert scene.tear.start - scene.support.distance > 0.0
        assert case.moves[0].amount == pytest.approx(scene.support.distance + 12e-3)
        assert case.numerics.length >= case.moves[0].amount


def test_caps_are_counted():
    spec = make_spec()
    u = HALF.copy()
    median = place_point(spec, u)
    assert sum(median.capped.values()) == 0 and median.values["room"] == pytest.approx(2e-3, rel=0.02)
    u[[x.name for x in UNKNOWNS].index("room")] = 0.9999
    u[[x.name for x in UNKNOWNS].index("thickness")] = 0.9999
    point = place_point(spec, u)
    assert point.capped["room"] == point.capped["thickness"] == 1
    narrow = spec.scene.radius_at(spec.scene.tear_start + point.values["window_length"] + 13e-3)
    assert point.values["thickness"] == pytest.approx(2 * narrow - 1.5 * 2 * spec.base.radius.max())


def test_lateral_extent_is_that_of_the_arc():
    spec = make_spec(angles=(0.9,))
    s = np.linspace(0.0, 1.0, 20001)
    arc = spec.bend_length * np.trapezoid(np.sin(0.9 * s), s)
    assert lateral_extent(spec, 0.9) == pytest.approx(arc + 2 * spec.base.radius[0], rel=1e-7)
    assert lateral_extent(spec, 0.0) == pytest.approx(2 * spec.base.radius[0])


def test_long_bends_do_not_fit():
    spec = make_spec(angles=(radians(15), radians(75)), bend_length=4.2e-3)
    assert [feasible(spec, j) for j in (0, 1)] == [True, False]
    wide = replace(spec, scene=BaseScene(lumen=Lumen(2.5e-3, -0.005)))
    assert feasible(wide, 1)


@pytest.mark.parametrize("angle", [0.0, 0.2, 0.5])
def test_the_local_support_aims_at_the_lip_on_a_curved_vessel(angle):
    spec = make_spec(angles=(angle,), presentation="local")
    support = local_support(spec, angle)
    line, s_lip = spec.scene.centreline, spec.scene.tear_start
    centre, axis, e1, e2 = (v[0] for v in line.frame(np.array([s_lip - support.distance])))
    mouth = centre + support.offset[0] * e1 + support.offset[1] * e2
    side = cos(support.tilt_azimuth) * e1 + sin(support.tilt_azimuth) * e2
    aim = cos(support.tilt) * axis + sin(support.tilt) * side
    lip_centre, lip_axis, outward, _ = (v[0] for v in line.frame(np.array([s_lip])))
    lip = lip_centre + spec.scene.radius_at(s_lip) * outward
    assert np.linalg.norm(mouth + 3.5e-3 * aim - lip) < 1e-9
    assert np.arccos(aim @ lip_axis) == pytest.approx(angle, abs=1e-6)
    assert build_case(spec, 0, 0, HALF).tip_shape.angle == 0.0


def test_a_tilted_support_keeps_both_ends_of_its_straight_part_in_the_lumen():
    spec = make_spec(scene=BaseScene(support_tilt=0.25), angles=(0.3,), scrambles=8, points=8)
    assert feasible(spec, 0)
    for u in sobol_points(spec):
        s = build_case(spec, 0, 0, u).scene.support
        free = spec.scene.radius_at(spec.scene.tear_start - s.distance) - spec.scene.support_outer_radius
        back = np.hypot(s.offset[0] - 2e-3 * sin(0.25), s.offset[1])
        assert max(np.hypot(*s.offset), back) <= free + 1e-12


def test_pocket_case_starts_in_the_pocket_with_the_given_front_force():
    spec = make_spec()
    case = build_pocket_case(spec, 0, 1, HALF, front_force=0.02)
    assert case.scene.start == "pocket" and case.scene.channel.front_force == 0.02
    assert case.tip_shape.angle == spec.angles[1]
    assert case.stop.advance_past_tear <= case.moves[0].amount


def test_scale_is_two_ei_over_room_squared():
    wire = uniform(4e-8, 0.3, radius=0.2e-3)
    assert scale_force(wire, 2.4e-3) == pytest.approx(2 * 4e-8 / 2e-3**2)
    with pytest.raises(FieldError, match="room"):
        scale_force(wire, 0.4e-3)


def test_softness_factor_gives_the_load():
    wire = uniform(4e-8, 0.3)

    def curved(profile):  # not proportional, as with a plate the wire slips on
        return bench(profile) ** 0.8

    factor = softness_factor(wire, 3e-3, curved)
    assert curved(wire.softened(factor)) == pytest.approx(3e-3, rel=2e-3)


def test_a_load_out_of_reach_is_refused():
    with pytest.raises(FieldError, match=r"tip_load is .* reaches on the bench"):
        softness_factor(uniform(4e-8, 0.3), 1.0, lambda profile: 2e-3)


@pytest.mark.parametrize(
    ("options", "field"),
    [
        ({"points": 3}, "points"),
        ({"scrambles": 1}, "scrambles"),
        ({"angles": (radians(95),)}, "angles"),
        ({"angles": ()}, "angles"),
        ({"loads": (-1.0,)}, "tip_load"),
        ({"bend_length": float("nan")}, "bend_length"),
        ({"scene": BaseScene(tear_start=75e-3)}, "tear_start"),
        ({"feed_extra": 25e-3}, "numerics.length"),
        ({"workers": 0}, "workers"),
    ],
)
def test_impossible_studies_are_refused(options, field):
    with pytest.raises(ValueError, match=field):
        make_spec(**options)


def test_shared_unknowns_are_checked():
    with pytest.raises(FieldError, match="front_shape"):
        Shared(front_shape="round")
    with pytest.raises(FieldError, match="static_ratio"):
        Shared(static_ratio=0.9)


def test_hash_sees_everything_but_the_workers():
    spec = make_spec()
    base = study_hash("map", spec, "c")
    assert base == study_hash("map", replace(spec, workers=5), "c")
    others = [
        study_hash("map", replace(spec, seed=2), "c"),
        study_hash("map", spec, "d"),
        study_hash("threshold", spec, "c"),
        study_hash("map", replace(spec, shared=Shared(front_shape="flat")), "c"),
        study_hash("map", replace(spec, numerics=replace(spec.numerics, increment=5e-5)), "c"),
        study_hash("map", replace(spec, base=uniform(4.1e-8, 0.3)), "c"),
    ]
    assert len({base, *others}) == 7
