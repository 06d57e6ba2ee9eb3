"""The bench figures that `tipmech wire` prints, each with its reduced function and its test. SI units.

A new bench test is one row here.
"""

from math import degrees, inf, nan, pi, radians

import numpy as np

from ..bench.bend import bend
from ..bench.column import strength
from ..bench.flexure import SPAN as FLEXURE_SPAN
from ..bench.flexure import flexure as flexure_test
from ..bench.lateral import FREE_LENGTHS as LATERAL_LENGTHS
from ..bench.lateral import LateralTest
from ..bench.lateral import lateral as lateral_test
from ..bench.prolapse import UNSUPPORTED, onset
from ..bench.tip_load import FREE_LENGTH, FREE_LENGTHS, LONG_TRAVEL, tip_load
from ..bench.tip_shape import STANDARD_TIP, STRAIGHT, Shape
from ..bench.torque import TURNS, Torque, torque_response
from ..bench.track import ANGLE, BEYOND, RADIUS, STRAIGHT_IN, advance
from ..profile import Profile
from ..wire.design import Design, least_bend_radii, profile
from ..wire.stations import two_axes
from .figure import Figure
from .reduced import (
    PATH,
    TORQUE_LENGTH,
    column_load,
    flexure,
    friction_lag,
    friction_ratio,
    lateral_force,
    lateral_stiffness,
    torque_lag,
    torque_ratio,
    torsional_stiffness,
    track_drag,
)

FLEXURE_STATIONS = (20e-3, 50e-3, 100e-3, 200e-3)  # m from the tip: assumed; the distal 300 mm are usual
BENT = (1e-3, 10e-3, 30e-3)  # m, distal lengths over which the least bend radius is told
LEADS = 1.005  # ratio beyond which a tip is ahead of its base: three steps of the base, a degree each, in 540
QUARTER, HALF_QUARTER = radians(90.0), radians(45.0)


def _tip_load(length: float) -> Figure:
    """Tip load at a free length."""
    where = f"{length * 1e3:g}"
    words = f"buckling load at {where} mm free length, clamped, tip pinned"
    return Figure(
        f"tip_load_{where}mm", "gf", words, length,
        lambda p: column_load(p, length), lambda p: tip_load(p, length), lambda r, p: r.force,
    )  # fmt: skip


def _tip_loads() -> tuple[Figure, ...]:
    """Tip loads, and the other ways in which the same bench is read."""
    standard = {length: _tip_load(length) for length in FREE_LENGTHS}
    main = standard[FREE_LENGTH]
    return (
        *standard.values(),
        Figure(
            f"tip_pressure_{FREE_LENGTH * 1e3:g}mm", "kPa", "tip load over the tip's projected area", FREE_LENGTH,
            lambda p: column_load(p, FREE_LENGTH) / (pi * p.tip_radius**2),
            main.simulated, lambda r, p: r.force / (pi * p.tip_radius**2), "tip load over the tip's projected area",
        ),
        *(figure for length, one in standard.items() for figure in _tip_load_band(length, one)),
    )  # fmt: skip


def _tip_load_band(length: float, main: Figure) -> tuple[Figure, ...]:
    """Tip load at a free length by other definitions: tip free or pinned, a longer travel."""
    at = f"tip_load_{length * 1e3:g}mm"
    return (
        Figure(
            f"{at}_free_tip", "gf", "buckling load, clamped, tip free", length,
            lambda p: column_load(p, length, "free"), lambda p: tip_load(p, length, friction=0.0),
            lambda r, p: r.force,
        ),
        Figure(
            f"{at}_pinned", "gf", main.words, length,
            main.reduced, lambda p: tip_load(p, length, friction=inf), lambda r, p: r.force,
        ),
        Figure(
            f"{at}_within_{LONG_TRAVEL * 1e3:g}mm", "gf", main.words, length,
            main.reduced, lambda p: tip_load(p, length, travel=LONG_TRAVEL), lambda r, p: r.force,
        ),
    )  # fmt: skip


def _shaped_load(shape: Shape) -> Figure:
    """Tip load with the preshape; the reduced figure knows nothing of the shape."""
    words = f"buckling load at {FREE_LENGTH * 1e3:g} mm free length, clamped, tip pinned, straight"
    return Figure(
        f"tip_load_{FREE_LENGTH * 1e3:g}mm_with_its_shape", "gf", words, FREE_LENGTH,
        lambda p: column_load(p, FREE_LENGTH), lambda p: tip_load(p, shape=shape), lambda r, p: r.force, rough=True,
    )  # fmt: skip


