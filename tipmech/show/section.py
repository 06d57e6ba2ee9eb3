"""The dimensioned section drawing of the tear, with the wire at true scale in it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from ..insertion.case import Case
from ..vessel.scene import Scene
from . import draw, style, walls
from .view import Array, Wire, lumen_radius, rest_gap, stations, support_axis

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MM = 1e3
SHORT_OF = 0.45e-3  # m, the drawn tip's end from the window's


def section_figure(case: Case) -> Figure:
    """Longitudinal section, detail of the mouth and cross-section at the pocket, each with equal scales."""
    figure = style.new_figure(15.0, 9.6)
    grid = figure.add_gridspec(
        2, 2, height_ratios=[1, 1.25], width_ratios=[1.75, 1], left=0.05, right=0.985, top=0.93, bottom=0.1, hspace=0.24
    )
    longitudinal(figure.add_subplot(grid[0, :]), case)
    mouth_detail(figure.add_subplot(grid[1, 0]), case)
    cross_section(figure.add_subplot(grid[1, 1]), case)
    figure.suptitle("The tear as a dimensioned section (unloaded)", fontsize=13, color=style.INK, x=0.05, ha="left")
    style.add_note(
        figure,
        f"mm; equal scales in each drawing; invented demo geometry; wire: {case.profile.name}; "
        "along a bent vessel s is unrolled along the centreline.",
    )
    return figure


def save_section(case: Case, path: Path | str) -> Path:
    """Write the section drawing of a case to `path`."""
    return style.save(section_figure(case), path)


def straight_wire(case: Case, end_s: float, end_depth: float, angle: float, length: float) -> Wire:
    """Undeflected wire with its tip's end at a point of the section, at `angle` to the axis (m, rad)."""
    steps = np.linspace(0.0, length, 60)
    radius = case.profile.at("radius", steps[::-1])
    back = length - steps + case.profile.tip_radius
    s = end_s - back * np.cos(angle)
    depth = end_depth - back * np.sin(angle)
    return Wire(s, depth, depth, 0.0 * s, 0.0 * s, 0.0 * s, radius, np.zeros(len(s), dtype=np.int64))


def local_radius(case: Case, back: float) -> float:
    """Radius of the wire at a distance (m) behind its tip's end, m. Profiles count from the dome's centre."""
    return float(case.profile.at("radius", np.array([back - case.profile.tip_radius]))[0])


def _setup(ax: Axes, title: str, s: tuple[float, float], depth: tuple[float, float]) -> None:
    """Equal scales, depth downward, limits in mm."""
    ax.set_aspect("equal", adjustable="box")
    ax.set_xlim(*s)
    ax.set_ylim(depth[1], depth[0])
    ax.set_title(title, fontsize=10, loc="left", color=style.INK)
    ax.set_xlabel("s along the vessel (mm)", fontsize=8)
    ax.set_ylabel("depth toward the tear (mm)", fontsize=8)
    ax.tick_params(labelsize=8)
    ax.spines[["top", "right"]].set_visible(False)


