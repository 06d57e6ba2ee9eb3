"""Study files: TOML in the user's units -> the spec of a map or of a threshold study, in SI.

`check_*` reads and checks a file; `read_*` also finds the softness factor of every tip load, which runs the bench.
"""

from collections.abc import Sequence
from dataclasses import replace
from math import radians
from pathlib import Path
from typing import Literal, TypeVar

from ..profile import Profile
from ..rod.errors import NotConvergedError
from ..study.run_threshold import ThresholdSpec
from ..study.spec import Bench, Shared, StudySpec, soften_to
from ..units import UNITS
from ..wire.design import profile
from .case_wire import bench_of
from .common import FieldError, fail, load, named, read_toml
from .numerics import numerics_of
from .study_tables import LocalStudyTable, MapTables, StudyTables, ThresholdTables
from .wire import asked_wire

MM, GF = UNITS["mm"], UNITS["gf"]

LADDER_ALLOWED = (
    "a [ladder] table, which makes a file one for `tipmech threshold` (an empty one takes its defaults; set "
    "shared.force_cap_n high, as experiments/threshold.toml does; a map's file goes to `tipmech map`)"
)

TablesT = TypeVar("TablesT", bound=StudyTables)


def check_map(path: str | Path) -> MapTables:
    """Read and check a map file, wire and geometry included, without running the bench."""
    return check_study(path, MapTables)


def check_threshold(path: str | Path) -> ThresholdTables:
    """Read and check a threshold file, wire and geometry included, without running the bench.

    Its [ladder] table is asked for first: without it the file is most likely one of a map, with a map's push cap.
    """
    if "ladder" not in read_toml(path):
        fail(path, "ladder", None, LADDER_ALLOWED)
    return check_study(path, ThresholdTables)


def read_map(path: str | Path, bench: Bench | None = None, scales: Sequence[float] | None = None) -> StudySpec:
    """Spec of a map file: its wires are the softness family at the wanted bench tip loads, or at given scales.

    Parameters
    ----------
    bench : callable, optional
        tip-load bench to use (profile -> N); the simulated bench at the file's free length if left out
    scales : sequence of float, optional
        scales of EI, increasing: the equally likely wires of the posterior that the file names

    Raises
    ------
    InputError
        one sentence: file, field, value, what is allowed
    """
    tables = check_map(path)
    local = tables.local or LocalStudyTable()
    return spec_of(path, tables, bench, scales, tables.presentation, local)


def read_threshold(
    path: str | Path, bench: Bench | None = None, scales: Sequence[float] | None = None
) -> ThresholdSpec:
    """Spec of a threshold file; arguments as for `read_map`."""
    tables = check_threshold(path)
    ladder = tables.ladder
    study = spec_of(path, tables, bench, scales, "approach", LocalStudyTable())
    with named(path):
        return ThresholdSpec(study, ladder.low, ladder.high, ladder.count, ladder.tolerance)


def check_study(path: str | Path, model: type[TablesT]) -> TablesT:
    """Tables of a file after the checks that need the wire or the mesh."""
    return check_tables(path, load(path, model))


def check_tables(path: str | Path, tables: TablesT) -> TablesT:
    """Tables already read, after the checks that need the wire or the mesh."""
    with named(path):
        check_wire(tables, base_of(path, tables))
        numerics_of(tables.numerics)
    return tables


def base_of(path: str | Path, tables: StudyTables) -> Profile:
    """Profile of the file's wire."""
    wire = tables.wire
    design = asked_wire(path, wire.preset, wire.file)
    with named(path, "wire."):
        return profile(design, wire.coupling)


