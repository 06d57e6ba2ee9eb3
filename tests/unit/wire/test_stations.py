from dataclasses import replace

import numpy as np
import pytest

from tipmech.files.wire import read_wire
from tipmech.wire.design import profile
from tipmech.wire.parts import Ribbon, Taper
from tipmech.wire.stations import stations, two_axes


def test_a_jump_has_two_stations_with_the_section_of_either_side() -> None:
    """Coils of the shipped wire begin 1 mm behind its tip: in front of it the core is alone."""
    design = read_wire("stranded_shaped")
    tip, hand, whole = stations(design, [1e-3, 10e-3])
    assert (tip.side, hand.side, whole.side) == ("tip", "hand", "")
    assert (tip.distance, hand.distance, whole.at) == (1e-3, 1e-3, 10e-3)
    stock, at = profile(design), np.array([1e-3])
    core, *coils = design.parts
    alone = core.rigidity(at)[0, 0]
    assert stock.at("EI1", np.array([tip.at]))[0] == pytest.approx(alone, rel=1e-4)
    both = alone + sum(coil.rigidity(at)[0, 0] for coil in coils)
    assert stock.at("EI1", np.array([hand.at]))[0] == pytest.approx(both, rel=1e-4)
    assert hand.words == "toward the hand" and whole.words == ""


def test_parts_that_meet_with_the_same_section_make_no_jump() -> None:
    design = read_wire("workhorse")
    core = design.parts[0]
    assert isinstance(core, Taper)
    middle = float(core.diameter(np.array([25e-3]))[0])
    front = replace(core, distances=(*core.distances[:2], 25e-3), diameters=(*core.diameters[:2], middle))
    back = replace(core, distances=(25e-3, *core.distances[2:]), diameters=(middle, *core.diameters[2:]))
    cut = replace(design, parts=(front, back, *design.parts[1:]))
    assert [one.side for one in stations(cut, [25e-3])] == [""]
    assert stations(cut, [10.0]) == ()  # beyond the wire


def test_the_ends_of_the_wire_are_single() -> None:
    design = read_wire("workhorse")
    assert [one.side for one in stations(design, [0.0, design.length])] == ["", ""]


def test_a_ribbon_has_two_axes_a_core_has_one() -> None:
    design = read_wire("very_soft")
    (ribbon,) = (part for part in design.parts if isinstance(part, Ribbon))
    s = np.array([0.5 * ribbon.end, 2.0 * ribbon.end])
    assert two_axes(profile(design), s).tolist() == [True, False]
