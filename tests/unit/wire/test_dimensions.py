"""Dimensions by name: all of a wire's are listed, each can be set, and what no longer fits is refused by name."""

from dataclasses import replace

import numpy as np
import pytest

from tipmech.checks import FieldError
from tipmech.files.wire import read_wire
from tipmech.wire.design import profile
from tipmech.wire.dimensions import changed, dimensions, find_dimension, same_dimension
from tipmech.wire.parts import Coil, Jacket, Ribbon, Strand, Taper
from tipmech.wire.presets import PRESETS
from tipmech.wire.tip import Tip


def test_every_length_of_a_wire_file_has_a_name() -> None:
    names = list(dimensions(read_wire("workhorse")))
    for name in ("core 1 diameter", "core 1 diameter at 12 mm", "core 1 station at 40 mm", "core 1 end", "tip diameter",
                 "coil 1 pitch", "coil 2 wire_diameter", "coil 1 end"):  # fmt: skip
        assert name in names
    for preset in PRESETS:
        design = read_wire(preset)
        count = {Ribbon: 4, Strand: 5}
        tapered = design.tip.end == "tapered"
        expected = 2 + 2 * tapered + 2 * (design.bend.angle > 0.0) + 4 * (design.second_bend is not None)
        for part in design.parts:
            if isinstance(part, Taper):
                expected += 2 * len(part.distances) + 1
            elif isinstance(part, Coil):
                expected += 5 + (part.mean_diameter_end is not None)
            elif isinstance(part, Jacket):
                expected += 4 + (part.outer_diameter_end is not None)
            else:
                expected += count[type(part)]
        joints = {"very_soft": 2, "stiff_tapered": 2, "stranded_shaped": 0}.get(preset, 1)  # two ends of parts each
        assert len(dimensions(design)) == expected - joints, preset


@pytest.mark.parametrize("preset", PRESETS)
def test_each_dimension_set_to_its_own_value_changes_nothing(preset: str) -> None:
    design = read_wire(preset)
    for name, dimension in dimensions(design).items():
        assert changed(design, {name: dimension.value}) == design, name


def test_a_dimension_is_set_and_the_others_stay() -> None:
    design = read_wire("workhorse")
    new = changed(design, {"coil 1 pitch": 0.09e-3, "core 1 diameter at 12 mm": 0.05e-3})
    core, coil, other = new.parts
    assert isinstance(core, Taper) and isinstance(coil, Coil)
    assert coil.pitch == pytest.approx(0.09e-3) and core.diameters[1] == pytest.approx(0.05e-3)
    assert core.diameters[:1] + core.diameters[2:] == design.parts[0].diameters[:1] + design.parts[0].diameters[2:]
    assert other == design.parts[2] and new.tip == design.tip


def test_a_core_s_diameter_moves_all_of_them_and_adds_to_a_single_one() -> None:
    design = read_wire("workhorse")
    new = changed(design, {"core 1 diameter": 0.043e-3, "core 1 diameter at 12 mm": 0.045e-3})
    before, after = design.parts[0].diameters, new.parts[0].diameters
    steps = [1e6 * (b - a) for a, b in zip(before, after, strict=True)]
    assert steps == pytest.approx([2.0, 3.0, 2.0, 2.0, 2.0, 2.0], abs=1e-9)


def test_what_begins_at_an_end_moves_with_it() -> None:
    soft = changed(read_wire("very_soft"), {"ribbon 1 end": 18e-3, "coil 1 end": 33e-3})
    starts = {name: part.start for name, part in soft.named_parts()}
    assert starts["core 1"] == pytest.approx(18e-3) and starts["coil 2"] == pytest.approx(33e-3)
    own = changed(read_wire("very_soft"), {"coil 1 end": 29e-3, "coil 2 start": 31e-3})
    assert dict(own.named_parts())["coil 2"].start == pytest.approx(31e-3)


def test_a_joint_is_one_dimension_by_either_name() -> None:
    """The start of the second alone once opened a gap in the core."""
    design = read_wire("workhorse")
    core, *others = design.parts
    assert isinstance(core, Taper)
    one = Taper(core.material, (0.0, 8e-3), (0.04e-3, 0.04e-3))
    two = Taper(core.material, (8e-3, 0.3), (0.08e-3, 0.08e-3))
    split = replace(design, parts=(one, two, *others))
    names = dimensions(split)
    assert "core 1 end" in names and "core 2 start" not in names and "coil 2 start" not in names
    for moved in (7e-3, 9e-3):
        assert changed(split, {"core 2 start": moved}) == changed(split, {"core 1 end": moved})
        first, second = changed(split, {"core 2 start": moved}).parts[:2]
        assert first.end == pytest.approx(moved) and second.start == pytest.approx(moved)
    assert find_dimension(split, "core 2 start").value == 8e-3
    same = changed(split, {"core 2 start": 7e-3})
    assert same_dimension(same, find_dimension(split, "core 2 start")).value == pytest.approx(7e-3)


