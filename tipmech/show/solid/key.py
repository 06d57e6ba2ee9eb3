"""The key of a scene: colours of its parts with their names, and the two scales of colour."""

from __future__ import annotations

from collections.abc import Mapping
from textwrap import fill
from typing import TYPE_CHECKING, Any

import numpy as np

from .. import style
from ..draw import ATTACHED
from ..walls import PLAQUE, PLUG
from .look import FREE_ROOM, OPENED, opened_map
from .parts import ADVENTITIA, MEDIA

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from pyvista import PolyData

HEIGHT = 0.85  # inch
MM = 1e3
STRAIN_WORDS = "bending strain of the outer fibre, beyond the shaped form (-)"
OPENED_WORDS = "plane opened at a travel of the hand of (mm)"


def entries(parts: Mapping[str, PolyData], layered: bool) -> list[tuple[str, str]]:
    """Words and colour of what there is in a scene."""
    out = [("inner layer, attached" + (" (intima, inner media)" if layered else ""), ATTACHED)]
    if "flap" in parts:
        out.append(("flap", style.FLAP))
    for name, colour in (("media", MEDIA), ("adventitia", ADVENTITIA), ("outer wall", style.WALL)):
        if name in parts:
            out.append(("media, outer part" if name == "media" else name, colour))
    if "plane" in parts:
        out.append(("plane open at the start", style.FALSE_LUMEN))
        if np.isnan(parts["plane"].point_data[OPENED]).any():
            out.append(("room of the wire, not paid for", FREE_ROOM))
        out.append(("front", style.INK))
    for name, words, colour in (
        ("plug", "plug", PLUG), ("narrowing", "narrowing", PLAQUE), ("support", "support", style.SUPPORT),
        ("rim outside", "rim of the wire outside the false lumen", style.INK),
        ("rim inside", "rim of the wire in the false lumen", style.FALSE_OUTLINE),
    ):  # fmt: skip
        if name in parts:
            out.append((words, colour))
    return out


def scales(most: tuple[float, float]) -> list[tuple[str, list[str], float]]:
    """Words of each scale, some of its colours in order, and its dark end in users' units."""
    from matplotlib.colors import to_hex

    return [
        (words, [to_hex(shades((k / 8) ** power)) for k in range(9)], top)
        for words, shades, power, top in _scales(most)
    ]


def _scales(most: tuple[float, float]) -> list[tuple[str, Any, float, float]]:
    """Words, map of colours, the power of the value by which it runs and the end of each scale."""
    from matplotlib import colormaps

    out: list[tuple[str, Any, float, float]] = [(STRAIN_WORDS, colormaps[style.WIRE_CMAP], 0.5, most[0])]
    if most[1] > 0.0:
        out.append((OPENED_WORDS, opened_map(), 1.0, most[1] * MM))
    return out


def draw(
    figure: Figure, parts: Mapping[str, PolyData], most: tuple[float, float], bottom: float, width: float,
    height: float, layered: bool,
) -> None:  # fmt: skip
    """The key across the foot of a figure of width x height inches, from `bottom` (share of its height) on."""
    from matplotlib.cm import ScalarMappable
    from matplotlib.colors import PowerNorm
    from matplotlib.patches import Patch

    for k, (words, shades, power, top) in enumerate(_scales(most)):
        ax = figure.add_axes(((width - 5.2 + 2.6 * k) / width, bottom + 0.4 / height, 2.2 / width, 0.12 / height))
        bar = figure.colorbar(ScalarMappable(PowerNorm(power, 0.0, top), shades), cax=ax, orientation="horizontal")
        bar.set_label(fill(words, 38), fontsize=8, labelpad=1)
        bar.ax.tick_params(labelsize=7)
        bar.locator = _few()
        bar.update_ticks()
    found = entries(parts, layered)
    handles = [Patch(facecolor=colour, edgecolor=style.INK, linewidth=0.5) for _, colour in found]
    figure.legend(
        handles, [words for words, _ in found], loc="lower left", fontsize=8, ncol=3, frameon=False,
        bbox_to_anchor=(0.2 / width, bottom + 0.0 / height), borderaxespad=0.0, handlelength=1.6, columnspacing=1.2,
    )  # fmt: skip


def _few() -> Any:
    """Few numbers along a scale."""
    from matplotlib.ticker import MaxNLocator

    return MaxNLocator(4)