def longitudinal(ax: Axes, case: Case) -> None:
    """The whole stretch from the support's mouth to beyond the front."""
    scene = case.scene
    tear, channel = scene.tear, scene.channel
    front = tear.end + channel.length
    mouth_s, mouth_depth = (float(v[-1]) for v in support_axis(case, 1e-3))
    left, right = min(mouth_s, tear.start) - 2.5e-3, front + 4e-3
    s = stations(scene, left, right, front, 1200)
    walls.draw_section(ax, scene, s, rest_gap(scene, s, front), walls.at_start(scene))
    draw.draw_support(ax, case, 2.5e-3)
    a0 = float(lumen_radius(scene, np.array(tear.start))) * MM
    h = scene.wall.flap_thickness * MM
    below = a0 + h + draw.OUTER_LAYER
    _setup(
        ax,
        "Longitudinal section in the plane of the tear's azimuth",
        (left * MM, right * MM),
        (-below - 1.0, below + 1.5),
    )
    if scene.start != "pocket":
        _wire_from_support(ax, case, mouth_s, mouth_depth)
        draw.dimension(
            ax,
            (mouth_s * MM, -below - 0.55),
            (tear.start * MM, -below - 0.55),
            f"support to tear {scene.support.distance * MM:.3g}",
        )
        draw.extension(ax, (mouth_s * MM, mouth_depth * MM), (mouth_s * MM, -below - 0.7))
        draw.extension(ax, (tear.start * MM, a0), (tear.start * MM, -below - 0.7))
        ax.text(
            mouth_s * MM + 0.15, mouth_depth * MM - 0.6, "support", fontsize=8, ha="left", color=style.INK, zorder=9
        )
    y = below + 0.6
    for first, second, text in (
        (tear.start, tear.end, f"window {tear.length * MM:.3g}"),
        (tear.end, front, f"false channel {channel.length * MM:.3g}"),
    ):
        draw.dimension(ax, (first * MM, y), (second * MM, y), text)
    for at in (tear.start, tear.end, front):
        draw.extension(ax, (at * MM, a0 + h), (at * MM, y + 0.15))
    far = right * MM - 0.6
    there = float(lumen_radius(scene, np.array(far / MM))) * MM
    draw.dimension(ax, (far, -there), (far, there), f"lumen {2 * there:.3g}")
    _name_channels(ax, case, a0, below)


def _name_channels(ax: Axes, case: Case, a0: float, below: float) -> None:
    """Names of the lumens and of the front; `a0` lumen radius and `below` the drawing's depth at the tear, mm."""
    tear, channel, h = case.scene.tear, case.scene.channel, case.scene.wall.flap_thickness * MM
    front = tear.end + channel.length
    middle = (tear.end + front) / 2 * MM
    ax.text(middle, -0.3 * a0, "true lumen", fontsize=10, color="#31658f", ha="center", style="italic")
    ax.annotate(
        "false lumen" if channel.thickness > 0 else "false lumen (closed plane)",
        xy=(front * MM - 1.2, a0 + h - channel.thickness * MM / 2),
        xytext=(front * MM + 2.0, below + 0.9),
        fontsize=9,
        color=style.FALSE_OUTLINE,
        ha="center",
        va="center",
        style="italic",
        arrowprops={"arrowstyle": "-", "color": style.MUTED, "lw": 0.6},
    )
    ax.annotate(
        f"front ({channel.front_shape})",
        xy=(front * MM, a0 + h / 2),
        xytext=(front * MM + 1.2, a0 - 0.9),
        fontsize=8,
        ha="center",
        arrowprops={"arrowstyle": "-", "color": style.MUTED, "lw": 0.6},
        zorder=9,
    )


def _wire_from_support(ax: Axes, case: Case, mouth_s: float, mouth_depth: float) -> None:
    """The wire leaving the support undeflected, as long as it meets no wall before the tear."""
    scene = case.scene
    support = scene.support
    angle = float(np.arctan(np.tan(min(support.tilt, 1.55)) * np.cos(support.tilt_azimuth - scene.tear.azimuth)))
    radius = float(lumen_radius(scene, np.array(mouth_s)))
    side = radius - mouth_depth if angle > 0 else radius + mouth_depth
    reach = max(support.distance + 0.5 * scene.tear.length, 1e-3) / np.cos(angle)
    if abs(angle) > 1e-6:
        reach = min(reach, (side - case.profile.tip_radius) / np.sin(abs(angle)))
    end_s, end_depth = mouth_s + reach * np.cos(angle), mouth_depth + reach * np.sin(angle)
    wire = straight_wire(case, end_s, end_depth, angle, reach + 2.5e-3 - case.profile.tip_radius)
    draw.draw_wire(ax, wire, wire.depth, None, outline=0.012)


