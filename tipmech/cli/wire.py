"""`tipmech wire`: profiles and bench figures of designs, side by side, and the core that gives a wanted tip load."""

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from math import degrees, isfinite, pi
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from ..bench.lateral import FREE_LENGTHS as LATERAL_LENGTHS
from ..bench.suite import Suite, run_suite
from ..bench.tip_load import FREE_LENGTH, FREE_LENGTHS, TRAVEL, tip_load
from ..checks import InputError
from ..files.wire import write_wire
from ..lab.figures import BENT
from ..lab.scale import Scale, read_scale
from ..lab.spread import DRAWS, LEVELS, Spread, spread
from ..lab.spread_sections import STATIONS, section_name, section_spread
from ..profile import Array
from ..show.bench.bend import draw_bend, draw_springback
from ..show.bench.column import draw_column
from ..show.bench.flexure import draw_flexure
from ..show.bench.lateral import draw_lateral
from ..show.bench.prolapse import draw_prolapse
from ..show.bench.tip_load import draw_shapes, draw_tip_load
from ..show.bench.torque import draw_lag, draw_torque
from ..show.bench.track import draw_track, draw_track_stiffness
from ..show.construction import part_words
from ..show.style import save, save_pages
from ..show.wire import MOST, Panel, WireEntry, letters, wire_page, wire_sheets
from ..show.wire_table import FEW, row_labels
from ..units import from_si, to_si
from ..wire.design import Design, least_bend_radii, profile
from ..wire.grind import GrindError, Ground, grind, limits
from ..wire.materials import Superelastic
from ..wire.parts import Ribbon, Taper
from ..wire.report import bounds, coil_facts, turning
from ..wire.stations import JUMP, stations
from .terminal import finish, guard, print_json, print_table, progress, write_json

if TYPE_CHECKING:
    from matplotlib.axes import Axes

PICTURE, PAGE, FIGURES = "wire.png", "wire.pdf", "wire.json"
BEND_HEADING = "least bend radius before a part's limit, distal 1 / 10 / 30 mm, mm"
TWO_SCALES = (
    "Two scales: drawing, charts, tests and rows are of the wire as drawn; rows 'over the calibration' are of "
    "the posterior's wires: EI and GJ of the drawing times the scale over the distal 30 mm, passing to 1 at 60 mm."
)
FLEXED = (20e-3, 50e-3, 100e-3, 200e-3)  # m from the tip, where the flexure profile is listed


