"""Tables of moment over curvature: kernel and numpy alike, energies and slopes, pieces side by side and in series."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq

from tipmech.bending import (
    GRID,
    PIECES,
    MomentLaw,
    PartLaw,
    composed,
    in_series,
    section_law,
    straight_rows,
    turned_to,
)
from tipmech.rod.elastic import bent
from tipmech.rod.numbering import law_arrays
from tipmech.wire.curvature import moment_ratio, rectangle_losses, round_losses

STEEL = ((0.009, 0.84),)
NITINOL = ((0.010, 0.98), (0.060, -0.69))
PLASTIC = ((0.01, 1.0),)
FIT = 1e-3  # of the moment: what the cubics leave of the exact curve, most where martensite sets in (measured: 7e-4)


def law(limit: float, breaks, losses=round_losses) -> MomentLaw:  # type: ignore[no-untyped-def]
    moment, slope = moment_ratio(GRID, breaks, losses)
    return section_law(limit, moment, slope)


def part(share: float, limit: float, breaks) -> PartLaw:  # type: ignore[no-untyped-def]
    one = law(limit, breaks)
    return PartLaw(np.array([share]), np.array([limit]), one.moment[0], one.slope[0])


@pytest.mark.parametrize("losses", [round_losses, rectangle_losses])
@pytest.mark.parametrize("breaks", [STEEL, NITINOL, PLASTIC])
def test_the_table_fits_the_exact_curve(breaks, losses) -> None:  # type: ignore[no-untyped-def]
    x = np.exp(np.linspace(0.0, np.log(GRID[-1]), 5001))
    got = law(1.0, breaks, losses).at(x[None])[0][0]
    np.testing.assert_allclose(got, moment_ratio(x, breaks, losses)[0], rtol=FIT)


@pytest.mark.parametrize("breaks", [STEEL, NITINOL, PLASTIC])
def test_the_kernel_follows_the_table(breaks) -> None:  # type: ignore[no-untyped-def]
    rigidity, limit = 3.0, 0.7
    one = law(limit, breaks)
    energy_limit, _, table = law_arrays(np.array([[rigidity, rigidity]]), one)
    for x in (1.0001, 1.05, 1.9, 2.0, 6.1, 31.9, 32.0, 33.0, 70.0):
        kappa = limit * x
        u = rigidity * kappa**2
        stored, soft, change = bent(table, 0, energy_limit[0], u)
        moment, slope = one.at(np.array([[kappa]]))
        assert soft * kappa == pytest.approx(moment[0, 0], rel=1e-12)
        assert change == pytest.approx((slope[0, 0] - soft) / u, rel=1e-9)
        area = quad(lambda k: one.at(np.array([[k]]))[0][0, 0], 0.0, kappa, points=limit * GRID[GRID < x][-40:],
                    limit=200)[0]  # fmt: skip
        assert stored == pytest.approx(rigidity * area, rel=1e-9)


@pytest.mark.parametrize("breaks", [STEEL, NITINOL, PLASTIC])
def test_the_moment_rises_and_has_no_corner(breaks) -> None:  # type: ignore[no-untyped-def]
    x = np.exp(np.linspace(0.0, np.log(2.0 * GRID[-1]), 40001))
    moment, slope = law(1.0, breaks).at(x[None])
    assert np.all(np.diff(moment[0]) > 0.0) and np.all(slope > 0.0)
    eps = 1e-9
    for knot in GRID:
        a, b = law(1.0, breaks).at(np.array([[knot * (1.0 - eps), knot * (1.0 + eps)]]))[1][0]
        assert a == pytest.approx(b, abs=1e-6)


def test_parts_beside_each_other_share_the_curvature() -> None:
    one, two, straight = part(2.0 / 9.0, 0.5, STEEL), part(3.0 / 9.0, 0.8, NITINOL), 4.0
    whole = composed((one, two))
    assert whole.limit[0] == 0.5
    for kappa in (0.3, 0.7, 1.3, 4.0, 9.0):
        k = np.array([[kappa]])
        wanted = straight * kappa + 2.0 * law(0.5, STEEL).at(k)[0][0, 0] + 3.0 * law(0.8, NITINOL).at(k)[0][0, 0]
        assert 9.0 * whole.at(k)[0][0, 0] == pytest.approx(wanted, rel=2e-4)


def test_an_absent_part_changes_nothing() -> None:
    shares, limits = np.array([0.0, 2.0 / 9.0]), np.array([0.5, 0.5])
    whole = composed((replace(part(1.0, 0.5, STEEL), share=shares, limit=limits),))
    assert whole.limit[0] == np.inf
    assert whole.at(np.array([[100.0], [100.0]]))[0][0, 0] == 100.0
    assert whole.at(np.array([[100.0], [100.0]]))[0][1, 0] < 90.0


@pytest.mark.parametrize(("soft", "stiff"), [(1.0, 1.0), (1.0, 1.3), (1.0, 20.0), (20.0, 1.0)])
def test_pieces_in_series_carry_the_same_moment(soft: float, stiff: float) -> None:
    one, two, ha, hb = law(0.5, NITINOL), law(0.4, STEEL), 0.3, 0.7
    whole = in_series(one, two, (np.array([ha]), np.array([hb])), (np.array([ha / soft]), np.array([hb / stiff])))
    rigidity = 1.0 / (ha / soft + hb / stiff)
    for x in (0.5, *GRID[[3, 8, 17, 30]]):  # at knots: between them the cubics fit
        kappa = whole.limit[0] * x
        moment = rigidity * whole.at(np.array([[kappa]]))[0][0, 0]

        def turn(piece: MomentLaw, stiffness: float, moment: float = moment) -> float:
            return brentq(lambda k: stiffness * piece.at(np.array([[k]]))[0][0, 0] - moment, 0.0, 1e3, xtol=1e-14)

        assert ha * turn(one, soft) + hb * turn(two, stiff) == pytest.approx(kappa, rel=1e-9)


def test_a_law_in_series_with_itself_is_itself() -> None:
    one = law(0.5, NITINOL)
    half = np.array([0.5])
    whole = in_series(one, one, (half, half), (half / 3.0, half / 3.0))
    assert whole.limit[0] == pytest.approx(0.5, rel=1e-14)
    np.testing.assert_allclose(whole.moment, one.moment, rtol=1e-12)
    np.testing.assert_allclose(whole.slope, one.slope, rtol=1e-9)


def test_straight_rows_stay_on_the_line() -> None:
    moment, slope = straight_rows(2).at(np.array([[0.0, 1e6], [3.0, 1e3]]))
    np.testing.assert_array_equal(moment, [[0.0, 1e6], [3.0, 1e3]])
    np.testing.assert_array_equal(slope, np.ones((2, 2)))


@pytest.mark.parametrize(
    ("field", "value"),
    [("limit", np.array([0.0])), ("limit", np.array([np.inf])), ("share", np.array([-1.0])), ("share", np.array([1.1])),
     ("moment", np.ones(PIECES + 1)), ("slope", np.full(PIECES + 1, np.nan)), ("slope", np.ones(3))],
)  # fmt: skip
def test_wrong_laws_are_refused(field: str, value: np.ndarray) -> None:
    with pytest.raises(ValueError, match="law"):
        replace(part(1.0, 1.0, STEEL), **{field: value})


@pytest.mark.parametrize("breaks", [STEEL, NITINOL, PLASTIC])
def test_energy_and_curvature_are_those_of_the_moment(breaks) -> None:  # type: ignore[no-untyped-def]
    one = law(0.7, breaks)
    kappa = 0.7 * np.array([0.3, 1.0, 1.05, 2.3, 31.0, 40.0])
    moment, _ = one.at(kappa[None])
    for k, stored in zip(kappa, one.energy(kappa[None])[0], strict=True):
        breaks_at = [0.7 * g for g in GRID if 0.7 * g < k] or None
        area = quad(lambda x: one.at(np.array([[x]]))[0][0, 0], 0.0, k, points=breaks_at, limit=200)[0]
        assert stored == pytest.approx(area, rel=1e-8)
    many = one.rows(np.zeros(len(kappa), dtype=np.int64))
    np.testing.assert_allclose(many.curvature(moment[0]), kappa, rtol=1e-9)
    assert straight_rows(1).energy(np.array([[3.0]]))[0, 0] == 4.5


def test_a_ribbon_seen_from_its_other_axis_yields_at_the_curvature_of_that_side() -> None:
    """Width over thickness 3: about the other axis the same table at a third of the curvature, of nine times EI."""
    one = section_law(0.9, *(np.array(t) for t in moment_ratio(GRID, STEEL, rectangle_losses)), aspect=9.0)
    other = turned_to(one, np.array([9.0]), np.ones((1, 1)))
    np.testing.assert_allclose(other.limit, 0.3)
    np.testing.assert_allclose(other.moment, one.moment, rtol=1e-12)
    same = turned_to(one, np.array([9.0]), np.zeros((1, 1)))
    np.testing.assert_allclose(same.moment, one.moment, rtol=1e-12)
    assert same.limit[0] == one.limit[0] and same.aspect[0] == 1.0


def test_a_section_seen_from_all_sides_has_their_mean_energy() -> None:
    one = section_law(0.9, *(np.array(t) for t in moment_ratio(GRID, STEEL, rectangle_losses)), aspect=9.0)
    across = np.sin((np.arange(16) + 0.5) * np.pi / 32.0) ** 2
    mean = turned_to(one, np.array([9.0]), across[None])
    kappa = np.array([0.2, 0.5, 1.0, 2.0])
    sides = np.linspace(0.0, 0.5 * np.pi, 4001)
    for k in kappa:
        felt = k * np.sqrt(1.0 + 8.0 * np.sin(sides) ** 2)
        whole = float(np.mean(one.energy(felt[None])[0]))  # EI1 = 1: all of the energy is a function of that stretch
        assert 5.0 * mean.energy(np.array([[k]]))[0, 0] == pytest.approx(whole, rel=2e-3)


def test_a_round_row_keeps_its_law_beside_a_ribbon() -> None:
    flat = section_law(0.9, *(np.array(t) for t in moment_ratio(GRID, STEEL, rectangle_losses)), aspect=9.0)
    both = MomentLaw(*(np.concatenate([getattr(a, k) for a in (law(0.4, STEEL), flat)]) for k in
                       ("limit", "moment", "slope", "aspect", "share")))  # fmt: skip
    seen = turned_to(both, np.array([1.0, 9.0]), np.ones((2, 1)))
    np.testing.assert_array_equal(seen.moment[0], both.moment[0])
    np.testing.assert_allclose(seen.limit, (0.4, 0.3))
