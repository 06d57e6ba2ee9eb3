"""Cross-section of the unloaded tear halfway to the front, with its dimensions in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ..insertion.case import Case
from ..insertion.opened import azimuth
from . import draw, style
from .view import Array

if TYPE_CHECKING:
    from matplotlib.axes import Axes

MM = 1e3


def local_radius(case: Case, back: float) -> float:
    """Radius of the wire at a distance (m) behind its tip's end, m. Profiles count from the dome's centre."""
    return float(case.profile.at("radius", np.array([back - case.profile.tip_radius]))[0])


def cross_section(ax: Axes, case: Case) -> None:
    """Cross-section in the false channel, halfway to the front: room, half-width, azimuth, the wire on the floor."""
    scene = case.scene
    tear, channel = scene.tear, scene.channel
    at = tear.end + channel.length / 2
    a = float(scene.lumen.at(np.array(at))) * MM
    h, t = scene.wall.flap_thickness * MM, channel.thickness * MM
    floor = a + h
    angle = float(azimuth(scene, np.array(at), 0.0))
    turn = np.linspace(0.0, 2 * np.pi, 400)

    def ring(radius: Array | float, phi: Array) -> tuple[Array, Array]:
        return np.asarray(radius * np.cos(phi)), np.asarray(radius * np.sin(phi))

    for radius, colour in ((floor + draw.OUTER_LAYER, style.WALL), (floor, draw.ATTACHED), (a, style.TRUE_LUMEN)):
        ax.fill(*ring(radius, turn), color=colour, linewidth=0)
    if tear.intact:
        _finish(ax, case, angle, floor)
        return
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
    _finish(ax, case, angle, floor)


def _finish(ax: Axes, case: Case, angle: float, floor: float) -> None:
    """Directions, limits and words of the cross-section; `angle` of the plane there (rad), `floor` its radius (mm)."""
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
        _facts(case, angle),
        transform=ax.transAxes,
        fontsize=8,
        ha="right",
        va="top",
        linespacing=1.35,
    )
    ax.set_title("Cross-section halfway to the front (seen from downstream)", fontsize=10, loc="left", color=style.INK)
    ax.tick_params(labelsize=8)
    ax.set_xlabel("first frame axis (mm)", fontsize=8)
    ax.set_ylabel("second frame axis (mm)", fontsize=8)
    ax.spines[["top", "right"]].set_visible(False)


def _facts(case: Case, angle: float) -> str:
    """Text beside the cross-section, lengths in mm."""
    tear, channel = case.scene.tear, case.scene.channel
    if tear.intact:
        return f"whole wall; mark's azimuth {np.degrees(angle):.3g}° from the frame's first axis"
    t, wire = channel.thickness * MM, local_radius(case, channel.length / 2) * MM
    return (
        f"room W {channel.room * MM:.3g} (along the floor)\n"
        f"thickness t {t:.3g}{' (closed plane)' if t == 0 else ''}\n"
        f"window half-width {tear.half_width * MM:.3g} (black arc)\n"
        f"azimuth {np.degrees(angle):.3g}° from the frame's first axis\n"
        f"filled disc: the wire, {2 * wire:.3g},\nits tip at the front, on the floor\n(the flap drawn resting on it)"
    )
