"""A whole calibration: simulate the bench, infer, predict every measurement, rank the next ones. Floor 6."""

from collections.abc import Callable
from dataclasses import dataclass
from math import log
from pathlib import Path

import numpy as np

from ..bench.measured import END_RANGE, FREE_C, Datum
from ..bench.tip_load import tip_load
from ..files.calibration import Calibration
from .next_measurement import Candidate, rank_candidates, typical_error
from .posterior import Array, Posterior, Prediction, calibrate, predict, quantiles
from .posterior_file import posterior_profiles
from .response import Response, respond_to

LEVELS = (0.025, 0.25, 0.5, 0.75, 0.975)  # quantiles reported: median, 50 % and 95 % intervals
STATIONS = (1e-3, 5e-3, 10e-3)  # m from the tip, where EI is reported
SURPRISE = 0.01  # two-sided predictive probability below which a measurement is said not to fit
FAR = 3.0  # prior sd: a posterior median beyond is said to contradict the drawing
DRAWS, SEED = 64, 1  # wires drawn from the posterior for the standard tip load
CURVE_STEPS = 4  # of the fixed-point iteration below; it gains three digits a step

OnProgress = Callable[[float, float], None]


@dataclass(frozen=True)
class Calibrated:
    """Result of a calibration.

    asked : what the file asked for
    responses : simulated bench, one for each measurement
    posterior : of ln scale and end condition
    predictions : one for each measurement
    candidates : next measurements, the best first
    """

    asked: Calibration
    responses: tuple[Response, ...]
    posterior: Posterior
    predictions: tuple[Prediction, ...]
    candidates: tuple[Candidate, ...]

    def bending(self, distance: Array) -> Array:
        """Quantiles (`LEVELS`) of EI of the softer axis at distances from the tip (m), shape (5, n), N m2."""
        base = self.asked.base
        wires = [base.softened(float(s)) for s in self.posterior.scale(LEVELS)]
        return np.array([np.minimum(w.at("EI1", distance), w.at("EI2", distance)) for w in wires])

    def warnings(self) -> list[str]:
        """One sentence for each sign that wire, bench and measurements do not fit each other."""
        out = [
            f"{datum_words(d)}: a reading this far from the others has a predictive probability of {p.surprise:.1g}; "
            "the wire file, the bench or an error is not as stated"
            for d, p in zip(self.asked.data, self.predictions, strict=True)
            if p.surprise < SURPRISE
        ]
        away = log(float(self.posterior.scale([0.5])[0])) / self.asked.prior_sd
        if abs(away) > FAR:
            out.append(
                f"the median scale lies {abs(away):.1f} prior standard deviations from the drawing: the wire file, "
                "the bench or an error is not as stated"
            )
        return out


def run_calibration(asked: Calibration, on_progress: OnProgress = lambda done, total: None) -> Calibrated:
    """Simulate, infer, predict, rank.

    Raises
    ------
    NotConvergedError
        when a simulated bench finds no equilibrium
    """
    steps = len(asked.data) + 2.0
    responses = []
    for k, datum in enumerate(asked.data):
        on_progress(k, steps)
        responses.append(respond_to(asked.base, datum, asked.setup, asked.prior_sd))
    known = asked.setup.end != "unknown"
    posterior = calibrate(asked.data, responses, end_known=known, prior_sd=asked.prior_sd)
    on_progress(steps - 2.0, steps)
    predictions = [predict(posterior, d, r) for d, r in zip(asked.data, responses, strict=True)]
    on_progress(steps - 1.0, steps)
    candidates = rank_candidates(asked.base, posterior, asked.setup, typical_error(asked.data))
    return Calibrated(asked, tuple(responses), posterior, tuple(predictions), candidates)


def standard_loads(path: Path) -> tuple[Array, str]:
    """Quantiles (`LEVELS`) of the calibrated wire's tip load on the standard bench, N, and that bench's definition.

    Every one of `DRAWS` wires of the posterior file is simulated.
    """
    found = [tip_load(wire) for wire in posterior_profiles(path, DRAWS, SEED)]
    forces = np.array([f.force for f in found])
    return quantiles(forces, np.full(len(forces), 1.0), LEVELS), found[0].definition


def curve(datum: Datum, response: Response, end: Array) -> Array:
    """Scale that gives a measured value exactly, for each end condition u, the free length as stated; shape (n,)."""
    x = np.zeros(len(end))
    for _ in range(CURVE_STEPS):
        x = x + log(datum.value) - response.log_value(x, end, datum.free_length)
    return np.asarray(np.exp(x))


def spread_of(datum: Datum) -> float:
    """Standard deviation of the ln scale that one measurement gives at a known end: its error and its length's."""
    power = 2.0 if datum.kind == "tip_load" else 3.0
    return float(np.hypot(datum.log_sd, power * datum.length_sd / datum.free_length))


def c_of(end: Array) -> Array:
    """Coefficient c of P = c EI/L^2 for end conditions u."""
    return FREE_C * np.exp(END_RANGE * end)


def datum_words(datum: Datum) -> str:
    """A measurement in a few words."""
    what = "tip load" if datum.kind == "tip_load" else "lateral stiffness"
    length = f"{datum.free_length * 1e3:g} mm" if datum.length_stated else "10 ± 1 mm"
    return f"{what} at {length}"
