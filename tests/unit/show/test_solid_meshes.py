"""Meshes of an insertion in three dimensions: their surfaces are those of the model, in place and size."""

from dataclasses import replace
from math import pi, radians

import numpy as np
import pytest
from scipy.spatial import cKDTree
from synthetic import LUMEN, RADIUS, make_record
from unit.insertion.test_opened import opening

from tipmech.files.wire import read_wire
from tipmech.insertion.classify import travel
from tipmech.insertion.opened import FRONT, NEVER, opened
from tipmech.outcome import Stop
from tipmech.profile import uniform
from tipmech.show.solid import wire
from tipmech.show.solid.look import FREE_ROOM, OPENED, STRAIN
from tipmech.show.solid.parts import (
    COIL_SHOWN,
    MOVING,
    STANDING,
    flap_parts,
    moving_parts,
    opened_parts,
    vessel_parts,
    wire_parts,
)
from tipmech.show.solid.place import extent_of
from tipmech.show.solid.sheets import COLOUR
from tipmech.show.view import project
from tipmech.vessel.build import build_walls
from tipmech.vessel.layers import Layer, Layers
from tipmech.vessel.scene import Centreline, Lumen, Narrowing, Plug
from tipmech.vessel.walls import flap_surface, locate, lumen_radius
from tipmech.wire.design import profile

ROUND = 2e-8  # m: coordinates of meshes have four bytes, the polyline of the centreline is as near
BENT = Centreline.arc(15e-3, 25e-3, radians(50), 20e-3)
LAYERS = Layers(Layer(0.24e-3, 0.9e6), Layer(0.2e-3, 0.4e6), Layer(0.4e-3, 0.8e6), 0.54)


def points_of(mesh):
    return np.asarray(mesh.points, dtype=float)


def with_scene(record, **parts):
    return replace(record, case=replace(record.case, scene=replace(record.case.scene, **parts)))


def bent_record():
    """In a bend, the tear turning round the vessel, the lumen tapered and narrowed before the tear."""
    record = make_record(BENT, azimuth=0.7)
    lumen = Lumen(LUMEN, -0.004, Narrowing(14e-3, 16e-3, 1e-3, 0.4e-3))
    tear = replace(record.case.scene.tear, spiral=radians(4.0) / 1e-3)
    return with_scene(record, lumen=lumen, tear=tear)


def in_the_model(record, points):
    """Where the contact has points: s, r, angle from the tear's azimuth; and the lumen's radius there."""
    walls = build_walls(record.case.scene, 2.0 * float(record.case.profile.radius[0]), 5e-6)
    found = [locate(walls, *x) for x in points]
    radius = [lumen_radius(walls, p.s)[0] for p in found]
    return *(np.array([getattr(p, name) for p in found]) for name in ("s", "r", "phi")), np.array(radius)


def test_the_lumen_s_surface_has_the_radius_that_the_contact_has():
    record = bent_record()
    _, r, _, radius = in_the_model(record, points_of(vessel_parts(record.case)["cut-away side"])[::7])
    assert np.abs(r - radius).max() < 1e-6  # near joints of arcs the contact moves s a little


def test_the_inner_layer_lies_between_lumen_and_plane_and_leaves_window_and_plane_free():
    record = bent_record()
    tear, h = record.case.scene.tear, record.case.scene.wall.flap_thickness
    s, r, phi, radius = in_the_model(record, points_of(moving_parts(record, 0)["inner layer"])[::5])
    assert np.all((np.abs(r - radius) < 1e-6) | (np.abs(r - radius - h) < 1e-6))
    floor = float(record.case.scene.lumen.at(tear.end)) + h
    for first, last, half in ((tear.start, tear.end, 1e-3), (tear.end, tear.end + 5e-3, 1e-3)):
        inside = (s > first + 1e-5) & (s < last - 1e-5)
        assert inside.sum() > 40
        assert np.abs(phi[inside]).min() * floor > half - 1e-6


