"""`tipmech calibrate`: posterior of a wire's scale and of its bench's end condition from the user's measurements."""

from pathlib import Path
from typing import Any

import numpy as np

from ..bench.measured import END_RANGE, LENGTH_CUT, Datum
from ..files.calibration import Calibration
from ..lab.calibrated import (
    DRAWS,
    LEVELS,
    STATIONS,
    Calibrated,
    c_of,
    curve,
    datum_words,
    run_calibration,
    spread_of,
    standard_loads,
)
from ..lab.posterior import Array, log_prior
from ..lab.posterior_file import write_posterior
from ..show.calibration import CalibrationPicture, DatumPicture, calibration_figure
from ..show.style import save
from ..units import from_si
from ..wire.stations import stations
from .terminal import finish, guard, print_json, print_table, progress, write_json

PICTURE, FIGURES, POSTERIOR = "calibration.png", "calibration.json", "posterior.parquet"
SHOWN_X, SHOWN_U = 401, 201  # nodes of the common grid that is drawn
SHOWN_SD = 6.0  # posterior sd of ln scale on either side of its mean that are drawn at most
SHOWN_LENGTH = 60.0  # mm of the wire drawn: beyond, the scale is 1
NAMES = ("low_95", "low_50", "median", "high_50", "high_95")


def run(asked: Calibration, source: Path, folder: Path, *, as_json: bool, overwrite: bool) -> None:
    """Calibrate, write the posterior, the figure and the figures, print the tables."""
    guard(folder, (PICTURE, FIGURES, POSTERIOR), overwrite)
    with progress("calibration: bench simulated", quiet=as_json) as report:
        result = run_calibration(asked, report)
    known = known_facts(asked)
    paths = [write_posterior(result.posterior, asked.design, folder / POSTERIOR, known)]
    with progress("standard tip load of the calibrated wire", quiet=as_json):
        loads, definition = standard_loads(folder / POSTERIOR)
    facts = {**known, **found_facts(result, loads, definition)}
    paths.append(save(calibration_figure(picture_of(result, source, loads)), folder / PICTURE))
    paths.append(write_json(facts, folder / FIGURES))
    if as_json:
        print_json({**facts, "files": paths})
        return
    print_table(f"{asked.title}: {asked.design.name}", ("", "median", "50 %", "95 %"), result_rows(result, loads))
    print_table("measured and predicted again", ("", "measured", "predicted", "95 %", "z"), fit_rows(result))
    print_table("next measurement", ("", "expected sd of ln EI"), next_rows(result))
    for line in (*prior_lines(asked), *correlation_lines(result), f"standard tip load: {definition}"):
        print(line)
    for warning in result.warnings():
        print(f"does not fit: {warning}")
    finish(paths)


def in_users_units(datum: Datum, value: float) -> float:
    """A figure of a measurement in gf or N/m."""
    return from_si(value, "gf") if datum.kind == "tip_load" else value


def unit_of(datum: Datum) -> str:
    """Unit a measurement is shown in."""
    return "gf" if datum.kind == "tip_load" else "N/m"


def known_facts(asked: Calibration) -> dict[str, Any]:
    """What went in: bench, measurements, priors; kept with the posterior too."""
    return {
        "title": asked.title,
        "wire_name": asked.design.name,
        "bench": {"end": asked.setup.end, "words": asked.setup.words, "travel_mm": from_si(asked.setup.travel, "mm")},
        "measurements": [
            {
                "what": d.kind,
                "free_length_mm": from_si(d.free_length, "mm"),
                "length_error_mm": from_si(d.length_sd, "mm"),
                "free_length_stated": d.length_stated,
                "value": in_users_units(d, d.value),
                "unit": unit_of(d),
                "relative_error": d.log_sd,
                "error_is": "log-normal" if d.relative else "normal",
            }
            for d in asked.data
        ],
        "priors": list(prior_lines(asked)),
    }


