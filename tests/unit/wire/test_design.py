from dataclasses import replace

import numpy as np
import pytest

from tipmech.bench.tip_shape import Shape
from tipmech.checks import FieldError
from tipmech.wire import sections
from tipmech.wire.design import STEP, Design, least_bend_radii, profile
from tipmech.wire.materials import MATERIALS
from tipmech.wire.parts import Coil, Jacket, Part, Ribbon, Strand, Taper
from tipmech.wire.tip import Bend, SecondBend, Surface, Tip

STEEL, PLATINUM = MATERIALS["steel_304"], MATERIALS["platinum_nickel_10"]
SOFT = MATERIALS["polyurethane_soft_filled"]
CORE = Taper(STEEL, (0.0, 20e-3, 100e-3), (0.05e-3, 0.06e-3, 0.20e-3))
COIL = Coil(PLATINUM, 0.0, 30e-3, 0.06e-3, 0.296e-3, 0.078e-3)
JACKET = Jacket(SOFT, 0.0, 100e-3, 0.44e-3, 0.36e-3)
TIP = Tip("dome", 0.356e-3, 0.178e-3)


def design(*parts: Part, **changes: object) -> Design:
    values = {"tip": Tip("dome", 0.04e-3, 0.02e-3), "surface": Surface("bare"), **changes}
    return Design("test", parts, **values)  # type: ignore[arg-type]


def test_sliding_parts_add_at_every_distance() -> None:
    p = profile(design(CORE, COIL, tip=TIP))
    for s in (0.0, 7e-3, 29.9e-3, 30.1e-3, 80e-3):
        at = np.array([s])
        expected = CORE.rigidity(at)[:, 0] + (COIL.rigidity(at)[:, 0] if s < 30e-3 else 0.0)
        for row, key in enumerate(sections.KEYS):
            assert p.at(key, at)[0] == pytest.approx(expected[row], rel=3e-4), key


def test_a_taper_is_resolved() -> None:
    s = np.linspace(0.0, 100e-3, 5001)
    got = profile(design(CORE)).at("EI1", s)
    assert np.max(np.abs(got / CORE.rigidity(s)[0] - 1.0)) < 3e-4


def test_a_part_ends_within_two_close_knots() -> None:
    p = profile(design(CORE, COIL, tip=TIP))
    near = p.distance[np.abs(p.distance - 30e-3) < 10 * STEP]
    assert near == pytest.approx([30e-3 - STEP, 30e-3 + STEP], abs=1e-12)
    beside_the_core = p.at("EI1", near) - CORE.rigidity(near)[0]
    assert beside_the_core == pytest.approx([COIL.rigidity(near)[0, 0], 0.0], rel=1e-6, abs=1e-18)
    assert p.at("radius", near) == pytest.approx([0.178e-3, CORE.diameter(near)[1] / 2.0])


def test_coil_and_ribbon_carry_where_the_core_ends_short() -> None:
    core = Taper(STEEL, (20e-3, 100e-3), (0.06e-3, 0.20e-3))
    ribbon = Ribbon(STEEL, 0.0, 20e-3, 0.1e-3, 0.03e-3)
    p = profile(design(core, ribbon, replace(COIL, end=60e-3), tip=TIP))
    at = np.array([10e-3])
    assert p.at("EI1", at)[0] == pytest.approx(COIL.rigidity(at)[0, 0] + 193e9 * 0.1e-3 * 0.03e-3**3 / 12.0)
    assert p.at("EI2", at)[0] > 5.0 * p.at("EI1", at)[0]
    alone = profile(design(core, replace(COIL, end=60e-3), tip=TIP, may_gap=True))
    assert alone.at("EA", at)[0] == pytest.approx(COIL.rigidity(at)[3, 0])


def test_bounds_are_ordered() -> None:
    strand = Strand(STEEL, 0.0, 15e-3, 0.03e-3, 1.5e-3, 0.05e-3)
    closed = replace(COIL, pitch=0.06e-3)
    assert closed.touching and not COIL.touching
    d = design(CORE, strand, closed, JACKET, tip=TIP)
    sliding, touching, bonded = profile(d, "sliding"), profile(d, "sliding", touching=True), profile(d, "bonded")
    for key in ("EI1", "EI2", "GJ", "EA", "GA"):
        low, middle, high = (getattr(p, key) for p in (sliding, touching, bonded))
        assert np.all(low <= middle) and np.all(middle <= high), key
    assert touching.EI1[0] - sliding.EI1[0] == pytest.approx(closed.rigidity(np.zeros(1))[3, 0] * 0.148e-3**2)
    assert np.array_equal(sliding.mass, bonded.mass)
    assert profile(replace(d, coupling="bonded")).EI1[0] == bonded.EI1[0] > touching.EI1[0]


