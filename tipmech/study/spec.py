"""What a study is: wires of a softness family, angles, shared unknowns, points. Plain data in SI units."""

import hashlib
import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, fields, is_dataclass, replace
from math import exp, log, pi
from typing import Any, Literal

import numpy as np
from scipy.optimize import brentq

from ..checks import FieldError, check_positive, check_range
from ..insertion.case import Numerics
from ..profile import Profile
from ..vessel.scene import Centreline, Lumen

Bench = Callable[[Profile], float]
"""A tip-load bench: a profile in, the tip load (N) out."""

BRACKET_STEP = 0.25  # of log(factor): the bench load is nearly proportional to the factor, so one step mostly brackets
BRACKET_STEPS = 16  # up to a factor of e^4 away from proportionality; beyond it the family does not reach the load
LOAD_TOLERANCE = 0.005  # relative: the simulated bench must give the wanted load within this
FACTOR_TOLERANCE = 1e-4  # of log(factor)
LONGEST_WINDOW = 6e-3  # m, the longest tear that is drawn
LONGEST_UNSUPPORTED = 30e-3  # m, the longest unsupported length that is drawn
THICKEST_FLAP = 0.6e-3  # m, the thickest flap that is drawn


@dataclass(frozen=True)
class Shared:
    """Unknowns shared by all insertions of one map (outer loop; docs/parameters.md), fixed and printed on it.

    fracture_energy: median G_c, J/m2; breach_toughness J_c, J/m2; force_cap: largest push of the hand, N;
    drive_stiffness: hand and proximal wire, N/m; front_shape: end condition of the tip at the front;
    front_friction, -; static_ratio: static over kinetic friction, -; friction: median coefficient of the wire's
    surface, - (None: the profile's own). That an opening is there is given, never sampled.
    """

    fracture_energy: float = 35.0
    breach_toughness: float = 600.0
    force_cap: float = 0.3
    drive_stiffness: float = 300.0
    front_shape: Literal["notch", "flat"] = "notch"
    front_friction: float = 0.2
    static_ratio: float = 1.0
    friction: float | None = None

    def __post_init__(self) -> None:
        for name in ("fracture_energy", "breach_toughness", "force_cap", "drive_stiffness"):
            check_positive(getattr(self, name), name=f"shared.{name}")
        check_range(self.static_ratio, name="shared.static_ratio", low=1.0)
        check_range(self.front_friction, name="shared.front_friction", low=0.0)
        if self.front_shape not in ("notch", "flat"):
            raise FieldError("shared.front_shape", self.front_shape, "'notch' or 'flat'")


@dataclass(frozen=True)
class BaseScene:
    """The invented vessel that every case of a study shares; what is sampled is missing here. Lengths in m.

    support_tilt: share of the commanded angle made by the support's tilt, rad (the tip's bend makes the rest).
    support_outer_radius: the support's mouth is placed at random in the disc this leaves free (J).
    """

    centreline: Centreline = field(default_factory=lambda: Centreline.arc(40e-3, 25e-3, pi / 3.0, 20e-3))
    lumen: Lumen = field(default_factory=lambda: Lumen(1.5e-3, -0.005))
    tear_start: float = 45e-3
    tear_azimuth: float = 0.0
    half_width: float = 1.0e-3
    lip_length: float = 1.0e-3
    pocket_length: float = 3e-3
    support_inner_radius: float = 0.225e-3
    support_outer_radius: float = 0.45e-3
    support_friction: float = 0.04
    support_tilt: float = 0.0

    def __post_init__(self) -> None:
        for name in ("tear_start", "half_width", "lip_length", "pocket_length", "support_inner_radius"):
            check_positive(getattr(self, name), name=f"scene.{name}")
        if self.tear_start >= self.centreline.length:
            allowed = f"less than the vessel's length, {self.centreline.length:.4g} m"
            raise FieldError("scene.tear_start", self.tear_start, allowed)
        radius = self.radius_at(self.tear_start)
        if self.half_width > 0.5 * pi * radius:
            raise FieldError(
                "scene.half_width", self.half_width, f"at most a quarter circumference, {0.5 * pi * radius:.4g} m"
            )
        if not radius > self.support_outer_radius > self.support_inner_radius:
            allowed = f"between the inner radius and the lumen radius at the tear, {radius * 1e3:.3g} mm"
            raise FieldError("scene.support_outer_radius", self.support_outer_radius, allowed)
        check_range(self.support_tilt, name="scene.support_tilt", low=0.0, high=pi / 2.0)

    def radius_at(self, s: float) -> float:
        """Lumen radius at arc length `s`, m."""
        return float(self.lumen.at(s))


