"""The chart of forces over the travel of the hand as SVG paths: what was borne, and what the ways out take."""

from collections.abc import Callable, Sequence
from math import ceil, floor, isfinite, log10

import numpy as np

from .contest import Limits
from .lane import FORCES as CONTEST
from .lane import HISTORY, Lane
from .looks import CHART_HEIGHT as HEIGHT
from .looks import CHART_WIDTH as WIDTH
from .looks import FORCES, LIMITS, TICKS
from .paths import Array, Paint, line

LEFT, RIGHT, TOP, BOTTOM = 46.0, 10.0, 22.0, 38.0
ABOVE = 60.0  # from the axis to words over the chart: beside the axis' own
POINTS = 400  # of a line, at most
LEAST_MM, LEAST_MN = 10.0, 5.0  # range of the axes at the start
ROOM = 1.6  # a limit is drawn in the chart up to this many times the largest force; beyond it stands above it in words
MN, MM = 1e3, 1e3
LIMIT_WORDS = {name.removesuffix("_limit"): words for name, words, _ in LIMITS}
Scale = Callable[[Array | float], Array]


def lines_of(lane: Lane) -> dict[str, Array]:
    """Lines of the chart by the names in `looks.FORCES`, mN over the increments."""
    forces = dict(zip(CONTEST, lane.contest(), strict=True))
    forces["push"] = lane.columns()[:, HISTORY.index("push")]
    return {name: forces[name] * MN for name, *_ in FORCES}


def range_of(lanes: Sequence[Lane], limits: Sequence[Limits]) -> tuple[float, float]:
    """Ends of the axis of forces for wires side by side, mN: the same for all, so that they can be compared."""
    lines = [line for lane in lanes for line in lines_of(lane).values()]
    largest = max([LEAST_MN, *(float(line.max()) for line in lines)])
    known = [v * MN for each in limits for v in (each.front, each.fold) if isfinite(v)]
    low = min(0.0, *(1.05 * float(line.min()) for line in lines))
    return low, 1.05 * max([largest, *(v for v in known if v <= ROOM * largest)])


def chart(lane: Lane, now: Limits, ends: tuple[float, float]) -> Paint:
    """Shapes of the chart.

    Parameters
    ----------
    lane : Lane
        its forces over the travel of the hand
    now : Limits
        drawn as lines
    ends : tuple of float
        of `range_of`, mN
    """
    low, top = ends
    path = lane.columns()[:, 0] * MM
    shown = np.unique(np.linspace(0, len(path) - 1, min(POINTS, len(path))).round().astype(int))
    end = max(LEAST_MM, 5.0 * ceil((float(path[-1]) + 1.0) / 5.0))

    def x(value: Array | float) -> Array:
        return np.asarray(LEFT + (WIDTH - LEFT - RIGHT) * np.asarray(value) / end)

    def y(value: Array | float) -> Array:
        return np.asarray(HEIGHT - BOTTOM - (HEIGHT - TOP - BOTTOM) * (np.asarray(value) - low) / (top - low))

    lines = lines_of(lane)
    paint: Paint = {name: {"d": line(x(path[shown]), y(lines[name][shown]), 1)} for name, *_ in FORCES}
    return paint | _limits(now, top, y) | _axes(end, low, top, x, y)


def _limits(now: Limits, top: float, y: Scale) -> Paint:
    """Lines and words of the limits, the larger one's words over its line, the other's under its own."""
    paint: Paint = {}
    known = sorted(("front", "fold"), key=lambda name: -float(np.nan_to_num(getattr(now, name), nan=-1.0)))
    outside = 0
    for k, name in enumerate(known):
        limit = float(getattr(now, name)) * MN
        path, text, at, beside = "", "", 0.0, LEFT + 6.0
        if isfinite(limit) and limit <= top:
            height = float(y(limit))
            path, at = line(np.array([LEFT, WIDTH - RIGHT]), np.full(2, height), 1), height + (-4.0 if k == 0 else 13.0)
        elif isfinite(limit):
            at, beside, outside = 13.0 + 13.0 * outside, LEFT + ABOVE, outside + 1
        if isfinite(limit):
            text = f"{limit:.3g} mN {LIMIT_WORDS[name]}{'' if path else ' (above)'}"
        paint[f"{name}_limit"] = {"d": path}
        paint[f"{name}_limit_words"] = {"text": text, "x": beside, "y": round(at, 1)}
    return paint


def _axes(end: float, low: float, top: float, x: Scale, y: Scale) -> Paint:
    """Axes, grid and numbers."""
    paint: Paint = {
        "axes": {"d": f"M{LEFT:g} {TOP:g}V{HEIGHT - BOTTOM:g}H{WIDTH - RIGHT:g}"},
        "x_words": {"x": 0.5 * (LEFT + WIDTH - RIGHT), "y": HEIGHT - 6.0},
        "y_words": {"x": 4.0, "y": 13.0},
    }
    grid = []
    for name, values, at in (("x", ticks(0.0, end), x), ("y", ticks(low, top), y)):
        for k in range(TICKS):
            value = values[k] if k < len(values) else None
            if value is None:
                paint[f"{name}{k}"] = {"text": "", "x": 0.0, "y": 0.0}
                continue
            place = round(float(at(value)), 1)
            if name == "x":
                paint["x" + str(k)] = {"text": f"{value:g}", "x": place, "y": HEIGHT - BOTTOM + 15.0}
            else:
                grid.append(f"M{LEFT:g} {place:g}H{WIDTH - RIGHT:g}")
                paint["y" + str(k)] = {"text": f"{value:g}", "x": LEFT - 6.0, "y": place + 4.0}
    paint["grid"] = {"d": "".join(grid)}
    return paint


def ticks(low: float, high: float) -> list[float]:
    """Round numbers between two, at most TICKS."""
    rough = (high - low) / (TICKS - 1)
    power = 10.0 ** floor(log10(rough))
    step = next(v * power for v in (1.0, 2.0, 2.5, 5.0, 10.0) if v * power >= rough * (1.0 - 1e-9))
    first = ceil(low / step - 1e-9)
    return [round(k * step, 10) for k in range(first, floor(high / step + 1e-9) + 1)][:TICKS]