def _columns() -> tuple[Figure, ...]:
    """Column strength and the onset of prolapse."""
    where, gap = f"{FREE_LENGTH * 1e3:g}", f"{UNSUPPORTED * 1e3:g}"
    return (
        Figure(
            f"column_{where}mm_pinned", "mN", f"buckling load of the distal {where} mm, tip pinned", FREE_LENGTH,
            lambda p: column_load(p, FREE_LENGTH), strength, lambda r, p: r.pinned, "tip pinned",
        ),
        Figure(
            f"column_{where}mm_clamped", "mN", f"buckling load of the distal {where} mm, tip clamped", FREE_LENGTH,
            lambda p: column_load(p, FREE_LENGTH, "clamped"), strength, lambda r, p: r.clamped, "tip clamped",
        ),
        Figure(
            f"prolapse_push_{gap}mm", "mN", f"buckling load of the distal {gap} mm, clamped at both ends", UNSUPPORTED,
            lambda p: column_load(p, UNSUPPORTED, "clamped"), onset, lambda r, p: r.critical,
        ),
    )  # fmt: skip


def _lateral(length: float) -> tuple[Figure, ...]:
    """Stiffness of the tip sideways, and the forces at 45 and 90 degrees of its angle."""
    where = f"{length * 1e3:g}"

    def run(p: Profile) -> LateralTest:
        return lateral_test(p, length)

    def small(angle: float) -> str:
        return f"side force at the tip that turns it by {angle:g} deg, clamped at {where} mm, small deflections"

    return (
        Figure(
            f"lateral_stiffness_{where}mm", "N_per_m", f"side force over deflection of the tip, clamped at {where} mm",
            length, lambda p: lateral_stiffness(p, length), run, lambda r, p: r.stiffness, "stiffness", group="side",
        ),
        Figure(
            f"lateral_force_45deg_{where}mm", "mN", small(45.0), length,
            lambda p: lateral_force(p, length, HALF_QUARTER), run, lambda r, p: r.force_45,
            "force across at 45 deg of tip angle", group="side",
        ),
        Figure(
            f"lateral_force_90deg_{where}mm", "mN", small(90.0), length,
            lambda p: lateral_force(p, length, QUARTER), run, lambda r, p: r.force_90_normal,
            "force normal to the tip at 90 deg of its angle", group="side",
        ),
    )  # fmt: skip


def _hard_lateral(length: float) -> Figure:
    """Stiffness of the tip sideways about the hard axis of a wire that has two."""
    where = f"{length * 1e3:g}"
    words = f"side force over deflection of the tip, clamped at {where} mm, about the hard axis"
    return Figure(
        f"lateral_stiffness_{where}mm_hard_axis", "N_per_m", words, length,
        lambda p: lateral_stiffness(p, length, hard=True), FIGURES[f"lateral_stiffness_{where}mm"].simulated,
        lambda r, p: r.stiffness_hard, "stiffness about the hard axis", group="side",
    )  # fmt: skip


def _flexure(station: float) -> Figure:
    """Apparent rigidity at a station."""
    where = f"{station * 1e3:g}"
    words = f"apparent EI of three-point bending over {FLEXURE_SPAN * 1e3:g} mm centred at {where} mm"
    reach = station + FLEXURE_SPAN / 2.0
    # a test that goes just so far, with no station between its first and this one
    return Figure(
        f"flexure_EI_{where}mm", "N_mm2", words, reach, lambda p: flexure(p, station),
        lambda p: flexure_test(p, distal=reach, step=station), lambda r, p: r.apparent_at(station),
        f"apparent EI at {where} mm", group="side",
    )  # fmt: skip


def _torque_doubt(result: Torque) -> str:
    """Why a lag or a ratio does not say how the wire transmits a turn."""
    said = []
    if result.whip > 0.0:
        said.append(f"the tip whips: it jumps by {degrees(result.whip):.3g} deg at once")
    if result.ratio > LEADS:
        said.append(f"the tip has turned further than the base ({100.0 * result.ratio:.4g} %): it is ahead by a jump")
    return "; ".join(said)


def _torque(shape: Shape) -> tuple[Figure, ...]:
    """Figures of a tip of this shape in the standard tortuous path."""
    path = f"{shape.words()}, in the standard tortuous path"
    ratio = f"rotation of the tip over the base's, {TURNS:g} turns"

    def run(p: Profile) -> Torque:
        return torque_response(p, shape=shape)

    tip = f"tip bent by {degrees(shape.arcs[0].angle):g} deg" if shape == STANDARD_TIP else "tip as shaped"
    number = "torque per roll of the shape over torque per turn of the wire; near 100 % it begins to whip"
    return (
        Figure(
            "torque_lag", "deg", f"largest lag, {path}, without friction and clearance", PATH,
            lambda p: torque_lag(p, shape), run, lambda r, p: r.lag, "lag", fast=False, rough=True, group="tube",
            doubt=_torque_doubt, guard="whip_number", tip=tip,
        ),
        Figure(
            "torque_ratio", "percent", f"{ratio}, {path}, without friction and clearance", PATH,
            lambda p: torque_ratio(p, shape), run, lambda r, p: r.ratio, "ratio", fast=False, rough=True, group="tube",
            doubt=_torque_doubt, guard="whip_number", tip=tip,
        ),
        Figure(
            "torque_whip", "deg", "no reduced figure", PATH, None,
            run, lambda r, p: r.whip, "whip", fast=False, group="tube", tip=tip,
        ),
        Figure(
            "whip_number", "percent", f"{number}; {path}, without friction and clearance", PATH,
            lambda p: torque_lag(p, shape), run, lambda r, p: r.whip_number, number,
            fast=False, rough=True, group="tube", tip=tip,
        ),
    )  # fmt: skip


