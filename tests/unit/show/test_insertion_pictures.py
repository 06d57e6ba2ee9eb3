from dataclasses import replace
from math import cos, sin

import numpy as np
import pytest
from insertion_cases import CHANNEL, SUPPORT, TEAR, make_scene
from matplotlib.colors import to_rgb
from matplotlib.text import Text
from PIL import Image
from scipy.spatial.transform import Rotation
from synthetic import HEIGHT, LUMEN, RADIUS, make_case, make_outcome, make_record

from tipmech import CAUTION
from tipmech.insertion.case import Numerics, SecondTipBend, TipShape
from tipmech.insertion.opened import areas, opened
from tipmech.insertion.shape import natural_curvature
from tipmech.rod.mesh import graded_lengths
from tipmech.show import style
from tipmech.show.opened import opened_figure
from tipmech.show.section import bends_in_words, local_radius, save_section, section_figure
from tipmech.show.strip import choose_instants, film_strip, save_strip, spread
from tipmech.show.style import add_note, new_figure
from tipmech.show.view import bending, lifted_gap, lip_mode, project, rest_gap, support_axis, wires
from tipmech.vessel.build import build_walls
from tipmech.vessel.scene import Centreline
from tipmech.vessel.walls import flap_surface, stand_off


@pytest.mark.parametrize("azimuth", [0.0, 0.7, -2.5])
@pytest.mark.parametrize(
    "line",
    [
        Centreline.straight(50e-3),
        Centreline.arc(10e-3, 9e-3, 1.5, 20e-3, plane=0.4),
        Centreline.s_curve(5e-3, 8e-3, 1.0, 20e-3),
    ],
)
def test_projection_returns_the_coordinates_a_point_was_made_from(line, azimuth):
    rng = np.random.default_rng(1)
    s = rng.uniform(-5e-3, line.length + 3e-3, 200)
    depth, lateral = rng.uniform(-1.5e-3, 1.9e-3, 200), rng.uniform(-1e-3, 1e-3, 200)
    point, _, e1, e2 = line.frame(s)
    out, across = cos(azimuth) * e1 + sin(azimuth) * e2, cos(azimuth) * e2 - sin(azimuth) * e1
    tear, channel = replace(TEAR, azimuth=azimuth, start=1e-3), replace(CHANNEL, length=1e-3)
    scene = make_scene(centreline=line, tear=tear, channel=channel, support=replace(SUPPORT, distance=0.5e-3))
    got = project(scene, (point + depth[:, None] * out + lateral[:, None] * across).reshape(20, 10, 3))
    for value, wanted in zip(got, (s, depth, lateral), strict=True):
        assert value.shape == (20, 10)
        np.testing.assert_allclose(value.ravel(), wanted, atol=3e-7)


@pytest.mark.parametrize("longest", [None, 0.8e-3])
def test_bending_is_counted_from_the_shaped_form(longest):
    case = replace(make_case(), numerics=Numerics(elements=60, length=30e-3, longest=longest, imperfection=0.0))
    lengths = graded_lengths(30e-3, 60, longest)
    natural = natural_curvature(case, lengths)
    extra = np.array([40.0, -30.0, 0.0])  # 1/m, on top of the preshape

    def frames(curvature):
        span = 0.5 * (lengths[1:] + lengths[:-1])
        out = [Rotation.identity()]
        for k, h in zip(curvature[1:-1], span, strict=True):
            out.append(out[-1] * Rotation.from_rotvec(k * h))
        return np.array([r.as_quat()[[3, 0, 1, 2]] for r in out])

    np.testing.assert_allclose(bending(case, frames(natural)), 0.0, atol=1e-9)  # a wire that hangs free glows nowhere
    bent = bending(case, np.array([frames(natural), frames(natural + extra)]))
    np.testing.assert_allclose(bent[1, :-1], 50.0, rtol=1e-9)
    assert bent[1, -1] == 0.0 and np.max(bent[0]) < 1e-9


def test_drawn_flap_at_rest_is_the_one_the_contact_uses():
    scene = make_case().scene
    walls = build_walls(scene, 2 * RADIUS, 5e-6)
    for s in (22.0e-3, 22.3e-3, 23.4e-3, 25e-3, 26.7e-3, 27e-3):
        assert rest_gap(scene, np.array([s]), 27e-3)[0] == pytest.approx(stand_off(walls, s, 27e-3)[0], abs=1e-12)


