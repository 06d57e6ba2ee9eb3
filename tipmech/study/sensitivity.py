"""What a sensitivity study is: its inputs with their distributions, its outcomes, and one insertion of it.

Inputs are those that scatter from insertion to insertion (`inputs.UNKNOWNS`) and, beside them, what a map holds fixed
or has on its axes: the median of G_c, the end condition at the front, the direction of the solver's imperfection and,
where the file gives a range, tip load and approach angle. All are independent, each mapped from u in (0, 1).
"""

from dataclasses import dataclass, field, replace
from functools import cached_property
from math import exp, log
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from ..checks import FieldError
from ..insertion.case import Case
from ..profile import Profile
from .build import build_case, feasible, place_point
from .designs import morris_design, sampler, sobol_design
from .inputs import TINY, UNKNOWNS, Unknown
from .spec import Bench, OfStudy, Shared, StudySpec

Array = NDArray[np.float64]
Kind = Literal["tissue", "place", "wire", "numerical"]
Range = tuple[float, float]

MORRIS, SOBOL = 0, 1  # codes of the designs, in the rows
LOADS = 12  # tip loads at which the bench gives the softness factor; between them ln(factor) over ln(load) is linear
ANGLES_CHECKED = 17  # of a range of angles: each must fit the vessel
SEED_STEPS = 2**31  # seeds of the imperfection that u distinguishes


@dataclass(frozen=True)
class Input:
    """One input: its distribution, words for figures, and what it belongs to.

    kind: "tissue" (anatomy and tissue), "place" (where and how rolled the wire comes), "wire" (its stiffness, shape and
    surface, the commanded angle), "numerical" (what decides nothing in the world).
    """

    unknown: Unknown
    words: str
    kind: Kind

    @property
    def name(self) -> str:
        """Name in tables."""
        return self.unknown.name


WORDS: dict[str, tuple[str, Kind]] = {
    "fracture_energy_factor": ("fracture energy, scatter", "tissue"),
    "mouth_gap": ("mouth gap of the tear", "tissue"),
    "unsupported_length": ("unsupported length", "place"),
    "friction_z": ("friction, scatter", "wire"),
    "tip_radius_factor": ("radius of the tip dome", "wire"),
    "youngs_modulus": ("tissue modulus", "tissue"),
    "flap_thickness": ("flap thickness", "tissue"),
    "room": ("lateral room of the pocket", "tissue"),
    "thickness": ("thickness of the plane", "tissue"),
    "window_length": ("length of the tear", "tissue"),
    "free_lip": ("which lip is free", "tissue"),
    "roll_share": ("roll of the tip", "place"),
    "offset_share": ("offset of the support", "place"),
    "offset_direction": ("direction of the offset", "place"),
    "pressure": ("pressure across the flap", "tissue"),
    "lip_radius": ("lip radius", "tissue"),
    "front_stiffness": ("stiffness of the front", "tissue"),
}
"""Words and kind of the inputs that scatter."""

MEDIAN = Input(
    Unknown(
        "fracture_energy_median_factor",
        "-",
        stats.lognorm(s=0.5),
        "row 1, log-sd 0.5 of the shared median about the file's value; assumed",
    ),
    "fracture energy, median",
    "tissue",
)
FRONT = Input(
    Unknown("front_flat", "-", stats.randint(0, 2), "row 17: 1 = flat, 0 = notch, each with probability 0.5; assumed"),
    "end condition at the front",
    "tissue",
)
IMPERFECTION = Input(
    Unknown("imperfection", "-", stats.uniform(), "seed of the direction of the solver's imperfection; numerical"),
    "solver's imperfection",
    "numerical",
)


@dataclass(frozen=True)
class Quantity:
    """An outcome: words; unit, SI (as in tables) and the key of `units.UNITS` for figures; flag: it is 0 or 1."""

    words: str
    unit: str
    shown: str
    flag: bool


OUTCOMES: dict[str, Quantity] = {
    "entered": Quantity("enters the false lumen", "-", "", True),
    "extended": Quantity("extends the plane by more than 0.5 mm", "-", "", True),
    "curled": Quantity("curls", "-", "", True),
    "opened_area": Quantity("newly opened area", "m2", "mm2", False),
    "max_push": Quantity("largest push", "N", "mN", False),
}