def found_facts(result: Calibrated, loads: Array, definition: str) -> dict[str, Any]:
    """What came out, users' units in the names."""
    posterior = result.posterior
    places = stations(result.asked.design, STATIONS)
    bending = from_si(1.0, "N_mm2") * result.bending(np.array([one.at for one in places]))
    return {
        "scale": _named(posterior.scale(LEVELS)),
        "end_condition_c": _named(posterior.end_c(LEVELS)),
        "correlation_ln_scale_ln_c": posterior.correlation,
        "sd_ln_EI": posterior.sd,
        "EI_N_mm2": {
            f"{one.distance * 1e3:g}_mm{one.side and f'_toward_the_{one.side}'}": _named(bending[:, k])
            for k, one in enumerate(places)
        },
        "standard_tip_load_gf": _named(from_si(1.0, "gf") * loads),
        "standard_tip_load_definition": definition,
        "standard_tip_load_draws": DRAWS,
        "predictions": [
            {
                "what": datum_words(d),
                "unit": unit_of(d),
                "measured": in_users_units(d, d.value),
                **_named([in_users_units(d, v) for v in _five(p)]),
                "probability_of_less": p.below,
            }
            for d, p in zip(result.asked.data, result.predictions, strict=True)
        ],
        "next_measurement": [
            {"what": c.kind, "free_length_mm": from_si(c.free_length, "mm"), "expected_sd_ln_EI": c.sd}
            for c in result.candidates
        ],
        "warnings": result.warnings(),
    }


def result_rows(result: Calibrated, loads: Array) -> list[tuple[str, ...]]:
    """Rows of the first table: medians and intervals."""
    rows = [("scale of EI and GJ (drawing = 1)", result.posterior.scale(LEVELS))]
    places = stations(result.asked.design, STATIONS)
    bending = from_si(1.0, "N_mm2") * result.bending(np.array([one.at for one in places]))
    for k, one in enumerate(places):
        rows.append((f"EI at {one.distance * 1e3:g} mm{one.side and f' {one.words}'}, N mm²", bending[:, k]))
    if not result.posterior.end_known:
        rows.append(("end condition c of this bench", result.posterior.end_c(LEVELS)))
    rows.append(("standard tip load, gf", from_si(1.0, "gf") * loads))
    return [(name, f"{v[2]:.3g}", f"{v[1]:.3g} to {v[3]:.3g}", f"{v[0]:.3g} to {v[4]:.3g}") for name, v in rows]


def fit_rows(result: Calibrated) -> list[tuple[str, ...]]:
    """Rows of the second table: each measurement, its prediction, and its place in it as a normal deviate."""
    from scipy.special import ndtri

    rows: list[tuple[str, ...]] = []
    for d, p in zip(result.asked.data, result.predictions, strict=True):
        low, _, median, _, high = (in_users_units(d, v) for v in _five(p))
        deviate = f"{float(ndtri(p.below)):+.2f}" if 0.0 < p.below < 1.0 else "beyond"
        measured = f"{in_users_units(d, d.value):.3g} {unit_of(d)}"
        rows.append((datum_words(d), measured, f"{median:.3g}", f"{low:.3g} to {high:.3g}", deviate))
    return rows


def next_rows(result: Calibrated) -> list[tuple[str, ...]]:
    """Rows of the third table, the best first, the present below."""
    rows = [(candidate_words(c.kind, c.free_length), f"{c.sd:.3f}") for c in result.candidates]
    return [*rows, ("now", f"{result.posterior.sd:.3f}")]


def candidate_words(kind: str, free_length: float) -> str:
    """A next measurement in words."""
    return f"{'tip load' if kind == 'tip_load' else 'lateral stiffness'} at {free_length * 1e3:g} mm"


def prior_lines(asked: Calibration) -> tuple[str, ...]:
    """Priors in words."""
    end = asked.setup.words
    if asked.setup.end == "unknown":
        end = "unknown, ln c triangular from ln 2.467 (free) to ln 20.19 (pinned), mode pinned (assumed)"
    lengths = f"normal about the stated ones, cut at {LENGTH_CUT:g} sd, each measurement its own"
    return (
        f"prior: ln scale normal about the drawing, sd {asked.prior_sd:g}; end condition {end}; free lengths {lengths}",
    )


def correlation_lines(result: Calibrated) -> tuple[str, ...]:
    """The correlation of scale and end condition in words."""
    if result.posterior.end_known:
        return ()
    return (f"correlation of ln scale and ln c: {result.posterior.correlation:+.3f}",)