def run(
    designs: list[Design],
    sources: list[str],
    folder: Path,
    *,
    wanted_gf: float | None,
    as_json: bool,
    overwrite: bool,
    posterior: Path | None = None,
) -> None:
    """Bench every design, draw the figure, print the table; grind one design to `wanted_gf` first where that is set."""
    check_options(designs, sources, wanted_gf, posterior)
    if len(designs) > MOST:
        raise InputError(f"{len(designs)} wires; allowed: at most {MOST} on one page")
    written = None if wanted_gf is None else f"{Path(sources[0]).stem}_ground_to_{wanted_gf:g}_gf.toml"
    guard(folder, [name for name in (PICTURE, PAGE, FIGURES, written) if name], overwrite)
    ground = None
    if wanted_gf is not None:
        with progress("grinding the core on the bench", quiet=as_json):
            ground = ground_to(designs, sources, wanted_gf)
        designs = [designs[0], ground.design]
    shown = told_apart(designs, sources)
    over: list[Spread] = []
    grown: dict[str, Array] = {}
    scale: Scale | None = None
    if posterior is not None:
        with progress("figures over the posterior", quiet=as_json) as report:
            over = spread(posterior, designs[0], report)
            grown = section_spread(posterior, designs[0])
            scale = read_scale(posterior, designs[0])
    suites = _benched(shown, quiet=as_json)
    figures, radii = [bench_figures(suite) for suite in suites], [bend_radii(d) for d in shown]
    names = [d.name for d in shown]
    texts = [
        tuple((label, show(values)) for label, show in ROWS)
        + construction_rows(construction_facts(design))
        + spread_rows(over, grown, scale)
        + bend_rows(design, bends)
        for design, values, bends in zip(shown, figures, radii, strict=True)
    ]
    entries = [
        WireEntry(d, profile(d), profile(d, "sliding"), profile(d, "bonded"), t)
        for d, t in zip(shown, texts, strict=True)
    ]
    note = told(names if len(names) == 1 else letters(len(names)), suites) + (f"\n{TWO_SCALES}" if scale else "")
    content = entries, panels(suites), note, ", as drawn; over the calibration: table" if scale else ""
    paths = [save(wire_page(*content), folder / PICTURE), save_pages(wire_sheets(*content), folder / PAGE)]
    facts: dict[str, Any] = {
        "wires": [
            {"name": d.name, "note": d.note, **v, "least_bend_radius_mm": r}
            | construction_facts(d)
            | bench_words(suite)
            | ({"over_posterior": spread_facts(over, grown, scale)} if scale else {})
            for d, v, r, suite in zip(shown, figures, radii, suites, strict=True)
        ],
    }
    if ground is not None and written is not None and wanted_gf is not None:
        if overwrite:
            (folder / written).unlink(missing_ok=True)
        write_wire(ground.design, folder / written)
        facts["ground"] = {**ground_facts(designs[0], ground, wanted_gf), "file": written}
    paths.append(write_json(facts, folder / FIGURES))
    paths += [folder / written] if written else []
    if as_json:
        print_json({**facts, "files": paths})
        return
    labels = row_labels(texts)
    table = [(label, *(dict(t).get(label, "-") for t in texts)) for label in labels]
    print_table("wires (invented unless their file says otherwise)", ("", *(d.name for d in shown)), table)
    if ground is not None:
        print(ground_sentence(facts["ground"]))
    print(note if len(names) == 1 else told(names, suites))
    finish(paths)


def construction_facts(design: Design) -> dict[str, Any]:
    """What the construction says beside the figures, users' units in the names: bounds, sense of turning, coils."""
    told = stations(design, STATIONS)
    s = np.array([one.at for one in told])
    found, sense = bounds(design), turning(design, s)
    stocks = {"sliding": found.sliding, "touching": found.touching, "bonded": found.bonded}

    def between(key: str, unit: str) -> dict[str, list[float]]:
        return {name: [from_si(float(v), unit) for v in stock.at(key, s)] for name, stock in stocks.items()}

    turned = {"clockwise": sense.clockwise, "counterclockwise": sense.counterclockwise}
    coils = [
        {
            "name": coil.name,
            "index": coil.index,
            "gap_percent": 100.0 * coil.gap,
            "turns_meet_below_radius_mm": from_si(coil.closing_radius, "mm") if isfinite(coil.closing_radius) else None,
            "initial_tension_mN": from_si(coil.opening_tension, "mN"),
            "opens_from_moment_uN_m": [1e6 * moment for moment in coil.opening_moments],
        }
        for coil in coil_facts(design)
    ]
    gaps = {
        name: from_si(part.material.law.hysteresis(part.material.E, part.material.yield_strain), "MPa")
        for name, part in design.named_parts()
        if isinstance(part.material.law, Superelastic)
    }
    return {
        **{
            section_name(one, key): from_si(float(getattr(found, found.used).at(key, np.array([one.at]))[0]), "N_mm2")
            for key in ("EI1", "EI2")
            for one in told
        },
        "coupling": found.used,
        "stations_mm": [from_si(one.distance, "mm") for one in told],
        "stations_side": [one.side for one in told],
        "EI_bounds_N_mm2": between("EI1", "N_mm2"),
        "EI_hard_axis_bounds_N_mm2": between("EI2", "N_mm2"),
        "GJ_bounds_N_mm2": between("GJ", "N_mm2"),
        "EA_bounds_N": between("EA", "N"),
        "GA_bounds_N": between("GA", "N"),
        "GJ_turned_N_mm2": {k: [from_si(float(x), "N_mm2") for x in v] for k, v in turned.items()},
        "EA_pulled_N": [float(x) for x in sense.pulled],
        "coils": coils,
        "stress_hysteresis_MPa": gaps,
    }


