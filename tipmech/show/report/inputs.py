"""The inputs: designs, what was fixed, what scattered, each with value or distribution, unit and source."""

from dataclasses import dataclass
from math import degrees
from typing import Any

import numpy as np

from ...study.compare_spec import CONSTRUCTION, TIP_LOAD
from ...study.inputs import UNKNOWNS, Unknown
from ...study.sensitivity import FRONT, IMPERFECTION, MEDIAN, WORDS
from ...units import from_si, label
from .folder import Finished
from .inputs_of_kind import further
from .numbers import distribution_words, number, plain_distribution_words, shown
from .parts import NONE, Block, Section, Text, grid

ASSUMED = "assumption"
OF_ONE = "members of the softness family of"
VARIED = "varied in this study, see its own table"
ROW = "docs/parameters.md, row"


@dataclass(frozen=True)
class Fixed:
    """A value that is the same in all insertions: its place in the study's spec, words, SI unit, source."""

    path: str
    words: str
    unit: str
    source: str
    twice: bool = False  # shown as a diameter, twice the value


VESSEL = "[scene]; invented vessel, assumption"
FIXED: tuple[Fixed, ...] = (
    Fixed("scene.lumen.radius", "lumen diameter at the start", "m", VESSEL, twice=True),
    Fixed("scene.lumen.taper", "change of the lumen's radius along the vessel", "-", VESSEL),
    Fixed("scene.tear_start", "start of the tear", "m", VESSEL),
    Fixed("scene.tear_azimuth", "azimuth of the tear", "rad", VESSEL),
    Fixed("scene.half_width", "half-width of the window", "m", VESSEL),
    Fixed("scene.lip_length", "length of the lips", "m", VESSEL),
    Fixed("scene.pocket_length", "length of the pocket", "m", VESSEL),
    Fixed("scene.support_inner_radius", "bore of the support", "m", VESSEL, twice=True),
    Fixed("scene.support_outer_radius", "outer diameter of the support", "m", VESSEL, twice=True),
    Fixed("scene.support_friction", "friction of the wire in the support", "-", VESSEL),
    Fixed("scene.support_tilt", "tilt of the support", "rad", VESSEL),
    Fixed("shared.fracture_energy", "fracture energy G_c of the plane, median", "J/m2", f"{ROW} 1; {ASSUMED}"),
    Fixed("shared.breach_toughness", "breach energy J_c of the wall", "J/m2", f"{ROW} 2; {ASSUMED}"),
    Fixed("shared.friction", "friction of the surface, median", "-", f"{ROW} 7; {ASSUMED} (absolute scale)"),
    Fixed("shared.force_cap", "largest push of the hand", "N", f"{ROW} 12; {ASSUMED}"),
    Fixed("shared.drive_stiffness", "hand and proximal wire", "N/m", f"[drive]; {ASSUMED}"),
    Fixed("shared.front_shape", "end condition of the tip at the front", "", f"{ROW} 17; {ASSUMED}"),
    Fixed("shared.front_friction", "friction at the front", "-", f"[false_channel]; {ASSUMED}"),
    Fixed("shared.static_ratio", "static over kinetic friction", "-", f"{ROW} 19; {ASSUMED}"),
    Fixed("bend_length", "length of the tip's bend", "m", f"study file; {ASSUMED}"),
    Fixed("roll_half_range", "half-range of the tip's roll", "rad", f"{ROW} 16; {ASSUMED}"),
    Fixed("presentation", "how the wire comes to the tear", "", "study file; choice of the study"),
    Fixed("feed_extra", "feed beyond the way to the tear", "m", "study file; choice of the study"),
    Fixed("advance_past_tear", "a run ends after this feed past the tear", "m", "study file; choice of the study"),
    Fixed("advance_past_curl", "and after this travel past its first curl", "m", "study file; choice of the study"),
)
NUMERICS: tuple[Fixed, ...] = (
    Fixed("numerics.elements", "elements of the wire", "-", "[numerics]"),
    Fixed("numerics.length", "length of wire that is modelled", "m", "[numerics]"),
    Fixed("numerics.longest", "bound on an element", "m", "[numerics]; – : none"),
    Fixed("numerics.spacing", "spacing of contact points on the distal wire", "m", "[numerics]"),
    Fixed("numerics.increment", "feed in an increment", "m", "[numerics]"),
    Fixed("numerics.smoothing", "onset of contact", "m", "[numerics]"),
    Fixed("numerics.slip_length", "elastic slip of friction", "m", "[numerics]"),
    Fixed("numerics.viscosity", "drag through snaps, N s/m²", "-", "[numerics]"),
    Fixed("numerics.imperfection", "imperfection, deflection over free length", "-", f"[numerics]; {ASSUMED}"),
    Fixed("numerics.tolerance", "residual force over EI/L²", "-", "[numerics]"),
)
SCALED = {
    "fracture_energy_factor": "factor on the median",
    "friction_z": "times the log-sd of the surface, exponent of a factor on the median",
    "tip_radius_factor": "factor on the wire's own",
    "roll_share": "share of the half-range",
    "offset_share": "share of the radius of the free disc",
    "fracture_energy_median_factor": "factor on the study file's value",
    "imperfection": "decides the seed",
}
"""What the drawn number is of, where it is not the quantity itself."""
DRAWN = {
    "fracture_energy_factor": ("fracture_energy", "J/m2"),
    "friction_z": ("friction", "-"),
    "tip_radius_factor": ("tip_radius", "m"),
    "roll_share": ("roll", "rad"),
    "fracture_energy_median_factor": ("fracture_energy_median", "J/m2"),
}
"""Columns of what an unknown came to, where it is drawn as a factor or a share of something else."""