@pytest.mark.parametrize("lift", [0.0, 0.15e-3])
def test_the_flap_at_rest_is_that_of_the_contact(lift):
    record = bent_record()
    record = replace(record, lip=np.full(len(record.feed), lift))
    assert not np.any(record.side[0] == 2)
    scene = record.case.scene
    walls = build_walls(scene, 2.0 * float(record.case.profile.radius[0]), 5e-6)
    s, r, phi, _ = in_the_model(record, points_of(flap_parts(record, 0)["flap"]))
    middle = (np.abs(phi) < 1e-4) & (s > scene.tear.end + walls.rho + 1e-6)
    upper = np.array([flap_surface(walls, x, lift, float(record.front[0]), False)[0] for x in s[middle]])
    face = r[middle] < upper + 0.5 * scene.wall.flap_thickness
    assert face.sum() > 50
    assert np.abs(r[middle] - upper)[face].max() < 1e-6
    assert np.abs(r[middle] - upper - scene.wall.flap_thickness)[~face].max() < 1e-6


def test_the_flap_is_closed_at_margins_and_front_and_covers_the_wire():
    record = make_record()
    row = len(record.feed) - 6
    scene = record.case.scene
    s, r, phi, radius = in_the_model(record, points_of(moving_parts(record, row)["flap"]))
    scale, h = LUMEN + scene.wall.flap_thickness, scene.wall.flap_thickness
    margin = np.abs(np.abs(phi) * scale - 0.5 * scene.channel.room) < 1e-6
    under = r > radius + 0.5 * h  # the face toward the plane
    assert np.abs(r - radius - h)[margin & under & (s > scene.tear.end + 2e-4)].max() < 1e-6
    inside = np.flatnonzero(record.side[row] == 2)[:-1]
    nodes_s, nodes_r, nodes_phi, _ = in_the_model(record, record.positions[row][inside])
    for x, off, turn in zip(nodes_s, nodes_r, nodes_phi, strict=True):
        near = (np.hypot(s - x, (phi - turn) * scale) < 0.12e-3) & (r < radius)
        if x < record.front[row] - 0.5e-3 and near.any():
            assert r[near].max() <= off - RADIUS + 0.06e-3


def test_the_wire_is_as_thick_as_its_profile_along_its_line():
    record = make_record(BENT)
    thick = uniform(4e-8, 0.1)
    thick = replace(
        thick, distance=np.array([0.0, 5e-3, 0.1]), **{k: np.resize(getattr(thick, k), 3) for k in
        ("EI1", "EI2", "GJ", "EA", "GA", "mass")}, radius=np.array([0.1e-3, 0.18e-3, 0.2e-3]), tip_radius=0.12e-3,
    )  # fmt: skip
    record = replace(record, case=replace(record.case, profile=thick))
    for row in (0, -1):
        line = wire.line_of(record, row % len(record.feed))
        tube = points_of(wire_parts(record, row)["wire"])
        rings = wire_rings(record, row, tube)
        nodes = record.positions[row]
        at = {tuple(np.round(p, 9)) for p in line.points}
        assert {tuple(np.round(p, 9)) for p in nodes[-20:]} <= at  # its line goes through the nodes
        shown = line.points[-len(rings) :]
        wanted = thick.at("radius", line.distance[-len(rings) :])
        sizes = np.linalg.norm(rings - shown[:, None, :], axis=2)
        np.testing.assert_allclose(sizes, np.broadcast_to(wanted[:, None], sizes.shape), atol=ROUND)
        dome = tube[-wire.SIDES * wire.DOME_RINGS :]
        np.testing.assert_allclose(np.linalg.norm(dome - nodes[-1], axis=1), thick.tip_radius, atol=ROUND)


def wire_rings(record, row, points):
    """Rings of the tube, those of the shown line that are not cut by where it begins."""
    trunk = points[: -wire.SIDES * wire.DOME_RINGS].reshape(-1, wire.SIDES, 3)
    return trunk[1:]