def spread_facts(over: Sequence[Spread], grown: dict[str, Array], scale: Scale) -> dict[str, Any]:
    """Quantiles of the figures over a posterior, users' units in the names."""
    levels = np.array(LEVELS)
    facts: dict[str, Any] = {
        one.figure.name: {"quantiles": [float(q) / one.figure.factor for q in one.quantiles], "unsolved": one.unsolved}
        for one in over
    }
    facts |= {name: {"quantiles": values.tolist()} for name, values in grown.items()}
    return facts | {
        "scale_of_EI_and_GJ": {"quantiles": scale.at(levels).tolist()},
        "values_elsewhere_are_at": "scale 1, the drawing",
        "levels": list(LEVELS),
        "draws": DRAWS,
    }


def spread_rows(over: Sequence[Spread], grown: dict[str, Array], scale: Scale | None) -> tuple[tuple[str, str], ...]:
    """Rows of the table: the scale, then median and 95 % interval of each figure over a posterior."""
    if scale is None:
        return ()
    rows = [
        ("all rows but those over the calibration", "the drawing, scale 1"),
        ("over the calibration: scale of EI and GJ, distal 30 mm", scale.words()),
    ]

    def row(name: str, quantiles: Iterable[float], left: str = "") -> None:
        low, middle, high = quantiles
        words = name.replace("_", " ")
        rows.append((f"over the calibration: {words}", f"{middle:.3g} (95 %: {low:.3g} to {high:.3g}{left})"))

    for one in over:
        left = f", {one.unsolved} of {DRAWS} not solved" if one.unsolved else ""
        row(one.figure.name, (float(q) / one.figure.factor for q in one.quantiles), left)
    for name, values in grown.items():
        row(name, values.tolist())
    return tuple(rows)


def bench_words(suite: Suite) -> dict[str, Any]:
    """Definitions of the tests, and why any was not made."""
    return {"definitions": definitions(suite), "not_made": suite.not_made}


def construction_rows(facts: dict[str, Any]) -> tuple[tuple[str, str], ...]:
    """Rows of the table from `construction_facts`."""
    rows = station_rows(facts)
    rows.append(("coupling used in simulations", facts["coupling"]))
    for key, unit in (("EI", "N_mm2"), ("EI_hard_axis", "N_mm2"), ("GJ", "N_mm2"), ("EA", "N"), ("GA", "N")):
        table = facts[f"{key}_bounds_{unit}"]
        if key == "EI_hard_axis" and not _differ(facts, 10.0):
            continue
        label = f"{key.replace('_', ' ')} at 10 mm, sliding / turns shut / bonded, {unit.replace('_mm2', ' mm²')}"
        rows.append((label, _at(facts, 10.0, table.values())))
    label = "GJ at 10 mm, turned clockwise / counterclockwise, N mm²"
    rows.append((label, _at(facts, 10.0, facts["GJ_turned_N_mm2"].values())))
    rows.append(("EA at 10 mm, pulled, N", _at(facts, 10.0, [facts["EA_pulled_N"]])))
    for coil in facts["coils"]:
        meets = coil["turns_meet_below_radius_mm"]
        text = "turns touch" if meets is None else f"gap {coil['gap_percent']:.3g} %, turns meet below R {meets:.3g} mm"
        if coil["initial_tension_mN"] > 0.0:
            low, high = coil["opens_from_moment_uN_m"]
            text += f"; {coil['initial_tension_mN']:.3g} mN holds it shut, to {low:.2g}-{high:.2g} µN m"
        rows.append((f"{coil['name']}, its turns", text))
    gaps = [f"{name} {gap:.3g}" for name, gap in facts["stress_hysteresis_MPa"].items()]
    rows.append(("stress hysteresis of superelastic parts, MPa", ", ".join(gaps) or "-"))
    return tuple(rows)


def station_rows(facts: dict[str, Any]) -> list[tuple[str, str]]:
    """Rows of EI as simulated at the stations, on either side of a jump, about both axes where they differ."""
    rows = []
    for where in dict.fromkeys(facts["stations_mm"]):
        place = f"at {where:g} mm from the tip, N mm²"
        rows.append((f"EI of the section {place}", _at(facts, where, [facts["EI_bounds_N_mm2"][facts["coupling"]]])))
        if _differ(facts, where):
            hard = facts["EI_hard_axis_bounds_N_mm2"][facts["coupling"]]
            rows.append((f"... about its hard axis {place}", _at(facts, where, [hard])))
    return rows


