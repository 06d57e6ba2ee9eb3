"""Closed forms against independently computed reference values and against each other."""

from math import inf, pi

import numpy as np
import pytest
from scipy.integrate import solve_bvp

from tipmech import closed_forms as cf


@pytest.mark.parametrize(
    ("ends", "load"),
    [("clamped-free", 0.0012337005501361696), ("clamped-pinned", 0.010095364278213316),
     ("clamped-guided", 0.004934802200544678), ("clamped-clamped", 0.019739208802178713)],
)  # fmt: skip
def test_euler(ends: str, load: float) -> None:
    assert cf.euler_load(5e-8, 10e-3, ends) == pytest.approx(load, rel=1e-12)


def test_spring_column() -> None:
    load = cf.shearable_column_load(0.0017416948943098866, 0.8296296296296298, 0.30059044551798186)
    assert load == pytest.approx(0.0017481782498556047, rel=1e-12)
    haringx = cf.shearable_column_load(0.0017416948943098866, 0.8296296296296298, inf)
    assert haringx == pytest.approx(0.0017380537144310738, rel=1e-12)


def test_cone() -> None:
    assert cf.conical_column_load(1.0, 1.0, 0.5) == pytest.approx(1.029, abs=5e-4)
    assert cf.conical_column_load(1.0, 1.0, 0.3) == pytest.approx(0.498, abs=5e-4)
    assert cf.conical_column_load(1.0, 1.0, 0.999) == pytest.approx(pi**2 / 4.0, rel=5e-3)
    with pytest.raises(ValueError, match="ratio"):
        cf.conical_column_load(1.0, 1.0, 1.0)


@pytest.mark.parametrize(
    ("degrees", "load", "x", "y"),
    [(20, 1.015, 0.970, 0.220), (40, 1.063, 0.881, 0.422), (60, 1.152, 0.741, 0.593), (80, 1.293, 0.560, 0.719),
     (100, 1.518, 0.349, 0.792), (120, 1.884, 0.123, 0.803), (140, 2.541, -0.107, 0.750), (160, 4.029, -0.340, 0.625)],
)  # fmt: skip
def test_free_elastica_is_the_published_table(degrees: int, load: float, x: float, y: float) -> None:
    """Timoshenko & Gere 1961, table of art. 2.7, as remembered (last digit within 2)."""
    p, tip = cf.free_elastica(degrees * pi / 180.0)
    assert p / cf.EULER["clamped-free"] == pytest.approx(load, abs=2e-3)
    assert (tip.x, tip.y) == pytest.approx((x, y), abs=1e-3)
    assert cf.free_elastica_angle(1.0 - tip.x) == pytest.approx(degrees * pi / 180.0, abs=1e-9)
    assert p * tip.y**2 == pytest.approx(cf.tip_identity(1.0, degrees * pi / 180.0), rel=1e-12)


@pytest.mark.parametrize(
    ("degrees", "load", "x", "y", "angle"),
    [(90, 0.5, 1 - 0.015918962470837496, 0.1621435756583696, 0.24453364713321832),
     (90, 10, 1 - 0.5549955977537513, 0.8106090248802964, 1.4302855388038576),
     (30, 8, 0.9353195734801855, 0.33020649318322776, 0.4615270878108029),
     (120, 8, 0.20816519760796173, 0.8487142698448312, 1.8190322434319661),
     (150, 8, -0.052733687745775304, 0.8047078191307467, 2.248249018676609)],
)  # fmt: skip
def test_tip_force(degrees: float, load: float, x: float, y: float, angle: float) -> None:
    assert cf.tip_force_cantilever(load, degrees * pi / 180.0) == pytest.approx((x, y, angle), abs=1e-10)


@pytest.mark.parametrize("shortening", [0.01, 0.1, 0.3])
def test_pinned_elastica_is_the_boundary_value_solution(shortening: float) -> None:
    def slope(s, y, p):  # type: ignore[no-untyped-def]
        return np.array([y[1], -p[0] * np.sin(y[0]) + p[1] * np.cos(y[0]), np.cos(y[0]), np.sin(y[0])])

    def ends(a, b, p):  # type: ignore[no-untyped-def]
        return np.array([a[0], a[2], a[3], b[1], b[3], b[2] - (1.0 - shortening)])

    s, z = np.linspace(0.0, 1.0, 200), cf.PINNED_ROOT
    size = np.sqrt(shortening) * 0.44
    start = np.array([size * (np.cos(z * s) + z * np.sin(z * s) - 1.0), 0.1 * s, s * (1.0 - shortening), 0.0 * s])
    found = solve_bvp(slope, ends, s, start, p=[20.2, 5.0], tol=1e-8, max_nodes=20000)
    assert found.status == 0
    exact = cf.pinned_elastica(1.0, 1.0, shortening)
    assert exact.axial == pytest.approx(found.p[0], rel=1e-6)
    assert exact.lateral == pytest.approx(abs(found.p[1]), rel=1e-5)
    assert exact.angle == pytest.approx(abs(found.y[0, -1]), rel=1e-5)
    assert exact.shortening == pytest.approx(shortening, rel=1e-9)