def check_wire(tables: StudyTables, base: Profile) -> None:
    """Check that the wire passes through the support (which fits the lumen up to the tear) and fits the lumen twice."""
    thickest, bore = 2 * float(base.radius.max()) / MM, tables.scene.support_inner_diameter_mm
    if thickest >= bore:
        raise FieldError("scene.support_inner_diameter_mm", bore, f"greater than the wire's diameter, {thickest:.3f}")
    scene, tip = tables.scene, 2 * float(base.radius[0]) / MM
    change = 2 * scene.taper_mm_per_mm * scene.line().length / MM
    narrowest = scene.lumen_diameter_mm + min(0.0, change)
    if narrowest <= 2 * tip:
        allowed = (
            f"a lumen everywhere more than twice as wide as the wire's {tip:.3f} (its narrowest is {narrowest:.3f})"
        )
        raise FieldError("scene.lumen_diameter_mm", scene.lumen_diameter_mm, allowed)


def spec_of(
    path: str | Path,
    tables: StudyTables,
    bench: Bench | None,
    scales: Sequence[float] | None,
    presentation: Literal["approach", "local"],
    local: LocalStudyTable,
    loads_field: str = "tip_loads_gf",
) -> StudySpec:
    """Study spec in SI of checked tables; loads_field: the field that a tip load out of reach is blamed on."""
    base = base_of(path, tables)
    used = bench if bench is not None else bench_of(tables.wire.bench_free_length_mm * MM)
    loads, factors, wires = _columns(path, tables, base, used, scales, loads_field)
    with named(path):
        return StudySpec(
            name=tables.title,
            base=base,
            tip_loads=loads,
            factors=factors,
            wires=wires,
            angles=tuple(radians(a) for a in tables.angles_deg),
            scrambles=tables.scrambles,
            points=tables.points_per_scramble,
            seed=tables.seed,
            scene=tables.scene.scene(),
            shared=_shared(tables),
            bend_length=tables.bend_length_mm * MM,
            roll_half_range=radians(tables.roll_half_range_deg),
            presentation=presentation,
            local_free_length=local.free_length_mm * MM,
            local_standoff=local.standoff_mm * MM,
            feed_extra=tables.feed_extra_mm * MM,
            advance_past_tear=tables.advance_past_tear_mm * MM,
            advance_past_curl=tables.advance_past_curl_mm * MM,
            numerics=numerics_of(tables.numerics),
            workers=tables.workers,
        )


def _columns(
    path: str | Path,
    tables: StudyTables,
    base: Profile,
    bench: Bench,
    scales: Sequence[float] | None,
    loads_field: str,
) -> tuple[tuple[float, ...], tuple[float, ...], tuple[Profile, ...]]:
    """Tip loads (N), factors and wires of a study's columns."""
    if tables.tip_loads_gf is None:
        if scales is None:
            raise ValueError("a file with wire.posterior needs the scales of its wires")
        wires = tuple(replace(base.softened(s), name=f"{base.name} x {s:.3g}") for s in scales)
        try:
            return tuple(bench(wire) for wire in wires), tuple(scales), wires
        except NotConvergedError:
            allowed = f"a posterior at whose wires the bench finds an equilibrium for '{base.name}'"
            fail(path, "wire.posterior", tables.wire.posterior, allowed)
    loads = tuple(x * GF for x in tables.tip_loads_gf)
    return loads, *family_of(path, base, loads, bench, loads_field)


def family_of(
    path: str | Path, base: Profile, loads: tuple[float, ...], bench: Bench, loads_field: str
) -> tuple[tuple[float, ...], tuple[Profile, ...]]:
    """Factors and wires of the softness family of `base` at tip loads (N); one out of reach is an `InputError`."""
    try:
        return soften_to(base, loads, bench)
    except FieldError as error:
        fail(path, loads_field, error.value / GF, error.allowed)
    except NotConvergedError:
        allowed = f"loads at which the bench finds an equilibrium for the softness family of '{base.name}'"
        fail(path, loads_field, [load / GF for load in loads], allowed)


def _shared(tables: StudyTables) -> Shared:
    s = tables.shared
    return Shared(
        fracture_energy=s.fracture_energy_j_m2,
        breach_toughness=s.breach_toughness_j_m2,
        force_cap=s.force_cap_n,
        drive_stiffness=s.drive_stiffness_n_mm / MM,
        front_shape=s.front_shape,
        front_friction=s.front_friction,
        static_ratio=s.static_ratio,
        friction=tables.wire.friction,
    )
