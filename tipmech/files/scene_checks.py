"""Checks of a case across fields: tear and false channel in the vessel, support, wire and angle in the lumen, moves.

Each raises `FieldError` with the field as the user writes it and the value in the user's unit.
"""

from collections.abc import Callable
from dataclasses import replace
from math import cos, hypot, pi, sin

import numpy as np

from ..checks import Said, mm
from ..insertion.case import TipShape
from ..profile import Profile
from ..vessel.scene import Centreline, FalseChannel, Lumen, Scene, Support, Tear, Wall
from ..wire.design import Design
from .common import FieldError
from .scene_tables import CaseTables

MM = 1e-3
RIGID_TIP = 2e-3  # m, stretch of the support behind its mouth that is straight and tilted (J)
ANGLE_STEPS = 361  # commanded angles tried between 0 and 90 degrees for the range named in a message
HEIGHT_STEPS = 400  # along a tip with two bends: turns of at most 1/60 rad, its height is right to 1 %
END_MARGIN = 1e-3  # m of vessel left beyond the false channel
LEAST_RADIUS = 0.1e-3  # m, of a lumen
SHORTEST_WINDOW = 1e-3  # m, with a plane on both sides: each lip is met alone, by wires of up to 0.4 mm
YIELD_STEP = 0.5e-3  # m along the wire between places whose elastic limit is looked up: tapers are ten times longer


def check_vessel(line: Centreline, lumen: Lumen, wall: Wall, tear: Tear, channel: FalseChannel) -> None:
    """Check tear and false channel against the vessel; lengths in the messages are in mm."""
    if replace(lumen, narrowing=None).narrowest(0.0, line.length) < LEAST_RADIUS:
        low = (LEAST_RADIUS - lumen.radius) / line.length
        raise FieldError("vessel.taper_mm_per_mm", lumen.taper, f"at least {low:.4f}, so that the lumen stays open")
    if (n := lumen.narrowing) is not None and lumen.narrowest(0.0, line.length) < LEAST_RADIUS:
        stenosis = 100.0 * n.depth / (lumen.radius + lumen.taper * 0.5 * (n.first + n.last))
        allowed = f"less, so that the lumen stays {mm(2.0 * LEAST_RADIUS)} wide"
        raise FieldError("narrowing.diameter_stenosis_percent", round(stenosis, 4), allowed)
    if tear.end > line.length - END_MARGIN:
        room = (line.length - END_MARGIN - tear.length) / MM
        if room <= 0:
            raise FieldError("tear.length_mm", tear.length / MM, f"shorter than the vessel of {line.length / MM:g} mm")
        raise FieldError(
            "tear.start_mm",
            tear.start / MM,
            f"at most {room:.4g}, so that the tear lies in the vessel of {line.length / MM:.4g} mm",
        )
    longest = (line.length - END_MARGIN - tear.end) / MM
    if channel.length / MM > longest:
        raise FieldError(
            "false_channel.length_mm", channel.length / MM, f"at most {longest:.4g}, where the vessel ends (less 1 mm)"
        )
    if channel.retrograde is not None:
        if channel.retrograde > tear.start - END_MARGIN:
            allowed = f"at most {max(0.0, tear.start - END_MARGIN) / MM:.4g}, where the vessel begins (and 1 mm)"
            raise FieldError("false_channel.retrograde_mm", channel.retrograde / MM, allowed)
        if tear.length < SHORTEST_WINDOW:
            allowed = (
                f"at least {SHORTEST_WINDOW / MM:g} with false_channel.retrograde_mm, so that the lips stand apart"
            )
            raise FieldError("tear.length_mm", tear.length / MM, allowed)
    radius = float(lumen.at(tear.end))
    half = pi * (radius + wall.flap_thickness)
    if channel.room > half:
        raise FieldError(
            "false_channel.room_mm", channel.room / MM, f"at most half the circumference at the flap, {half / MM:.3f}"
        )
    if tear.half_width > half / 2:
        raise FieldError(
            "tear.half_width_mm", tear.half_width / MM, f"at most a quarter circumference, {half / MM / 2:.3f}"
        )
    if not tear.intact and 2.0 * tear.half_width > channel.room:
        allowed = (
            f"at most half of false_channel.room_mm, {channel.room / MM / 2:g}, so that the window lies in the plane"
        )
        raise FieldError("tear.half_width_mm", tear.half_width / MM, allowed)
    if wall.flap_thickness >= radius:
        raise FieldError(
            "vessel.flap_thickness_mm", wall.flap_thickness / MM, f"less than the lumen's radius, {radius / MM:.3f}"
        )
    if tear.lip_radius > wall.flap_thickness / 2:
        raise FieldError(
            "tear.lip_radius_mm",
            tear.lip_radius / MM,
            f"at most half the flap's thickness, {wall.flap_thickness / MM / 2:g}",
        )
    allowed = f"less than the lumen's radius, {radius / MM:.3f}, so that the flap does not cross the vessel's axis"
    if tear.gap >= radius:
        raise FieldError("tear.mouth_gap_mm", tear.gap / MM, allowed)
    if channel.thickness >= radius:
        raise FieldError("false_channel.thickness_mm", channel.thickness / MM, allowed)
    if tear.lip_length > channel.length and tear.free_lip == "downstream":
        raise FieldError(
            "tear.lip_length_mm", tear.lip_length / MM, f"at most the false channel's length, {channel.length / MM:g}"
        )


