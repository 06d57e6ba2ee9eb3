from dataclasses import replace

import numpy as np
import pytest

from tipmech.wire import sections
from tipmech.wire.design import Design
from tipmech.wire.materials import MATERIALS
from tipmech.wire.parts import Coil, Part, Strand, Taper
from tipmech.wire.report import bounds, coil_facts, turning
from tipmech.wire.strand import laid_strand
from tipmech.wire.tip import Surface, Tip

STEEL, PLATINUM = MATERIALS["steel_304"], MATERIALS["platinum_nickel_10"]
CORE = Taper(STEEL, (0.0, 20e-3, 100e-3), (0.05e-3, 0.06e-3, 0.20e-3))
OPEN = Coil(PLATINUM, 0.0, 30e-3, 0.06e-3, 0.296e-3, 0.072e-3)
CLOSED = replace(OPEN, pitch=0.0601e-3, initial_tension=4e-3)
AT = np.array([5e-3])


def design(*parts: Part) -> Design:
    return Design("test", parts, Tip("dome", 0.04e-3, 0.02e-3), Surface("bare"))


def test_open_coil_says_when_its_turns_meet() -> None:
    (facts,) = coil_facts(design(CORE, OPEN))
    assert facts.name == "coil 1" and facts.index == pytest.approx(0.296 / 0.06)
    assert facts.gap == pytest.approx(1.0 - 0.06 / np.cos(facts.helix_angle) / 0.072)
    # inner wires meet where the arc at the mean radius has shortened by the gap
    assert facts.closing_radius == pytest.approx(0.148e-3 / facts.gap)
    assert facts.opening_moments == (0.0, 0.0) and facts.winding_stress == 0.0


def test_preload_is_reported_and_changes_no_rigidity() -> None:
    (facts,) = coil_facts(design(CORE, CLOSED))
    assert facts.gap == 0.0 and facts.closing_radius == np.inf
    assert facts.opening_tension == 4e-3
    assert facts.opening_moments == pytest.approx((4e-3 * 0.148e-3 / 2.0, 4e-3 * 0.148e-3))
    assert facts.winding_stress == pytest.approx(8.0 * 4e-3 * 0.296e-3 / (np.pi * 0.06e-3**3))
    assert np.array_equal(CLOSED.rigidity(AT), replace(CLOSED, initial_tension=0.0).rigidity(AT))


def test_opening_moment_against_the_pressure_on_the_ring() -> None:
    """Line pressure q0 + q1 cos(phi) on a ring carries T0 and M; it is nowhere negative up to the first moment."""
    tension, radius = 4e-3, 0.148e-3
    start, full = sections.preload_moments(tension, radius)
    phi = np.linspace(0.0, 2.0 * np.pi, 20001)[:-1]
    step = phi[1] * radius
    q = tension / (2.0 * np.pi * radius) * (1.0 + np.cos(phi))  # just unloaded on the outer side
    assert np.sum(q) * step == pytest.approx(tension)
    assert np.sum(q * radius * np.cos(phi)) * step == pytest.approx(start)
    assert full == pytest.approx(2.0 * start)


def test_bounds_are_ordered_and_name_the_coupling() -> None:
    b = bounds(design(CORE, CLOSED))
    assert b.used == "sliding"
    for key in ("EI1", "EI2", "GJ", "EA", "GA"):
        assert np.all(getattr(b.sliding, key) <= getattr(b.touching, key))
        assert np.all(getattr(b.touching, key) <= getattr(b.bonded, key))
        assert getattr(b.touching, key)[0] > getattr(b.sliding, key)[0]


def test_no_sense_of_turning_passes_the_bonded_bound() -> None:
    """A strand that winds up beside an open coil: the bond's coil, in series with its gaps, counted for less."""
    thin = replace(CORE, diameters=(0.05e-3, 0.055e-3, 0.2e-3))
    strand = Strand(STEEL, 0.0, 15e-3, 0.03e-3, 1.5e-3, 0.045e-3)
    for coil in (OPEN, CLOSED, replace(OPEN, pitch=3.0 * OPEN.pitch), replace(OPEN, hand="left")):
        one = design(thin, strand, coil)
        sense, bonded = turning(one, AT), bounds(one).bonded
        most = bonded.at("GJ", AT)
        assert np.all(sense.clockwise <= most) and np.all(sense.counterclockwise <= most)
        assert np.all(sense.pulled <= bonded.at("EA", AT))
        assert np.all(sense.pulled > bounds(one).sliding.at("EA", AT))


@pytest.mark.parametrize(("hand", "stiffer"), [("right", "counterclockwise"), ("left", "clockwise")])
def test_a_closed_coil_and_a_strand_resist_being_wound_up(hand: str, stiffer: str) -> None:
    other = "clockwise" if stiffer == "counterclockwise" else "counterclockwise"
    strand = Strand(STEEL, 0.0, 15e-3, 0.03e-3, 1.5e-3, 0.045e-3, hand)  # type: ignore[arg-type]
    thin = replace(CORE, diameters=(0.05e-3, 0.055e-3, 0.2e-3))
    coil = replace(CLOSED, hand=hand)  # type: ignore[arg-type]
    for parts in ((thin, coil), (thin, strand)):
        t = turning(design(*parts), AT)
        free = sum(part.rigidity(AT)[2, 0] for part in parts)
        assert getattr(t, other)[0] == pytest.approx(free)
        assert getattr(t, stiffer)[0] > free * (1.0 + 1e-4)
    # E A R^2 sin a cos^2 a on a core held straight, a fifth of it on one that shortens and bows
    a = np.arctan2(1.5e-3, 2.0 * np.pi * 0.045e-3)
    wire, core = 193e9 * np.pi * 0.03e-3**2 / 4.0, thin.rigidity(AT)[:, 0]
    share = 1.0 / (1.0 + wire * np.sin(a) ** 3 * (1.0 / core[3] + 0.045e-3**2 / core[0]))
    gain = share * wire * 0.045e-3**2 * np.sin(a) * np.cos(a) ** 2
    assert getattr(t, stiffer)[0] - free == pytest.approx(gain, rel=0.1) and share < 0.25
    own = sum(part.rigidity(AT)[3, 0] for part in parts)
    laid = laid_strand(thin.rigidity(AT), STEEL, strand.helix(AT))[1][0] - strand.rigidity(AT)[3, 0]
    assert t.pulled[0] - own == pytest.approx(laid) and laid > 0.0


def test_only_what_lies_inside_a_strand_is_bowed_by_it() -> None:
    thin = replace(CORE, diameters=(0.05e-3, 0.055e-3, 0.2e-3))
    strand = Strand(STEEL, 0.0, 15e-3, 0.03e-3, 1.5e-3, 0.1e-3)
    inner, around = Coil(STEEL, 0.0, 15e-3, 0.02e-3, 0.12e-3, 0.022e-3), OPEN

    def gain(*parts: Part) -> float:
        sense = turning(design(thin, strand, *parts), AT)
        return float((sense.counterclockwise - sense.clockwise)[0])

    assert gain(around) == gain()
    assert gain(inner) > gain() * (1.0 + 1e-4)


def test_a_coil_with_gaps_turns_alike_both_ways() -> None:
    t = turning(design(CORE, OPEN), AT)
    assert t.clockwise[0] == t.counterclockwise[0]
