"""PyElastica: an explicit Cosserat rod, damped and run to rest; with the rod's true values and tuned for statics.

The largest stable time step follows from the fastest motion: an element that rotates against its shear stiffness, or a
sound wave across an element. True steel wire: some 10^-8 s. Tuned: shear and axial stiffness divided by `soft` (what
the accuracy allows), rotational inertia multiplied by `heavy`; the static result does not depend on inertia.

The first element's frame is fixed, so the rod is clamped in effect at the middle of that element: N - 1/2 elements make
up the length. The stopping rule is better than any user's: the clock is read where the tip last came within the
accuracy of the exact result.
"""

from collections.abc import Iterable
from dataclasses import replace
from functools import partial
from importlib.metadata import version
from itertools import product
from math import isfinite, isnan, nan, sqrt
from time import perf_counter
from typing import Any

import numpy as np

from .cases import ACCURACY, AREA, DENSITY, DIAMETER, EI, FORCE, INERTIA, LENGTH, SHEAR, YOUNG, Case, Tip
from .code import Attempt, Best, Code

UNIT = sqrt(DENSITY * AREA * LENGTH**4 / EI)  # s, scale of the bending motion: 5 ms
SAFETY = 0.9  # of the largest stable step
LIMIT = 8.0  # UNIT, a run that is not at rest by then has failed
LOOK = 100  # steps between looks at the tip
MESHES = (16, 18, 20, 24, 28, 32, 40)
TRUE = {"soft": 1.0, "heavy": 1.0}
HEAVY = 1000.0  # rotational inertia that leaves only sound to limit the step
GAIN = 0.8  # of the time of motion: what a finer mesh has to do better than
TRIAL = 3000  # steps, for the time of one
MARGIN = 1.2  # of the tuned rod's time of motion: how long the true one is followed under the last force
STOPPED = "stopped by the exact result; clamp's half element corrected"


def time_step(elements: int, soft: float, heavy: float) -> float:
    """Largest time step, s: the smaller of 2/omega of the two fast motions, with a margin."""
    element = LENGTH / (elements - 0.5)
    turning = sqrt(SHEAR * AREA / soft / (DENSITY * INERTIA * heavy))
    sound = 2.0 / element * sqrt(YOUNG / soft / DENSITY)
    return SAFETY * 2.0 / max(turning, sound)


def build(ea: Any, elements: int, step: float, soft: float, heavy: float, damping: float) -> tuple[Any, Any, Any]:
    """System, rod, and the tip force as an array that may be written to."""

    class Model(ea.BaseSystemCollection, ea.Constraints, ea.Forcing, ea.Damping):  # type: ignore[misc]
        pass

    class TipForce(ea.NoForces):  # type: ignore[misc]
        def __init__(self, force: Any) -> None:
            self.force = force

        def apply_forces(self, system: Any, time: float = 0.0) -> None:
            system.external_forces[:, -1] += self.force

    force = np.zeros(3)
    model = Model()
    rod = ea.CosseratRod.straight_rod(
        elements, np.zeros(3), np.array([1.0, 0.0, 0.0]), np.array([0.0, 1.0, 0.0]),
        LENGTH * elements / (elements - 0.5), DIAMETER / 2.0, DENSITY, youngs_modulus=YOUNG, shear_modulus=SHEAR,
    )  # fmt: skip
    rod.shear_matrix /= soft
    rod.mass_second_moment_of_inertia *= heavy
    rod.inv_mass_second_moment_of_inertia /= heavy
    model.append(rod)
    model.constrain(rod).using(ea.OneEndFixedBC, constrained_position_idx=(0,), constrained_director_idx=(0,))
    model.add_forcing_to(rod).using(TipForce, force)
    model.dampen(rod).using(ea.AnalyticalLinearDamper, uniform_damping_constant=damping / UNIT, time_step=step)
    model.finalize()
    return model, rod, force


def tip_of(rod: Any, elements: int) -> Tip:
    """Tip from the effective clamp in the middle of the first element, over the length."""
    tip = (rod.position_collection[:, -1] - rod.position_collection[:, 0]) / LENGTH
    return float(tip[0] - 0.5 / (elements - 0.5)), float(tip[1])