def test_coaxial_solid_parts_bend_alike_bonded_or_sliding() -> None:
    d = design(CORE, JACKET, tip=TIP)
    assert profile(d, "bonded").EI1 == pytest.approx(profile(d, "sliding").EI1)


@pytest.mark.parametrize(
    ("parts", "changes", "words"),
    [
        ((), {}, "at least one core"),
        ((replace(CORE, distances=(0.0, 20e-3, 79e-3)),), {}, "at least 80 mm"),
        ((replace(CORE, distances=(1e-3, 20e-3, 100e-3)),), {}, "ribbon, from 0 mm to 1 mm; allowed: .*may_gap = true"),
        ((replace(CORE, distances=(1e-3, 20e-3, 100e-3)), COIL), {"tip": TIP}, "ribbon, from 0 mm to 1 mm"),
        ((replace(CORE, distances=(1e-3, 20e-3, 100e-3)),), {"may_gap": True}, "any other part, from 0 mm to 1 mm"),
        (
            (Taper(STEEL, (0.0, 10e-3), (5e-5, 5e-5)), Taper(STEEL, (11e-3, 0.1), (5e-5, 5e-5)), COIL),
            {"tip": TIP},
            "core is missing, as is a ribbon, from 10 mm to 11 mm",
        ),
        (
            (Ribbon(STEEL, 0.0, 10e-3, 8e-5, 3e-5), Taper(STEEL, (11e-3, 0.1), (5e-5, 5e-5)), COIL),
            {"tip": TIP},
            "core is missing, as is a ribbon, from 10 mm to 11 mm",
        ),
        ((CORE, replace(COIL, end=0.12)), {"tip": TIP}, "ribbon, from 100 mm to 120 mm"),
        ((replace(COIL, end=0.12),), {"tip": TIP}, "ribbon, from 0 mm to 120 mm"),
        (
            (CORE, replace(COIL, end=95e-3, mean_diameter=0.22e-3)),
            {"tip": Tip("dome", 0.2e-3, 0.1e-3)},
            "coil 1.mean_diameter is 0.22 mm, an overlap of .* with core 1 at",
        ),
        ((CORE, replace(CORE)), {}, "core [12].start is 0 mm, an overlap of .* with core [12] at"),
        (
            (CORE, COIL, replace(JACKET, inner_diameter=0.30e-3)),
            {"tip": TIP},
            "jacket 1.inner_diameter is 0.3 mm, an overlap of .* with coil 1 at",
        ),
        (
            (CORE, Strand(STEEL, 0.0, 10e-3, 0.03e-3, 1e-3, 0.035e-3)),
            {},
            "strand 1.offset is 0.035 mm, an overlap of .* with core 1 at",
        ),
        ((CORE,), {"tip": TIP}, "tip.diameter"),
        ((CORE,), {"bend": Bend(0.5, 0.2)}, "bend.length"),
        (
            (CORE, replace(COIL, mean_diameter=0.20e-3), replace(COIL, mean_diameter=0.25e-3)),
            {},
            "coil 2.mean_diameter is 0.25 mm, an overlap of .* with coil 1",
        ),
        (
            (
                replace(CORE, diameters=(0.05e-3, 0.06e-3, 0.06e-3)),
                COIL,
                replace(JACKET, outer_diameter=0.2e-3, inner_diameter=0.18e-3),
            ),
            {"tip": TIP},
            r"jacket 1.outer_diameter is 0.2 mm at .*; allowed: a jacket around coil 1, which is 0.356 mm",
        ),
        ((CORE, COIL), {"tip": TIP, "bend": Bend(0.5, 0.08e-3)}, "bend.length is 0.08 mm; allowed: at least 0.089 mm"),
        (
            (CORE, COIL),
            {"tip": TIP, "second_bend": SecondBend(0.5, 0.08e-3, 2e-3)},
            "second_bend.length is 0.08 mm; allowed: at least 0.089 mm for",
        ),
        ((CORE,), {"bend": Bend(0.5, 3e-3), "second_bend": SecondBend(0.5, 2e-3, 2e-3)}, "second_bend.distance"),
    ],
)
def test_parts_that_do_not_fit_are_refused(parts: tuple[Part, ...], changes: dict[str, object], words: str) -> None:
    with pytest.raises(FieldError, match=words):
        design(*parts, **changes)


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: replace(COIL, pitch=0.05e-3), "pitch"),
        (lambda: replace(COIL, filars=6, pitch=0.36e-3), "at least 0.3[0-9]+ mm"),
        (lambda: replace(COIL, mean_diameter=0.1e-3), "mean_diameter"),
        (lambda: replace(COIL, end=0.0), "end"),
        (lambda: replace(COIL, start=-1e-3), "start"),
        (lambda: replace(CORE, diameters=(1e-4, 1e-4)), "3 values"),
        (lambda: replace(CORE, diameters=(1e-4, float("nan"), 1e-4)), "diameter"),
        (lambda: Ribbon(STEEL, 0.0, 1e-2, 0.03e-3, 0.1e-3), "thickness"),
        (lambda: replace(JACKET, outer_diameter=0.3e-3), "outer_diameter"),
        (lambda: Tip("flat", 0.3e-3, 0.2e-3), "corner_radius"),
        (lambda: Surface("bare", 1.5), "friction"),
        (lambda: Tip("tapered", 0.3e-3, 0.05e-3), "length is missing"),
        (lambda: Tip("tapered", 0.3e-3, 0.05e-3, 1e-3, 0.4e-3), "end_diameter"),
        (lambda: Tip("tapered", 0.3e-3, 0.11e-3, 1e-3, 0.2e-3), "corner_radius"),
        (lambda: Tip("dome", 0.3e-3, 0.05e-3, 1e-3), "others have none"),
        (lambda: SecondBend(4.0, 1e-3, 5e-3), "angle"),
        (lambda: replace(CORE, diameters=(2e-4, 1.7e-4, 3e-4)), "0.17 mm at 20 mm .*tapers the wrong way"),
        (lambda: replace(COIL, initial_tension=1e-3), "turns do not touch"),
        (lambda: replace(COIL, pitch=0.06e-3, initial_tension=1.0), "yields in shear"),
        (lambda: replace(JACKET, outer_diameter_end=0.3e-3), "outer_diameter_end"),
    ],
)
def test_wrong_parts_are_refused(make: object, words: str) -> None:
    with pytest.raises(FieldError, match=words):
        make()  # type: ignore[operator]


