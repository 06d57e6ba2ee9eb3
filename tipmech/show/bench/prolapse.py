"""Push of prolapsing wires against the length fed in."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from ...bench.prolapse import Prolapse
from ...units import from_si
from ..log_axis import plain_numbers
from .marks import far_apart, finish, key, mark, present

if TYPE_CHECKING:
    from matplotlib.axes import Axes

ROOM = 1.08  # of the largest push: height of the axes


def draw_prolapse(ax: Axes, results: Sequence[tuple[str, Prolapse | None]], *, detail: bool = True) -> Axes:
    """Push behind the proximal mouth (full line) and force along the axis within the gap (dashed).

    detail : with the force within the gap
    """
    shown = present(results)
    named = []
    for k, name, test in shown:
        x, scale = from_si(1.0, "mm") * test.fed, from_si(1.0, "mN")
        style = mark(k, len(x))
        (line,) = ax.plot(x, scale * test.push, **style)
        if detail:
            ax.plot(x, scale * test.axial, **{**style, "linestyle": "--", "linewidth": 0.9})
        named.append((name, line))
    keys = [key("push behind the proximal mouth")]
    keys += [key("axial force in the gap", linestyle="--", linewidth=0.9)] if detail else []
    lowest = min(float(np.min(test.push)) for *_, test in shown)  # below 0 the wire draws itself in
    highest = [float(np.max(test.axial)) for *_, test in shown]
    if lowest > 0.0 and far_apart(highest):
        ax.set_yscale("log")
        plain_numbers(ax.yaxis)
    else:
        ax.set_ylim(from_si(1.1 * min(0.0, lowest), "mN"), ROOM * from_si(max(highest), "mN"))
    gaps = sorted({from_si(test.unsupported, "mm") for *_, test in shown})
    title = f"Prolapse in a gap of {' and '.join(f'{g:g}' for g in gaps)} mm"
    return finish(ax, title, "length fed in beyond the gap, mm", "force, mN", named, keys, 2)