def test_a_coil_s_turns_reach_the_wire_s_surface_and_turn_as_they_are_wound():
    design = read_wire("workhorse")
    record = make_record()
    record = replace(record, case=replace(record.case, profile=profile(design)))
    parts = moving_parts(record, -1, design)
    line = wire.line_of(record, len(record.feed) - 1, wire.UNDER_COIL)
    coil = wire.outer_coils(design)[0]
    turns, under = wire.coil_turns(line, coil, COIL_SHOWN)
    assert parts["coil"].n_points == len(turns.points)
    fine = wire.line_of(record, len(record.feed) - 1, between=60)
    nearest, _ = cKDTree(fine.points).query(turns.points)
    outer = 0.5 * (coil.mean_diameter + coil.wire_diameter)
    assert nearest.max() == pytest.approx(outer, rel=0.015)  # elements of 0.5 mm round a loop of 0.4 mm
    assert float(record.case.profile.radius[0]) == pytest.approx(outer, rel=1e-6)
    assert line.distance[under].max() <= COIL_SHOWN
    straight = np.zeros((40, 3))
    straight[:, 2] = np.linspace(0.0, 10e-3, 40)  # its tip's end at the top
    axes = [np.tile(v, (40, 1)) for v in np.eye(3)]
    flat = wire.Line(straight, axes[2], axes[0], axes[1], 10e-3 - straight[:, 2], *np.zeros((3, 40)))
    helix = wire.coil_turns(flat, coil, 1.0)[0].points[: -2 * (wire.COIL_SIDES + 1)]
    centres = helix.reshape(-1, wire.COIL_SIDES, 3).mean(axis=1)[::-1]
    turned = np.unwrap(np.arctan2(centres[:, 1], centres[:, 0]))
    assert coil.hand == "right"
    assert (turned[-1] - turned[0]) / (centres[-1, 2] - centres[0, 2]) == pytest.approx(2 * pi / coil.pitch, rel=1e-3)


def test_inner_coils_and_covered_ones_are_not_shown():
    assert wire.outer_coils(read_wire("slippery_jacketed")) == []
    for coil in wire.outer_coils(read_wire("stranded_shaped")):
        outer = 0.5 * (coil.mean_diameter + coil.wire_diameter)
        assert outer >= read_wire("stranded_shaped").radius(np.array([coil.start + 1e-3]))[0] - 1e-6