def _straight_torque() -> tuple[Figure, ...]:
    """The same of a straight tip, which friction alone holds back."""
    path = "straight tip, in the standard tortuous path, friction of a uniform wire in long bends"

    def run(p: Profile) -> Torque:
        return torque_response(p, shape=STRAIGHT)

    return (
        Figure(
            "torque_lag_straight_tip", "deg", f"largest lag, {path}", PATH,
            friction_lag, run, lambda r, p: r.lag, "lag", fast=False, rough=True, group="tube", doubt=_torque_doubt,
        ),
        Figure(
            "torque_ratio_straight_tip", "percent", f"rotation of the tip over the base's, {TURNS:g} turns, {path}",
            PATH, friction_ratio, run, lambda r, p: r.ratio, "ratio", fast=False, rough=True, group="tube",
            doubt=_torque_doubt,
        ),
        Figure(
            "torque_whip_straight_tip", "deg", "no reduced figure", PATH, None,
            run, lambda r, p: r.whip, "whip", fast=False, group="tube",
        ),
    )  # fmt: skip


def _track() -> tuple[Figure, ...]:
    """Push round a bend."""
    reach = STRAIGHT_IN + RADIUS * ANGLE + BEYOND
    return (
        Figure(
            "track_drag", "mN", "friction of a uniform wire in a long bend", reach,
            track_drag, advance, lambda r, p: r.drag, "drag", fast=False, rough=True, group="tube",
        ),
        Figure(
            "track_gain", "percent", "no reduced figure", reach, None,
            advance, lambda r, p: r.gain, "gain", fast=False, group="tube",
        ),
    )  # fmt: skip


def _bends(design: Design) -> tuple[Figure, ...]:
    """Closed forms of the construction: kink, share of a shape that stays, least radius of each part."""
    test = bend(design)
    least = (_least(name, within) for within in BENT for name in least_bend_radii(design, within))
    return (
        Figure(
            "kink_radius", "mm", f"radius below which a part takes a set: {test.definition}", 0.0, None,
            closed=lambda d: bend(d).kink_radius, group="bends",
        ),
        Figure(
            "shape_kept", "percent", f"largest share of a bend that stays: {test.definition}", 0.0, None,
            closed=lambda d: float(max(bend(d).kept)), group="bends",
        ),
        *least,
    )  # fmt: skip


def _least(part: str, within: float) -> Figure:
    """Least bend radius of a part over a distal length."""
    where = f"{within * 1e3:g}"
    words = f"bend radius of the axis at which {part} reaches its limit, distal {where} mm"
    return Figure(
        f"least_bend_radius_{part.replace(' ', '_')}_distal_{where}mm", "mm", words, within, None,
        closed=lambda d: least_bend_radii(d, within).get(part, nan), group="bends",
    )  # fmt: skip


FIGURES: dict[str, Figure] = {
    figure.key: figure
    for figure in (
        *_tip_loads(),
        *_columns(),
        *(figure for length in LATERAL_LENGTHS for figure in _lateral(length)),
        *(_flexure(station) for station in FLEXURE_STATIONS),
        Figure(
            "torsional_stiffness_100mm",
            "mN_mm_per_rad",
            "torque over twist of the distal 100 mm, straight, without friction",
            TORQUE_LENGTH,
            torsional_stiffness,
            group="tube",
        ),
        *_torque(STANDARD_TIP),
        *_straight_torque(),
        *_track(),
    )
}
"""Figures of every wire that is long enough; those of torque with a standard tip."""


def figures_of(design: Design) -> tuple[Figure, ...]:
    """Figures that a design has; those of torque with its own shape, STANDARD_TIP where it is straight.

    About a hard axis where the wire has two within the free length.

    A shape that reaches beyond the tortuous path has none of torque.
    """
    shape = Shape.of(design)
    table = dict(FIGURES)
    if shape.arcs:
        own = _torque(shape)
        table |= {figure.key: figure for figure in own}
        if shape.reach > PATH:
            table = {key: figure for key, figure in table.items() if figure not in own}
        with_shape = _shaped_load(shape)
        table[with_shape.key] = with_shape
    stock = profile(design)
    hard = [_hard_lateral(x) for x in LATERAL_LENGTHS if np.any(two_axes(stock, stock.distance[stock.distance <= x]))]
    found = (*table.values(), *hard, *_bends(design))
    return tuple(figure for figure in found if figure.reach <= design.length)