def _at(facts: dict[str, Any], where: float, lists: Iterable[Sequence[float]]) -> str:
    """Values of several lists over the stations at one place (mm), on either side where the section jumps there."""
    told = [k for k, mm in enumerate(facts["stations_mm"]) if mm == where]
    sides = [(" / ".join(f"{row[k]:.3g}" for row in lists), facts["stations_side"][k]) for k in told]
    if len({text for text, _ in sides}) == 1:  # another rigidity jumps there
        return sides[0][0]
    return "; ".join(f"{text} toward the {side}" for text, side in sides) or "-"


def _differ(facts: dict[str, Any], where: float) -> bool:
    """Whether EI about the two axes differs at a place (mm), in any bound."""
    easy, hard = facts["EI_bounds_N_mm2"], facts["EI_hard_axis_bounds_N_mm2"]
    told = [k for k, mm in enumerate(facts["stations_mm"]) if mm == where]
    return any(hard[bound][k] > (1.0 + JUMP) * easy[bound][k] for bound in easy for k in told)


def _benched(designs: Sequence[Design], *, quiet: bool) -> list[Suite]:
    """Bench tests of every design."""
    suites = []
    with progress("bench tests", quiet=quiet) as report:
        for k, design in enumerate(designs):
            suites.append(run_suite(design, lambda share, k=k: report(k + share, len(designs))))  # type: ignore[misc]
    return suites


def panels(suites: Sequence[Suite]) -> list[Panel]:
    """What the page shows of the bench tests, all wires over each other; of more than a few only the main lines."""
    named = letters(len(suites))
    few = len(suites) <= FEW

    def drawn(draw: Callable[..., Any], of: Callable[[Suite], Any], **options: Any) -> Panel:
        def panel(ax: "Axes") -> "Axes":
            results = [(name, of(suite)) for name, suite in zip(named, suites, strict=True)]
            if all(result is None for _, result in results):
                ax.set_axis_off()
                ax.text(0.5, 0.5, "not made with this wire: see the table", ha="center", va="center", fontsize=8)
                return ax
            return draw(ax, results, **options)  # type: ignore[no-any-return]

        return panel

    middle = LATERAL_LENGTHS.index(FREE_LENGTH)
    straight = [(name, suite.torque) for name, suite in zip(named, suites, strict=True)] if few else []
    return [
        drawn(draw_tip_load, lambda s: s.tip_load if few else (s.main,)),
        drawn(draw_shapes, lambda s: s.main),
        drawn(draw_lateral, lambda s: s.lateral[middle], detail=few),
        drawn(draw_flexure, lambda s: s.flexure),
        drawn(draw_column, lambda s: s.column, detail=few),
        drawn(draw_prolapse, lambda s: s.prolapse, detail=few),
        drawn(draw_torque, lambda s: s.torque_shaped, straight=straight),
        drawn(draw_lag, lambda s: s.torque_shaped, straight=straight),
        drawn(draw_track, lambda s: s.track, detail=few),
        drawn(draw_track_stiffness, lambda s: s.track, detail=few),
        drawn(draw_bend, lambda s: s.bend, detail=few),
        drawn(draw_springback, lambda s: s.bend),
    ]


def definitions(suite: Suite) -> dict[str, str]:
    """The tests in words: the definition decides the figure."""
    tests = {
        "Flexure": suite.flexure,
        "Column": suite.column,
        "Prolapse": suite.prolapse,
        "Torque": suite.torque_shaped or suite.torque,
        "Tracking": suite.track,
        "Bends": suite.bend,
    }
    return {
        "Tip load": suite.main.definition_within(TRAVEL),
        "Lateral": suite.lateral[LATERAL_LENGTHS.index(FREE_LENGTH)].definition,
        **{name: test.definition for name, test in tests.items() if test is not None},
    }


