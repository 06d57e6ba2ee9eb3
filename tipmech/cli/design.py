"""`tipmech design`: sensitivities of a wire, designs with wanted figures, tolerance stack-up."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import isfinite
from pathlib import Path
from re import sub
from typing import Any

import numpy as np

from ..bench.tip_shape import Shape
from ..files.common import named
from ..files.design_task import DesignTask
from ..files.wire import write_wire
from ..lab.evaluate import find_figure
from ..lab.inverse import inverse
from ..lab.reduced import Figure, figures_of
from ..lab.sensitivity import Sensitivities, sensitivities
from ..lab.stackup import StackUp, Tolerance, stack_up
from ..lab.wanted import Bounds, Found, Inverse, Wanted
from ..show.design import Front, Stack, Tornado, front_figure, stackup_figure, tornado_figure
from ..units import label
from ..wire.design import Design
from ..wire.dimensions import BENDS, Dimension, dimensions, same_dimension
from .design_facts import WIRES, inverse_facts, slope_facts, stack_facts
from .terminal import finish, guard, print_json, print_table, progress, write_json

TORNADO, FRONT, STACK, FACTS = "tornado.png", "front.png", "stackup.png", "design.json"
NAME, NOTE = 60, 250  # characters of the given wire's name and note that a found one's keeps: a wire file has limits
LARGEST, SMALLEST = 3, 0.05  # slopes printed of a figure: the largest ones, none smaller than this
PRINTED = 3  # found designs printed: more do not fit 80 columns
REDUCED = "reduced figures by beam theory"


@dataclass(frozen=True)
class Asked:
    """A design file with its figures found: what the rooms below are called with."""

    figures: tuple[Figure, ...]
    dimensions: tuple[Dimension, ...]
    wanted: tuple[Wanted, ...]
    bounds: tuple[Bounds, ...]
    stacked: Figure | None
    band: tuple[float, float] | None


def prepare(task: DesignTask) -> Asked:
    """Find the figures that a design file names; its dimensions are checked already.

    Raises
    ------
    InputError
        one sentence: file, field, value, what is allowed
    """
    wanted, stacked, band = [], None, None
    for i, row in enumerate(task.wanted, 1):
        with named(task.path, f"wanted[{i}]."):
            figure = find_figure(task.design, row.figure)
        wanted.append(Wanted(figure, row.kind, row.value * figure.factor, row.tolerance))
    if task.stack is not None:
        with named(task.path, "stackup."):
            stacked = find_figure(task.design, task.stack.figure)
        if task.stack.band is not None:
            band = (task.stack.band[0] * stacked.factor, task.stack.band[1] * stacked.factor)
    lengths = tuple(d for d in dimensions(task.design).values() if d.place not in BENDS and d.value > 0.0)
    return Asked(
        figures_of(task.design.length, Shape.of(task.design)),
        lengths,
        tuple(wanted),
        tuple(Bounds(b.dimension, b.low, b.high) for b in task.bounds),
        stacked,
        band,
    )


def run(task: DesignTask, folder: Path, *, as_json: bool, overwrite: bool) -> None:
    """Do all that a design file asks, then write figures, JSON and wire files."""
    guard(folder, [TORNADO, FRONT, STACK, FACTS, *WIRES], overwrite)
    asked = prepare(task)
    found, stack, stacked = None, None, task.design
    if asked.wanted:  # first: it is what can be out of reach
        with progress("search", quiet=as_json) as report, named(task.path):
            found = inverse(task.design, asked.wanted, asked.bounds, seed=task.seed, report=report)
        found = replace(found, found=tuple(_titled(task.design, f, k) for k, f in enumerate(found.found, 1)))
    with progress("sensitivities", quiet=as_json) as report:
        slopes = sensitivities(task.design, asked.dimensions, asked.figures, simulate=task.simulate, report=report)
    if task.stack is not None and asked.stacked is not None:
        stacked = found.found[0].design if found is not None and task.stack.of == "found" else task.design
        with progress("tolerances", quiet=as_json) as report, named(task.path):
            stack = stack_up(
                stacked, _tolerances(task, stacked), asked.stacked, band=asked.band, points=task.stack.points,
                checks=task.stack.checks, seed=task.seed, report=report,
            )  # fmt: skip
    if overwrite:
        for name in (TORNADO, FRONT, STACK, FACTS, *WIRES):
            (folder / name).unlink(missing_ok=True)
    paths = [_draw_tornado(task, slopes, folder)]
    facts: dict[str, Any] = {"title": task.title, "wire": task.design.name, "sensitivities": slope_facts(slopes)}
    if found is not None:
        paths.append(_draw_front(task, found, folder))
        facts["inverse"] = inverse_facts(found)
        for name, one in zip(WIRES, found.found, strict=False):
            write_wire(one.design, folder / name)
            paths.append(folder / name)
    if stack is not None:
        paths.append(_draw_stack(stacked, stack, folder))
        facts["stackup"] = {"wire": stacked.name, **stack_facts(stack)}
    paths.append(write_json(facts, folder / FACTS))
    if as_json:
        print_json({**facts, "files": paths})
        return
    _print(task, slopes, found, stack, stacked)
    finish(paths)


def _titled(given: Design, found: Found, k: int) -> Found:
    """A found design with a name and a note of its own."""
    note = f"found by search, simulated, number {k}; made from: {(given.note or given.name)[:NOTE]}"
    return replace(found, design=replace(found.design, name=f"{given.name[:NAME]} found {k}", note=note))


def _tolerances(task: DesignTask, design: Design) -> list[Tolerance]:
    """Tolerances about the nominal dimensions of a design."""
    return [
        Tolerance(same_dimension(design, t.dimension), t.plus_minus, t.distribution, t.sigmas) for t in task.tolerances
    ]


def changes_of(task: DesignTask, rows: Sequence[Dimension]) -> tuple[list[float], list[str]]:
    """Relative change of each dimension in a tornado plot, and its words: its tolerance, else the stated change."""
    own = {t.dimension.name: t.plus_minus for t in task.tolerances}
    changes = [min(own[d.name] / d.value, 0.5) if d.name in own else task.change for d in rows]
    words = [f"±{own[d.name] * 1e3:.3g} mm" if d.name in own else f"±{task.change * 100:.3g} %" for d in rows]
    return changes, words


def _said(figure: Figure) -> str:
    """Name of a figure with its unit, for titles."""
    return f"{_plain(figure)}, {label(figure.unit)}"


def _plain(figure: Figure) -> str:
    """Name of a figure in words, without its unit: "tip load 10 mm"."""
    return sub(r"(\d)mm", r"\1 mm", figure.key.replace("_", " "))


def _draw_tornado(task: DesignTask, slopes: Sensitivities, folder: Path) -> Path:
    """Tornado plots of all figures."""
    changes, words = changes_of(task, slopes.dimensions)
    less, more = slopes.effect(changes)
    panels = []
    for i, figure in enumerate(slopes.figures):
        rows = tuple(
            (f"{d.name} {words[k]}", 100.0 * float(less[i, k]), 100.0 * float(more[i, k]))
            for k, d in enumerate(slopes.dimensions)
            if isfinite(slopes.slopes[i, k])
        )
        panels.append(Tornado(f"{_said(figure)}: {slopes.values[i] / figure.factor:.3g} ({slopes.by[i]})", rows))
    note = (
        "Effect of each dimension alone, by its tolerance where one is stated, else by the same percentage; power law "
        "with the slope of a central difference of ±1 %; a core's diameter "
        f"without a station moves all its diameters. reduced: {REDUCED}. "
        + (f"One-sided or missing slopes: {len(slopes.remarks)}, see {FACTS}." if slopes.remarks else "")
    )
    return tornado_figure(f"What one dimension does: {task.design.name}", panels, folder / TORNADO, note)


def _draw_front(task: DesignTask, found: Inverse, folder: Path) -> Path:
    """Front of the inverse design."""
    values = np.array([w.value for w in found.wanted])
    shown = np.array([[f.figure(w.figure.key) for w in found.wanted] for f in found.found])
    front = Front(
        labels=tuple(f"{_said(w.figure)}: {w.words()}" for w in found.wanted),
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
    )
    return front_figure(f"{task.title} ({task.design.name})", front, folder / FRONT, note)


def _draw_stack(design: Design, stack: StackUp, folder: Path) -> Path:
    """Histogram and shares of the stack-up."""
    unit = stack.figure.factor
    good = stack.values[np.isfinite(stack.values)]
    low, high = stack.quantiles[0.025] / unit, stack.quantiles[0.975] / unit
    text = f"95 % of wires: {low:.3g} to {high:.3g}; sd {100 * stack.log_sd:.3g} %"
    if stack.band is not None:
        text += f"; yield {100 * stack.yield_share:.1f} % ({_percents(stack.yield_interval)})"
    shares = tuple(
        (f"{t.dimension.name}\n{t.words()}", float(s), float(e[0]), float(e[1]))
        for t, s, e in zip(stack.tolerances, stack.shares, stack.share_intervals, strict=True)
    )
    return stackup_figure(
        f"Tolerance stack-up: {design.name}",
        Stack(
            label=_said(stack.figure),
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


def _percents(interval: tuple[float, float]) -> str:
    return f"{100 * interval[0]:.1f}-{100 * interval[1]:.1f} %"


def _print(
    task: DesignTask, slopes: Sensitivities, found: Inverse | None, stack: StackUp | None, stacked: Design
) -> None:
    """Tables of everything."""
    table = []
    for i, figure in enumerate(slopes.figures):
        row = np.nan_to_num(slopes.slopes[i])
        order = [k for k in np.argsort(-np.abs(row))[:LARGEST] if abs(row[k]) >= SMALLEST]
        value = f"{slopes.values[i] / figure.factor:.3g}\n{slopes.by[i]}"
        table.append((_said(figure), value, "\n".join(f"{slopes.dimensions[k].name} {row[k]:+.2f}" for k in order)))
    print_table(f"{task.design.name}: what one dimension does", ("", "value", "d ln(figure)/d ln(dimension)"), table)
    if found is not None:
        print_table(*_found_table(found))
        print(f"{'all wanted figures met' if found.found[0].met else 'not all wanted figures can be met together'}")
    if stack is not None:
        print_table(*_stack_table(stacked, stack))


def _found_table(found: Inverse) -> tuple[str, tuple[str, ...], list[tuple[str, ...]]]:
    """Title, head and rows of the found designs."""
    first = found.found[:PRINTED]
    rows = []
    for w in found.wanted:
        cells = []
        for one in first:
            reduced, value = one.reduced[w.figure.key] / w.figure.factor, one.simulated.get(w.figure.key)
            cells.append(f"{reduced:.4g}\n-" if value is None else f"{reduced:.4g}\n{value / w.figure.factor:.4g}")
        rows.append((f"{_said(w.figure)}\nreduced, simulated", w.words(), *cells))
    for b in found.bounds:
        name = b.dimension.name
        now = f"now {b.dimension.value * 1e3:.4g}"
        rows.append((f"{name}, mm", now, *(f"{f.values[name] * 1e3:.4g}" for f in first)))
    rows.append(("change, %", "", *(f"{100 * f.change:.3g}" for f in first)))
    rows.append(("all met", "", *("yes" if f.met else "no" for f in first)))
    more = f", {len(first)} of {len(found.found)}" if len(found.found) > len(first) else ""
    return f"found designs{more}", ("", "wanted", *(f"found {k}" for k in range(1, len(first) + 1))), rows


def _stack_table(design: Design, stack: StackUp) -> tuple[str, tuple[str, ...], list[tuple[str, ...]]]:
    """Title, head and rows of the stack-up."""
    unit = stack.figure.factor
    rows: list[tuple[str, ...]] = [
        (t.dimension.name, t.words(), f"{100 * s:.1f} %") for t, s in zip(stack.tolerances, stack.shares, strict=True)
    ]
    low, high = stack.quantiles[0.025] / unit, stack.quantiles[0.975] / unit
    rows.append(("nominal; 95 % of wires", f"{stack.nominal / unit:.4g}; {low:.4g} to {high:.4g}", ""))
    if stack.band is not None:
        band = f"{stack.band[0] / unit:.4g} to {stack.band[1] / unit:.4g}"
        rows.append((f"yield within {band}", f"{100 * stack.yield_share:.1f} %", _percents(stack.yield_interval)))
    return f"{design.name}: stack-up of {_said(stack.figure)}", ("", "tolerance", "share of variance"), rows
