"""Force against deflection of laterally pushed tips."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from ...bench.lateral import ANGLES, LateralCurve, LateralTest
from ...units import from_si
from ..style import INK, MUTED
from .marks import finish, mark, refuse_none

if TYPE_CHECKING:
    from matplotlib.axes import Axes


def draw_lateral(ax: Axes, results: Sequence[tuple[str, LateralTest]]) -> Axes:
    """Force across the clamp's axis (full line) and at right angles to the tip (dashed); 45 and 90 degrees marked."""
    from matplotlib.lines import Line2D

    refuse_none(results)
    handles = []
    lengths = {test.free_length for _, test in results}
    for k, (name, test) in enumerate(results):
        at = "" if len(lengths) == 1 else f", {from_si(test.free_length, 'mm'):g} mm"
        text = f"{name}{at}: {test.stiffness:.3g} mN/mm"
        style = mark(k, len(test.across.force))
        handles.append(_line(ax, test.across, style, "-", text))
        _line(ax, test.normal, style, "--", None)
    handles += [
        Line2D([], [], color=MUTED, linestyle="-", label="force across the axis"),
        Line2D([], [], color=MUTED, linestyle="--", label="force normal to the tip"),
        Line2D([], [], color=INK, linestyle="", marker="x", label="tip at 45° and 90°"),
    ]
    at = f", {from_si(lengths.pop(), 'mm'):g} mm free" if len(lengths) == 1 else ""
    return finish(ax, f"Lateral tip stiffness{at}", "tip deflection, mm", "force, gf", handles=handles)


def _line(ax: Axes, curve: LateralCurve, style: dict[str, object], dash: str, text: str | None):  # type: ignore[no-untyped-def]
    x, y = from_si(1.0, "mm") * curve.deflection, from_si(1.0, "gf") * curve.force
    (line,) = ax.plot(x, y, linestyle=dash, label=text, **style)  # type: ignore[arg-type]
    reached = [a for a in ANGLES if a <= curve.angle[-1] * (1.0 + 1e-12)]
    ax.plot(np.interp(reached, curve.angle, x), np.interp(reached, curve.angle, y), "x", color=INK, markersize=7)
    return line