def told(names: Sequence[str], suites: Sequence[Suite]) -> str:
    """Definitions of all wires in lines: once where they agree, else each with its wires."""
    lines = []
    every = [definitions(suite) for suite in suites]
    for test in dict.fromkeys(test for one in every for test in one):
        texts = dict.fromkeys(one[test] for one in every if test in one)
        for text in texts:
            who = [name for name, one in zip(names, every, strict=True) if one.get(test) == text]
            lines.append(f"{test}{'' if len(texts) == 1 else ' (' + ', '.join(who) + ')'}: {text}.")
    for name, suite in zip(names, suites, strict=True):
        lines += [f"Not made with {name}: {test}, {why}." for test, why in suite.not_made.items()]
    return "\n".join(lines)


def told_apart(designs: Sequence[Design], sources: Sequence[str]) -> list[Design]:
    """Designs whose names differ: where several share one, the stem of its file is added."""
    counts = Counter(d.name for d in designs)
    stems = [Path(s).stem for s in sources] + [""] * (len(designs) - len(sources))
    return [
        replace(d, name=f"{d.name} [{stem}]") if counts[d.name] > 1 else d
        for d, stem in zip(designs, stems, strict=True)
    ]


def check_options(
    designs: Sequence[Design], sources: Sequence[str], wanted_gf: float | None, posterior: Path | None
) -> None:
    """Check what is asked for beside the wires, without running a bench.

    Raises
    ------
    InputError
        a load or a posterior that does not go with these wires, or a posterior that is another wire's
    """
    if wanted_gf is not None and len(designs) != 1:
        raise InputError(f"--tip-load-gf: given with {len(designs)} wires; allowed: one wire to grind")
    if wanted_gf is not None and not (isfinite(wanted_gf) and wanted_gf > 0.0):
        said = f"{sources[0]}: --tip-load-gf is {wanted_gf:g}"
        raise InputError(f"{said}; allowed: a finite load greater than 0")
    if posterior is None:
        return
    if len(designs) != 1 or wanted_gf is not None:
        raise InputError(f"--posterior: given with {len(designs)} wires or a grind; allowed: one wire as it is")
    read_scale(posterior, designs[0])


def ground_to(designs: Sequence[Design], sources: Sequence[str], wanted_gf: float) -> Ground:
    """Design with the core whose simulated tip load is the wanted one, named after it.

    Raises
    ------
    InputError
        when there are several designs, no such core can be ground, or the design has none; with the nearest value
    """
    check_options(designs, sources, wanted_gf, None)
    design, said = designs[0], f"{sources[0]}: --tip-load-gf is {wanted_gf:g}"
    try:
        ground = grind(design, to_si(wanted_gf, "gf"), lambda p: tip_load(p).force)
    except GrindError as error:
        side, why = ("at most", limits(design)[3]) if error.nearest < error.wanted else ("at least", limits(design)[2])
        nearest = f"{side} {from_si(error.nearest, 'gf'):.4g} gf, the nearest reachable value"
        raise InputError(f"{said}; allowed: {nearest} (core times {error.scale:.3f}; {why})") from None
    except ValueError as error:
        raise InputError(f"{said}; {error}; allowed: a wire with a core or ribbon near its tip") from None
    name = f"{design.name} ground to {wanted_gf:g} gf"
    how = f"core times {ground.scale:.4f} over the distal 30 mm, by simulation"
    note = f"{how}; made from: {design.note or design.name}"
    return replace(ground, design=replace(ground.design, name=name, note=note))


def ground_facts(before: Design, ground: Ground, wanted_gf: float) -> dict[str, Any]:
    """What the grind came to, users' units in the names."""
    word, was = core_at_the_tip(before)
    return {
        "wanted_tip_load_gf": wanted_gf,
        "tip_load_reached_gf": from_si(ground.tip_load, "gf"),
        "core_factor": ground.scale,
        "part": word,
        "core_at_tip_mm": from_si(core_at_the_tip(ground.design)[1], "mm"),
        "core_at_tip_before_mm": from_si(was, "mm"),
        "name": ground.design.name,
    }