def test_all_that_meets_at_a_place_moves_together() -> None:
    """Core, ribbon and both coils: the first coil's end stayed where it was when the ribbon's moved."""
    design = read_wire("very_soft")
    meeting = changed(design, {"coil 1 end": 20e-3})
    assert "coil 1 end" not in dimensions(meeting) and "ribbon 1 end" in dimensions(meeting)
    for name in ("ribbon 1 end", "core 1 start", "coil 1 end", "coil 2 start"):
        parts = dict(changed(meeting, {name: 21e-3}).named_parts())
        places = (parts["ribbon 1"].end, parts["core 1"].start, parts["coil 1"].end, parts["coil 2"].start)
        assert places == pytest.approx((21e-3,) * 4), name


def test_a_tip_as_wide_as_the_wire_stays_so() -> None:
    design = read_wire("workhorse")
    thin = changed(design, {"coil 1 mean_diameter": 0.28e-3})
    assert thin.tip.diameter == pytest.approx(0.34e-3) and thin.tip.corner_radius == pytest.approx(0.17e-3)
    assert profile(thin).tip_radius == pytest.approx(0.17e-3)
    for scale in np.linspace(0.9, 1.0, 41):  # a dome stays one, not a bit more
        other = changed(design, {"coil 1 mean_diameter": 0.296e-3 * float(scale)}).tip
        assert other.corner_radius == other.contact_radius
    small = changed(design, {"tip diameter": 0.3e-3})
    assert small.tip.corner_radius == pytest.approx(0.15e-3)


def test_a_tapered_tip_keeps_its_face() -> None:
    """The face decides the tip pressure: the cone's wide end, and the wire there, move without it."""
    design = changed(read_wire("workhorse"), {"coil 1 start": 1e-3})
    wide = design.tip.diameter
    cone = replace(design, tip=Tip("tapered", wide, 0.06e-3, 1e-3, 0.2e-3))
    for values in ({"tip diameter": 0.99 * wide}, {"coil 1 mean_diameter": 0.294e-3}):
        tip = changed(cone, values).tip
        assert tip.diameter < wide and (tip.end_diameter, tip.corner_radius) == (0.2e-3, pytest.approx(0.06e-3))
    narrow = changed(cone, {"tip end_diameter": 0.1e-3}).tip
    assert (narrow.diameter, narrow.end_diameter) == (wide, pytest.approx(0.1e-3))
    assert narrow.corner_radius == pytest.approx(0.03e-3)


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"coil 3 pitch": 1e-4}, "dimension is 'coil 3 pitch'; allowed: one of core 1 diameter, "),
        ({"coil 1 pitch": 0.05e-3}, "coil 1 pitch is 0.05 mm; allowed: at least 0.06013 mm, where the turns touch"),
        (
            {"core 1 diameter at 110 mm": 0.3e-3},
            "coil 2.mean_diameter is 0.296 mm, an overlap of 0.032 mm with core 1 at",
        ),
        ({"core 1 end": 60e-3}, "core 1 distance is "),
        (
            {"core 1 start": 5e-3, "coil 1 start": 4e-3},
            "parts is missing at the tip; allowed: a part that reaches the tip",
        ),
    ],
)
def test_what_does_not_fit_is_named(values: dict[str, float], words: str) -> None:
    with pytest.raises(FieldError) as caught:
        changed(read_wire("workhorse"), values)
    assert words in str(caught.value)


def test_the_same_dimension_is_found_where_its_name_has_changed() -> None:
    design = read_wire("workhorse")
    station = find_dimension(design, "core 1 station at 12 mm")
    new = changed(design, {station.name: 13e-3})
    assert same_dimension(new, station).name == "core 1 station at 13 mm"
    assert same_dimension(new, find_dimension(design, "core 1 diameter at 12 mm")).value == pytest.approx(0.044e-3)


def test_a_core_whose_diameters_differ_by_rounding_keeps_its_end() -> None:
    """Two steps of rounding between two stations once put the last knot in the middle of the piece, or behind it."""
    design = read_wire("intermediate")
    last = design.parts[0].diameters[-1]
    for steps in range(-3, 4):
        core = changed(design, {"core 1 diameter at 112 mm": last + steps * np.spacing(last)}).parts[0]
        assert core.knots()[-1] == core.end
