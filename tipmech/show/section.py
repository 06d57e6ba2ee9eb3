"""The dimensioned section drawing of the tear, with the wire at true scale in it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from ..insertion.case import Case
from ..vessel.build import lip_rounding
from ..vessel.scene import Scene
from . import draw, style, support, walls
from .section_across import cross_section, local_radius
from .view import Array, Wire, rest_gap, stations, support_axis

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MM = 1e3
SHORT_OF = 0.45e-3  # m, the drawn tip's end from the window's
STEEP = np.pi / 4.0  # rad, tilt from which on a support stands rather than lies in the drawing
WORDS = 14.0  # inch, of the words under the title
LINE = 0.017  # of the figure's height, a line of them
LABEL = 1.45  # mm of the detail that the lip's label takes


def section_figure(case: Case, ended: str = "") -> Figure:
    """Longitudinal section, detail of the mouth and cross-section at the pocket, each with equal scales; `ended`: how
    the insertions ended that were run from here."""
    figure = style.new_figure(15.0, 9.6)
    told = [line for part in ended.split("\n") for line in style.wrapped(part, WORDS, 9.0).split("\n")]
    sides = {"left": 0.05, "right": 0.985, "top": 0.905 - LINE * max(0, len(told) - 2), "bottom": 0.1}
    grid = figure.add_gridspec(2, 2, height_ratios=[1, 1.25], width_ratios=[1.75, 1], hspace=0.24, **sides)
    longitudinal(figure.add_subplot(grid[0, :]), case)
    if case.scene.tear.intact:
        whole_wall(figure.add_subplot(grid[1, 0]), case)
    else:
        mouth_detail(figure.add_subplot(grid[1, 0]), case)
    cross_section(figure.add_subplot(grid[1, 1]), case)
    title = f"The tear as a dimensioned section (unloaded{bends_in_words(case)})"
    figure.suptitle(title, fontsize=13, color=style.INK, x=0.05, ha="left")
    figure.text(0.05, 0.962, "\n".join(told), fontsize=9, va="top", color=style.INK, linespacing=1.3)
    style.add_note(
        figure,
        f"mm; equal scales in each drawing; geometry of the case; wire: {case.profile.name}; "
        f"along a bent vessel s is unrolled along the centreline.\n{_walls_in_words(case)}."
        f"{' ' + support.NOTE if support.sleeve_of(case).broken else ''}",
    )
    return figure


def save_section(case: Case, path: Path | str, ended: str = "") -> Path:
    """Write the section drawing of a case to `path`."""
    return style.save(section_figure(case, ended), path)


def bends_in_words(case: Case) -> str:
    """That the wire is drawn straight though its tip is shaped; empty where it is straight."""
    shape, second = case.tip_shape, case.tip_shape.second
    bends = [(shape.angle, shape.length), *([(second.angle, second.length)] if second is not None else [])]
    said = " and ".join(f"{np.degrees(angle):.3g}° over {length * MM:.3g} mm" for angle, length in bends if angle)
    return f"; wire drawn straight, its tip is bent by {said}" if said else ""


def straight_wire(case: Case, end_s: float, end_depth: float, angle: float, length: float) -> Wire:
    """Undeflected wire with its tip's end at a point of the section, at `angle` to the axis (m, rad)."""
    steps = np.linspace(0.0, length, 60)
    radius = case.profile.at("radius", steps[::-1])
    back = length - steps + case.profile.tip_radius
    s = end_s - back * np.cos(angle)
    depth = end_depth - back * np.sin(angle)
    return _plain_wire(s, depth, radius)


