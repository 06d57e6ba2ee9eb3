"""Pictures of narrowing, plug, weak spot, spiral, holes, bent support; cross-sections, opened region, pairs."""

from dataclasses import replace
from math import pi, radians

import numpy as np
import pytest
from matplotlib.colors import to_rgb, to_rgba
from PIL import Image
from synthetic import make_case, make_outcome, make_record

from tipmech import CAUTION
from tipmech.insertion.opened import areas, opened
from tipmech.outcome import Label, Stop
from tipmech.show import draw, style, walls
from tipmech.show.breach import breaches
from tipmech.show.cross import _plane, cross_figure, crossings, cuts, flap_height, save_cross
from tipmech.show.opened import LOWEST, opened_figure, save_opened
from tipmech.show.pair import (
    INSTANTS,
    Run,
    choose_travels,
    force_lines,
    lead_lines,
    pair_strip,
    rows_at,
    save_pair,
)
from tipmech.show.section import section_figure
from tipmech.show.strip import film_strip
from tipmech.show.support import sleeve_of
from tipmech.show.view import Wire, support_axis, wires
from tipmech.vessel.build import floor_radius
from tipmech.vessel.scene import Lumen, Narrowing, OuterWall, Plug, Support

SHORT = ("feed", "turn", "positions", "quaternions", "side", "front", "lead_s", "push", "force_front", "tip_force")


def with_scene(record, **parts):
    return replace(record, case=replace(record.case, scene=replace(record.case.scene, **parts)))


def with_tear(record, **parts):
    return with_scene(record, tear=replace(record.case.scene.tear, **parts))


def words_of(figure):
    return " ".join(t.get_text() for ax in figure.axes for t in [*ax.texts, ax.title, ax._left_title]) + " ".join(
        t.get_text() for t in figure.texts
    )


def section_axis(record, row=-1):
    """Axis on which the walls of a record are drawn, with nothing else."""
    ax = style.new_figure(6, 3).add_subplot()
    scene = record.case.scene
    s = np.linspace(10e-3, 30e-3, 401)
    walls.draw_section(ax, scene, s, np.zeros_like(s), walls.at_row(record, row))
    return ax


def filled(ax, colour):
    """Vertices of what is filled with a colour, patches and collections."""
    found = [p.get_path().vertices for p in ax.patches if p.get_facecolor()[:3] == to_rgb(colour)]
    for c in ax.collections:
        if len(c.get_facecolor()) and np.allclose(c.get_facecolor()[0], to_rgba(colour)):
            found += [path.vertices for path in c.get_paths()]
    return np.concatenate(found) if found else np.empty((0, 2))


def test_a_narrowing_takes_the_lumen_and_leaves_the_vessel_s_outside():
    lumen = Lumen(1.5e-3, narrowing=Narrowing(14e-3, 16e-3, 1e-3, 0.8e-3))
    ax = section_axis(with_scene(make_record(), lumen=lumen))
    blue = filled(ax, style.TRUE_LUMEN)
    inside = blue[(blue[:, 0] > 14.2) & (blue[:, 0] < 15.8)]
    assert np.abs(inside[:, 1]).max() == pytest.approx(0.7, abs=1e-6)
    wall = filled(ax, style.WALL)
    np.testing.assert_allclose(np.unique(np.abs(wall[:, 1]).round(6)), [1.85, 2.25])
    assert len(filled(ax, walls.PLAQUE))


def test_a_plug_is_drawn_from_where_it_has_yielded_to():
    record = with_scene(make_record(), plug=Plug(24e-3, 28e-3, 0.04))
    record = replace(record, plug=np.linspace(24e-3, 25.5e-3, len(record.feed)))
    for row, start in ((0, 24.0), (-1, 25.5)):
        x = filled(section_axis(record, row), walls.PLUG)[:, 0]
        assert (x.min(), x.max()) == pytest.approx((start, 28.0), abs=0.051)
    assert "plug" in words_of(film_strip(record, make_outcome()))