def inputs(study: Finished) -> Section:
    """All inputs with their sources."""
    blocks: list[Block] = [
        Text(
            "“Assumption” marks a value without data. Sources are named with the rows of docs/parameters.md, “Values "
            "that decide entry probability”, where the works behind them are listed. Values: spec of manifest.json (SI "
            "there, users' units here)."
        ),
        _designs(study),
        grid(
            "Fixed in this study",
            ("quantity", "value", "source"),
            [(f.words, _value(study, f), f.source) for f in FIXED if f.path not in _without_meaning(study)],
            "manifest.json, spec",
        ),
    ]
    blocks += further(study)
    blocks += [_scattered(study), *_cut(study)]
    numerics = [(f.words, _value(study, f), f.source) for f in NUMERICS]
    blocks.append(
        grid(
            "Settings of the solver, which must not decide outcomes",
            ("setting", "value", "source"),
            numerics,
            "manifest.json, spec.numerics",
        )
    )
    return Section("inputs", "Inputs", tuple(blocks))


def varied(study: Finished) -> set[str]:
    """Names of what this study varies as a factor, an axis, an input or a shared unknown, in place of a fixed value."""
    spec = study.spec
    named = [
        d["name"] for key in ("factors", "ranges", "shared_unknowns") for d in spec.get(key, ()) if isinstance(d, dict)
    ]
    of_kind = {"sensitivity": ["fracture_energy", "front_shape"], "atlas": ["front_shape"]}
    return {*named, study.by, *of_kind.get(study.kind, [])}


def _without_meaning(study: Finished) -> set[str]:
    """Fixed inputs that decide nothing: where a wire starts in the pocket, or where rules say when to stop."""
    if study.kind == "threshold":
        return {"presentation", "advance_past_curl", "feed_extra"}
    return {"advance_past_tear", "advance_past_curl"} if study.of_procedures else set()