def test_yield_curvature_of_each_part() -> None:
    d = design(CORE, COIL, tip=TIP)
    k = d.yield_curvature(np.array([0.0, 50e-3]))
    assert k["core 1"][0] == pytest.approx(0.009 / 0.025e-3)
    assert np.isnan(k["coil 1"][1])
    assert k["coil 1"][0] > 5.0 * k["core 1"][0]
    radii = least_bend_radii(d, within=5e-3)
    assert set(radii) == {"core 1", "coil 1"}
    # reference: a 0.05 mm steel core takes a set at a bend radius of 2.8 mm
    assert radii["core 1"] == pytest.approx(2.8e-3 * CORE.diameter(np.array([5e-3]))[0] / 0.05e-3, rel=0.01)


def test_surface_gives_the_median_of_its_kind_unless_stated() -> None:
    assert Surface("hydrophilic").median == 0.04
    assert profile(design(CORE, surface=Surface("bare", 0.31))).friction == 0.31


def test_a_core_may_thin_within_tolerances_or_where_it_is_meant() -> None:
    assert replace(CORE, diameters=(2e-4, 1.81e-4, 3e-4)).diameters[1] == 1.81e-4
    assert replace(CORE, diameters=(2e-4, 1e-4, 3e-4), may_thin=True).may_thin


def cut(*diameters: float, may_thin: tuple[int, ...] = ()) -> Design:
    """A core in uniform pieces of 10 mm; those numbered may thin."""
    return design(*(Taper(STEEL, (i * 10e-3, (i + 1) * 10e-3), (d, d), i in may_thin) for i, d in enumerate(diameters)))