def mouth_detail(ax: Axes, case: Case) -> None:
    """The window and the downstream lip, enlarged, with the wire's tip in front of the mouth."""
    scene = case.scene
    tear, h = scene.tear, scene.wall.flap_thickness
    front = tear.end + scene.channel.length
    left, right = tear.start - 1.0e-3, min(tear.end + 2.6e-3, front + 0.4e-3)
    s = stations(scene, left, right, front, 1600)
    gap = rest_gap(scene, s, front)
    walls.draw_section(ax, scene, s, gap, walls.at_start(scene))
    a_end, a_start = (float(lumen_radius(scene, np.array(p))) for p in (tear.end, tear.start))
    tall = max(tear.gap, 0.0)
    end = tear.end - SHORT_OF
    thickest = float(np.max(case.profile.at("radius", np.linspace(0.0, end - left, 50))))
    top = min(a_end - tall - max(0.75e-3, 2.4 * thickest), a_start - 2.4 * thickest)
    _setup(ax, "Detail of the mouth", (left * MM, right * MM), (top * MM, (a_end + h) * MM + draw.OUTER_LAYER + 0.35))
    wire = straight_wire(case, end, a_end + h, 0.0, end - left)
    shown = replace(wire, depth=_resting(scene, wire, a_start))
    draw.draw_wire(ax, shown, shown.depth, None, outline=0.004)
    _mouth_dimensions(ax, case, a_end, a_start, right)


def _resting(scene: Scene, wire: Wire, edge: float) -> Array:
    """Depth of a wire lying on the floor of the window and over the rounded upstream lip (a drawing, not a result)."""
    start, h = scene.tear.start, scene.wall.flap_thickness
    blend = np.clip((wire.s - start) / max(scene.tear.length * 0.6, 1e-4), 0.0, 1.0)
    blend = blend * blend * (3 - 2 * blend)
    high = edge - wire.radius
    return np.asarray(high + (edge + h - wire.radius - high) * blend)


def _mouth_dimensions(ax: Axes, case: Case, a_end: float, a_start: float, right: float) -> None:
    """Dimension lines of the detail: window, gap, flap, lip radius, wire."""
    scene = case.scene
    tear, h = scene.tear, scene.wall.flap_thickness * MM
    start, end = tear.start * MM, tear.end * MM
    floor = a_end * MM + h
    roof = floor - tear.gap * MM
    y = floor + draw.OUTER_LAYER + 0.12
    draw.dimension(ax, (start, y), (end, y), f"window {tear.length * MM:.3g}")
    for at in (start, end):
        draw.extension(ax, (at, floor - h), (at, y + 0.1))
    draw.dimension(
        ax, (end - 0.12, roof), (end - 0.12, floor), f"mouth gap {tear.gap * MM:.3g}", at=(end - 0.75, roof - 0.35)
    )
    draw.extension(ax, (end - 0.3, roof), (end + 0.1, roof))
    x_flap = min(end + 1.6, right * MM - 0.25)
    sag = float(rest_gap(scene, np.array([x_flap / MM]), tear.end + scene.channel.length)[0]) * MM
    draw.dimension(
        ax, (x_flap, floor - sag - h), (x_flap, floor - sag), f"flap {h:.3g}", at=(x_flap - 0.35, floor - sag - h - 0.3)
    )
    r = min(tear.lip_radius * MM, h / 2)
    ax.annotate(
        f"lip radius {tear.lip_radius * MM:.3g}\n({tear.free_lip} lip free, {tear.lip_length * MM:.3g} long)",
        xy=(end + 0.3 * r, roof - h + 0.3 * r),
        xytext=(end + 0.45, roof - h - 0.42),
        fontsize=8,
        ha="center",
        va="center",
        arrowprops={"arrowstyle": "-", "color": style.MUTED, "lw": 0.6},
        zorder=9,
    )
    x_wire = start - 0.55
    d = 2 * local_radius(case, tear.end - SHORT_OF - x_wire / MM) * MM
    top = a_start * MM - d
    draw.dimension(ax, (x_wire, top), (x_wire, top + d), f"wire {d:.3g}", at=(x_wire, top - 0.22), colour="white")
    ax.text(start - 0.5, a_start * MM + h / 2, "upstream lip", fontsize=8, ha="center", va="center", zorder=9)
    ax.text((start + end) / 2, floor + draw.OUTER_LAYER / 2, "floor", fontsize=8, ha="center", va="center", zorder=9)


