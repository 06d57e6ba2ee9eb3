"""Random insertions over the eight scenes: everything that a case file may set is drawn about the scene's own values.

The seed and an index give one insertion, whatever else is drawn: its tables as of a case file, and through the checks
of case files the case itself. A draw that these checks refuse is drawn again and counted. Distributions are those of
docs/parameters.md ("Values that decide entry probability") about the scene's values where it names some; what that
table does not scatter is drawn as for the insertions of experiments/population.py. All of it is invented.
"""

import json
from copy import deepcopy
from dataclasses import dataclass
from functools import cache
from math import exp, inf, log, pi
from pathlib import Path
from typing import Any

import numpy as np
from scipy import stats

from experiments.population import GF, SOFTEST, STIFFEST, wire
from tipmech.checks import InputError
from tipmech.files.common import read_toml, validate
from tipmech.files.scene import case_file
from tipmech.files.scene_tables import CaseTables
from tipmech.insertion.case import Case
from tipmech.study.inputs import Unknown, friction_log_sd
from tipmech.wire.presets import PRESETS

FOLDER = Path(__file__).parent
SCENES = tuple(sorted(path.stem for path in FOLDER.glob("*.toml")))
SEED = 20
MOST_DRAWS = 200  # of one insertion: of the draws a third is refused at most, so that more says that none can pass
ENERGY_SD = 0.86  # of ln G_c: 0.5 from place to place (row 1) and 0.7 between vessels, as in experiments/population.py
TOUGHNESS_SD = 0.8  # of ln J_c, of a plug's and of a weak spot's strength: as in experiments/population.py
SPARE = 1.0  # mm of vessel behind the mouth of a support
BORE = 0.45  # mm, of the support where the wire is thin enough
PLAY = 0.06  # mm, of the support's bore over the wire's diameter at least
AIMED_SHARE, AIMED_DEG = 0.5, 30.0  # of the insertions are rolled toward the scene's roll within this half range
Tables = dict[str, Any]


@dataclass(frozen=True)
class Drawn:
    """One random insertion: its scene, the tables of its case file, the case, and the sentences of refused draws."""

    scene: str
    tables: Tables
    case: Case
    refused: tuple[str, ...]


@cache
def tables_of(scene: str) -> Tables:
    """Tables of a scene's case file."""
    return read_toml(FOLDER / f"{scene}.toml")


def insertion(index: int, seed: int = SEED) -> Drawn:
    """Random insertion `index`; scenes take turns."""
    scene = SCENES[index % len(SCENES)]
    path = FOLDER / f"{scene}.toml"
    rng = np.random.default_rng([seed, index])
    refused: list[str] = []
    while len(refused) < MOST_DRAWS:
        tables = _tables(tables_of(scene), rng)
        try:
            case = case_file(validate(path, tables, CaseTables), path).case
        except InputError as error:
            refused.append(str(error))
            continue
        return Drawn(scene, tables, case, tuple(refused))
    raise RuntimeError(f"{scene}, insertion {index}: {MOST_DRAWS} draws refused, the last: {refused[-1]}")


def _cut(rng: np.random.Generator, distribution: Any, low: float = -inf, high: float = inf) -> float:
    """A value of a distribution cut to a range, as studies draw it."""
    return Unknown("", "", distribution, "", low, high).value(float(rng.random()))


def _about(rng: np.random.Generator, median: float, log_sd: float, low: float = 0.0, high: float = inf) -> float:
    """A lognormal value cut to a range."""
    return _cut(rng, stats.lognorm(s=log_sd, scale=median), low, high)


def _tables(base: Tables, rng: np.random.Generator) -> Tables:
    """Tables of one draw."""
    t = deepcopy(base)
    t["seed"] = int(rng.integers(2**31))
    thickest = _draw_wire(t, rng)
    _draw_vessel(t, rng)
    _draw_tear(t, rng, base["tip_shape"].get("roll_deg", 0.0))
    _draw_hand(t, rng, thickest)
    return t