def ground_sentence(facts: dict[str, Any]) -> str:
    """The grind in one sentence."""
    return (
        f"ground: core times {facts['core_factor']:.4f}, {facts['part']} at the tip {facts['core_at_tip_mm']:.4f} mm "
        f"(was {facts['core_at_tip_before_mm']:.4f} mm), tip load reached {facts['tip_load_reached_gf']:.4g} gf "
        f"(wanted {facts['wanted_tip_load_gf']:g} gf)"
    )


def core_at_the_tip(design: Design) -> tuple[str, float]:
    """What carries nearest the tip, and its diameter (core) or thickness (ribbon) at its distal end, m."""
    first = min((p for p in design.parts if isinstance(p, Taper | Ribbon)), key=lambda p: p.start)
    if isinstance(first, Ribbon):
        return "ribbon thickness", first.thickness
    return "core diameter", first.diameters[0]


def bend_radii(design: Design) -> dict[str, dict[str, float]]:
    """Least bend radius (mm) each part survives without yield, over the distal 1, 10 and 30 mm; absent: left out."""
    out: dict[str, dict[str, float]] = {}
    for within in BENT:
        for name, radius in least_bend_radii(design, within).items():
            out.setdefault(name, {})[f"distal_{within * 1e3:g}_mm"] = from_si(radius, "mm")
    return out


def bend_rows(design: Design, radii: dict[str, dict[str, float]]) -> tuple[tuple[str, str], ...]:
    """Rows of a table: a heading, then the three radii of each part (below them it yields).

    A row is named by the part's kind, material and range, not by its number: side by side with other wires, a row
    then compares like with like. Parts alike in all of these keep their number.
    """
    keys = [f"distal_{within * 1e3:g}_mm" for within in BENT]
    words = {name: part_words(name, part) for name, part in design.named_parts()}
    counts = Counter(words.values())
    rows = [(BEND_HEADING, "")]
    for name, values in radii.items():
        label = f"... {words[name]}" + (f" ({name})" if counts[words[name]] > 1 else "")
        rows.append((label, " / ".join(f"{values[k]:.3g}" if k in values else "-" for k in keys)))
    return tuple(rows)


def bench_figures(suite: Suite) -> dict[str, float]:
    """Figures of a wire's bench tests, users' units in the names."""
    stock, main = suite.stock, suite.main
    values: dict[str, float] = {}
    for x, test, free, pinned in zip(FREE_LENGTHS, suite.tip_load, suite.free, suite.pinned, strict=True):
        word = f"tip_load_{x * 1e3:g}mm"
        values[f"{word}_gf"] = from_si(test.force_within(TRAVEL), "gf")
        values[f"{word}_free_tip_gf"] = from_si(free, "gf")
        values[f"{word}_pinned_gf"] = from_si(pinned, "gf")
        values[f"{word}_within_1mm_gf"] = from_si(test.force, "gf")
    values |= {
        "tip_load_10mm_travel_mm": from_si(TRAVEL, "mm"),
        "tip_pressure_kPa": from_si(main.force_within(TRAVEL) / (pi * stock.tip_radius**2), "kPa"),
    }
    if suite.shaped_load is not None:
        values["tip_load_10mm_with_its_shape_gf"] = from_si(suite.shaped_load, "gf")
    for x, side in zip(LATERAL_LENGTHS, suite.lateral, strict=True):
        values[f"lateral_stiffness_{x * 1e3:g}mm_N_m"] = side.stiffness
        if side.stiffness_hard > (1.0 + JUMP) * side.stiffness:
            values[f"lateral_stiffness_{x * 1e3:g}mm_hard_axis_N_m"] = side.stiffness_hard
        values[f"lateral_force_45deg_{x * 1e3:g}mm_mN"] = from_si(side.force_45, "mN")
        values[f"lateral_force_90deg_{x * 1e3:g}mm_mN"] = from_si(side.force_90_normal, "mN")
    if suite.flexure is not None:
        inside = [s for s in FLEXED if suite.flexure.station[0] <= s <= suite.flexure.station[-1]]
        values |= {f"flexure_EI_{s * 1e3:g}mm_N_mm2": from_si(suite.flexure.apparent_at(s), "N_mm2") for s in inside}
    if suite.column is not None:
        values["column_10mm_pinned_mN"] = from_si(suite.column.loads["clamped-pinned"], "mN")
        values["column_10mm_clamped_mN"] = from_si(suite.column.loads["clamped-clamped"], "mN")
    if suite.prolapse is not None:
        gap = f"{suite.prolapse.unsupported * 1e3:g}"
        values[f"prolapse_push_{gap}mm_mN"] = from_si(suite.prolapse.critical, "mN")
    for word, torque in (("", suite.torque), ("_shaped_tip", suite.torque_shaped)):
        if torque is not None:
            values[f"torque_ratio{word}"] = torque.ratio
            values[f"torque_lag{word}_deg"] = degrees(torque.lag)
            values[f"torque_whip{word}_deg"] = degrees(torque.whip)
            if isfinite(torque.whip_number):
                values["whip_number"] = torque.whip_number
    if suite.track is not None:
        values |= {"track_drag_mN": from_si(suite.track.drag, "mN"), "track_gain": suite.track.gain}
    values |= {
        "kink_radius_mm": from_si(suite.bend.kink_radius, "mm"),
        "shape_kept_best": float(np.max(suite.bend.kept)),
        "tip_diameter_mm": from_si(2 * stock.tip_radius, "mm"),
        "diameter_mm": from_si(2 * float(stock.radius[0]), "mm"),
        "friction": stock.friction,
    }
    return values