def test_pinned_elastica_starts_at_eulers_load() -> None:
    assert cf.pinned_elastica(1.0, 1.0, 1e-6).axial == pytest.approx(cf.EULER["clamped-pinned"], rel=1e-6)
    with pytest.raises(ValueError, match="shortening"):
        cf.pinned_elastica(1.0, 1.0, 0.5)


def test_coil() -> None:
    coil = cf.coil_rigidities(6e-5, 2.7e-4, 6e-5, 168e9, 0.38)
    reference = (6.3421484470303e-09, 7.526917444688939e-09, 0.300252874076109, 0.8296296296296298)
    assert coil == pytest.approx(reference, rel=1e-9)


def test_wedge_and_front() -> None:
    assert cf.wedge_crack_length(2e6, 2e-4, 3.5e-4, 10.0) == pytest.approx(0.0005206811252912086, rel=1e-9)
    assert cf.wedge_crack_length(2e6, 2e-4, 3.5e-4, 10.0, two_arms=True) == pytest.approx(
        0.0004378388917476475, rel=1e-9
    )
    assert cf.wedge_crack_length(2e6, 2e-4, -1e-4, 10.0) == 0.0
    assert cf.front_force(35.0, 0.356e-3, 0.3e-3) == pytest.approx(35.0 * 0.956e-3)


def test_stick_and_slide() -> None:
    assert np.degrees(cf.stick_limit(0.2)) == pytest.approx(11.309932474020215)
    assert cf.sliding_stiffness(1.0, 1.0, np.radians(30.0), 0.2) == pytest.approx(15.900346415242348, rel=1e-9)
    assert cf.sliding_stiffness(1.0, 1.0, np.radians(5.0), 0.2) == inf


def test_winkler_formulas_agree_with_each_other() -> None:
    """The end deflection and largest moment follow from y = (2 P b/k) exp(-b x) cos(b x)."""
    EI, k, force = 2.0, 3.0, 0.7
    b = (k / (4.0 * EI)) ** 0.25
    x = np.linspace(0.0, 3.0 / b, 20001)
    y = 2.0 * force * b / k * np.exp(-b * x) * np.cos(b * x)
    moment = EI * np.gradient(np.gradient(y, x), x)
    assert cf.winkler_end_deflection(EI, k, force) == pytest.approx(y[0])
    assert cf.winkler_end_moment(EI, k, force) == pytest.approx(np.max(np.abs(moment[5:-5])), rel=1e-4)
    assert cf.winkler_end_moment(EI, k, force) == pytest.approx(0.3224 * force / b, rel=1e-3)
    assert cf.winkler_buckling_load(EI, k) == 2.0 * cf.winkler_buckling_load(EI, k, free_ends=True)


def test_a_stiff_capstan_is_euler_eytelwein_without_stiffness_and_a_pulley_without_friction() -> None:
    assert cf.stiff_capstan(1e-12, 1.0, 0.3, 2.0, 1.0) == pytest.approx(np.exp(0.6), rel=1e-5)
    assert cf.stiff_capstan(1.0, 1.0, 0.0, 3.0, 2.0) == 2.0
    assert cf.stiff_capstan(1.0, 1.0, 1e-9, 3.0, 2.0) == pytest.approx(2.0)
    pulls = [cf.stiff_capstan(EI, 1.0, 0.3, 2.0, 2.0) for EI in (0.0, 0.2, 0.5, 1.0)]
    assert np.all(np.diff(pulls) < 0.0)  # less of the post is touched
    with pytest.raises(ValueError, match="where a = 90 deg"):
        cf.stiff_capstan(1.0, 1.0, 0.3, 2.0, 0.4)
    with pytest.raises(ValueError, match="touches at a point"):
        cf.stiff_capstan(1.0, 1.0, 0.3, 1.0, 2.0)
    with pytest.raises(ValueError, match="touches at a point"):
        cf.stiff_capstan(1.0, 1.0, 0.2879, 2.1086, 0.7575)


def test_small_ones() -> None:
    assert cf.fold_scale(5e-8, 2e-3) == pytest.approx(0.025)
    assert cf.lateral_deflection(5e-8, 10e-3, 1e-4) == pytest.approx(1e-4 * 1e-6 / 1.5e-7)
    assert cf.capstan_ratio(0.2, pi) == pytest.approx(1.8744560875853382)
    assert cf.hertz_force(0.6e6, 0.16e-3, 10e-6) == pytest.approx(16.0 / 9.0 * 0.6e6 * 0.16e-3**0.5 * 1e-5**1.5)
