"""Force against deflection of laterally pushed tips."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from ...bench.lateral import ANGLES, LateralCurve, LateralTest
from ...units import from_si
from ..log_axis import plain_numbers
from ..style import INK
from .marks import far_apart, finish, key, mark, present

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.lines import Line2D


def draw_lateral(ax: Axes, results: Sequence[tuple[str, LateralTest | None]], *, detail: bool = True) -> Axes:
    """Force across the clamp's axis (full line) and at right angles to the tip (dashed); 45 and 90 degrees marked.

    detail : with the force at right angles to the tip
    """
    shown = present(results)
    named = []
    lengths = {test.free_length for *_, test in shown}
    for k, name, test in shown:
        at = "" if len(lengths) == 1 else f" {from_si(test.free_length, 'mm'):g} mm"
        style = mark(k, len(test.across.force))
        named.append((f"{name}{at}", _line(ax, test.across, style, "-")))
        if detail:
            _line(ax, test.normal, {**style, "linewidth": 0.9}, "--")
    keys = [key("force across the clamp's axis")]
    keys += [key("force normal to the tip", linestyle="--", linewidth=0.9)] if detail else []
    keys.append(key(f"tip turned by 45°{' and 90°' if detail else ''}", color=INK, linestyle="", marker="x"))
    if far_apart([float(test.across.force[-1]) for *_, test in shown]):
        ax.set_xscale("log")
        ax.set_yscale("log")
        plain_numbers(ax.xaxis)
        plain_numbers(ax.yaxis)
    at = f", {from_si(lengths.pop(), 'mm'):g} mm free" if len(lengths) == 1 else ""
    return finish(ax, f"Lateral push at the tip{at}", "deflection of the tip, mm", "force, mN", named, keys, 2)


def _line(ax: Axes, curve: LateralCurve, style: dict[str, Any], dash: str) -> Line2D:
    x, y = from_si(1.0, "mm") * curve.deflection, from_si(1.0, "mN") * curve.force
    (line,) = ax.plot(x, y, linestyle=dash, **style)
    reached = [a for a in ANGLES if a <= curve.angle[-1] * (1.0 + 1e-12)]
    ax.plot(np.interp(reached, curve.angle, x), np.interp(reached, curve.angle, y), "x", color=INK, markersize=5)
    return line