def _plain_wire(s: Array, depth: Array, radius: Array) -> Wire:
    """Wire of one colour in the plane of the section, in the true lumen."""
    return Wire(s, depth, depth, 0.0 * s, 0.0 * s, 0.0 * s, radius, np.zeros(len(s), dtype=np.int64))


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
    mouth_s, mouth_depth, _ = (float(v[-1]) for v in support_axis(case, 1e-3))
    left, right = min(mouth_s, tear.start) - 2.5e-3, front + 4e-3
    s = stations(scene, left, right, front, 1200)
    walls.draw_section(ax, scene, s, rest_gap(scene, s, front), walls.at_start(scene))
    support.draw_support(ax, case)
    a0 = float(scene.lumen.at(np.array(tear.start))) * MM
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
    _name_support(ax, case, mouth_s * MM, mouth_depth * MM)
    y = below + 0.6
    stretches = [(tear.start, tear.end, f"window {tear.length * MM:.3g}")]
    if tear.intact:
        stretches = [(tear.start, tear.end, "weak spot")] if tear.weak_toughness is not None else []
    else:
        stretches.append((tear.end, front, f"false channel {channel.length * MM:.3g}"))
    for first, second, text in stretches:
        draw.dimension(ax, (first * MM, y), (second * MM, y), text)
    for at in {place for first, second, _ in stretches for place in (first, second)}:
        draw.extension(ax, (at * MM, a0 + h), (at * MM, y + 0.15))
    far = right * MM - 0.6
    there = float(scene.lumen.at(np.array(far / MM))) * MM
    draw.dimension(ax, (far, -there), (far, there), f"lumen {2 * there:.3g}")
    _name_channels(ax, case, a0, below)


def _name_support(ax: Axes, case: Case, s: float, depth: float) -> None:
    """The support's name beside its mouth (mm), clear of it and of the wire; behind it where it stands steep."""
    tube = case.scene.support
    if case.scene.start == "pocket":
        ax.text(s - 0.5, depth - 0.7, "support", fontsize=8, ha="right", va="center", color=style.INK, zorder=9)
        return
    if tube.tilt > STEEP and not tube.follows:
        behind = min(0.0, -2.5 * np.cos(tube.tilt)) - tube.inner_radius * MM - 0.4
        ax.text(s + behind, 0.0, "support", fontsize=8, ha="right", va="center", color=style.INK, zorder=9)
        return
    toward = np.sin(tube.tilt) * np.cos(tube.tilt_azimuth - case.scene.tear.azimuth) >= 0.0
    ax.text(
        s + 0.15, depth - 0.6 if toward else depth + 0.6, "support", fontsize=8, ha="left", va="center",
        color=style.INK, zorder=9,
    )  # fmt: skip


def _name_channels(ax: Axes, case: Case, a0: float, below: float) -> None:
    """Names of the lumens and of the front; `a0` lumen radius and `below` the drawing's depth at the tear, mm."""
    tear, channel, h = case.scene.tear, case.scene.channel, case.scene.wall.flap_thickness * MM
    front = tear.end + channel.length
    middle = (tear.end + front) / 2 * MM
    plug = case.scene.plug
    if plug is not None and middle > (plug.start - 2e-3) * MM:
        middle = (plug.start - 2e-3) * MM
    ax.text(middle, -0.3 * a0, "true lumen", fontsize=10, color="#31658f", ha="center", style="italic")
    if tear.intact:
        return
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
        bbox={"boxstyle": "round,pad=0.12", "fc": "white", "ec": "none", "alpha": 0.85},
        arrowprops={"arrowstyle": "-", "color": style.MUTED, "lw": 0.6},
        zorder=9,
    )


def _wire_from_support(ax: Axes, case: Case, mouth_s: float, mouth_depth: float) -> None:
    """The wire leaving the support undeflected, as long as it meets no wall before the tear."""
    scene = case.scene
    tube = scene.support
    angle = float(np.arctan(np.tan(min(tube.tilt, 1.55)) * np.cos(tube.tilt_azimuth - scene.tear.azimuth)))
    radius = float(scene.lumen.at(np.array(mouth_s)))
    side = radius - mouth_depth if angle > 0 else radius + mouth_depth
    reach = max(tube.distance + 0.5 * scene.tear.length, 1e-3) / np.cos(angle)
    if abs(angle) > 1e-6:
        reach = min(reach, (side - case.profile.tip_radius) / np.sin(abs(angle)))
    ahead = np.linspace(0.0, reach - case.profile.tip_radius, 60)[1:]
    s, depth, _ = support_axis(case, support.REACH)
    s, depth = np.append(s, mouth_s + ahead * np.cos(angle)), np.append(depth, mouth_depth + ahead * np.sin(angle))
    from_tip = ahead[-1] - np.append(np.linspace(-support.REACH, 0.0, len(s) - len(ahead)), ahead)
    wire = _plain_wire(s, depth, case.profile.at("radius", from_tip))
    support.draw_wire_of(ax, case, wire, None, outline=0.012)


