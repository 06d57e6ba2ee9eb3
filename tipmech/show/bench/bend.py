"""Least bend radii along wires, and what a bend around a mandrel leaves."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from ...bench.bend import WOUND, BendTest
from ...units import from_si
from ..log_axis import plain_numbers
from .marks import finish, key, mark, present

if TYPE_CHECKING:
    from matplotlib.axes import Axes

DASHES: tuple[Any, ...] = (
    "-", "--", "-.", ":", (0, (8, 2)), (0, (5, 1, 1, 1, 1, 1)), (0, (3, 1, 1, 1)), (0, (1, 3)), (0, (9, 2, 2, 2, 2, 2)),
    (0, (2, 1)),
)  # fmt: skip
"""One for each part, in the order in which parts come up."""
WIDTHS = {"core": 1.6, "ribbon": 1.6}
NAMED = 0.12  # of the lines' length, room beside them for the parts' names, which stand on a line's first point
X, Y = "distance from the tip, mm", "bend radius of the axis, mm"


def draw_bend(ax: Axes, results: Sequence[tuple[str, BendTest | None]], *, detail: bool = True) -> Axes:
    """Bend radius at which each part reaches its limit strain, along the distal length; logarithmic.

    detail : a line for each part, by its name in `Design.named_parts` and a dash of its own; else one for each
        wire, of the part that reaches its limit first
    """
    shown = present(results)
    named = []
    parts = list(dict.fromkeys(part for *_, test in shown for part in test.parts)) if detail else []
    dashes = {part: DASHES[k % len(DASHES)] for k, part in enumerate(parts)}
    for k, name, test in shown:
        x, radii = from_si(1.0, "mm") * test.station, from_si(1.0, "mm") * test.limit_radius
        style = mark(k, len(x))
        if not detail:
            (line,) = ax.semilogy(x, np.nanmax(radii, axis=0), **style)
            named.append((name, line))
            continue
        for part, radius in zip(test.parts, radii, strict=True):
            look = {**style, "linestyle": dashes[part], "linewidth": WIDTHS.get(part.split()[0], 1.0)}
            (line,) = ax.semilogy(x, radius, **look)
            named.append((name or part, line))
    if parts and not any(name for *_, name, _ in shown):
        ax.margins(x=NAMED)
    plain_numbers(ax.yaxis)
    title = f"Bend radius at which {'each' if detail else 'the first'} part reaches its limit"
    return finish(ax, title, X, Y, named, [key(part, linestyle=dashes[part]) for part in parts], 4)


def draw_springback(ax: Axes, results: Sequence[tuple[str, BendTest | None]]) -> Axes:
    """Angle that stays of a turn around mandrels of a row of radii."""
    shown = present(results)
    named = []
    for k, name, test in shown:
        x, y = from_si(1.0, "mm") * test.mandrel, from_si(1.0, "deg") * test.residual_angle
        (line,) = ax.semilogx(x, y, **mark(k, len(x), 12))
        named.append((name, line))
    plain_numbers(ax.xaxis)
    at = ", ".join(f"{s:g}" for s in sorted({from_si(test.shaped_at, "mm") for *_, test in shown}))
    turn = from_si(WOUND, "deg")
    title = f"Shape kept {at} mm from the tip after a bend by {turn:g}°"
    return finish(ax, title, "radius of the mandrel, mm", "angle that stays, deg", named)
