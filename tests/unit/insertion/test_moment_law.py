"""An insertion of a wire whose bending leaves the line."""

from dataclasses import replace

import numpy as np
from insertion_cases import make_case

from tipmech.insertion.build import build_rod
from tipmech.insertion.case import Case, Move
from tipmech.insertion.run import advance
from tipmech.profile import Profile
from tipmech.wire.design import Design, profile
from tipmech.wire.materials import MATERIALS
from tipmech.wire.parts import Coil, Taper
from tipmech.wire.tip import Surface, Tip

AUDIT = 0.02  # the share of the work that an audit may miss (insertions are held to it); measured here: 1e-3


def steel(*, linear: bool = False) -> Profile:
    """A steel core thick enough to leave the line in the bend of the tests' vessel."""
    core = Taper(MATERIALS["steel_304"], (0.0, 100e-3), (0.11e-3, 0.11e-3))
    coil = Coil(MATERIALS["platinum_nickel_10"], 0.0, 100e-3, 0.06e-3, 0.296e-3, 0.078e-3)
    wire = Design("steel", (core, coil), Tip("dome", 0.356e-3, 0.178e-3), Surface("bare"))
    return profile(wire, linear=linear)


def case(*, linear: bool) -> Case:
    return make_case(profile=steel(linear=linear), bend=60.0)


def test_the_rod_of_an_insertion_takes_the_profiles_law() -> None:
    clamp = np.array([1.0, 0.0, 0.0, 0.0])
    line, bent = build_rod(case(linear=True), clamp), build_rod(case(linear=False), clamp)
    for field in ("length", "span", "stretch", "bend", "natural"):
        np.testing.assert_array_equal(getattr(line, field), getattr(bent, field))
    assert line.limit.shape == (0,) and line.law.shape[0] == 0
    np.testing.assert_allclose(bent.limit / bent.bend[0, 0], (2.0 * 0.009 / 0.11e-3) ** 2, rtol=1e-12)


def test_a_yielding_wire_keeps_its_books() -> None:
    far = (Move("advance", 14e-3),)
    line, bent = (advance(replace(case(linear=linear), moves=far)) for linear in (True, False))
    count = min(len(line.feed), len(bent.feed))
    away = np.abs(line.positions[:count] - bent.positions[:count])
    assert np.max(away) > 1e-5  # the law is at work
    assert np.max(bent.audit_error) < AUDIT