def test_flap_is_drawn_over_the_wire_in_the_false_channel():
    record = make_record()
    wire = wires(record, [-1])[0]
    inside = (wire.side == 2) & (wire.s > 22.1e-3) & (wire.s < 26.5e-3)
    assert inside.sum() > 3
    gap = lifted_gap(record.case.scene, wire.s[inside], float(record.front[-1]), wire, 0.0)
    roof = LUMEN + HEIGHT - gap
    assert np.all(roof <= wire.depth[inside] - wire.radius[inside] + 1e-9)


@pytest.mark.parametrize("lip", [0.3e-3, 0.0, -0.02e-3, -5e-3])
def test_the_recorded_lip_lifts_the_drawn_flap_as_the_contact_has_it(lip):
    record = make_record()
    scene = record.case.scene
    walls = build_walls(scene, 2 * RADIUS, 5e-6)
    wire = wires(record, [0])[0]  # nowhere in the false channel
    assert not np.any(wire.side == 2)
    s = np.linspace(22.0e-3, 26.9e-3, 60)
    floor = LUMEN + scene.wall.flap_thickness
    wanted = np.array([floor - flap_surface(walls, x, lip, 27e-3, False)[0] for x in s]) - scene.wall.flap_thickness
    got = lifted_gap(scene, s, 27e-3, wire, lip)
    np.testing.assert_allclose(got, np.maximum(wanted, 0.0), atol=1e-12)
    assert got[0] - rest_gap(scene, s[:1], 27e-3)[0] == pytest.approx(max(lip, -got[0] - scene.tear.gap), abs=1e-9)
    root = scene.tear.end + scene.tear.lip_radius + scene.tear.lip_length
    np.testing.assert_array_equal(lip_mode(scene, np.array([scene.tear.end, root])), [1.0, 0.0])


def test_film_strip_draws_the_lip_of_each_row():
    record = make_record()
    lifted = replace(record, lip=np.full_like(record.lip, 0.5e-3))

    def top(which):
        axis = film_strip(which, make_outcome()).axes[0]
        flap = [p for p in axis.patches if p.get_facecolor()[:3] == to_rgb(style.FLAP)]
        assert len(flap) == 1
        return flap[0].get_path().vertices[:, 1].min()

    assert top(record) - top(lifted) == pytest.approx(0.5, abs=0.02)


def test_support_is_drawn_where_the_scene_puts_it():
    case = make_case(Centreline.arc(8e-3, 12e-3, 1.0, 25e-3), azimuth=0.6)
    s, depth, lateral = support_axis(case, 1e-3)
    assert s[-1] == pytest.approx(12e-3, abs=1e-6)
    assert depth[-1] == pytest.approx(0.0, abs=1e-6)
    assert depth[0] < depth[-1]
    assert np.abs(lateral).max() < 1e-4


def test_instants_come_from_the_record():
    record, outcome = make_record(), make_outcome()
    chosen = choose_instants(record, outcome)
    rows, texts = [r for r, _ in chosen], " | ".join(t for _, t in chosen)
    assert rows == sorted(set(rows))
    assert 5 <= len(rows) <= 8
    assert (rows[0], rows[-1]) == (0, len(record.feed) - 1)
    for word in ("start", "reaches the tear", "enters the false lumen", "first curl", "largest push", "end"):
        assert word in texts
    reached = next(r for r, t in chosen if "reaches" in t)
    assert record.feed[reached - 1] < outcome.reached <= record.feed[reached]
    never = replace(outcome, reached=float("nan"), entered=float("nan"), curled=float("nan"))
    assert "enters" not in " ".join(t for _, t in choose_instants(record, never))


def test_strip_says_outcome_sides_and_caution(tmp_path):
    figure = film_strip(make_record(Centreline.arc(15e-3, 12e-3, 1.0, 25e-3), azimuth=0.4), make_outcome())
    words = " ".join(t.get_text() for t in figure.texts)
    assert "Outcome: false lumen, curled" in words
    assert CAUTION in " ".join(words.split())
    inside = " ".join(t.get_text() for ax in figure.axes for t in ax.texts)
    assert "true lumen" in inside
    assert "false lumen" in inside
    for ax in figure.axes[:2]:
        assert ax.get_aspect() == 1.0
    with Image.open(save_strip(make_record(), make_outcome(), tmp_path / "strip.png")) as image:
        assert image.info["Comment"] == CAUTION
        assert min(image.size) > 1200
    assert [p.name for p in tmp_path.iterdir()] == ["strip.png"]