def test_a_whole_wall_has_no_window_and_a_weak_spot_is_dotted_until_it_opens():
    record = with_tear(make_record(), intact=True, weak_toughness=0.8)
    first = int(np.flatnonzero(np.any(record.side != 0, axis=1))[0])
    assert not len(filled(section_axis(record, first - 1), style.FALSE_LUMEN))
    assert any(line.get_linestyle() == ":" for line in section_axis(record, first - 1).lines)
    assert len(filled(section_axis(record, first), style.FALSE_LUMEN))
    text = words_of(film_strip(record, make_outcome()))
    assert "wall whole; dotted: weak spot" in text and "reaches the mark" in text
    text = words_of(section_figure(record.case))
    assert "weak spot" in text and "mouth gap 0.25 once" in text and "false channel" not in text


def test_a_hole_is_a_gap_in_the_flap_from_the_increment_at_which_it_was_pierced():
    record = replace(make_record(), holes=np.array([[24e-3, 0.0, 0.2e-3, 20.0]]))
    assert not len(filled(section_axis(record, 19), "white"))
    gap = filled(section_axis(record, 20), "white")
    assert (gap[:, 0].min(), gap[:, 0].max()) == pytest.approx((23.8, 24.2), abs=0.051)


def test_a_node_in_a_hole_is_drawn():
    n = 30
    side = np.zeros(n, dtype=np.int64)
    side[10:20], side[20:22] = 2, 3
    even = np.linspace(20e-3, 26e-3, n)
    wire = Wire(even, 0 * even, 0 * even, 0 * even, 0 * even, 0 * even, np.full(n, 1e-4), side)
    ax = style.new_figure(6, 3).add_subplot()
    draw.draw_wire(ax, wire, wire.depth, None)
    over = [c for c in ax.collections if c.get_zorder() > 5]  # over the flap
    hole = even[20] * 1e3
    assert any(np.any(np.all(np.abs(p.vertices - [hole, 0.0]) < 0.11, axis=1)) for c in over for p in c.get_paths())
    under = [c for c in ax.collections if c.get_zorder() < 4]
    reach = [p.vertices[:, 0] for c in under for p in c.get_paths()]
    assert np.concatenate(reach).min() < even[10] * 1e3 - 0.15, "the piece through the mouth joins the two parts"


def test_depth_in_the_false_channel_is_the_distance_from_the_axis():
    record = make_record()
    wire = wires(record, [-1])[0]
    behind = wire.side == 2
    assert behind.any() and np.abs(wire.lateral[behind]).max() > 0.3e-3
    np.testing.assert_allclose(wire.depth[behind], np.hypot(wire.across, wire.lateral)[behind])
    np.testing.assert_array_equal(wire.depth[~behind], wire.across[~behind])


def test_a_support_that_follows_the_vessel_is_drawn_on_its_axis():
    record = make_record()
    scene = record.case.scene
    support = Support(8e-3, 0.0, 0.0, (0.0, 0.0), 0.22e-3, follows=True)
    s, depth, lateral = support_axis(replace(record.case, scene=replace(scene, support=support)), 2e-3)
    assert (s[0], s[-1]) == pytest.approx((10e-3, 12e-3)) and not np.any(depth) and not np.any(lateral)


@pytest.mark.parametrize(("tilt", "offset", "broken"), [(0.0, 0.0, False), (0.6, -0.3e-3, True), (0.8, -1.1e-3, True)])
def test_a_support_is_drawn_as_far_as_it_lies_in_the_vessel(tilt, offset, broken):
    case = make_case()
    case = replace(case, scene=replace(case.scene, support=Support(3e-3, tilt, 0.0, (offset, 0.0), 0.22e-3)))
    sleeve, lumen = sleeve_of(case), case.scene.lumen.radius
    assert sleeve.broken == broken
    for inner, outer in zip(sleeve.inner, sleeve.outer, strict=True):
        assert np.abs(inner[:, 1]).max() < lumen + 0.11e-3 and np.abs(outer[:, 1]).max() < lumen + 0.11e-3
        assert np.hypot(*(outer - inner).T).max() < 0.121e-3
    middle = 0.5 * (sleeve.inner[0][-1] + sleeve.inner[1][-1])
    np.testing.assert_allclose(middle, [case.scene.tear.start - 3e-3, offset], atol=1e-9)
    figure = section_figure(case)
    body = filled(figure.axes[0], style.SUPPORT)
    assert np.abs(body[:, 1]).max() < 1.61 and ("zigzag" in words_of(figure)) == broken
    behind = [c for c in figure.axes[0].collections if c.get_clip_path() is not None and c.get_zorder() >= 5.0]
    assert bool(behind) == broken, "the wire in it is not drawn behind the break"


