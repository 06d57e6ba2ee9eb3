"""Pictures of a design exploration: results of `tipmech design` in users' units, handed to what draws them."""

from collections.abc import Mapping, Sequence
from math import isfinite
from pathlib import Path
from re import sub

import numpy as np

from ..files.design_task import DesignTask
from ..lab.figure import GROUPS, Figure, Group, Tested
from ..lab.scale import Scale
from ..lab.sensitivity import ScaleEffect, Sensitivities
from ..lab.stackup import SCALE, StackUp
from ..lab.wanted import Inverse
from ..show.design import Front, Stack, Tornado, front_figure, stackup_figure, tornado_figure
from ..units import label
from ..wire.design import Design
from ..wire.dimensions import Dimension
from .design_facts import FACTS

FRONT, STACK = "front.png", "stackup.png"
TORNADOES = {group: f"tornado_{group}.png" for group in GROUPS}
REDUCED = "reduced figures by beam theory"


def changes_of(task: DesignTask, rows: Sequence[Dimension]) -> tuple[list[float], list[str]]:
    """Relative change of each dimension in a tornado plot, and its words: its tolerance, else the stated change."""
    own = {t.dimension.name: t.plus_minus for t in task.tolerances}
    changes = [min(own[d.name] / d.value, 0.5) if d.name in own else task.change for d in rows]
    words = [f"±{own[d.name] * 1e3:.3g} mm" if d.name in own else f"±{task.change * 100:.3g} %" for d in rows]
    return changes, words


def said(figure: Figure) -> str:
    """Name of a figure with its unit, for titles."""
    tip = f" ({figure.tip})" if figure.tip else ""
    return f"{_plain(figure)}{tip}, {label(figure.unit)}"


def _plain(figure: Figure) -> str:
    """Name of a figure in words, without its unit: "tip load 10 mm"."""
    return sub(r"(\d)mm", r"\1 mm", figure.key.replace("_", " "))


def value_of(slopes: Sensitivities, i: int, benched: Mapping[str, Tested]) -> tuple[str, str]:
    """Value of figure i, and how it was found: the bench's, as on its page, where slopes alone are by beam theory."""
    figure = slopes.figures[i]
    value, by = f"{slopes.values[i] / figure.factor:.3g}", slopes.by[i]
    if figure.key in benched:
        value, by = f"{benched[figure.key].value / figure.factor:.3g}", f"simulated; slopes of {value}, {by}"
    return value, by + ("; in doubt" if doubt_of(slopes, figure, benched) else "")


def doubt_of(slopes: Sensitivities, figure: Figure, benched: Mapping[str, Tested]) -> str:
    """What speaks against the value of a figure; "": nothing."""
    return benched[figure.key].doubt if figure.key in benched else slopes.doubts.get(figure.key, "")


def draw_tornadoes(
    task: DesignTask,
    slopes: Sensitivities,
    benched: Mapping[str, Tested],
    effect: ScaleEffect | None,
    folder: Path,
) -> list[Path]:
    """Tornado plots of all figures that have slopes, a picture for each group of them."""
    changes, words = changes_of(task, slopes.dimensions)
    less, more = slopes.effect(changes)
    panels: dict[Group, list[Tornado]] = {}
    for i, figure in enumerate(slopes.figures):
        if figure.key in slopes.missing:
            continue
        rows: tuple[tuple[str, float, float], ...] = tuple(
            (f"{d.name} {words[k]}", 100.0 * float(less[i, k]), 100.0 * float(more[i, k]))
            for k, d in enumerate(slopes.dimensions)
            if isfinite(slopes.slopes[i, k])
        )
        if effect is not None:
            low, _, high = effect.scales
            less_stiff, stiffer = (100.0 * float(e[i]) for e in effect.effect)
            rows = (*rows, (f"{SCALE}\n{low:.3g} to {high:.3g}", less_stiff, stiffer))
        title = "{}: {} ({})".format(said(figure), *value_of(slopes, i, benched))
        panels.setdefault(figure.group, []).append(Tornado(title, rows))
    note = (
        "Effect of each dimension alone, by its tolerance where one is stated, else by the same percentage; power law "
        "with the slope of a central difference of ±1 %; a core's diameter "
        f"without a station moves all its diameters. reduced: {REDUCED}. "
        + ("" if effect is None else f"{at_median(effect.scales[1])}; its bar goes to the ends of its 95 % interval. ")
        + (f"One-sided or missing slopes: {len(slopes.remarks)}, see {FACTS}. " if slopes.remarks else "")
        + (f"Figures without slopes: {len(slopes.missing)}, see there." if slopes.missing else "")
    )
    return [
        tornado_figure(
            f"What one dimension does to {GROUPS[group]}: {task.design.name}", own, folder / TORNADOES[group], note
        )
        for group, own in panels.items()
    ]