def _number(key: str) -> Callable[[dict[str, float]], str]:
    return lambda values: f"{values[key]:.3g}" if key in values else "-"


def _row(*keys: str) -> Callable[[dict[str, float]], str]:
    return lambda values: " / ".join(_number(key)(values) for key in keys)


ROWS: tuple[tuple[str, Callable[[dict[str, float]], str]], ...] = (
    *(
        (f"tip load at 5 / 10 / 15 mm{what}, gf", _row(*(f"tip_load_{x}mm{word}_gf" for x in (5, 10, 15))))
        for what, word in (
            ("", ""),
            (", tip free to slide", "_free_tip"),
            (", tip pinned", "_pinned"),
            (", within 1 mm of travel", "_within_1mm"),
        )
    ),
    ("tip load at 10 mm, with its preshape, gf", _number("tip_load_10mm_with_its_shape_gf")),
    ("tip pressure at 10 mm: load over the end's face, kPa", _number("tip_pressure_kPa")),
    ("lateral tip stiffness, 5 / 10 / 20 mm free, N/m", _row(*(f"lateral_stiffness_{x}mm_N_m" for x in (5, 10, 20)))),
    (
        "... about the hard axis, N/m (-: both alike)",
        _row(*(f"lateral_stiffness_{x}mm_hard_axis_N_m" for x in (5, 10, 20))),
    ),
    ("... force across for 45° of the tip, 10 mm free, mN", _number("lateral_force_45deg_10mm_mN")),
    *((f"flexure: apparent EI at {x:g} mm, N mm²", _number(f"flexure_EI_{x:g}mm_N_mm2")) for x in (20, 50, 100, 200)),
    (
        "column strength, distal 10 mm, pinned / clamped, mN",
        _row("column_10mm_pinned_mN", "column_10mm_clamped_mN"),
    ),
    ("push at which 20 mm between supports bow out, mN", _number("prolapse_push_20mm_mN")),
    ("torque ratio, straight tip / own shape or 45°, -", _row("torque_ratio", "torque_ratio_shaped_tip")),
    ("largest lag, straight tip / own shape or 45°, deg", _row("torque_lag_deg", "torque_lag_shaped_tip_deg")),
    ("whip, straight tip / own shape or 45°, deg (0: none)", _row("torque_whip_deg", "torque_whip_shaped_tip_deg")),
    ("push to advance round a bend, mN", _number("track_drag_mN")),
    ("... more for each mN on the tip, mN/mN", _number("track_gain")),
    ("bend radius below which a part takes a set, distal 30 mm, mm", _number("kink_radius_mm")),
    ("largest share of a bend that stays, 2 mm from the tip, -", _number("shape_kept_best")),
    ("tip diameter, mm", _number("tip_diameter_mm")),
    ("outer diameter at the tip, mm", _number("diameter_mm")),
    ("friction coefficient (median, wet tissue), -", _number("friction")),
)