def test_the_plane_carries_when_each_place_was_opened():
    record, _ = opening(grown=1.2e-3)
    field = opened(record)
    path = travel(record)
    row = len(record.feed) - 1
    for row in (len(record.feed) // 2 + 4, len(record.feed) - 1):
        plane = opened_parts(record, row)["plane"]
        s, depth, lateral = project(record.case.scene, points_of(plane))
        sigma = np.arctan2(lateral, depth) * (LUMEN + record.case.scene.wall.flap_thickness)
        when = np.asarray(plane.point_data[OPENED])
        i = np.clip(np.searchsorted(field.s, s) - 1, 1, len(field.s) - 2)
        j = np.clip(np.searchsorted(field.sigma, sigma) - 1, 1, len(field.sigma) - 2)
        by, since = (np.stack([v[i + di, j + dj] for di in (-1, 0, 1) for dj in (-1, 0, 1)]) for v in
                     (field.by, field.since))  # fmt: skip
        even = np.all(since == since[0], axis=0)  # no border runs near
        for what in (2, FRONT):
            here = even & (by[0] == what) & (since[0] <= row)
            assert here.sum() > 30
            wanted = np.where(by[0] < FRONT, 0.0, path[since[0]])
            np.testing.assert_allclose(when[here], wanted[here], atol=1e-12)
        free = even & (since[0] == NEVER) & (np.abs(sigma) < 0.9e-3) & (s < record.front[row] - 2e-5) & (s > 27.02e-3)
        assert free.any() and np.all(np.isnan(when[free]))
        pale = np.asarray(plane.point_data[COLOUR])[free]
        assert np.all(pale == np.array([int(FREE_ROOM[k : k + 2], 16) for k in (1, 3, 5)]))
    assert when[np.abs(sigma) > 1.05e-3].max() > 0.0  # the margin


def test_the_plane_reaches_as_far_as_margins_and_front_were_opened():
    record, _ = opening(deep=0.3e-3, grown=1e-3)
    plane = points_of(opened_parts(record, -1)["plane"])
    s, depth, lateral = project(record.case.scene, plane)
    sigma = np.arctan2(lateral, depth) * (LUMEN + record.case.scene.wall.flap_thickness)
    assert s.max() == pytest.approx(28e-3, abs=1e-6)
    assert sigma.max() == pytest.approx(1.3e-3, abs=0.02e-3)
    assert sigma.min() == pytest.approx(-1e-3, abs=1e-6)


def test_each_part_has_its_name_normals_and_colours():
    record = make_record()
    record = with_scene(record, plug=Plug(24e-3, 28e-3, 0.04))
    record = replace(record, plug=np.linspace(24e-3, 25.5e-3, len(record.feed)), stop=int(Stop.OUTER_WALL_PIERCED))
    moving = moving_parts(record, -1)
    assert set(moving) == set(MOVING) - {"coil"}
    standing = vessel_parts(record.case, LAYERS)
    assert set(standing) == {"media", "adventitia", "cut-away side", "support"} and set(standing) <= set(STANDING)
    for part in (moving | standing).values():
        size = np.linalg.norm(np.asarray(part.point_data.active_normals), axis=1)
        np.testing.assert_allclose(size, 1.0, atol=1e-5)
        assert np.asarray(part.point_data[COLOUR]).shape == (part.n_points, 3)
        assert part.n_cells > 0 and np.all(np.isfinite(part.points))
    s, _, _ = project(record.case.scene, points_of(moving["plug"]))
    assert (s.min(), s.max()) == pytest.approx((25.5e-3, 28e-3), abs=1e-6)
    strain = np.asarray(moving["wire"].point_data[STRAIN])
    assert strain.max() > 0.05  # a loop of 0.4 mm


def test_layers_are_as_thick_as_they_are():
    record = make_record()
    for name, first, last in (("media", 1.85e-3, 1.942e-3), ("adventitia", 1.942e-3, 2.342e-3)):
        _, depth, lateral = project(record.case.scene, points_of(vessel_parts(record.case, LAYERS)[name]))
        off = np.hypot(depth, lateral)
        assert (off.min(), off.max()) == pytest.approx((first, last), abs=1e-6)


def test_a_whole_wall_has_neither_flap_nor_plane():
    record = make_record()
    tear = replace(record.case.scene.tear, intact=True, weak_toughness=0.8)
    record = with_scene(record, tear=tear)
    first = int(np.flatnonzero(np.any(record.side != 0, axis=1))[0])
    assert not {"flap", "plane", "front"} & set(moving_parts(record, first - 1))
    assert {"flap", "plane", "front"} <= set(moving_parts(record, first))
    assert "weak spot" in vessel_parts(record.case)
    whole = points_of(moving_parts(record, first - 1)["inner layer"])
    _, depth, lateral = project(record.case.scene, whole)
    assert np.abs(np.arctan2(lateral, depth)).min() < 1e-6  # closed over the tear's azimuth


def test_a_hole_is_open_in_the_flap_from_when_it_was_pierced():
    record = replace(make_record(), holes=np.array([[24e-3, 0.0, 0.2e-3, 20.0]]))
    before, after = (flap_parts(record, row)["flap"].n_cells for row in (19, 20))
    assert before > after
    centres = flap_parts(record, 20)["flap"].cell_centers().points
    s, depth, lateral = project(record.case.scene, np.asarray(centres, dtype=float))
    sigma = np.arctan2(lateral, depth) * (LUMEN + record.case.scene.wall.flap_thickness)
    assert np.hypot(s - 24e-3, sigma).min() > 0.17e-3


def test_rims_lie_just_outside_the_wire_and_look_inward():
    record = make_record()
    parts = wire_parts(record, -1)
    line = wire.line_of(record, len(record.feed) - 1)
    for name in ("rim outside", "rim inside"):
        skin = parts[name]
        points = points_of(skin)
        off = points[:, None, :] - line.points[None, :, :]
        nearest = np.argmin(np.linalg.norm(off, axis=2), axis=1)
        out = off[np.arange(len(points)), nearest]
        assert np.linalg.norm(out, axis=1).min() > RADIUS + 0.9 * wire.RIM
        faces = np.asarray(skin.regular_faces)
        corner = points[faces]
        normal = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
        toward = np.sum(normal * out[faces[:, 0]], axis=1)
        assert np.mean(toward[toward != 0.0] < 0.0) > 0.99  # a dome's last ring has no size
    side = record.side[-1]
    assert {2} <= set(side.tolist())


def test_the_wire_is_shown_from_where_its_support_is():
    record = make_record()
    s, _, _ = project(record.case.scene, points_of(wire_parts(record, -1)["wire"]))
    mouth = record.case.scene.tear.start - record.case.scene.support.distance
    assert mouth - 5.1e-3 < s.min() < mouth
    extent = extent_of(record.case)
    assert extent.first < mouth and extent.last > 27e-3 + 3e-3