def test_a_taper_the_wrong_way_is_seen_in_pieces() -> None:
    """Each joint thins by 9 %, less than is allowed once: the widest in front counts, not the neighbour."""
    with pytest.raises(FieldError, match=r"core is 0\.06[0-9]* mm at 20 mm, behind a core of 0\.08 mm"):
        cut(*(0.08e-3 * 0.91**i for i in range(9)))
    with pytest.raises(FieldError, match=r"0\.072[0-9]* mm at 80 mm, behind a core of 0\.08[0-9]* mm"):
        cut(*[0.04e-3, 0.06e-3, 0.081e-3], *[0.076e-3] * 5, 0.0725e-3)
    assert cut(*[0.08e-3] * 3, *[0.073e-3] * 6)
    assert cut(*[0.08e-3] * 2, 0.05e-3, *[0.06e-3] * 6, may_thin=(2,))


def test_a_step_is_two_cores_and_sharp() -> None:
    thin = Taper(STEEL, (0.0, 30e-3), (0.05e-3, 0.06e-3))
    thick = Taper(STEEL, (30e-3, 100e-3), (0.15e-3, 0.2e-3))
    p = profile(design(thin, thick))
    below, above = p.at("EI1", np.array([30e-3 - 2 * STEP, 30e-3 + 2 * STEP]))
    assert above / below == pytest.approx((0.15 / 0.06) ** 4, rel=2e-3)
    assert p.at("radius", np.array([30e-3 + 2 * STEP]))[0] == pytest.approx(0.075e-3, rel=1e-3)


def test_an_inner_coil_lies_in_an_outer_one() -> None:
    inner = Coil(PLATINUM, 0.0, 30e-3, 0.03e-3, 0.17e-3, 0.031e-3)
    p = profile(design(CORE, inner, COIL, tip=TIP))
    at = np.array([10e-3])
    expected = sum(part.rigidity(at)[0, 0] for part in (CORE, inner, COIL))
    assert p.at("EI1", at)[0] == pytest.approx(expected, rel=3e-4)
    assert p.at("radius", at)[0] == pytest.approx(0.178e-3)


def test_a_tapered_jacket_is_resolved() -> None:
    jacket = replace(JACKET, outer_diameter_end=0.60e-3)
    s = np.linspace(0.0, 100e-3, 2001)
    exact = CORE.rigidity(s)[0] + sections.tube_section(SOFT, 0.44e-3 + 1.6e-3 * s, np.full_like(s, 0.36e-3))[0]
    assert profile(design(CORE, jacket, tip=TIP)).at("EI1", s) == pytest.approx(exact, rel=3e-4)


def test_a_tapered_tip_narrows_the_wire_and_its_contact() -> None:
    tip = Tip("tapered", 0.356e-3, 0.05e-3, 2e-3, 0.2e-3)
    assert tip.contact_radius == 0.1e-3 and tip.area == pytest.approx(np.pi * 0.1e-3**2)
    p = profile(design(CORE, replace(COIL, start=2e-3), tip=tip))
    assert p.tip_radius == 0.1e-3
    assert p.at("radius", np.array([0.0, 1e-3, 3e-3])) == pytest.approx([0.1e-3, 0.139e-3, 0.178e-3])
    # the cone is shape: only the core carries within it
    assert p.at("EI1", np.array([1e-3]))[0] == pytest.approx(CORE.rigidity(np.array([1e-3]))[0, 0], rel=3e-4)
    with pytest.raises(
        FieldError,
        match=r"coil 1.mean_diameter is so that the part is 0.356 mm wide at 0 mm from the tip; allowed: parts inside",
    ):
        design(CORE, COIL, tip=tip)
    with pytest.raises(FieldError, match=r"tip.diameter is 0.356 mm"):
        design(CORE, tip=tip)


def test_two_bends_are_curvature_where_they_lie() -> None:
    second = SecondBend(0.4, 2e-3, 6e-3, np.pi / 2)
    d = design(CORE, bend=Bend(0.5, 2.5e-3), second_bend=second)
    s = np.linspace(0.0, 12e-3, 38)
    k = Shape.of(d).curvature(s[:-1], s[1:])
    assert np.diff(s) @ k == pytest.approx(np.array([0.5, 0.4]))
    assert np.all(k[(s[:-1] > 2.5e-3) & (s[1:] < 6e-3)] == 0.0) and np.all(k[s[:-1] > 8e-3] == 0.0)
    back = replace(d, second_bend=replace(second, roll=np.pi))
    assert np.diff(s) @ Shape.of(back).curvature(s[:-1], s[1:]) == pytest.approx(np.array([0.1, 0.0]))