class Run:
    """A rod in motion: steps under a force, and where the tip is."""

    def __init__(self, ea: Any, elements: int, soft: float, heavy: float, damping: float) -> None:
        self.elements, self.step = elements, time_step(elements, soft, heavy)
        self.model, self.rod, self.force = build(ea, elements, self.step, soft, heavy, damping)
        self.stepper, self.time = ea.PositionVerlet(), 0.0 * self.step

    def advance(self, leg: Tip, steps: int) -> Tip:
        """The tip after some steps under a force in EI/L^2."""
        self.force[:2] = np.array(leg) * FORCE
        for _ in range(steps):
            self.time = self.stepper.step(self.model, self.time, self.step)
        return tip_of(self.rod, self.elements)

    def settle(self, case: Case, steps: int) -> tuple[float, Tip, float]:
        """Clock, tip and time of motion (s) where the tip last came within the accuracy; nan if it is outside."""
        reached = nan, (nan, nan), nan
        for _ in range(steps // LOOK):
            tip = self.advance(case.legs[-1], LOOK)
            if not case.error(tip) <= ACCURACY:
                reached = nan, tip, nan
            elif isnan(reached[0]):
                reached = perf_counter(), tip, float(self.time)
            if not isfinite(tip[0]):
                break
        return reached


def solve(
    ea: Any, case: Case, elements: int, *, soft: float, heavy: float, damping: float, hold: float, limit: float = LIMIT
) -> Attempt:
    """Run to rest; `hold` under each force but the last and `limit` under the last, UNIT; `damping` in 1/UNIT."""
    begin = perf_counter()
    run = Run(ea, elements, soft, heavy, damping)
    held, longest = int(hold * UNIT / run.step), int(limit * UNIT / run.step)
    start = perf_counter()
    tips = [run.advance(leg, held) for leg in (case.legs[:-1] if case.divisible else case.legs)]
    if case.divisible:
        reached, tip, simulated = run.settle(case, longest)
        return Attempt(reached - start, tip, isfinite(reached), reached - begin, simulated)
    reached, off = perf_counter(), case.largest_error(tips)
    return Attempt(reached - start, tips[-1], isfinite(off), reached - begin, float(run.time), off)


def settings(case: Case) -> Iterable[dict[str, Any]]:
    """Softening, rotational inertia, damping, time under a force that is not the last."""
    softs, heavies = (50.0, 100.0), (1000.0, 4000.0)
    dampings, holds = {"a": ((5.0, 7.0), (0.0,)), "b": ((2.0, 4.0), (1.0, 2.0)), "c": ((5.0,), (1.6, 2.0))}[case.key]
    if case.key == "c":  # a hundred forces held long enough: only what was best in (a)
        softs, heavies = (100.0,), (4000.0,)
    for soft, heavy, damping, hold in product(softs, heavies, dampings, holds):
        yield {"soft": soft, "heavy": heavy, "damping": damping, "hold": hold}


def codes() -> list[Code]:
    """The tuned rod; what the true one takes is in `true_rod`."""
    import elastica as ea

    note = "shear and axial stiffness and rotational inertia not the rod's own; " + STOPPED
    return [
        Code("PyElastica tuned", version("pyelastica"), "explicit", partial(solve, ea), settings, note, MESHES, True)
    ]


def true_rod(tuned: Best) -> tuple[Best, str]:
    """The setting that was best for the tuned rod, with the rod's own stiffness and inertia.

    Cases (a) and (b) are run once. (c) would take hours of steps: the time of a step is measured over TRIAL steps and
    multiplied by the number of steps in the time that the tuned rod needed.

    Returns
    -------
    Best, str
        what was found; how: "measured: ..." or "estimated: ..."
    """
    import elastica as ea

    setting = {**tuned.setting, **TRUE}
    code = replace(tuned.code, name="PyElastica true", note="the rod's own stiffness and inertia; " + STOPPED)
    found = Best(code, tuned.case, tuned.elements, setting, attempts=1)
    if tuned.case.divisible:
        elements, motion = trial(ea, tuned)
        limit = MARGIN * (motion / UNIT - setting["hold"])
        start = perf_counter()
        attempt = solve(ea, tuned.case, elements, **setting, limit=limit)
        followed = f"{elements} elements followed once for {perf_counter() - start:.0f} s of wall time"
        found.closest = found.error = tuned.case.error(attempt.tip)
        found.times, found.with_model = [attempt.seconds], [nan]
        found.elements = elements if attempt.success else 0
        return found, f"measured: {followed}"
    step = time_step(tuned.elements, **TRUE)
    steps = len(tuned.case.legs) * setting["hold"] * UNIT / step
    each = step_seconds(ea, tuned)
    found.error, found.times = tuned.error, [steps * each]
    return found, f"estimated: {steps:.3g} steps of {step:.3g} s at {1e6 * each:.3g} us, measured over {TRIAL}"


def trial(ea: Any, tuned: Best) -> tuple[int, float]:
    """Mesh with the rod's own stiffness that is at rest soonest, and that time, s: found with heavy sections only.

    Softening moves the tip a little, so the tuned rod's mesh need not do, and a mesh that just reaches the accuracy
    creeps toward it. Rotational inertia does not change the slow motion, and without it the time step is that of
    sound, some 25 times larger. The search ends where a finer mesh no longer gains.
    """
    best = None
    for elements in MESHES:
        attempt = solve(ea, tuned.case, elements, **{**tuned.setting, "soft": 1.0, "heavy": HEAVY})
        if attempt.success:
            if best is not None and attempt.simulated > GAIN * best[1]:
                break
            best = elements, attempt.simulated
    return best or (MESHES[-1], LIMIT * UNIT)


def step_seconds(ea: Any, tuned: Best) -> float:
    """Wall time of one step of this mesh, s."""
    run = Run(ea, tuned.elements, **TRUE, damping=tuned.setting["damping"])
    start = perf_counter()
    run.advance(tuned.case.legs[-1], TRIAL)
    return (perf_counter() - start) / TRIAL