def _draw_wire(t: Tables, rng: np.random.Generator) -> float:
    """A preset, softened or stiffened to a tip load spread evenly in its logarithm, with a bent tip; its largest
    diameter, mm."""
    name = sorted(PRESETS)[int(rng.integers(len(PRESETS)))]
    base, known = wire(name)
    load = exp(rng.uniform(log(SOFTEST), log(STIFFEST)))
    t["wire"] = {
        "preset": name,
        "softness": load / known,
        "friction": min(1.0, base.friction * exp(friction_log_sd(base.friction) * rng.normal())),
        "static_ratio": 1.0 if rng.random() < 0.7 else rng.uniform(1.0, 1.3),
    }
    t["tip_shape"] = {
        "bend_deg": rng.uniform(0.0, 60.0),
        "bend_length_mm": rng.uniform(1.5, 4.0),
    }
    return 2e3 * float(base.radius.max())


def _draw_vessel(t: Tables, rng: np.random.Generator) -> None:
    """Lumen, bends, layers, narrowing and plug."""
    v = t["vessel"]
    v["lumen_diameter_mm"] *= rng.uniform(0.85, 1.15)
    v["breach_toughness_j_m2"] = _about(rng, 600.0, TOUGHNESS_SD, 10.0, 20000.0)
    if v["centreline"] != "points":
        v["taper_mm_per_mm"] = rng.uniform(-0.006, 0.0)
    if "bend_radius_mm" in v:
        v["bend_radius_mm"] *= rng.uniform(0.7, 1.4)
        v["bend_deg"] *= rng.uniform(0.6, 1.4)
    # rows 10 and 11: the flap is the intima and part of the media
    thick = _cut(rng, stats.norm(1.0, 0.084 / 0.348), 0.1 / 0.348, 0.6 / 0.348)
    stiff = _about(rng, 1.0, 0.6)
    t["layers"] = {
        "wall_mm": 0.84 * thick,
        "intima_mm": 0.24 * thick,
        "media_mm": 0.20 * thick,
        "cleavage": rng.uniform(0.2, 0.8),
        "intima_youngs_modulus_mpa": 0.9 * stiff,
        "media_youngs_modulus_mpa": 0.4 * stiff,
        "adventitia_youngs_modulus_mpa": 0.8 * stiff,
        "outer_breach_toughness_j_m2": _about(rng, 2000.0, TOUGHNESS_SD, 10.0, 20000.0),
    }
    if (n := t.get("narrowing")) is not None:
        n["diameter_stenosis_percent"] = rng.uniform(30.0, 65.0)
        n["flank_mm"] = rng.uniform(2.0, 5.0)
    if (plug := t.get("plug")) is not None:
        plug["force_mn"] = _about(rng, plug["force_mn"], TOUGHNESS_SD)


def _draw_tear(t: Tables, rng: np.random.Generator, base_roll: float) -> None:
    """Window, lips, plane and front, and the tip's roll from the window's azimuth; base_roll: the scene's, degrees."""
    tear = t["tear"]
    if not tear.get("intact", False) or "weak_toughness_j_m2" in tear:
        tear["length_mm"] = _about(rng, tear["length_mm"], 0.5, 0.5, 6.0)  # row 15
        tear["mouth_gap_mm"] = _about(rng, tear["mouth_gap_mm"], 0.6, 0.02, 1.2)  # row 3
    if "weak_toughness_j_m2" in tear:
        tear["weak_toughness_j_m2"] = _about(rng, tear["weak_toughness_j_m2"], TOUGHNESS_SD, 0.1, 20000.0)
    if "spiral_deg_mm" in tear:
        tear["spiral_deg_mm"] *= rng.uniform(0.5, 1.5) * rng.choice([-1.0, 1.0])
    tear["lip_radius_mm"] = rng.uniform(0.05, 0.15)
    tear["half_width_mm"] = rng.uniform(0.5, 1.2)
    tear["azimuth_deg"] = rng.uniform(-180.0, 180.0)
    half_range = AIMED_DEG if rng.random() < AIMED_SHARE else 180.0  # row 16
    roll = tear["azimuth_deg"] + base_roll + rng.uniform(-half_range, half_range)
    t["tip_shape"]["roll_deg"] = (roll + 180.0) % 360.0 - 180.0
    tear["free_lip"] = "downstream" if rng.random() < 0.5 else "upstream"
    tear["lip_length_mm"] = rng.uniform(0.7, 1.5)
    f = t.setdefault("false_channel", {})
    closed = rng.random() < 0.5  # row 14, where the scene says nothing of the plane's thickness
    median = f.get("thickness_mm", 0.8)
    f["thickness_mm"] = 0.0 if closed and "thickness_mm" not in f else _about(rng, median, 0.5)
    f["length_mm"] = f.get("length_mm", 5.0) * rng.uniform(0.5, 1.5)
    f["room_mm"] = _about(rng, f.get("room_mm", 2.0), 0.5, 0.6)  # row 13
    f["fracture_energy_j_m2"] = _about(rng, f.get("fracture_energy_j_m2", 35.0), ENERGY_SD)
    f["front_shape"] = "notch" if rng.random() < 0.5 else "flat"
    f["front_stiffness_n_m"] = _about(rng, 600.0, 0.5, 150.0, 2400.0)
    f["pressure_kpa"] = f.get("pressure_kpa", 0.0) + rng.uniform(-1.3, 1.3)  # row 18
    f["front_friction"] = rng.uniform(0.0, 0.4)


