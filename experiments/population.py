"""Random insertions for the experiments on the solver: wires, vessels and unknowns drawn from one seed and an index.

The unknowns of one insertion come from the study's own distributions (tipmech/study/inputs.py); what a study fixes for
a whole map (wire, tip load, angle, vessel, presentation, front, hand) is drawn here too. All of it is invented.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache
from math import exp, log, pi, radians
from typing import Literal

import numpy as np

from tipmech.bench.tip_load import tip_load
from tipmech.files.wire import read_wire
from tipmech.insertion.case import Case
from tipmech.profile import Profile
from tipmech.study.build import build_case, build_pocket_case, feasible, place_point, scale_force
from tipmech.study.inputs import NAMES, TINY, Array
from tipmech.study.spec import BaseScene, Shared, StudySpec
from tipmech.units import UNITS
from tipmech.vessel.scene import Centreline, Lumen
from tipmech.wire.design import profile
from tipmech.wire.presets import PRESETS

GF = UNITS["gf"]
SOFTEST, STIFFEST = 0.2 * GF, 12.0 * GF  # N, bench tip loads at the ends of the range
TEAR_START = 45e-3  # m
LEAST_VESSEL = 90e-3  # m
STIFFEST_ENTERING = 3.0 * GF  # N, of the wires aimed at the tear: soft ones curl
TRAVEL_ENTERING = 12e-3  # m, their feed past the tear
TOUGH_ENTERING = 0.8  # times the median fracture energy: then curling and driving the front on both occur often
Kind = Literal["any", "entering", "pocket"]


@dataclass(frozen=True)
class Population:
    """Which insertions are drawn. The seed and an index give one insertion, whatever else is drawn.

    kind "any": the whole range, through the lumen or presented to the lip, straight, bent and S-shaped vessels.
    kind "entering": the same range, but aimed at the tear so that the three classes (not in the false channel; in it;
    in it and curled) all occur often: see `_aim`. kind "pocket": the tip starts in the false channel.
    """

    kind: Kind
    seed: int
    count: int

    @property
    def name(self) -> str:
        """Name in the manifest."""
        return f"{self.kind} insertions"


@cache
def wire(name: str) -> tuple[Profile, float]:
    """Profile (sliding bound) and bench tip load (N) of a preset."""
    base = profile(read_wire(name), "sliding")
    return base, float(tip_load(base).force)


def random_wire(rng: np.random.Generator, stiffest: float = STIFFEST) -> Profile:
    """A preset softened or stiffened to a tip load spread evenly in its logarithm from 0.2 gf to `stiffest` (N).

    The factor is the ratio of the loads: the bench's load is nearly proportional to it.
    """
    base, known = wire(sorted(PRESETS)[int(rng.integers(len(PRESETS)))])
    load = exp(rng.uniform(log(SOFTEST), log(stiffest)))
    return replace(base.softened(load / known), name=f"{base.name}, {load / GF:.2g} gf")


def random_vessel(rng: np.random.Generator) -> Centreline:
    """Straight, one bend or an S through or before the tear, bent in any plane."""
    shape = int(rng.integers(3))
    lead, radius, plane = rng.uniform(20e-3, 42e-3), rng.uniform(15e-3, 40e-3), rng.uniform(-pi, pi)
    angle = radians(rng.uniform(20.0, 70.0))
    if shape == 0:
        return Centreline.straight(LEAST_VESSEL)
    bent = radius * angle * shape
    tail = max(10e-3, LEAST_VESSEL - lead - bent)
    return (Centreline.arc if shape == 1 else Centreline.s_curve)(lead, radius, angle, tail, plane)


def random_study(rng: np.random.Generator, kind: Kind) -> StudySpec:
    """A study of one wire and one angle; the angle is drawn again until it fits the lumen."""
    entering = kind == "entering"
    chosen = random_wire(rng, STIFFEST_ENTERING if entering else STIFFEST)
    scene = BaseScene(
        centreline=random_vessel(rng),
        lumen=Lumen(rng.uniform(1.3e-3, 1.9e-3), rng.uniform(-0.006, 0.0)),
        tear_start=TEAR_START,
        tear_azimuth=rng.uniform(-pi, pi),
        half_width=rng.uniform(0.5e-3, 1.2e-3),
        lip_length=rng.uniform(0.7e-3, 1.5e-3),
        pocket_length=rng.uniform(1.5e-3, 2.5e-3) if entering else rng.uniform(2e-3, 6e-3),
        support_inner_radius=max(0.225e-3, float(chosen.radius.max()) + 0.03e-3),
    )
    shared = Shared(
        fracture_energy=(TOUGH_ENTERING if entering else 1.0) * 35.0 * exp(0.7 * rng.normal()),
        breach_toughness=600.0 * exp(0.8 * rng.normal()),
        force_cap=5.0 if kind == "pocket" else min(1.5, 0.3 * exp(0.6 * rng.normal())),
        drive_stiffness=exp(rng.uniform(log(50.0), log(1000.0))),
        front_shape="notch" if rng.random() < 0.5 else "flat",
        front_friction=rng.uniform(0.0, 0.4),
        static_ratio=1.0 if rng.random() < 0.7 else rng.uniform(1.0, 1.3),
        friction=None if rng.random() < 0.5 else exp(rng.uniform(log(0.02), log(0.3))),
    )
    local = kind == "any" and rng.random() < 0.3
    while True:
        spec = StudySpec(
            name="random",
            base=chosen,
            tip_loads=(1.0,),
            factors=(1.0,),
            wires=(chosen,),
            angles=(radians(rng.uniform(*ANGLES[kind])),),
            seed=0,
            scene=scene,
            shared=shared,
            bend_length=rng.uniform(1.5e-3, 4e-3),
            presentation="local" if local else "approach",
            feed_extra=TRAVEL_ENTERING if entering else 12e-3,
            advance_past_tear=TRAVEL_ENTERING if entering else 10e-3,
        )
        if kind == "pocket" or feasible(spec, 0):
            return spec


ANGLES: dict[Kind, tuple[float, float]] = {"any": (0.0, 85.0), "entering": (25.0, 70.0), "pocket": (0.0, 60.0)}
"""Range of the commanded angle, degrees."""


def _aim(u: Array, azimuth: float) -> Array:
    """Unknowns of an insertion that mostly enters a tear at `azimuth` (rad).

    Roll within +-30 degrees of the tear, the support's mouth on the tear's side of the lumen, the mouth's gap in the
    upper fifth of its distribution, the room in the upper half, all planes distended. Everything else is drawn from its
    whole distribution. (Wires, angles, fracture energy, pocket and travel of such insertions: `random_study`.)
    """
    u = u.copy()
    at = {name: k for k, name in enumerate(NAMES)}
    u[at["roll_share"]] = 0.5 + (u[at["roll_share"]] - 0.5) / 6.0
    u[at["offset_direction"]] = (0.3 * (u[at["offset_direction"]] - 0.5) + azimuth / (2.0 * pi)) % 1.0
    u[at["mouth_gap"]] = 0.8 + 0.2 * u[at["mouth_gap"]]
    u[at["room"]] = 0.5 + 0.5 * u[at["room"]]
    u[at["thickness"]] = 0.5 + 0.5 * u[at["thickness"]]
    return np.clip(u, TINY, 1.0 - TINY)


def draw(population: Population, index: int) -> tuple[StudySpec, Array, int]:
    """Study of one cell, unknowns and imperfection seed of insertion `index`."""
    rng = np.random.default_rng([population.seed, index])
    spec = random_study(rng, population.kind)
    u = np.clip(rng.random(len(NAMES)), TINY, 1.0 - TINY)
    if population.kind == "entering":
        u = _aim(u, spec.scene.tear_azimuth)
    return spec, u, int(rng.integers(2**31))


def insertion(population: Population, index: int) -> Case:
    """Insertion `index` of a population that starts in the lumen."""
    spec, u, seed = draw(population, index)
    return build_case(spec, 0, 0, u, seed)


def pocket(population: Population, index: int) -> tuple[Callable[[float], Case], float]:
    """Insertion `index` of a pocket population as a function of its front force (N), and the scale 2 EI / Wc^2, N."""
    spec, u, seed = draw(population, index)
    scale = scale_force(spec.wires[0], place_point(spec, u).values["room"])
    return (lambda force: build_pocket_case(spec, 0, 0, u, seed, force)), scale