def test_section_drawing_dimensions_everything(tmp_path):
    case = make_case()
    figure = section_figure(case)
    words = " ".join(t.get_text() for ax in figure.axes for t in ax.texts)
    for text in (
        "lumen 3", "window 2", "false channel 5", "support to tear 8", "mouth gap 0.25", "flap 0.35", "lip radius 0.1",
        "wire 0.356", "room W 2", "thickness t 0.2", "half-width 1", "azimuth 0", "front (notch)", "true lumen",
    ):  # fmt: skip
        assert text in words, text
    assert CAUTION in " ".join(" ".join(t.get_text() for t in figure.texts).split())
    for start in ("lumen", "pocket"):
        scene = replace(case.scene, start=start, channel=replace(case.scene.channel, thickness=0.0))
        assert save_section(replace(case, scene=scene), tmp_path / f"{start}.png").stat().st_size > 20_000


@pytest.mark.parametrize(
    ("tear", "support"),
    [({}, {}), ({"gap": 0.9e-3, "length": 3e-3}, {"tilt": 1.48, "distance": 0.2e-3}), ({"length": 0.6e-3}, {})],
)
def test_labels_of_the_section_drawing_lie_apart(tear, support):
    case = make_case()
    scene = case.scene
    scene = replace(scene, tear=replace(scene.tear, **tear), support=replace(scene.support, **support))
    figure = section_figure(replace(case, scene=scene))
    figure.draw_without_rendering()
    boxes = [
        (t.get_text(), Text.get_window_extent(t))  # an annotation's own holds its arrow too
        for t in [*(t for ax in figure.axes for t in [*ax.texts, ax._left_title]), *figure.texts]
        if t.get_text()
    ]
    for k, (one, box) in enumerate(boxes):
        assert box.x0 >= 0.0 and box.x1 <= figure.bbox.width, one
        for two, other in boxes[k + 1 :]:
            assert not box.overlaps(other), f"{one} | {two}"


def test_section_drawing_says_that_a_shaped_tip_is_drawn_straight():
    case = make_case()
    words = section_figure(case)._suptitle.get_text()
    assert words.endswith("(unloaded; wire drawn straight, its tip is bent by 28.6° over 2.5 mm)")
    two = replace(case.tip_shape, second=SecondTipBend(0.2, 3e-3, 6e-3, 0.0))
    assert "28.6° over 2.5 mm and 11.5° over 3 mm" in bends_in_words(replace(case, tip_shape=two))
    assert bends_in_words(replace(case, tip_shape=TipShape())) == ""


def test_section_drawing_of_a_tapered_tip_has_the_wire_s_local_diameters():
    case = make_case()
    shaft = 0.178e-3
    radius = np.array([0.1e-3, shaft, shaft])
    rows = {key: np.interp([0.0, 1e-3, 0.1], case.profile.distance, getattr(case.profile, key)) for key in (
        "EI1", "EI2", "GJ", "EA", "GA", "mass"
    )}  # fmt: skip
    tapered = replace(case.profile, distance=np.array([0.0, 1e-3, 0.1]), radius=radius, tip_radius=0.1e-3, **rows)
    case = replace(case, profile=tapered)
    assert local_radius(case, 0.1e-3) == pytest.approx(0.1e-3)  # the dome's centre
    assert local_radius(case, 0.6e-3) == pytest.approx(0.139e-3)
    assert local_radius(case, 5e-3) == shaft
    words = " ".join(t.get_text() for ax in section_figure(case).axes for t in ax.texts)
    assert "wire 0.356" in words and "the wire, 0.356" in words and "0.2," not in words


def test_note_is_wrapped_into_the_figure():
    for width in (5.0, 9.0, 15.0):
        figure = new_figure(width, 3.0)
        add_note(figure, "first line " * 30)
        figure.canvas.draw()
        box = figure.texts[0].get_window_extent()
        assert 0 <= box.x0
        assert box.x1 <= figure.bbox.width
        assert CAUTION in " ".join(figure.texts[0].get_text().split())


def test_numbers_of_instants_stand_apart_and_in_order():
    at = np.array([0.0, 0.1, 5.0, 15.9, 16.0, 16.0])
    places = spread(at, 0.5)
    assert np.diff(places).min() > 0.5 - 1e-9
    assert places[2] == 5.0
    np.testing.assert_allclose(np.mean(places[3:]), np.mean(at[3:]))


def test_the_pocket_s_surface_and_the_unrolled_wall_are_seen_from_the_same_side():
    record = make_record()
    plan = film_strip(record, make_outcome()).axes[1]
    wall = opened_figure(record, make_outcome(), opened(record), areas(record)).axes[0]
    for ax in (plan, wall):
        low, high = ax.get_ylim()
        assert low < high, "z and azimuth grow upward in both"