def test_a_support_in_the_plane_lies_on_its_floor_and_ends_at_the_upstream_lip():
    record = with_scene(make_record(), start="pocket", support=Support(0.0, 0.0, 0.0, (0.0, 0.0), 0.22e-3))
    sleeve, tear = sleeve_of(record.case), record.case.scene.tear
    floor = 1.5e-3 + record.case.scene.wall.flap_thickness
    low = max(sleeve.inner, key=lambda edge: edge[-1, 1])
    np.testing.assert_allclose(low[:, 1], floor, atol=1e-9)
    assert low[0, 0] == pytest.approx(tear.start, abs=0.06e-3) and sleeve.broken


def test_the_section_says_what_it_cannot_dimension():
    scene = make_case().scene
    scene = replace(
        scene,
        wall=replace(scene.wall, outer=OuterWall(0.9e6, 2000.0)),
        plug=Plug(24e-3, 28e-3, 0.04),
        lumen=Lumen(1.5e-3, narrowing=Narrowing(14e-3, 16e-3, 1e-3, 0.8e-3)),
        tear=replace(scene.tear, spiral=radians(6.0) / 1e-3),
    )
    figure = section_figure(replace(make_case(), scene=scene))
    text = " ".join(words_of(figure).split())
    for word in (
        "outer wall 0.9 MPa, 2000", "flap 0.6 MPa", "narrowing 14 to 16", "plug 24 to 28, yields at 40", "6°/mm",
        "azimuth 15° from",  # 2.5 mm behind the lip
    ):  # fmt: skip
        assert word in text, word


def test_cuts_show_the_wire_where_it_passes():
    record = make_record()
    wire = wires(record, [-1])[0]
    s = 24e-3
    found = crossings(wire, s)
    assert len(found) == 1
    off, around, radius, side = found[0]
    assert side == 2 and around == pytest.approx(0.0, abs=1e-3) and radius == pytest.approx(0.178e-3)
    on = int(np.argmax(wire.s)) + 1
    assert off == pytest.approx(np.interp(s, wire.s[:on], wire.depth[:on]), abs=2e-5)
    assert len(crossings(wire, 26.7e-3)) == 2  # the curl passes twice
    assert crossings(wire, 29e-3) == []
    g = np.linspace(-1e-3, 1e-3, 201)
    height = flap_height(record, -1, s, walls.at_row(record, -1), found, g, (-1e-3, 1e-3))
    assert height[0] == height[-1] == 0.0
    floor = 1.5e-3 + record.case.scene.wall.flap_thickness
    assert height[100] >= floor - off + radius - 1e-9, "the flap lies over the wire"


