"""The sign atlas: where a softer tip lowers entry, where it only trades it for curl, where it reverses.

Sites are Sobol' points over ranges of what decides it, half of them with each end condition at the front; at each site
both designs meet the same few vessels, everything else scattered as usual.
"""

from dataclasses import dataclass
from math import exp, log
from pathlib import Path
from typing import Any

import numpy as np
from scipy.stats import qmc

from ..checks import FieldError, check_range
from .build import feasible
from .evaluate import evaluate
from .execute import OnProgress, run_tasks
from .factors import Arm, points_of, probability_of, unknown, with_level
from .independent import Evaluate
from .inputs import scramble_points
from .intervals import Array
from .run_compare import ArmsWork, ArmTask
from .spec import OfStudy, StudySpec
from .store import open_store
from .streams import Use, stream
from .table import Table

ROOTS = tuple(f"study/{name}.py" for name in ("run_atlas", "run_compare", "factors", "streams"))
FEWEST_SITES = 64  # a model of degree 1 over four axes, front and angle has 7 weights: sites drawn again tell them with
# about ten sites a weight; with fewer the band of the signs is too narrow (docs/compare.md)
SHAPES = ("notch", "flat")


@dataclass(frozen=True)
class Range:
    """One axis of the atlas: a factor between low and high (SI, both above 0), even in its logarithm."""

    name: str
    low: float
    high: float

    def __post_init__(self) -> None:
        if not 0.0 < self.low < self.high:
            raise FieldError(self.name, [self.low, self.high], "two values above 0, the second greater")

    def value(self, u: float) -> float:
        """Value at the share `u` of the axis."""
        return exp(log(self.low) + u * (log(self.high) - log(self.low)))

    def place(self, value: Array) -> Array:
        """Place of values on the axis, -1 to 1."""
        middle, half = 0.5 * (log(self.low) + log(self.high)), 0.5 * (log(self.high) - log(self.low))
        return np.asarray((np.log(value) - middle) / half)


@dataclass(frozen=True)
class AtlasSpec(OfStudy):
    """Two designs (tip loads, the softer first), the ranges and how many sites; `study.points` vessels at each.

    level : of the band by which signs count as decided: with no difference anywhere, the chance that one does at any
        place of the atlas
    floor : difference of probabilities that the solver's settings alone could make: smaller ones are undecided
    margin : change of entry or curl within which it counts as no change: entry is then traded for curl
    """

    study: StudySpec
    ranges: tuple[Range, ...]
    sites: int
    level: float = 0.05
    floor: float = 0.02
    margin: float = 0.05

    def __post_init__(self) -> None:
        if len(self.study.tip_loads) != 2:
            raise FieldError("tip_loads", list(self.study.tip_loads), "two tip loads, the softer first")
        if self.sites < FEWEST_SITES or self.sites & (self.sites - 1):
            raise FieldError("sites", self.sites, f"a power of 2, at least {FEWEST_SITES}")
        check_range(self.margin, name="margin", low=0.0, high=1.0, above=True)
        for r in self.ranges:
            for end in (r.low, r.high):
                self.level_at(self.study, r.name, end)

    @staticmethod
    def level_at(study: StudySpec, name: str, value: float) -> tuple[StudySpec, dict[str, float]]:
        """Spec, and what is pinned in it, with a factor at a value; refused where the scene cannot have it."""
        own, pinned = with_level(study, name, value)
        for pin, v in pinned.items():
            probability_of(unknown(pin), np.array([v]))
        return own, pinned


@dataclass(frozen=True)
class AtlasResult:
    """A finished atlas: rows, one insertion each, `arm` the site; places of the sites, shape (sites, axes), -1 to 1;
    flat: whether the front's end condition is flat at each."""

    spec: AtlasSpec
    rows: Table
    places: Array
    flat: "np.typing.NDArray[np.bool_]"
    manifest: dict[str, Any]
    folder: Path


def shares(spec: AtlasSpec) -> Array:
    """Sites as shares of the axes, the last column the end condition: shape (sites, axes + 1)."""
    sobol = qmc.Sobol(len(spec.ranges) + 1, scramble=True, rng=stream(spec.seed, Use.SITES))
    return np.asarray(sobol.random_base2(spec.sites.bit_length() - 1))


def site(spec: AtlasSpec, index: int, u: Array) -> Arm:
    """The arm of one site."""
    front = SHAPES[int(u[-1] >= 0.5)]
    own, pinned = with_level(spec.study, "front_shape", front)
    levels: dict[str, float | str] = {"front_shape": front}
    for r, share in zip(spec.ranges, u[:-1], strict=True):
        levels[r.name] = r.value(float(share))
        own, pin = with_level(own, r.name, levels[r.name])
        pinned |= pin
    return Arm(index, own, levels, pinned)


def run_atlas(
    spec: AtlasSpec,
    out: Path | str,
    workers: Any = None,
    overwrite: bool = False,
    on_progress: OnProgress | None = None,
    evaluate: Evaluate = evaluate,
) -> AtlasResult:
    """Run (or go on with) an atlas into the folder `out`; arguments as for `run_map.run_map`."""
    study = spec.study
    store = open_store(out, "atlas", spec, overwrite, ROOTS)
    angles = [j for j in range(len(study.angles)) if feasible(study, j)]
    each = study.points
    tasks = [ArmTask(i, j, k * each, (k + 1) * each, k) for k in range(spec.sites) for j in angles for i in range(2)]
    wall = run_tasks(store, tasks, SitesWork(spec, evaluate), workers or study.workers, on_progress)
    rows = store.gather([t.key for t in tasks])
    store.put_table("rows", rows)
    manifest = store.finish(wall_time_of_last_run_s=round(wall, 2), insertions=len(rows["arm"]))
    u = shares(spec)
    return AtlasResult(spec, rows, 2.0 * u[:, :-1] - 1.0, u[:, -1] >= 0.5, manifest, Path(out))


class SitesWork(ArmsWork):
    """Work on sites: each its own scramble of vessels, the same for both designs."""

    def arm(self, task: ArmTask) -> tuple[Arm, Array]:
        """Site of a task as an arm, and the coordinates of its points."""
        arm = site(self.spec, task.arm, shares(self.spec)[task.arm])
        u = points_of(arm, scramble_points(self.spec.seed, task.arm, self.spec.study.points))
        return arm, u[: task.count]
