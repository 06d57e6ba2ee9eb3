"""Lengthwise cut of a wire, and how its materials are filled."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from textwrap import wrap
from typing import TYPE_CHECKING, Any

import numpy as np

from ..wire.design import Design
from ..wire.materials import MATERIALS, Material
from ..wire.parts import Coil, Jacket, Part, Ribbon, Strand, Taper
from .lengths import LINEAR, distance_axis, distance_label, scaled, spread_along
from .style import INK, MUTED

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.patches import Patch

POINTS = 800  # along a part's outline
EDGE = "#333333"
DARKER = 0.72  # of a fill: edges of a coil's turns
NAME, TEXT, TEXT_LINE = 9.0, 7.0, 9.0  # points: a wire's name, the list of its parts, a line of that
CHARACTERS_PER_INCH = 17.5  # of the list of parts


@dataclass(frozen=True)
class Fill:
    """How a material is drawn: face colour and hatch ("" for none)."""

    face: str
    hatch: str = ""


FILLS = {
    "steel_304": Fill("#bcc8d8"),
    "nitinol": Fill("#44794a"),
    "platinum_tungsten_8": Fill("#94700f"),
    "platinum_nickel_10": Fill("#c0901f"),
    "platinum_iridium_10": Fill("#d8b24a"),
    "ptfe": Fill("#d8c7e6"),
    "polyurethane_soft_filled": Fill("#f0cdbb"),
    "polyurethane_55d_filled": Fill("#d9957a"),
}
"""Fills of the shipped materials: metals of the core, radiopaque ones and polymers apart in grey too."""
HATCHES = ("////", "....", "xxxx", "\\\\\\\\", "++++", "oooo")
SHADES = ("#ffffff", "#d0d0d0", "#9a9a9a")
OWN_FILLS = tuple(Fill(shade, hatch) for shade in SHADES for hatch in HATCHES)
"""Fills of users' own materials, in the order in which they come up on a page; the first 18 are told apart."""


def fills(designs: Sequence[Design]) -> dict[Material, Fill]:
    """Fill of every material of the designs, a user's own ones by hatch, in the order of their first use."""
    used = dict.fromkeys(part.material for design in designs for part in design.parts)
    own = [material for material in used if MATERIALS.get(material.name) != material]
    return {
        material: OWN_FILLS[own.index(material) % len(OWN_FILLS)] if material in own else FILLS[material.name]
        for material in used
    }


def fill_keys(filled: dict[Material, Fill]) -> list[Patch]:
    """A patch of each material for a legend."""
    from matplotlib.patches import Patch

    return [
        Patch(
            facecolor=fill.face, hatch=fill.hatch, edgecolor=EDGE, linewidth=0.4, label=material.name.replace("_", " ")
        )
        for material, fill in filled.items()
    ]


def part_words(name: str, part: Part) -> str:
    """A part by kind, material and range (`name` as in `Design.named_parts`): 'coil, steel 304, 30 to 110 mm'."""
    return _words(name.split()[0], part)


def _words(title: str, part: Part) -> str:
    return f"{title}, {part.material.name.replace('_', ' ')}, {part.start * 1e3:.4g} to {part.end * 1e3:.4g} mm"


def parts_lines(design: Design, width: float) -> list[str]:
    """All parts of a design, as many in a line as fit `width` (inches): 'core, steel 304, 0 to 300 mm; ...'.

    Those of a kind of which there are several carry their number, as in the charts.
    """
    kinds = Counter(name.split()[0] for name, _ in design.named_parts())
    titled = ((name if kinds[name.split()[0]] > 1 else name.split()[0], part) for name, part in design.named_parts())
    text = "; ".join(_words(title, part) for title, part in titled)
    return wrap(text, int(CHARACTERS_PER_INCH * width))


def heading_height(design: Design, width: float) -> float:
    """Height of name and parts above a drawing of `width`, inches."""
    return (NAME + 10.0 + TEXT_LINE * len(parts_lines(design, width))) / 72.0


def draw_construction(
    ax: Axes,
    design: Design,
    filled: dict[Material, Fill] | None = None,
    *,
    name: str | None = None,
    last: bool = True,
    end: float | None = None,
) -> Axes:
    """Lengthwise cut, tip at the left, drawn thicker than it is; the factor over the distal 40 mm stands at the right.

    Turns of coils and strands are drawn over the distal 40 mm; beyond, where the axis is logarithmic, they are bands.

    Parameters
    ----------
    ax : Axes
    design : Design
    filled : dict, optional
        from `fills`; default: of this design alone
    name : str, optional
        heading; default: the design's name
    last : bool
        label the axis of distances
    end : float, optional
        length shown, mm; default: the wire's
    """
    filled = fills([design]) if filled is None else filled
    end = 1e3 * design.length if end is None else end
    distance_axis(ax, -0.5, end)  # the tip's radius is a length along the wire as well, so it begins a little before it
    for part in sorted(design.parts, key=lambda p: float(p.room(np.array([p.start]))[1][0])):
        _draw_part(ax, part, filled[part.material])
    _draw_tip(ax, design)
    top = 1.15e3 * float(np.max(design.radius(design.knots())))
    ax.set_ylim(-top, top)
    box, (width, height) = ax.get_position(), ax.get_figure(root=True).get_size_inches()  # type: ignore[union-attr]
    thicker = (box.height * height / (2.0 * top)) / (box.width * width / (float(scaled(end)) + 0.5))
    lines = parts_lines(design, box.width * width)
    pad = 5.0 + TEXT_LINE * len(lines)
    title = design.name if name is None else name
    ax.set_title(title, fontsize=NAME, loc="left", pad=pad, fontweight="bold", color=INK)
    straight = "; drawn straight, its tip is bent" if design.bend.angle or design.second_bend is not None else ""
    ax.set_title(
        f"thickness drawn × {thicker:.0f} over {min(end, LINEAR):g} mm{straight}",
        fontsize=TEXT,
        loc="right",
        pad=pad,
        color=MUTED,
    )
    ax.annotate(
        "\n".join(lines), (0.0, 1.0), (0.0, 3.0), xycoords="axes fraction", textcoords="offset points", fontsize=TEXT,
        color=INK, va="bottom", linespacing=1.15,
    )  # fmt: skip
    ax.set_ylabel("from the axis, mm", fontsize=7)
    ax.tick_params(labelsize=8)
    if last:
        ax.set_xlabel(distance_label(end), fontsize=8)
    ax.spines[["top", "right"]].set_visible(False)
    return ax