@dataclass(frozen=True)
class StudySpec:
    """A grid of tip load x commanded approach angle, and the points drawn in each cell.

    Parameters
    ----------
    name : str
        name shown to users
    base : Profile
        the wire whose softness family is used
    tip_loads, factors : tuple of float
        bench tip loads (N) and the softness factor whose simulated bench gives each
    wires : tuple of Profile
        the base wire softened by each factor
    angles : tuple of float
        commanded approach angles, rad, 0 to pi/2
    scrambles, points : int
        independent scrambles of the Sobol' sequence, and points in each (a power of 2)
    seed : int
        study seed; every point's own seed follows from it and the point's index
    bend_length : float
        length of the tip's bend, m
    roll_half_range : float
        the tip's roll is uniform within +- this about the tear's azimuth, rad (pi: not aimed, references row 16)
    presentation : {"approach", "local"}
        "approach": from the support's mouth through the lumen; "local": a straight tip aimed at the lip, with
        `local_free_length` (m) out of the support when it stands `local_standoff` (m) before the lip
    feed_extra : float
        feed beyond the unsupported length, m
    advance_past_tear : float
        a run ends after this feed since the tip reached the tear, m
    advance_past_curl : float
        and after this travel since its first curl, m (0: at the first curl, where an operator would withdraw)
    workers : int
        processes; not part of what the study is, so not in its hash
    """

    name: str
    base: Profile
    tip_loads: tuple[float, ...]
    factors: tuple[float, ...]
    wires: tuple[Profile, ...]
    angles: tuple[float, ...]
    scrambles: int = 16
    points: int = 2
    seed: int = 1
    scene: BaseScene = field(default_factory=BaseScene)
    shared: Shared = field(default_factory=Shared)
    bend_length: float = 2.5e-3
    roll_half_range: float = pi
    presentation: Literal["approach", "local"] = "approach"
    local_free_length: float = 2.5e-3
    local_standoff: float = 1e-3
    feed_extra: float = 12e-3
    advance_past_tear: float = 10e-3
    advance_past_curl: float = 0.0
    numerics: Numerics = field(default_factory=Numerics)
    workers: int = 2

    def __post_init__(self) -> None:
        if not self.tip_loads or not len(self.tip_loads) == len(self.factors) == len(self.wires):
            raise FieldError("tip_loads", list(self.tip_loads), "at least one, with one factor and one wire for each")
        for load in self.tip_loads:
            check_positive(load, name="tip_loads")
        if not self.angles:
            raise FieldError("angles", [], "at least one commanded angle")
        for angle in self.angles:
            check_range(angle, name="angles", low=self.scene.support_tilt, high=pi / 2.0)
        if self.scrambles < 2:
            raise FieldError("scrambles", self.scrambles, "at least 2 (the interval comes from them)")
        if self.points < 1 or self.points & (self.points - 1):
            raise FieldError("points", self.points, "a power of 2 (points of a Sobol' sequence)")
        check_range(self.roll_half_range, name="roll_half_range", low=0.0, high=pi)
        for name in ("bend_length", "local_free_length", "local_standoff", "feed_extra", "advance_past_tear"):
            check_positive(getattr(self, name), name=name)
        check_range(self.advance_past_curl, name="advance_past_curl", low=0.0)
        if self.workers < 1:
            raise FieldError("workers", self.workers, "at least 1")
        self._check_lengths()

    def _check_lengths(self) -> None:
        """The longest draw must fit into the vessel, and the modelled wire must reach through the whole feed."""
        scene = self.scene
        needed = scene.tear_start + LONGEST_WINDOW + scene.pocket_length + self.feed_extra
        if needed > scene.centreline.length:
            most = scene.centreline.length - needed + scene.tear_start
            allowed = f"at most {most:.4g} m, so that the longest tear, pocket and feed fit the vessel"
            raise FieldError("tear_start", scene.tear_start, allowed)
        if min(scene.radius_at(0.0), scene.radius_at(scene.centreline.length)) <= 2.0 * float(self.base.radius[0]):
            raise FieldError("lumen.radius", scene.lumen.radius, "a lumen everywhere twice as wide as the wire")
        reach = min(LONGEST_UNSUPPORTED, scene.tear_start) + self.feed_extra
        if self.numerics.length < reach:
            raise FieldError("numerics.length", self.numerics.length, f"at least {reach:.4g} m, the longest feed")

    @property
    def friction(self) -> float:
        """Median friction coefficient of the wire's surface, -."""
        return self.base.friction if self.shared.friction is None else self.shared.friction

    @property
    def count(self) -> int:
        """Points in one cell."""
        return self.scrambles * self.points


