import numpy as np
import pytest

from tipmech.closed_forms import euler_load
from tipmech.profile import Profile
from tipmech.wire.design import Design, profile
from tipmech.wire.grind import GrindError, first_guess, grind, limits, scaled
from tipmech.wire.materials import MATERIALS
from tipmech.wire.parts import Coil, Ribbon, Taper
from tipmech.wire.tip import Surface, Tip

STEEL, PLATINUM = MATERIALS["steel_304"], MATERIALS["platinum_nickel_10"]
COIL = Coil(PLATINUM, 0.0, 30e-3, 0.06e-3, 0.296e-3, 0.072e-3)
CORE = Taper(STEEL, (0.0, 20e-3, 100e-3), (0.05e-3, 0.05e-3, 0.20e-3))
TIP, SURFACE = Tip("dome", 0.356e-3, 0.178e-3), Surface("bare")
WIRE = Design("test", (CORE, COIL), TIP, SURFACE)
GF = 9.80665e-3


def made_up_bench(p: Profile) -> float:
    """Tip load of a column with the stiffness in the middle of its free length, off by a known factor."""
    return 1.17 * euler_load(float(p.at("EI1", np.array([5e-3]))[0]), 10e-3, "clamped-pinned")


@pytest.mark.parametrize("wanted", [0.3, 1.0, 6.0, 12.0])
def test_the_ground_core_gives_the_wanted_tip_load(wanted: float) -> None:
    out = grind(WIRE, wanted * GF, made_up_bench)
    assert out.tip_load == pytest.approx(wanted * GF, rel=1e-3)
    assert made_up_bench(profile(out.design)) == out.tip_load
    # the answer written out: EI needed, less the coil's, over the core's, fourth root
    needed = wanted * GF * 1e-4 / (1.17 * euler_load(1.0, 1.0, "clamped-pinned"))
    coil, core = COIL.rigidity(np.zeros(1))[0, 0], CORE.rigidity(np.zeros(1))[0, 0]
    assert out.scale == pytest.approx(((needed - coil) / core) ** 0.25, rel=1e-3)
    assert out.evaluations < 12


def test_first_guess_is_exact_for_a_uniform_free_length() -> None:
    guess = first_guess(WIRE, 1.0 * GF, None, "clamped-pinned", 10e-3)
    exact = grind(WIRE, 1.0 * GF, lambda p: made_up_bench(p) / 1.17).scale
    assert guess == pytest.approx(exact, rel=1e-2)


def test_grind_changes_the_distal_core_only() -> None:
    out = profile(scaled(WIRE, 0.8))
    base = profile(WIRE)
    far = np.array([60.1e-3, 80e-3, 100e-3])
    assert out.at("EI1", far) == pytest.approx(base.at("EI1", far), rel=3e-4)
    core = CORE.rigidity(np.array([25e-3]))[:, 0]
    assert base.at("EI1", np.array([25e-3]))[0] - out.at("EI1", np.array([25e-3]))[0] == pytest.approx(
        core[0] * (1.0 - 0.8**4), rel=1e-2
    )
    assert out.EA[0] < base.EA[0]


def test_a_ribbon_is_ground_in_thickness() -> None:
    ribbon = Ribbon(STEEL, 0.0, 20e-3, 0.1e-3, 0.03e-3)
    wire = Design("test", (ribbon, Taper(STEEL, (20e-3, 0.1), (5e-5, 2e-4)), COIL), TIP, SURFACE)
    part = scaled(wire, 1.5).parts[0]
    assert isinstance(part, Ribbon)
    assert (part.thickness, part.width) == pytest.approx((0.045e-3, 0.1e-3))


@pytest.mark.parametrize("wanted", [0.05, 500.0])
def test_out_of_reach_says_the_nearest_value(wanted: float) -> None:
    side = "at least" if wanted < 1.0 else "at most"
    with pytest.raises(GrindError, match=f"{side} the nearest reachable value") as caught:
        grind(WIRE, wanted * GF, made_up_bench)
    nearest = caught.value.nearest
    assert made_up_bench(profile(scaled(WIRE, caught.value.scale))) == pytest.approx(nearest)
    low, high, *_ = limits(WIRE)
    assert caught.value.scale == pytest.approx(low if wanted < 1.0 else high)


def test_bad_requests_are_refused() -> None:
    with pytest.raises(ValueError, match="greater than 0"):
        grind(WIRE, float("nan"), made_up_bench)
    with pytest.raises(ValueError, match="clamped-free"):
        grind(WIRE, 0.01, made_up_bench, end_condition="glued")
    bare = Design("test", (Coil(PLATINUM, 0.0, 0.1, 0.06e-3, 0.296e-3, 0.072e-3),), TIP, SURFACE, may_gap=True)
    with pytest.raises(ValueError, match="nothing to grind"):
        limits(bare)
