"""`tipmech design`: sensitivities of a wire, designs with wanted figures, tolerance stack-up."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from ..checks import InputError
from ..files.common import named
from ..files.design_task import DesignTask
from ..files.wire import write_wire
from ..lab.evaluate import find_figure, pick_figures, tested_values
from ..lab.figure import Figure, Tested
from ..lab.inverse import inverse
from ..lab.over_scale import OverScale, over_scale
from ..lab.scale import Scale, read_scale
from ..lab.sensitivity import Sensitivities, scale_effect, sensitivities
from ..lab.stackup import SCALE, StackUp, Tolerance, stack_up
from ..lab.wanted import Bounds, Found, Inverse, Wanted
from ..wire.design import Design
from ..wire.dimensions import BENDS, Dimension, dimensions, same_dimension
from .design_facts import FACTS, WIRES, inverse_facts, scale_facts, slope_facts, stack_facts
from .design_pictures import (
    FRONT,
    STACK,
    TORNADOES,
    doubt_of,
    draw_front,
    draw_stack,
    draw_tornadoes,
    percents,
    said,
    spread_of,
    value_of,
)
from .terminal import finish, guard, print_json, print_table, progress, write_json

NAME, NOTE = 60, 250  # characters of the given wire's name and note that a found one's keeps: a wire file has limits
LARGEST, SMALLEST = 3, 0.05  # slopes printed of a figure: the largest ones, none smaller than this
PRINTED = 3  # found designs printed: more do not fit 80 columns


@dataclass(frozen=True)
class Asked:
    """A design file with its figures found: what the rooms below are called with."""

    figures: tuple[Figure, ...]
    dimensions: tuple[Dimension, ...]
    wanted: tuple[Wanted, ...]
    bounds: tuple[Bounds, ...]
    stacked: Figure | None
    band: tuple[float, float] | None
    scale: Scale | None


def calibrated(task: DesignTask, posterior: Path | None) -> DesignTask:
    """The task with the posterior of the command line, where there is one.

    Raises
    ------
    InputError
        when the file names one too
    """
    if posterior is None:
        return task
    if task.posterior is not None:
        raise InputError(
            f"--posterior: given beside [calibration] posterior = {task.posterior.name!r} of {task.path}; allowed: one"
        )
    return replace(task, posterior=posterior)


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
    with named(task.path, "sensitivities."):
        figures = pick_figures(task.design, task.figures)
    lengths = tuple(d for d in dimensions(task.design).values() if d.place not in BENDS and d.value > 0.0)
    return Asked(
        figures,
        lengths,
        tuple(wanted),
        tuple(Bounds(b.dimension, b.low, b.high) for b in task.bounds),
        stacked,
        band,
        None if task.posterior is None else read_scale(task.posterior, task.design),
    )


def run(task: DesignTask, folder: Path, *, as_json: bool, overwrite: bool) -> None:
    """Do all that a design file asks, then write figures, JSON and wire files."""
    guard(folder, [*TORNADOES.values(), FRONT, STACK, FACTS, *WIRES], overwrite)
    asked = prepare(task)
    found, stack, stacked, effect = None, None, task.design, None
    over: tuple[OverScale, ...] = ()
    middle = 1.0 if asked.scale is None else asked.scale.median
    if asked.wanted:  # first: it is what can be out of reach
        with progress("search", quiet=as_json) as report, named(task.path):
            found = inverse(task.design, asked.wanted, asked.bounds, scale=middle, seed=task.seed, report=report)
        found = replace(
            found, found=tuple(_titled(task.design, f, k, asked.scale) for k, f in enumerate(found.found, 1))
        )
        if asked.scale is not None:
            over = tuple(over_scale(f, found.wanted, asked.scale) for f in found.found)
    with progress("sensitivities", quiet=as_json) as report:
        slopes = sensitivities(
            task.design, asked.dimensions, asked.figures, simulate=task.simulate, scale=middle, report=report
        )
        if asked.scale is not None:
            effect = scale_effect(task.design, asked.figures, asked.scale, simulate=task.simulate)
        benched = {} if task.simulate else _benched(task.design, asked.figures, middle)
    if task.stack is not None and asked.stacked is not None:
        stacked = found.found[0].design if found is not None and task.stack.of == "found" else task.design
        with progress("tolerances", quiet=as_json) as report, named(task.path):
            stack = stack_up(
                stacked, _tolerances(task, stacked), asked.stacked, band=asked.band, points=task.stack.points,
                checks=task.stack.checks, seed=task.seed, scale=asked.scale, report=report,
            )  # fmt: skip
    if overwrite:
        for name in (*TORNADOES.values(), FRONT, STACK, FACTS, *WIRES):
            (folder / name).unlink(missing_ok=True)
    paths = draw_tornadoes(task, slopes, benched, effect, folder)
    facts: dict[str, Any] = {
        "title": task.title,
        "wire": task.design.name,
        "sensitivities": slope_facts(slopes, benched),
    }
    if asked.scale is not None and effect is not None:
        facts["calibration"] = scale_facts(asked.scale, effect)
    if found is not None:
        paths.append(draw_front(task, found, asked.scale, folder))
        facts["inverse"] = inverse_facts(found, over)
        for name, one in zip(WIRES, found.found, strict=False):
            write_wire(one.design, folder / name)
            paths.append(folder / name)
    if stack is not None:
        paths.append(draw_stack(stacked, stack, folder))
        facts["stackup"] = {"wire": stacked.name, **stack_facts(stack)}
    paths.append(write_json(facts, folder / FACTS))
    if as_json:
        print_json({**facts, "files": paths})
        return
    if asked.scale is not None:
        print(f"{SCALE} and GJ: x {asked.scale.words()}, from {asked.scale.path}; all values are at its median")
    _print(task, slopes, benched, found, stack, stacked)
    if found is not None and over:
        print_table(*_over_table(found, over))
    finish(paths)


def _benched(design: Design, figures: Sequence[Figure], scale: float) -> dict[str, Tested]:
    """Values by the bench of the figures that beam theory gives roughly, by key."""
    found = tested_values(design, [f for f in figures if f.rough], scale=scale)
    return {key: one for key, one in found.items() if np.isfinite(one.value)}


def _titled(given: Design, found: Found, k: int, scale: Scale | None) -> Found:
    """A found design with a name and a note of its own; its file holds dimensions, so the note says the scale."""
    by = "" if scale is None else f", with EI and GJ x {scale.median:.3g} by calibration, not in this file"
    note = f"found by search, simulated, number {k}{by}; made from: {(given.note or given.name)[:NOTE]}"
    return replace(found, design=replace(found.design, name=f"{given.name[:NAME]} found {k}", note=note))


def _tolerances(task: DesignTask, design: Design) -> list[Tolerance]:
    """Tolerances about the nominal dimensions of a design."""
    return [
        Tolerance(same_dimension(design, t.dimension), t.plus_minus, t.distribution, t.sigmas) for t in task.tolerances
    ]


def _print(
    task: DesignTask,
    slopes: Sensitivities,
    benched: Mapping[str, Tested],
    found: Inverse | None,
    stack: StackUp | None,
    stacked: Design,
) -> None:
    """Tables of everything."""
    table = []
    for i, figure in enumerate(slopes.figures):
        if figure.key in slopes.missing:
            continue
        row = np.nan_to_num(slopes.slopes[i])
        order = [k for k in np.argsort(-np.abs(row))[:LARGEST] if abs(row[k]) >= SMALLEST]
        table.append(
            (
                said(figure),
                "\n".join(value_of(slopes, i, benched)),
                "\n".join(f"{slopes.dimensions[k].name} {row[k]:+.2f}" for k in order),
            )
        )
    print_table(f"{task.design.name}: what one dimension does", ("", "value", "d ln(figure)/d ln(dimension)"), table)
    if slopes.missing:
        print(f"no slope (see {FACTS}): {', '.join(slopes.missing)}")
    for figure in slopes.figures:
        if doubt := doubt_of(slopes, figure, benched):
            print(f"in doubt: {said(figure)}: {doubt}")
    if found is not None:
        print_table(*_found_table(found))
        for k, one in enumerate(found.found[:PRINTED], 1):
            for w in found.wanted:
                if w.figure.key in one.doubts:
                    print(f"found {k} does not count as met: {said(w.figure)}: {one.doubts[w.figure.key]}")
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
        asked = f"{w.words()}, added" if w.added else w.words()
        rows.append((f"{said(w.figure)}\nreduced, simulated", asked, *cells))
    for b in found.bounds:
        name = b.dimension.name
        now = f"now {b.dimension.value * 1e3:.4g}"
        rows.append((f"{name}, mm", now, *(f"{f.values[name] * 1e3:.4g}" for f in first)))
    rows.append(("change, %", "", *(f"{100 * f.change:.3g}" for f in first)))
    rows.append(("all met", "", *("yes" if f.met else "no" for f in first)))
    more = f", {len(first)} of {len(found.found)}" if len(found.found) > len(first) else ""
    return f"found designs{more}", ("", "wanted", *(f"found {k}" for k in range(1, len(first) + 1))), rows


def _over_table(found: Inverse, over: Sequence[OverScale]) -> tuple[str, tuple[str, ...], list[tuple[str, ...]]]:
    """Title, head and rows of the found designs over the calibration."""
    first = over[:PRINTED]
    rows = []
    for k, w in enumerate(found.wanted):
        unit = w.figure.factor
        ends = (f"{o.bands[k].low / unit:.3g}\nto {o.bands[k].high / unit:.3g}" for o in first)
        rows.append((f"{said(w.figure)}: 95 %", w.words(), *ends))
        rows.append(("... as wanted in", "", *(f"{100 * o.bands[k].met:.0f} %" for o in first)))
    rows.append(("all as wanted in", "", *(f"{100 * o.all_met:.0f} %" for o in first)))
    return "found designs over the calibration", ("", "wanted", *(f"found {k}" for k in range(1, len(first) + 1))), rows


def _stack_table(design: Design, stack: StackUp) -> tuple[str, tuple[str, ...], list[tuple[str, ...]]]:
    """Title, head and rows of the stack-up."""
    unit = stack.figure.factor
    rows: list[tuple[str, ...]] = [
        (name, words, f"{100 * s:.1f} %") for (name, words), s in zip(stack.sources, stack.shares, strict=True)
    ]
    low, high = stack.quantiles[0.025] / unit, stack.quantiles[0.975] / unit
    rows.append((f"nominal; {spread_of(stack)}", f"{stack.nominal / unit:.4g}; {low:.4g} to {high:.4g}", ""))
    if stack.band is not None:
        band = f"{stack.band[0] / unit:.4g} to {stack.band[1] / unit:.4g}"
        rows.append((f"yield within {band}", f"{100 * stack.yield_share:.1f} %", percents(stack.yield_interval)))
    rows += [(f"... if the scale is {scale:.3g}", f"{100 * share:.1f} %", "") for scale, share in stack.yield_at]
    return f"{design.name}: stack-up of {said(stack.figure)}", ("", "tolerance", "share of variance"), rows