def at_median(median: float) -> str:
    """At which scale the values of a picture are."""
    return f"Values at the median of the {SCALE} and GJ, x {median:.3g}"


def draw_front(task: DesignTask, found: Inverse, scale: Scale | None, folder: Path) -> Path:
    """Front of the inverse design."""
    values = np.array([w.value for w in found.wanted])
    shown = np.array([[f.figure(w.figure.key) for w in found.wanted] for f in found.found])
    front = Front(
        labels=tuple(f"{said(w.figure)}: {w.words()}" for w in found.wanted),
        changes=100.0 * found.changes,
        over=found.figures / values,
        misses=found.misses,
        names=tuple(f"{k}" for k in range(1, len(found.found) + 1)),
        shown_changes=np.array([100.0 * f.change for f in found.found]),
        shown_over=shown / values,
        shown_misses=np.array([max(w.missed(f.figure(w.figure.key)) for w in found.wanted) for f in found.found]),
    )
    untested = [w.figure.key for w in found.wanted if w.figure.simulated is None]
    note = (
        f"Lines: searched, {REDUCED} times the ratio to the simulated bench. Marks: simulated designs"
        + (f" ({', '.join(untested)}: reduced only, no simulated test)." if untested else ".")
        + " Weighted sums: concave parts of a front are not found."
        + ("" if scale is None else f" {at_median(scale.median)}.")
    )
    return front_figure(f"{task.title} ({task.design.name})", front, folder / FRONT, note)


def draw_stack(design: Design, stack: StackUp, folder: Path) -> Path:
    """Histogram and shares of the stack-up."""
    unit = stack.figure.factor
    good = stack.values[np.isfinite(stack.values)]
    low, high = stack.quantiles[0.025] / unit, stack.quantiles[0.975] / unit
    text = f"{spread_of(stack)}: {low:.3g} to {high:.3g}; sd {100 * stack.log_sd:.3g} %"
    if stack.band is not None:
        text += f"; yield {100 * stack.yield_share:.1f} % ({percents(stack.yield_interval)})"
    if stack.yield_at:
        text += "\n" + yields(stack)
    shares = tuple(
        (f"{name}\n{words}", float(s), float(e[0]), float(e[1]))
        for (name, words), s, e in zip(stack.sources, stack.shares, stack.share_intervals, strict=True)
    )
    return stackup_figure(
        f"Tolerance stack-up: {design.name}",
        Stack(
            label=said(stack.figure),
            values=good / unit,
            nominal=stack.nominal / unit,
            band=None if stack.band is None else (stack.band[0] / unit, stack.band[1] / unit),
            checked=np.column_stack([stack.values[stack.checked], stack.simulated]) / unit,
            shares=shares,
            text=text,
        ),
        folder / STACK,
        f"{len(stack.values)} Sobol' points, {REDUCED} times simulated/reduced at the nominal design "
        f"({stack.ratio:.4f}); {len(stack.simulated)} points simulated, largest difference "
        f"{100 * stack.worst_check:.2g} %; {stack.unbuildable} points whose parts do not fit. Intervals 95 %.",
    )


def spread_of(stack: StackUp) -> str:
    """What the 95 % are of: wires alone, or wires and what is not known of their common scale."""
    return "95 % of wires" if len(stack.sources) == len(stack.tolerances) else "95 % of wires over the calibration"


def yields(stack: StackUp) -> str:
    """Yield at low end, median and high end of the scale, which all wires share."""
    scales = " / ".join(f"{scale:.3g}" for scale, _ in stack.yield_at)
    return f"yield if the scale is {scales}: {' / '.join(f'{100 * share:.1f}' for _, share in stack.yield_at)} %"


def percents(interval: tuple[float, float]) -> str:
    """An interval of shares in per cent."""
    return f"{100 * interval[0]:.1f}-{100 * interval[1]:.1f} %"