def cross_section(ax: Axes, case: Case) -> None:
    """Cross-section in the false channel, halfway to the front: room, half-width, azimuth, the wire on the floor."""
    scene = case.scene
    tear, channel = scene.tear, scene.channel
    at = tear.end + channel.length / 2
    a = float(lumen_radius(scene, np.array(at))) * MM
    h, t = scene.wall.flap_thickness * MM, channel.thickness * MM
    floor = a + h
    angle = tear.azimuth
    turn = np.linspace(0.0, 2 * np.pi, 400)

    def ring(radius: Array | float, phi: Array) -> tuple[Array, Array]:
        return np.asarray(radius * np.cos(phi)), np.asarray(radius * np.sin(phi))

    for radius, colour in ((floor + draw.OUTER_LAYER, style.WALL), (floor, draw.ATTACHED), (a, style.TRUE_LUMEN)):
        ax.fill(*ring(radius, turn), color=colour, linewidth=0)
    half = channel.room * MM / 2 / floor
    phi = angle + np.linspace(-half, half, 200)
    wire = local_radius(case, channel.length / 2) * MM
    # clamped along both margins; drawn resting on the wire where that is thicker than the channel
    lift = max(t, 2 * wire) * np.cos(0.5 * np.pi * (phi - angle) / half) ** 2
    outer, roof, inner = ring(floor, phi), ring(floor - lift, phi), ring(a - lift, phi)
    ax.fill(
        np.r_[inner[0], roof[0][::-1]],
        np.r_[inner[1], roof[1][::-1]],
        facecolor=style.FLAP,
        edgecolor=style.INK,
        lw=0.6,
    )
    ax.fill(np.r_[roof[0], outer[0][::-1]], np.r_[roof[1], outer[1][::-1]], color=style.FALSE_LUMEN, linewidth=0)
    ax.plot(*outer, color=style.FALSE_OUTLINE, linewidth=1.4)
    window = tear.half_width * MM / floor
    ax.plot(*ring(floor + 0.12, angle + np.linspace(-window, window, 60)), color=style.INK, linewidth=2.2)
    ax.fill(
        *(c + wire * v for c, v in zip(ring(floor - wire, np.array(angle)), ring(1.0, turn), strict=True)),
        color=style.WIRE,
        zorder=8,
    )
    ax.fill(
        *(c + wire * v for c, v in zip(ring(-a * 0.3, np.array(angle)), ring(1.0, turn), strict=True)),
        facecolor="none",
        ec=style.WIRE,
    )
    out = floor + draw.OUTER_LAYER
    ax.plot([0, out * np.cos(angle)], [0, out * np.sin(angle)], color=style.MUTED, lw=0.7, ls="--")
    ax.plot([0, out], [0, 0], color=style.MUTED, lw=0.7, ls=":")
    ax.set_aspect("equal")
    reach = out + 1.15
    ax.set_xlim(-out - 0.3, reach + 1.6)
    ax.set_ylim(-reach, reach)
    ax.text(
        0.99,
        0.99,
        _cross_section_facts(case),
        transform=ax.transAxes,
        fontsize=8,
        ha="right",
        va="top",
        linespacing=1.35,
    )
    ax.set_title("Cross-section halfway to the front (looking downstream)", fontsize=10, loc="left", color=style.INK)
    ax.tick_params(labelsize=8)
    ax.set_xlabel("first frame axis (mm)", fontsize=8)
    ax.set_ylabel("second frame axis (mm)", fontsize=8)
    ax.spines[["top", "right"]].set_visible(False)


def _cross_section_facts(case: Case) -> str:
    """Text beside the cross-section, lengths in mm."""
    tear, channel = case.scene.tear, case.scene.channel
    t, angle, wire = channel.thickness * MM, tear.azimuth, local_radius(case, channel.length / 2) * MM
    return (
        f"room W {channel.room * MM:.3g} (along the floor)\n"
        f"thickness t {t:.3g}{' (closed plane)' if t == 0 else ''}\n"
        f"window half-width {tear.half_width * MM:.3g} (black arc)\n"
        f"azimuth {np.degrees(angle):.3g}° from the frame's first axis\n"
        f"filled disc: the wire, {2 * wire:.3g},\nits tip at the front, on the floor\n(the flap drawn resting on it)"
    )