def _draw_hand(t: Tables, rng: np.random.Generator, thickest: float) -> None:
    """Support, aim, way to the tear and drive; the feed beyond the way to the tear is the scene's."""
    s = t.setdefault("support", {})
    s["inner_diameter_mm"] = max(BORE, thickest + PLAY)
    s["friction"] = rng.uniform(0.02, 0.08)
    start = t["tear"]["start_mm"]
    if "distance_mm" in s:  # row 6
        before = s["distance_mm"]
        s["distance_mm"] = _about(rng, before, 0.6, 2.0, min(30.0, start - SPARE))
        t["moves"][0]["advance_mm"] += s["distance_mm"] - before
        free = t["vessel"]["lumen_diameter_mm"] / 2 - 0.5  # a support of 1 mm (J) lies anywhere in the lumen (row 16)
        away, direction = free * rng.random() ** 0.5, rng.uniform(0.0, 2.0 * pi)
        s["offset_mm"] = [away * float(np.cos(direction)), away * float(np.sin(direction))]
    if (local := t.get("local")) is not None:
        local["angle_deg"] = rng.uniform(10.0, 60.0)
        local["free_length_mm"] = rng.uniform(2.0, 3.0)
        local["standoff_mm"] = rng.uniform(0.5, 2.0)
    if (way := t.get("approach")) is not None:
        before = way["tip_before_tear_mm"]
        way["tip_before_tear_mm"] = rng.uniform(5.0, 15.0)
        most = start - way["tip_before_tear_mm"] - SPARE
        way["support_behind_tip_mm"] = exp(rng.uniform(log(2.0), log(most)))
        t["moves"][0]["advance_mm"] += way["tip_before_tear_mm"] - before
    t["drive"] = {
        "stiffness_n_mm": exp(rng.uniform(log(0.05), log(1.0))),
        "force_cap_n": min(1.5, _about(rng, 0.3, 0.6)),
    }


def toml_text(tables: Tables) -> str:
    """Tables of a case file as TOML; a points file by its whole path, so that the text may lie anywhere."""
    lines, later = [], []
    for key, value in tables.items():
        if isinstance(value, dict):
            later += [f"\n[{key}]", *(_line(k, v) for k, v in value.items())]
        elif isinstance(value, list) and value and isinstance(value[0], dict):
            for entry in value:
                later += [f"\n[[{key}]]", *(_line(k, v) for k, v in entry.items())]
        else:
            lines.append(_line(key, value))
    return "\n".join([*lines, *later]) + "\n"


def _line(key: str, value: Any) -> str:
    """One field; what is written in TOML as in JSON: texts, numbers, booleans and arrays of them."""
    if key == "points_file":
        value = str((FOLDER / value).resolve())
    return f"{key} = {json.dumps(value)}"


def tip_load_gf(drawn: Drawn) -> float:
    """Bench tip load of the drawn wire, gf (nearly: proportional to the softness factor)."""
    name = drawn.tables["wire"]["preset"]
    return float(drawn.tables["wire"]["softness"] * wire(name)[1] / GF)