def picture_of(result: Calibrated, source: Path, loads: Array) -> CalibrationPicture:
    """What the figure shows."""
    posterior, asked = result.posterior, result.asked
    low, high = np.min(posterior.x), np.max(posterior.x)
    reach = SHOWN_SD * posterior.sd
    x = np.linspace(max(low, posterior.mean - reach), min(high, posterior.mean + reach), SHOWN_X)
    end = np.linspace(0.0, 1.0, SHOWN_U)
    rows = posterior.on(x)
    if posterior.end_known:
        joint, marginal, c_marginal = rows, rows[0], np.ones(SHOWN_U)
    else:
        joint = np.array([np.interp(end, posterior.end, column, left=0.0, right=0.0) for column in rows.T]).T
        marginal = np.trapezoid(rows, posterior.end, axis=0)
        c_marginal = np.interp(end, posterior.end, np.trapezoid(rows, x, axis=1), left=0.0, right=0.0) / END_RANGE
    prior = np.exp(log_prior(x, np.zeros(1), asked.prior_sd, end_known=True)) / (np.sqrt(2 * np.pi) * asked.prior_sd)
    distance = np.linspace(0.0, min(SHOWN_LENGTH, from_si(float(asked.base.distance[-1]), "mm")), 241)
    at = 1e-3 * distance
    drawn = np.minimum(asked.base.at("EI1", at), asked.base.at("EI2", at))
    return CalibrationPicture(
        title=f"{asked.title}: {asked.design.name}",
        facts=facts_text(result, source, loads),
        scale=np.exp(x),
        c=c_of(end),
        c_known="" if not posterior.end_known else asked.setup.words,
        joint=joint,
        levels=_levels(joint),
        marginal=marginal,
        prior=prior,
        c_marginal=c_marginal,
        c_prior=2.0 * end / END_RANGE,
        distance=distance,
        drawn=from_si(1.0, "N_mm2") * drawn,
        bending=from_si(1.0, "N_mm2") * result.bending(at),
        data=tuple(_datum_pictures(result, end)),
        candidates=tuple((candidate_words(c.kind, c.free_length), c.sd) for c in result.candidates),
        present=posterior.sd,
    )


def facts_text(result: Calibrated, source: Path, loads: Array) -> str:
    """Lines printed above the panels."""
    scale, load = result.posterior.scale(LEVELS), from_si(1.0, "gf") * loads
    asked = result.asked
    lines = [
        f"{source.name}; {asked.setup.words}, travel {from_si(asked.setup.travel, 'mm'):g} mm. "
        f"Scale {scale[2]:.3g} (95 %: {scale[0]:.3g} to {scale[4]:.3g}); standard tip load {load[2]:.3g} gf "
        f"({load[0]:.3g} to {load[4]:.3g}).",
        *prior_lines(asked),
        *correlation_lines(result),
        *(f"Does not fit: {w}" for w in result.warnings()),
    ]
    return "\n".join(lines)


def _datum_pictures(result: Calibrated, end: Array) -> list[DatumPicture]:
    rows = zip(result.asked.data, result.responses, result.predictions, strict=True)
    return [
        DatumPicture(
            name=datum_words(d),
            unit=unit_of(d),
            value=in_users_units(d, d.value),
            error=in_users_units(d, d.log_sd * d.value),
            predicted=tuple(in_users_units(d, v) for v in _five(p)),
            curve=curve(d, r, end),
            spread=spread_of(d),
        )
        for d, r, p in rows
    ]


def _levels(joint: Array) -> tuple[float, float]:
    """Densities that bound the regions of 95 and 50 % of the probability on an even grid."""
    values = np.sort(joint.ravel())[::-1]
    share = np.cumsum(values) / np.sum(values)
    low, high = (float(values[np.searchsorted(share, v)]) for v in (0.95, 0.5))
    return low, high


def _five(p: Any) -> tuple[float, ...]:
    return p.low95, p.low50, p.median, p.high50, p.high95


def _named(values: Any) -> dict[str, float]:
    return dict(zip(NAMES, (float(v) for v in values), strict=True))