def check_support_fits(support: Support, radius: float) -> None:
    """Check that the support's mouth and its straight tilted end (2 mm, (J)) lie in the lumen of `radius` m."""
    if support.inner_radius >= radius:
        raise FieldError(
            "support.inner_diameter_mm", 2e3 * support.inner_radius, f"less than the lumen, {2e3 * radius:.3f}"
        )
    away = hypot(*support.offset) + support.inner_radius
    if away > radius:
        allowed = f"a length of at most {(radius - support.inner_radius) / MM:.3f}, so that the mouth lies in the lumen"
        raise FieldError("support.offset_mm", [x / MM for x in support.offset], allowed)

    def fits(tilt: float) -> bool:
        step = RIGID_TIP * sin(tilt)
        back = hypot(
            support.offset[0] - step * cos(support.tilt_azimuth), support.offset[1] - step * sin(support.tilt_azimuth)
        )
        return back + support.inner_radius * cos(tilt) <= radius

    if not fits(support.tilt):
        raise FieldError(
            "support.tilt_deg", in_degrees(support.tilt), f"{angle_range(fits)} (what fits the lumen from this offset)"
        )


def angle_range(fits: Callable[[float], bool]) -> str:
    """Words for the angles between 0 and 90 degrees that fit."""
    good = [a for a in np.linspace(0.0, pi / 2, ANGLE_STEPS) if fits(float(a))]
    return f"{in_degrees(good[0]):g} to {in_degrees(good[-1]):g}" if good else "none, no angle fits"


def in_degrees(angle: float) -> float:
    """Degrees, rounded to a hundredth."""
    return round(float(np.degrees(angle)), 2)


def check_wire_fits(scene: Scene, stock: Profile, shape: TipShape) -> None:
    """Check the wire and its bent tip against support and lumen, and the commanded angle against 90 degrees."""
    thickest = 2 * float(stock.radius.max())
    lumen = scene.lumen
    narrowest = 2 * lumen.narrowest(0.0, scene.centreline.length)
    if thickest >= narrowest:
        raise FieldError(
            "vessel.lumen_diameter_mm",
            2 * lumen.radius / MM,
            f"a lumen everywhere wider than the wire's {thickest / MM:.3f} (its narrowest is {narrowest / MM:.3f})",
        )
    if thickest >= 2 * scene.support.inner_radius:
        raise FieldError(
            "support.inner_diameter_mm",
            2 * scene.support.inner_radius / MM,
            f"greater than the wire's {thickest / MM:.3f}",
        )
    if scene.start == "pocket" or (shape.angle == 0.0 and shape.second is None):
        return
    free = narrowest - thickest
    across = tip_height(shape)
    if across > free:
        raise FieldError(
            "tip_shape.bend_deg",
            in_degrees(shape.angle),
            f"a bend whose height ({across / MM:.2f} mm) fits the free lumen of {free / MM:.2f} mm",
        )
    toward = cos(shape.roll - scene.tear.azimuth)
    commanded = scene.support.tilt * cos(scene.support.tilt_azimuth - scene.tear.azimuth) + shape.angle * toward
    if shape.second is not None:
        commanded += shape.second.angle * cos(shape.roll + shape.second.roll - scene.tear.azimuth)
    if commanded > pi / 2 + 1e-9:
        raise FieldError(
            "tip_shape.bend_deg",
            in_degrees(shape.angle),
            f"tilt plus bend toward the tear of at most 90 (here {in_degrees(commanded):g})",
        )


def tip_height(shape: TipShape) -> float:
    """How far a preshaped tip, by itself, stands off the straight wire behind it, m."""
    if shape.second is None:
        return shape.length * (1.0 - cos(shape.angle)) / shape.angle
    second = shape.second
    ends = np.array([shape.length, second.distance, second.distance + second.length])
    s = np.linspace(float(np.max(ends)), 0.0, HEIGHT_STEPS + 1)
    middle, step = 0.5 * (s[1:] + s[:-1]), s[0] / HEIGHT_STEPS
    inside = (middle > second.distance) & (middle < second.distance + second.length)
    first = np.where(middle < shape.length, shape.angle / shape.length, 0.0)
    behind = np.where(inside, second.angle / second.length, 0.0)
    one, two = (first + behind * cos(second.roll)) * step, behind * sin(second.roll) * step
    frame, off, furthest = np.eye(3), np.zeros(3), 0.0
    for a, b in zip(one, two, strict=True):
        spin = np.array([[0.0, 0.0, b], [0.0, 0.0, -a], [-b, a, 0.0]])
        frame = frame @ (np.eye(3) + spin + 0.5 * spin @ spin)
        off = off + step * frame[:, 2]
        furthest = max(furthest, hypot(off[0], off[1]))
    return furthest