def _draw_part(ax: Axes, part: Part, fill: Fill) -> None:
    """One part of the lengthwise cut."""
    start, end = part.start * 1e3, part.end * 1e3
    knots = part.knots() * 1e3
    s = np.unique(np.concatenate([spread_along(start, end, POINTS), knots[(knots >= start) & (knots <= end)]]))
    look: dict[str, Any] = {"facecolor": fill.face, "hatch": fill.hatch or None, "edgecolor": EDGE, "linewidth": 0.4}
    if isinstance(part, Taper | Ribbon):
        half = part.room(s * 1e-3)[1] * 1e3 if isinstance(part, Taper) else np.full_like(s, part.thickness * 5e2)
        ax.fill_between(s, -half, half, zorder=3, **look)
    elif isinstance(part, Jacket):
        inner, outer = (r * 1e3 for r in part.room(s * 1e-3))
        for sign in (1.0, -1.0):
            ax.fill_between(s, sign * inner, sign * outer, zorder=1, **{**look, "linewidth": 0.2})
    elif isinstance(part, Strand):
        near, thick = s[s <= LINEAR], part.wire_diameter * 5e2
        middle = part.offset * 1e3 * np.sin(2.0 * np.pi * (near - start) / (part.pitch * 1e3))
        if len(near):
            ax.fill_between(near, middle - thick, middle + thick, alpha=0.75, zorder=4, **look)
        _draw_bands(ax, part, s[s >= LINEAR], fill)
    else:
        if start < LINEAR:
            _draw_coil(ax, part, min(end, LINEAR), fill)
        _draw_bands(ax, part, s[s >= LINEAR], fill)


def _draw_bands(ax: Axes, part: Coil | Strand, s: Any, fill: Fill) -> None:
    """Room of a helical part at distances s (mm) where its turns are not drawn, above and below the axis."""
    if len(s) < 2:
        return
    inner, outer = (r * 1e3 for r in part.room(s * 1e-3))
    edge = EDGE if fill.hatch else _darker(fill.face)
    look: dict[str, Any] = {"facecolor": fill.face, "hatch": fill.hatch or None, "edgecolor": edge, "linewidth": 0.2}
    for sign in (1.0, -1.0):
        ax.fill_between(s, sign * inner, sign * outer, zorder=2, **look)


def _draw_coil(ax: Axes, coil: Coil, end: float, fill: Fill) -> None:
    """Cut wires of a coil: above the axis, and half a turn on below it."""
    from matplotlib.collections import EllipseCollection

    step, wire = coil.pitch * 1e3 / coil.filars, coil.wire_diameter * 1e3
    above = np.arange(coil.start * 1e3 + wire / 2.0, end, step)
    width = wire / np.cos(coil.helix(np.array([coil.start])).angle[0])
    for sign, shift in ((1.0, 0.0), (-1.0, 0.5 * step if coil.filars == 1 else 0.0)):
        s = above + shift
        s = s[s < end]
        centres = np.column_stack([s, sign * coil.radius(s * 1e-3) * 1e3])
        turns = EllipseCollection(
            np.full(len(s), width),
            np.full(len(s), wire),
            np.zeros(len(s)),
            units="xy",
            offsets=centres,
            offset_transform=ax.transData,
            facecolor=fill.face,
            hatch=fill.hatch or None,
            edgecolor=EDGE if fill.hatch else _darker(fill.face),
            linewidth=0.15,
            zorder=2,
        )
        ax.add_collection(turns)


def _darker(face: str) -> tuple[float, float, float]:
    """Edge of a coil's turns: some viewers widen thin lines, and dark ones would hide the fill."""
    from matplotlib.colors import to_rgb

    red, green, blue = (DARKER * c for c in to_rgb(face))
    return red, green, blue


def _draw_tip(ax: Axes, design: Design) -> None:
    """The end: a solid dome, a flat face with rounded corners, or a cone with one."""
    tip = design.tip
    half = (tip.end_diameter or tip.diameter) * 5e2
    corner = half if tip.end == "dome" else tip.corner_radius * 1e3
    turn = np.linspace(0.0, np.pi / 2.0, 40)
    x = corner * (1.0 - np.cos(turn))
    y = half - corner + corner * np.sin(turn)
    if tip.length is not None:
        x, y = np.append(x, tip.length * 1e3), np.append(y, tip.diameter * 5e2)
    outline = np.concatenate([np.column_stack([x, y]), np.column_stack([x, -y])[::-1]])
    ax.fill(outline[:, 0], outline[:, 1], color="#555555", zorder=5)