def mouth_detail(ax: Axes, case: Case) -> None:
    """The window and the downstream lip, enlarged, with the wire's tip in front of the mouth."""
    scene = case.scene
    tear, h = scene.tear, scene.wall.flap_thickness
    front = tear.end + scene.channel.length
    left, right = tear.start - 1.0e-3, min(tear.end + 2.6e-3, front + 0.4e-3)
    s = stations(scene, left, right, front, 1600)
    gap = rest_gap(scene, s, front)
    walls.draw_section(ax, scene, s, gap, walls.at_start(scene))
    a_end, a_start = (float(scene.lumen.at(np.array(p))) for p in (tear.end, tear.start))
    tall = max(tear.gap, 0.0)
    end = tear.end - SHORT_OF
    thickest = float(np.max(case.profile.at("radius", np.linspace(0.0, end - left, 50))))
    top = min(a_end - tall - max(0.75e-3, 2.4 * thickest), a_start - 2.4 * thickest)
    _setup(ax, "Detail of the mouth", (left * MM, right * MM), (top * MM, (a_end + h) * MM + draw.OUTER_LAYER + 0.35))
    wire = straight_wire(case, end, a_end + h, 0.0, end - left)
    shown = replace(wire, depth=_resting(scene, wire, a_start))
    draw.draw_wire(ax, shown, shown.depth, None, outline=0.004)
    _mouth_dimensions(ax, case, a_end, a_start, right)


def whole_wall(ax: Axes, case: Case) -> None:
    """In place of the mouth, what there is in a wall that is whole."""
    tear, channel = case.scene.tear, case.scene.channel
    ax.set_axis_off()
    ax.set_title("The wall is whole", fontsize=10, loc="left", color=style.INK)
    if tear.weak_toughness is None:
        text = f"no window and no plane; the mark at s = {tear.start * MM:.3g} is where the advance is counted from"
    else:
        text = (
            f"weak spot (dotted) from {tear.start * MM:.3g} to {tear.end * MM:.3g}, "
            f"{2 * tear.half_width * MM:.3g} wide:\n"
            f"it opens at {tear.weak_toughness:.4g} J/m², the wall elsewhere at "
            f"{case.scene.wall.breach_toughness:.4g};\n"
            f"behind it a plane of {channel.length * MM:.3g} x {channel.room * MM:.3g}, "
            f"mouth gap {tear.gap * MM:.3g} once it is open"
        )
    ax.text(0.0, 0.92, text, transform=ax.transAxes, fontsize=9, va="top", linespacing=1.5)


def _walls_in_words(case: Case) -> str:
    """Stiffness of flap and outer wall, narrowing, plug, spiral: what the drawing cannot dimension."""
    scene = case.scene
    wall, behind, n, plug = scene.wall, scene.wall.behind, scene.lumen.narrowing, scene.plug
    parts = [f"flap {wall.youngs_modulus / 1e6:.3g} MPa, pierced at {wall.breach_toughness:.4g} J/m²"]
    if wall.outer is not None:
        parts.append(f"outer wall {behind.youngs_modulus / 1e6:.3g} MPa, {behind.breach_toughness:.4g} J/m²")
    if n is not None:
        parts.append(f"narrowing {n.first * MM:.3g} to {n.last * MM:.3g}, flanks {n.flank * MM:.3g}")
    if plug is not None:
        parts.append(f"plug {plug.start * MM:.3g} to {plug.end * MM:.3g}, yields at {plug.force * 1e3:.3g} mN")
    if scene.tear.spiral:
        parts.append(f"the tear turns by {np.degrees(scene.tear.spiral) / MM:.3g}°/mm, followed by the section")
    if scene.support.follows:
        parts.append("the support is bent as the vessel is")
    return "; ".join(parts)


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
        ax, (x_flap, floor - sag - h), (x_flap, floor - sag), f"flap {h:.3g}", at=(x_flap - 0.1, floor - sag - h - 0.25)
    )
    r = lip_rounding(scene) * MM
    ax.annotate(
        f"lip radius {tear.lip_radius * MM:.3g}\n({tear.free_lip} lip free, {tear.lip_length * MM:.3g} long)",
        xy=(end + 0.3 * r, roof - h + 0.3 * r),
        xytext=(max(end - 0.1, ax.get_xlim()[0] + LABEL), min(roof - h - 0.42, roof - 0.65)),
        fontsize=8,
        ha="right",
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