def check_shape_modelled(tables: CaseTables, shape: TipShape) -> None:
    """Check that a second bend lies within the modelled length."""
    if shape.second is not None and shape.second.distance + shape.second.length > tables.numerics.length_mm * MM:
        raise FieldError(
            "numerics.length_mm",
            tables.numerics.length_mm,
            f"at least {(shape.second.distance + shape.second.length) / MM:.4g}, to the end of the wire's second bend",
        )


def check_moves(tables: CaseTables) -> None:
    """Check that the moves never feed out more wire than is modelled, nor draw it back behind its start."""
    feed, longest = 0.0, tables.numerics.length_mm
    for i, move in enumerate(tables.moves, start=1):
        feed += (move.advance_mm or 0.0) - (move.withdraw_mm or 0.0)
        if feed > longest:
            raise FieldError(
                f"moves[{i}].advance_mm",
                move.advance_mm,
                f"moves that add up to at most numerics.length_mm, {longest:g}",
            )
        if feed < -1e-9:
            raise FieldError(f"moves[{i}].withdraw_mm", move.withdraw_mm, "at most what was advanced before")


def check_grip(scene: Scene, stock: Profile, tables: CaseTables) -> None:
    """Check that the held end of a wire laid along the vessel is pushed along a straight stretch (or before the
    vessel's start, where it is straight): the hand pushes along one axis."""
    if scene.start != "approach":
        return
    length = tables.numerics.length_mm * MM
    base = scene.tear.start - scene.tip_distance - stock.tip_radius - length
    feed = np.cumsum([(m.advance_mm or 0.0) - (m.withdraw_mm or 0.0) for m in tables.moves])
    end, s = base + max(0.0, float(feed.max())) * MM, 0.0
    for piece, curvature in zip(scene.centreline.lengths, scene.centreline.curvatures, strict=True):
        if curvature > 0.0 and s < end and s + piece > base:
            allowed = (
                f"at least {(length + end - s) / MM:.4g}, so that the hand pushes the wire along a straight stretch"
            )
            raise FieldError("numerics.length_mm", tables.numerics.length_mm, allowed)
        s += piece


def check_wire_bends(scene: Scene, design: Design, tables: CaseTables) -> None:
    """Check that no bend takes a part of the wire that comes to lie in it to its elastic limit.

    Stated rule: at a place of the vessel lie, in the course of the run, all parts of the wire from the tip to the one
    there when everything is fed out. Each can lie as far out in the bend as the lumen lets its middle go; the radius it
    then has, that of the bend plus this play, must not be less than the one at which a part of the wire yields. A bend
    of less than half a turn may ask for less: the rule errs on the side of refusing.
    """
    line, support = scene.centreline, scene.support
    mouth = scene.tear.end if scene.start == "pocket" else scene.tear.start - support.distance
    feed = np.cumsum([(m.advance_mm or 0.0) - (m.withdraw_mm or 0.0) for m in tables.moves])
    furthest = mouth + max(0.0, float(feed.max())) * MM
    ends = np.cumsum(line.lengths)
    for end, length, curvature in zip(ends, line.lengths, line.curvatures, strict=True):
        first = max(mouth, float(end) - length)
        reach = min(furthest - first, tables.numerics.length_mm * MM)
        if curvature == 0.0 or reach <= 0.0 or end <= mouth:
            continue
        within = np.append(np.arange(0.0, reach, YIELD_STEP), reach)
        limits = design.yield_curvature(within)
        worst = {name: float(np.nanmin(k)) for name, k in limits.items() if np.any(np.isfinite(k))}
        part = min(worst, key=lambda name: worst[name])
        play = float(scene.lumen.at(first)) - float(np.min(design.radius(within)))
        if 1.0 / curvature + play < 1.0 / worst[part]:
            raise FieldError(
                f"vessel.{'points_file' if tables.vessel.centreline == 'points' else 'helix_radius_mm'}",
                Said(
                    f"a line with a bend of radius {mm(1.0 / curvature)}, {mm(float(end) - length / 2)} from its start"
                ),
                f"bends of at least {mm(1.0 / worst[part] - play)} there, or {part} of the wire would yield",
            )
