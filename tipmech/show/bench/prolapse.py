"""Push of prolapsing wires against the length fed in."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from ...bench.prolapse import Prolapse
from ...units import from_si
from ..style import MUTED, SERIES
from .marks import finish, mark, refuse_none

if TYPE_CHECKING:
    from matplotlib.axes import Axes

ROOM = 1.6  # of the largest push: height of the axes, so that the legend lies above the curves


def draw_prolapse(ax: Axes, results: Sequence[tuple[str, Prolapse]]) -> Axes:
    """Push behind the proximal mouth (full line) and force along the axis within the gap (dashed)."""
    from matplotlib.lines import Line2D

    refuse_none(results)
    handles = []
    for k, (name, test) in enumerate(results):
        x, scale = from_si(1.0, "mm") * test.fed, from_si(1.0, "gf")
        text = f"{name}: bows at {scale * test.critical:.3g} gf"
        (line,) = ax.plot(x, scale * test.push, label=text, **mark(k, len(x)))
        ax.plot(x, scale * test.axial, linestyle="--", color=SERIES[k % len(SERIES)], linewidth=1.0)
        handles.append(line)
    handles += [
        Line2D([], [], color=MUTED, label="push behind the proximal mouth"),
        Line2D([], [], color=MUTED, linestyle="--", label="axial force within the gap"),
    ]
    lowest = min(0.0, *(float(np.min(test.push)) for _, test in results))  # below 0 the wire draws itself in
    highest = max(float(np.max(test.axial)) for _, test in results)
    ax.set_ylim(from_si(1.1 * lowest, "gf"), ROOM * from_si(highest, "gf"))
    gaps = sorted({from_si(test.unsupported, "mm") for _, test in results})
    title = f"Prolapse in a gap of {' and '.join(f'{g:g}' for g in gaps)} mm"
    return finish(ax, title, "length fed in beyond the gap, mm", "push, gf", handles=handles, loc="upper right")