class OfStudy:
    """A spec that has a study and shares its name and seed."""

    study: StudySpec

    @property
    def name(self) -> str:
        """Name shown to users."""
        return self.study.name

    @property
    def seed(self) -> int:
        """Study seed."""
        return self.study.seed


def softness_factor(base: Profile, tip_load: float, bench: Bench, base_load: float | None = None) -> float:
    """Softness factor whose simulated bench gives `tip_load` (N): root of log(load) over log(factor).

    Parameters
    ----------
    base_load : float, optional
        bench load of the base wire, N, if already known

    Raises
    ------
    FieldError
        if the family does not reach the load
    """
    check_positive(tip_load, name="tip_load")
    known = bench(base) if base_load is None else base_load
    guess = log(tip_load / known)
    seen: dict[float, float] = {0.0: log(known / tip_load)}

    def miss(x: float) -> float:
        if x not in seen:
            seen[x] = log(bench(base.softened(exp(x))) / tip_load)
        return seen[x]

    step = BRACKET_STEP if miss(guess) < 0.0 else -BRACKET_STEP
    low = guess
    for _ in range(BRACKET_STEPS):
        if miss(low) == 0.0:
            return exp(low)
        if miss(low + step) * miss(low) <= 0.0:
            root = float(brentq(miss, low, low + step, xtol=FACTOR_TOLERANCE))
            best = min(seen, key=lambda x: abs(seen[x]))
            root = root if abs(miss(root)) <= abs(seen[best]) else best
            if abs(seen[root]) <= LOAD_TOLERANCE:
                return exp(root)
            break
        low += step
    raise FieldError("tip_load", tip_load, f"a load that the softness family of '{base.name}' reaches on the bench")


def soften_to(base: Profile, tip_loads: Sequence[float], bench: Bench) -> tuple[tuple[float, ...], tuple[Profile, ...]]:
    """Softness factors and wires of the family for a list of bench tip loads (N)."""
    known = bench(base)
    factors = tuple(softness_factor(base, load, bench, known) for load in tip_loads)
    wires = tuple(replace(base.softened(f), name=f"{base.name} x {f:.3g}") for f in factors)
    return factors, wires


def plain(value: Any) -> Any:
    """`value` as JSON-ready data: dataclasses as tables, arrays and tuples as lists."""
    if is_dataclass(value) and not isinstance(value, type):
        return {f.name: plain(getattr(value, f.name)) for f in fields(value)}
    if isinstance(value, np.ndarray):
        return value.tolist()
    if isinstance(value, tuple | list):
        return [plain(v) for v in value]
    if isinstance(value, np.generic):
        return value.item()
    return value


def study_hash(kind: str, spec: Any, code: str) -> str:
    """Hash of everything that decides the rows of a study: kind, spec (without `workers`), code version."""
    data = plain(spec)
    _drop(data, "workers")
    text = json.dumps({"kind": kind, "spec": data, "code": code}, sort_keys=True, allow_nan=True)
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def _drop(data: Any, key: str) -> None:
    """Remove every table entry named `key`, at any depth."""
    if isinstance(data, dict):
        data.pop(key, None)
        for value in data.values():
            _drop(value, key)
    elif isinstance(data, list):
        for value in data:
            _drop(value, key)