def _designs(study: Finished) -> Block:
    """Tip loads with their softness factors and rigidities, and the angles."""
    one = study.study
    rows = []
    for name, load, factor, wire in zip(study.designs, one["tip_loads"], one["factors"], one["wires"], strict=True):
        rigidity = f"{number(from_si(wire['EI1'][0], 'N_mm2'))} {label('N_mm2')}"
        named = () if study.by == TIP_LOAD else (name,)
        rows.append((*named, f"{number(from_si(load, 'gf'))} gf", number(factor), rigidity))
    angles = ", ".join(f"{degrees(v):.3g}°" for v in one["angles"])
    kind = "Tabulated" if study.kind == "sensitivity" else "Designs:"
    whose = "each of a softness family of its own" if study.by == CONSTRUCTION else f"{OF_ONE} {one['base']['name']}"
    about = (
        f"{kind} wires, {whose}; commanded angles {angles}. Tip load: on the "
        f"simulated bench (10 mm free, "
        f"plate "
        "friction 0.2, unless the study file says otherwise)"
    )
    head = ("tip load", "softness factor", "bending rigidity at the tip")
    return grid(about, head if study.by == TIP_LOAD else ("design", *head), rows, "manifest.json, spec")


def _value(study: Finished, fixed: Fixed) -> str:
    """Value of a fixed input in words."""
    value: Any = study.study
    for part in fixed.path.split("."):
        if not isinstance(value, dict) or part not in value:
            return "not recorded by the code that computed the study"
        value = value[part]
    if value is None:
        own = f"{number(study.study['base']['friction'])} (the wire's own)"
        own = f"{own}; {VARIED}" if "friction" in varied(study) else own
        return own if fixed.path == "shared.friction" else NONE
    told = value if isinstance(value, str) else shown(2.0 * value if fixed.twice else float(value), fixed.unit)
    return f"{told}; {VARIED}" if fixed.path.removeprefix("shared.") in varied(study) else told


def _scattered(study: Finished) -> Block:
    """What scatters from insertion to insertion, with what was drawn."""
    replaced = {d["unknown"]: d for d in study.spec.get("distributions", [])}
    unknowns = [(WORDS[x.name][0], x) for x in UNKNOWNS]
    if study.kind == "sensitivity":
        unknowns += [(i.words, i.unknown) for i in (MEDIAN, FRONT, IMPERFECTION)]
    rows = []
    for words, x in unknowns:
        told, source = distribution_words(x), _source(x)
        if x.name in SCALED:
            told = f"{told} ({SCALED[x.name]})"
        if x.name in replaced:
            d = replaced[x.name]
            told = plain_distribution_words(d["kind"], dict(d["parameters"]), x.unit)
            source = f"study file: {d['source']}"
        if x.name in varied(study):
            told = f"none: {VARIED}"
        rows.append((words, told, source, _drawn(study, x)))
    head = ("quantity", "distribution", "source", "came to: least, median, largest")
    caption = "Scattering from insertion to insertion, independent of each other, one Sobol' dimension each"
    if study.kind == "sensitivity":
        caption = "Inputs drawn for each insertion, independent of each other"
    return grid(
        caption,
        head,
        rows,
        "distributions: tipmech/study/inputs.py of the code that wrote this; came to: rows.parquet, x_ columns",
    )


def _source(x: Unknown) -> str:
    """Source of an unknown as the code states it, "assumed" in the word of this report."""
    return x.source.replace("assumed", ASSUMED)


def _drawn(study: Finished, x: Unknown) -> str:
    """Least, median and largest value drawn."""
    name, unit = DRAWN.get(x.name, (x.name, x.unit))
    column = study.rows.get(f"x_{name}")
    if column is None:
        return NONE
    values = [float(f(column)) for f in (np.min, np.median, np.max)]
    return ", ".join(shown(v, unit) for v in values)


def _cut(study: Finished) -> list[Block]:
    """How often a drawn value was cut by the vessel or the wire."""
    caps = {name: column for name, column in study.rows.items() if name.startswith("cap_")}
    rows = [(name.removeprefix("cap_").replace("_", " "), f"{int(np.sum(c))} of {len(c)}") for name, c in caps.items()]
    if not rows:
        return []
    return [
        grid(
            "Drawn values cut by the vessel or the wire",
            ("quantity", "rows in which it was cut"),
            rows,
            "rows.parquet, cap_ columns",
        )
    ]