@pytest.mark.parametrize("around", [0.0, 0.3, -0.38])
def test_the_drawn_flap_clears_the_whole_wire_and_keeps_its_thickness(around):
    record = make_record()
    scene, s, radius = record.case.scene, 24e-3, 0.178e-3
    h = scene.wall.flap_thickness
    floor, half = 1.5e-3 + h, 0.5 * scene.channel.room
    found = [(floor - 0.5e-3, around, radius, 2)]
    ax = style.new_figure(4, 4).add_subplot()
    _plane(ax, record, -1, s, walls.at_row(record, -1), found)
    (flap,) = [p.get_path().vertices for p in ax.patches if p.get_facecolor()[:3] == to_rgb(style.FLAP)]
    centre = 1e3 * found[0][0] * np.array([np.cos(around), np.sin(around)])
    assert np.hypot(*(flap - centre).T).min() > 1e3 * radius
    g = np.linspace(-half, half, 200)
    roof = floor - flap_height(record, -1, s, walls.at_row(record, -1), found, g, (-half, half))
    under = 1e3 * np.column_stack([roof * np.cos(g / floor), roof * np.sin(g / floor)])
    over = flap[len(flap) // 2 : -1]
    apart = np.linalg.norm(over[:, None] - under[None], axis=2).min(axis=1)
    between = np.abs(np.arctan2(over[:, 1], over[:, 0])) < 0.8 * half / floor
    np.testing.assert_allclose(apart[between], 1e3 * h, rtol=0.02)


def test_cross_sections_have_their_places_and_the_caution(tmp_path):
    record = make_record()
    figure = cross_figure(record, make_outcome(), title="made up")
    text = words_of(figure)
    for word in ("middle of the window", "behind the downstream lip", "middle of the first plane", "made up"):
        assert word in text
    assert CAUTION in " ".join(text.split())
    assert all(ax.get_aspect() == 1.0 for ax in figure.axes)
    assert len(cuts(with_tear(record, intact=True))) == 2
    assert "weak spot" in cuts(with_tear(record, intact=True, weak_toughness=1.0))[0][0]
    spiral = with_tear(record, spiral=radians(6.0) / 1e-3)
    plugged = with_scene(spiral, plug=Plug(21e-3, 28e-3, 0.04), lumen=Lumen(1.5e-3, -0.004))
    plugged = replace(plugged, plug=np.full(len(record.feed), 22e-3), holes=np.array([[24.5e-3, 0.2e-3, 0.3e-3, 3.0]]))
    with Image.open(save_cross(plugged, make_outcome(), tmp_path / "cross.png")) as image:
        assert image.info["Comment"] == CAUTION


def retrograde_record():
    """A record with a plane behind the upstream lip, whose front moves from 19 to 18.6 mm, the tip in it."""
    record = make_record()
    record = with_scene(record, channel=replace(record.case.scene.channel, retrograde=1e-3, thickness=0.5e-3))
    n = len(record.feed)
    back = 19e-3 - 0.4e-3 * np.clip(record.feed / record.feed[-1] * 2.0 - 1.0, 0.0, 1.0)
    return replace(record, front_back=back, force_front_back=record.push, margins=np.zeros((n, 4, 60)))


def test_the_vessel_is_cut_where_something_happened():
    record = make_record()
    assert len(cuts(record)) == 3
    holed = replace(record, holes=np.array([[24e-3, 0.0, 0.2e-3, 20.0], [24.6e-3, 0.0, 0.2e-3, 21.0]]))
    assert len(cuts(holed, 19)) == 3, "not pierced yet"
    assert cuts(holed, 20)[-1] == ("middle of the hole in the flap", pytest.approx(24e-3))
    assert cuts(holed)[-1] == ("middle of the hole in the flap", pytest.approx(24.3e-3)), "two places, one slit"
    back = retrograde_record()
    assert len(cuts(back, 5)) == 3, "there, but neither opened nor entered"
    assert cuts(back)[0] == ("middle of the plane behind the upstream lip", pytest.approx(19.3e-3))
    pierced = replace(record, stop=int(Stop.OUTER_WALL_PIERCED))
    wire = wires(record, [-1])[0]
    assert cuts(pierced)[-1] == ("where the outer wall was pierced", pytest.approx(wire.s[-1]))
    assert len(cuts(pierced, 5)) == 3
    text = words_of(cross_figure(pierced, make_outcome()))
    assert "where the outer wall was pierced\ncut at s = " in text and "as deep as it sinks in" in text
    assert "outer wall pierced" in key_of(cross_figure(pierced, make_outcome())) and "outer wall pierced" not in key_of(
        cross_figure(record, make_outcome())
    )


@pytest.mark.parametrize("thickness", [0.2e-3, 1.0e-3])
def test_the_front_s_line_stands_in_the_flap_s_thickness_however_far_the_channel_is_distended(thickness):
    record = make_record()
    record = with_scene(record, channel=replace(record.case.scene.channel, thickness=thickness))
    scene, front = record.case.scene, float(record.front[0])
    ax = style.new_figure(4.0, 3.0).add_subplot()
    s = np.linspace(15e-3, 30e-3, 100)
    walls.draw_section(ax, scene, s, np.zeros_like(s), walls.at_start(scene))
    upright = [line.get_data() for line in ax.lines if len(set(line.get_xdata())) == 1]
    inner = float(scene.lumen.at(np.array(front)))
    assert len(upright) == 1
    np.testing.assert_allclose(upright[0][0], 1e3 * front)
    np.testing.assert_allclose(sorted(upright[0][1]), [1e3 * inner, 1e3 * (inner + scene.wall.flap_thickness)])


def test_wire_in_the_false_lumen_is_seen_through_the_pale_wire_over_it():
    wire = wires(make_record(), [-1])[0]
    ax = style.new_figure(4.0, 3.0).add_subplot()
    draw.draw_wire(ax, wire, wire.around, None, faint_true=True)
    orders = {to_rgba(style.FALSE_OUTLINE): [], "pale": []}
    for drawn in ax.collections:
        colour = tuple(drawn.get_facecolor()[0])
        orders[colour if colour in orders else "pale"].append(drawn.get_zorder())
    pale = [order for order in orders["pale"] if order < min(orders[to_rgba(style.FALSE_OUTLINE)])]
    assert len(pale) == 2, "outline and fill of what lies elsewhere"


def key_of(figure):
    (key,) = figure.legends
    return [text.get_text() for text in key.get_texts()]


def test_the_key_of_the_cross_sections_names_what_is_drawn_once_and_hides_nothing():
    record = make_record()
    plain = ["outer wall", "inner layer, attached", "true lumen, window", "azimuth of the tear"]
    assert sorted(key_of(cross_figure(record, make_outcome()))) == sorted(
        [
            *plain,
            "false lumen (the plane)",
            "floor of the plane",
            "flap",
            "wire in the false lumen",
            "wire outside the false lumen",
        ]
    )
    narrow = with_scene(
        with_tear(record, intact=True), lumen=Lumen(1.5e-3, narrowing=Narrowing(18e-3, 24e-3, 1e-3, 0.8e-3))
    )
    narrow = replace(narrow, side=np.zeros_like(record.side))
    assert sorted(key_of(cross_figure(narrow, make_outcome()))) == sorted(
        [*plain, "narrowing", "wire outside the false lumen"]
    )
    figure = cross_figure(record, make_outcome())
    figure.draw_without_rendering()
    box = figure.legends[0].get_window_extent()
    assert all(box.y1 < ax.get_tightbbox().y0 for ax in figure.axes)
    assert figure.texts[-1].get_window_extent().y1 < box.y0


def test_the_tip_s_dome_alone_is_a_crossing():
    wire = wires(make_record(), [3])[0]
    tip, radius = float(wire.s[-1]), float(wire.radius[-1])
    assert [round(r, 9) for _, _, r, _ in crossings(wire, tip)] == [round(radius, 9)]
    ((_, _, size, _),) = crossings(wire, tip + 0.6 * radius)
    assert size == pytest.approx(0.8 * radius)
    assert crossings(wire, tip + 1.01 * radius) == []


def test_the_plane_behind_the_upstream_lip_is_drawn_as_the_other_one_mirrored():
    record = retrograde_record()
    scene, at = record.case.scene, walls.at_row(record, -1)
    ahead, behind = 22.3e-3, scene.tear.start + scene.tear.end - 22.3e-3
    at = replace(at, front=scene.tear.start + scene.tear.end - at.back)
    g = np.linspace(-1e-3, 1e-3, 201)
    record = replace(record, lip=0.0 * record.lip)
    one, two = (flap_height(record, -1, s, at, [], g, (-1e-3, 1e-3)) for s in (ahead, behind))
    np.testing.assert_allclose(one, two)
    figure = cross_figure(record, make_outcome())
    for k, there in ((0, True), (1, False)):
        assert bool(len(filled(figure.axes[k], style.FALSE_LUMEN))) == there


@pytest.mark.parametrize(
    ("stop", "words"),
    [
        (Stop.OUTER_WALL_PIERCED, "outer wall pierced here"),
        (Stop.INTIMA_PIERCED, "intima pierced here"),
        (Stop.FLAP_PIERCED, "flap pierced here"),
    ],
)
def test_a_breach_is_marked_on_the_unrolled_wall(stop, words):
    record = replace(make_record(), stop=int(stop))
    figure = opened_figure(record, make_outcome(), opened(record), areas(record))
    (mark,) = (line for line in figure.axes[0].lines if line.get_marker() == "X")
    tip = next(line for line in figure.axes[0].lines if line.get_label() == "tip")
    np.testing.assert_allclose([mark.get_xdata()[0], mark.get_ydata()[0]], [tip.get_xdata()[0], tip.get_ydata()[0]])
    assert words in [t.get_text() for t in figure.axes[0].get_legend().get_texts()]
    low, high = figure.axes[0].get_xlim()
    assert low < mark.get_xdata()[0] < high


def test_a_weak_spot_through_which_the_wire_went_on_is_a_breach_where_it_opened():
    record = with_tear(make_record(), intact=True, weak_toughness=0.8)
    first = int(np.flatnonzero(np.any(record.side != 0, axis=1))[0])
    (breach,) = breaches(record)
    assert breach.words == "weak spot pierced" and breach.s == pytest.approx(wires(record, [first])[0].s[-1])
    assert breaches(record, first - 1) == [] and breaches(make_record()) == []


def test_the_wire_lies_in_what_the_unrolled_wall_shows_as_open():
    """The front has opened less than the room W, in which a wire may lie ahead of where it was first."""
    record = make_record()
    assert record.front[-1] > record.front[0]
    ax = opened_figure(record, make_outcome(), opened(record), areas(record)).axes[0]
    (room,) = [p.get_path().vertices for p in ax.patches if p.get_hatch() == ".."]
    assert (room[:, 0].min(), room[:, 0].max()) == pytest.approx((1e3 * record.front[0], 1e3 * record.front[-1]))
    half = np.degrees(0.5 * record.case.scene.channel.room / floor_radius(record.case.scene))
    assert (room[:, 1].min(), room[:, 1].max()) == pytest.approx((-half, half))


def test_no_limit_of_the_unrolled_wall_is_ignored(caplog):
    record = make_record()
    channel = replace(record.case.scene.channel, room=0.4e-3, length=14e-3)
    narrow = replace(with_tear(with_scene(record, channel=channel), half_width=0.2e-3), front=0 * record.front + 36e-3)
    for one in (record, narrow):
        figure = opened_figure(one, make_outcome(), opened(one), areas(one))
        figure.draw_without_rendering()
    box = figure.axes[0].get_position()
    height = box.height * figure.get_size_inches()[1]
    assert height == pytest.approx(LOWEST, rel=1e-6), "the lowest map, all of it used"
    assert not caplog.records


def test_the_opened_region_is_drawn_with_its_areas_and_the_caution(tmp_path):
    record = make_record()
    n = len(record.feed)
    margins = np.zeros((n, 2, 60))
    margins[12:, 1, 20:26] = 0.2e-3
    record = replace(record, margins=margins, holes=np.array([[24e-3, 0.0, 0.2e-3, 20.0]]))
    record = replace(record, opened_area=areas(record).front + areas(record).margins)
    figure = opened_figure(record, make_outcome(), opened(record), areas(record), "made up")
    text = words_of(figure)
    assert "plane at the start 10.0 mm²" in text and "margins 0.14" in text and "1 times through the flap" in text
    assert CAUTION in " ".join(text.split())
    labels = [t.get_text() for t in figure.axes[0].get_legend().get_texts()]
    for word in (
        "window",
        "plane at the start, distended by 0.2 mm",
        "room of the wire ahead of the first front",
        "hole in the flap",
        "wire at the end, in the false lumen",
        "tip",
    ):
        assert word in labels
    whole = with_tear(replace(record, side=0 * record.side), intact=True)
    assert "nothing was opened" in words_of(opened_figure(whole, make_outcome(), opened(whole), areas(whole)))
    with Image.open(
        save_opened(record, make_outcome(), opened(record), areas(record), tmp_path / "opened.png")
    ) as image:
        assert image.info["Comment"] == CAUTION


def two_runs():
    record, outcome = make_record(), make_outcome()
    other = replace(outcome, label=int(Label.TRUE_LUMEN), entered=float("nan"), curled=float("nan"), reached=6e-3)
    shorter = replace(record, **{name: getattr(record, name)[:18] for name in (*SHORT, "margins", "front_centre")})
    for name in (
        "lip",
        "plug",
        "tip_angle",
        "tip_s",
        "energy_elastic",
        "energy_contact",
        "diss_friction",
        "diss_front",
        "work_hand",
        "force_lip",
        "force_floor",
        "force_hole",
        "force_lip_along",
        "force_front_back",
    ):
        shorter = replace(shorter, **{name: getattr(record, name)[:18]})
    return Run("soft", record, outcome), Run("stiff", shorter, other)


def test_two_insertions_are_shown_at_the_same_travel():
    runs = two_runs()
    travels = choose_travels(runs)
    assert len(travels) == INSTANTS and travels == sorted(travels)
    assert travels[-1] == pytest.approx(17.5e-3)
    assert any(abs(at - (8.2e-3 + 3e-3)) < 1e-9 for at in travels), "entry of the one"
    for run in runs:
        rows = rows_at(run.record, travels)
        for row, at in zip(rows, travels, strict=True):
            last = len(run.record.feed) - 1
            assert run.record.feed[row] >= at - 1e-9 or row == last
            assert row == 0 or run.record.feed[row - 1] < at
    figure = pair_strip(runs, "made up")
    text = words_of(figure)
    for word in ("made up", "soft: false lumen, curled", "stiff: true lumen", "ended"):
        assert word in text
    assert CAUTION in " ".join(text.split())
    left, right = figure.axes[0], figure.axes[2]
    assert left.get_xlim() == right.get_xlim() and left.get_ylim() == right.get_ylim()


def test_the_strip_of_two_has_both_fronts_and_the_forces_on_them():
    record = retrograde_record()
    assert list(force_lines(record)) == ["push", "tip", "front", "front behind the upstream lip"]
    leads = lead_lines(record)
    np.testing.assert_allclose(leads["front behind the upstream lip"], record.front_back - 22e-3)
    assert list(force_lines(make_record())) == ["push", "tip", "front"]
    assert list(lead_lines(make_record())) == ["leading point", "front"]
    whole = with_tear(replace(make_record(), side=0 * record.side), intact=True)
    assert list(force_lines(whole)) == ["push", "tip"] and list(lead_lines(whole)) == ["leading point"]
    soft, stiff = two_runs()
    figure = pair_strip((replace(soft, record=record), stiff), "made up")
    forces, places = figure.axes[-2:]
    told = [t.get_text() for ax in (forces, places) for t in ax.get_legend().get_texts()]
    assert told.count("front behind the upstream lip, soft") == 2 and told.count("front, stiff") == 2
    assert "front behind the upstream lip, stiff" not in told


def test_legends_lie_on_no_curve():
    record = retrograde_record()
    soft, stiff = two_runs()
    figures = [pair_strip((replace(soft, record=record), stiff)), film_strip(record, make_outcome())]
    figures.append(opened_figure(make_record(), make_outcome(), opened(make_record()), areas(make_record())))
    for figure in figures:
        figure.draw_without_rendering()
        notes = [text.get_window_extent() for text in figure.texts]
        legends = [(ax, ax.get_legend()) for ax in figure.axes if ax.get_legend()]
        assert legends
        for _, legend in legends:
            box = legend.get_window_extent()
            assert not any(ax.get_window_extent().overlaps(box) for ax in figure.axes)
            assert not any(note.overlaps(box) for note in notes)
            assert not any(box.overlaps(other.get_window_extent()) for _, other in legends if other is not legend)
            assert box.x0 >= 0.0 and box.x1 <= figure.bbox.width and box.y0 >= 0.0


def test_the_strip_of_two_carries_the_caution(tmp_path):
    with Image.open(save_pair(two_runs(), tmp_path / "two.png")) as image:
        assert image.info["Comment"] == CAUTION


def test_azimuth_of_the_wire_on_the_opened_map_follows_the_vessel():
    record = with_tear(make_record(azimuth=0.5 * pi), azimuth=0.5 * pi)
    figure = opened_figure(record, make_outcome(), opened(record), areas(record))
    tip = next(line for line in figure.axes[0].lines if line.get_label() == "tip")
    wire = wires(record, [-1])[0]
    wanted = 90.0 + np.degrees(np.arctan2(wire.lateral[-1], wire.across[-1]))
    assert tip.get_ydata()[0] == pytest.approx(wanted, abs=1e-6)