@dataclass(frozen=True)
class SensitivitySpec(OfStudy):
    """A sensitivity study; which outcomes are looked at is no part of it.

    Parameters
    ----------
    study : StudySpec
        vessel, shared unknowns and protocol; its wires are those at the tabulated tip loads, or the one; its angles the
        ends of the range, or the one. Its scrambles and points are not used
    trajectories, levels : int
        of Morris' screening
    base_points : int
        of Saltelli's design, a power of 2
    tip_load, angle : (float, float), optional
        range of the tip load (N, uniform in its logarithm) and of the commanded angle (rad, uniform); None: fixed
    load_error : float
        largest |ln(bench load / wanted load)| halfway between tabulated tip loads (0: fixed tip load)
    sampler : str
        library that made the designs
    """

    study: StudySpec
    trajectories: int = 10
    levels: int = 4
    base_points: int = 128
    tip_load: Range | None = None
    angle: Range | None = None
    load_error: float = 0.0
    sampler: str = field(default_factory=sampler)

    def __post_init__(self) -> None:
        if self.trajectories < 2:
            raise FieldError("screening", self.trajectories, "at least 2 trajectories (sigma needs two)")
        if self.levels < 4 or self.levels % 2:
            raise FieldError("levels", self.levels, "an even number, at least 4")
        if self.base_points < 2 or self.base_points & (self.base_points - 1):
            raise FieldError("base_points", self.base_points, "a power of 2, at least 2")
        for name, ends, values in (("tip_load", self.tip_load, self.study.tip_loads),
                                   ("angle", self.angle, self.study.angles)):  # fmt: skip
            if ends is None and len(values) != 1:
                raise FieldError(name, None, f"a range, where the study has {len(values)} values")
            if ends is not None and not ends[0] < ends[1]:
                raise FieldError(name, list(ends), "two numbers, the second larger")
            if ends is not None and not (values[0] <= ends[0] and ends[1] <= values[-1]):
                raise FieldError(name, list(ends), "a range within the study's values")
        angles = self.study.angles if self.angle is None else np.linspace(*self.angle, ANGLES_CHECKED).tolist()
        for angle in angles:
            if not feasible(replace(self.study, angles=(angle,)), 0):
                raise FieldError("angle", angle, "angles (rad) at which tip and support fit the lumen at the tear")

    @cached_property
    def inputs(self) -> tuple[Input, ...]:
        """All inputs, in the order of a point's coordinates."""
        out = [*(Input(x, *WORDS[x.name]) for x in UNKNOWNS), MEDIAN, FRONT, IMPERFECTION]
        if self.tip_load is not None:
            about = "range of the file, uniform in its logarithm"
            out.append(Input(Unknown("tip_load", "N", stats.loguniform(*self.tip_load), about), "tip load", "wire"))
        if self.angle is not None:
            low, high = self.angle
            about = "range of the file, uniform"
            unknown = Unknown("angle", "rad", stats.uniform(low, high - low), about)
            out.append(Input(unknown, "commanded approach angle", "wire"))
        return tuple(out)

    @property
    def count(self) -> int:
        """Insertions in all."""
        d = len(self.inputs)
        return self.trajectories * (d + 1) + self.base_points * (d + 2)

    def design(self, which: int) -> Array:
        """Points of `MORRIS` or `SOBOL`, shape (insertions, inputs), in (0, 1)."""
        d = len(self.inputs)
        if which == MORRIS:
            return morris_design(d, self.trajectories, self.levels, self.seed)
        return sobol_design(d, self.base_points, self.seed)

    def block(self, which: int) -> int:
        """Insertions of one trajectory or one base point."""
        return len(self.inputs) + (1 if which == MORRIS else 2)


@dataclass(frozen=True)
class Insertion:
    """One insertion of the study: its case, what the inputs came to (SI, after the caps), which caps were active."""

    case: Case
    tip_load: float
    angle: float
    values: dict[str, float]
    capped: dict[str, int]


def load_knots(low: float, high: float) -> tuple[float, ...]:
    """Tip loads (N) at which the softness factor is tabulated: evenly over ln(load)."""
    return tuple(float(x) for x in np.geomspace(low, high, LOADS))


def wire_at(study: StudySpec, tip_load: float) -> tuple[float, Profile]:
    """Softness factor and wire of the family at a tip load (N) within those tabulated."""
    factor = exp(float(np.interp(log(tip_load), np.log(study.tip_loads), np.log(study.factors))))
    return factor, replace(study.base.softened(factor), name=f"{study.base.name} x {factor:.3g}")


def interpolation_error(study: StudySpec, bench: Bench) -> float:
    """Largest |ln(bench load / wanted load)| of the wires halfway (in ln(load)) between the tabulated tip loads."""
    middles = np.sqrt(np.multiply(study.tip_loads[1:], study.tip_loads[:-1]))
    return max(abs(log(bench(wire_at(study, float(x))[1]) / float(x))) for x in middles)


def insertion_at(spec: SensitivitySpec, u: Array) -> Insertion:
    """Insertion at one point `u`, shape (inputs,), of a design."""
    inside = np.clip(u, TINY, 1.0 - TINY)
    scatter, others = inside[: len(UNKNOWNS)], inside[len(UNKNOWNS) :]
    x = {i.name: i.unknown.value(float(v)) for i, v in zip(spec.inputs[len(UNKNOWNS) :], others, strict=True)}
    study, shared = spec.study, spec.study.shared
    median = shared.fracture_energy * x[MEDIAN.name]
    front: Literal["notch", "flat"] = "flat" if x[FRONT.name] else "notch"
    load = study.tip_loads[0] if spec.tip_load is None else x["tip_load"]
    angle = study.angles[0] if spec.angle is None else x["angle"]
    factor, wire = (study.factors[0], study.wires[0]) if spec.tip_load is None else wire_at(study, load)
    own = _own(study, replace(shared, fracture_energy=median, front_shape=front), (load, factor, wire), angle)
    step = int(x[IMPERFECTION.name] * SEED_STEPS)
    seed = int(np.random.SeedSequence([spec.seed, 11, step]).generate_state(1)[0])
    point = place_point(own, scatter)
    more = {"fracture_energy_median": median, "front_flat": x[FRONT.name]}
    return Insertion(
        case=build_case(own, 0, 0, scatter, seed),
        tip_load=load,
        angle=angle,
        values={**{name: float(v) for name, v in point.values.items()}, **more},
        capped=dict(point.capped),
    )


def _own(study: StudySpec, shared: Shared, wire: tuple[float, float, Profile], angle: float) -> StudySpec:
    """Study of one cell: the wire (tip load, factor, profile) and the angle of one insertion."""
    load, factor, profile = wire
    return replace(study, shared=shared, tip_loads=(load,), factors=(factor,), wires=(profile,), angles=(angle,))


def limits_of(outcome: str, values: Array, solved: NDArray[np.bool_]) -> Range:
    """Least and largest value of an outcome: 0 and 1 of an event, else those of the solved insertions."""
    if OUTCOMES[outcome].flag:
        return 0.0, 1.0
    seen: Any = values[solved]
    return (float(seen.min()), float(seen.max())) if len(seen) else (0.0, 0.0)
