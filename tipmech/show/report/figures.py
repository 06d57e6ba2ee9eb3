"""Figures of a study: the folder's own PNGs; else drawn from its tables by the functions of the study's command."""

import base64
from collections.abc import Callable
from dataclasses import dataclass
from io import BytesIO
from typing import TYPE_CHECKING, Any

from ...study.compare_spec import arms
from ...study.run_attempts import AttemptsResult
from ...study.run_compare import CompareResult
from ...study.run_curl import CurlResult
from ...study.run_map import MapResult
from ...study.run_sensitivity import SensitivityResult
from ...study.run_threshold import ThresholdStudyResult
from ...study.uncertainty import uncertainty_text
from ..attempts import attempts_figure
from ..compare import compare_figure
from ..curl import curl_figure
from ..curls import incidence_figure
from ..maps import map_figure
from ..sensitivity import sensitivity_figure
from ..thresholds import threshold_figure
from .folder import Finished
from .parts import Block, Picture, Text

if TYPE_CHECKING:
    from matplotlib.figure import Figure

PNG = b"\x89PNG\r\n\x1a\n"  # how a PNG begins
SIZE = (16, 20)  # places of width and height in a PNG
WIDE = 1.2  # width over height beyond which a figure is turned on paper
DOTS = 130  # per inch of a figure drawn here, as `style.save` does


@dataclass(frozen=True)
class Wanted:
    """A figure that a study's command writes: file, words for those who do not see it, what it shows, its tables."""

    file: str
    alt: str
    caption: str
    draw: Callable[[Finished], "Figure"] | None
    why_not: str = ""


def pictures(study: Finished) -> list[Block]:
    """Figures of the study in order, or a sentence for each that is not there."""
    return [_picture(study, wanted) for wanted in WANTED[study.kind]]


def _picture(study: Finished, wanted: Wanted) -> Block:
    """One figure."""
    path = study.folder / wanted.file
    content = path.read_bytes() if path.is_file() else b""
    if content.startswith(PNG):
        return _embedded(wanted, content, f"{wanted.file}, taken as it lies in the folder")
    there = "is no PNG" if path.is_file() else "is not in the folder"
    if wanted.draw is None:
        return Text(f"Figure missing: {wanted.file} {there}, and {wanted.why_not}.")
    try:
        figure = wanted.draw(study)
    except (KeyError, TypeError, ValueError, AttributeError, IndexError) as error:
        return Text(
            f"Figure missing: {wanted.file} {there}, and this code ({study.own_code}) cannot draw it from tables of "
            f"code "
            f"{study.code} ({type(error).__name__}: {error})."
        )
    image = BytesIO()
    figure.savefig(image, format="png", dpi=DOTS)
    return _embedded(wanted, image.getvalue(), f"{wanted.file} {there}; drawn for this report from the folder's tables")


def _embedded(wanted: Wanted, content: bytes, source: str) -> Picture:
    data = base64.b64encode(content).decode("ascii")
    width, height = (int.from_bytes(content[k : k + 4], "big") for k in SIZE)
    return Picture(wanted.file, data, wanted.alt, f"{wanted.caption} Source: {source}.", width > WIDE * height)


def _map(study: Finished) -> MapResult:
    t = study.tables
    return MapResult(study.rebuilt(), t["rows"], t["cells"], t["incidence"], study.manifest, study.folder)


def _threshold(study: Finished) -> "Figure":
    t = study.tables
    result = ThresholdStudyResult(study.rebuilt(), t["rows"], t["cells"], study.manifest, study.folder)
    return threshold_figure(result, _note(study))


def _attempts(study: Finished) -> "Figure":
    names = ("rows", "attempts", "cells", "incidence", "pairs")
    tables: dict[str, Any] = {name: study.tables[name] for name in names}
    result = AttemptsResult(study.rebuilt(), **tables, manifest=study.manifest, folder=study.folder)
    return attempts_figure(result, _note(study))


def _compare(study: Finished) -> "Figure":
    spec, t = study.rebuilt(), study.tables
    spec = spec if study.kind == "compare" else spec.compare
    result = CompareResult(spec, arms(spec), t["rows"], t["cells"], study.manifest, study.folder)
    return compare_figure(result, t, _note(study))


def _curl(study: Finished) -> "Figure":
    t = study.tables
    result = CurlResult(study.rebuilt(), t["rows"], t["looks"], study.manifest, study.folder)
    return curl_figure(result, t, _note(study))


def _sensitivity(study: Finished) -> "Figure":
    t = study.tables
    outcomes = tuple(dict.fromkeys(str(name) for name in t["indices"]["outcome"]))
    result = SensitivityResult(
        study.rebuilt(), outcomes, t["rows"], t["morris"], t["indices"], study.manifest, study.folder
    )
    return sensitivity_figure(result, _note(study))


def _note(study: Finished) -> str:
    return uncertainty_text(code=study.code)


FITTED = "drawing it fits the surfaces anew, which a report does not do: give “tipmech atlas” with the same file again"
WANTED: dict[str, tuple[Wanted, ...]] = {
    "map": (
        Wanted(
            "map.png",
            "Five heat maps over tip load (horizontal, gf) and commanded approach angle (vertical, degrees): the "
            "probabilities of a curl in the true lumen, of false-lumen entry, of entry with a curl, of an extended "
            "plane, "
            "and the mean newly opened area; a panel of what was fixed. Every number stands in the tables of this "
            "section.",
            "The map: probabilities and mean opened area over tip load and commanded angle.",
            lambda study: map_figure(_map(study), _note(study)),
        ),
        Wanted(
            "incidence.png",
            "Curves of cumulative incidence against advance past the tear, in millimetres, for each angle and tip "
            "load: "
            "plane extended, curls in the false lumen, curls in the true lumen. The curves are in incidence.csv.",
            "Cumulative incidence (Aalen-Johansen) of extension and of curls against advance past the tear.",
            lambda study: incidence_figure(_map(study), _note(study)),
        ),
    ),
    "threshold": (
        Wanted(
            "threshold.png",
            "Two panels over tip load: the median threshold F* in mN for each angle beside the scale 2 EI/Wc², and the "
            "ratio of the two, with intervals. Every number stands in the table of this section.",
            "Front force above which the tip curls before it drives the front on, P50 with its interval.",
            _threshold,
        ),
    ),
    "attempts": (
        Wanted(
            "attempts.png",
            "Four panels for each angle: share of procedures through within 1, 2, 3 and more attempts for each wire; "
            "spread of the opened area; spread of the largest push; how procedures ended. The numbers stand in the "
            "tables "
            "of this section.",
            "Share through against attempts, opened area, largest push, ends, for each wire.",
            _attempts,
        ),
        Wanted(
            "course.png",
            "One procedure as a story: the wire at the farthest point of each attempt above, feed and push of the hand "
            "over the hand's travel below.",
            "One procedure of the study, attempt by attempt: an example, not a result.",
            None,
            "drawing it carries out a procedure, which a report does not do (or no procedure came through)",
        ),
    ),
    "compare": (
        Wanted(
            "compare.png",
            "Three panels: probabilities of entry, curl and extension of each design; paired difference of the planned "
            "outcome from the reference, with the margin as a band; odds ratios of the logistic model, or, where an "
            "area is planned, the share of insertions that open more than an area. The numbers stand in the tables of "
            "this section.",
            "Outcomes of the designs, paired differences from the reference, odds ratios or areas.",
            _compare,
        ),
    ),
    "procedures": (
        Wanted(
            "compare.png",
            "Three panels: shares of procedures of each design that reach the true lumen, enter the false lumen in any "
            "attempt and curl in any attempt; paired difference of the planned outcome from the reference, with the "
            "margin as a band; odds ratios of the logistic model, or, where an area is planned, the share of "
            "procedures that open more than an area. The numbers stand in the tables of this section.",
            "Outcomes of procedures by design, paired differences from the reference, odds ratios or areas.",
            _compare,
        ),
    ),
    "atlas": (
        Wanted(
            "atlas.png",
            "Panels over pairs of axes, a row for each end condition at the front: where the softer tip lowers entry, "
            "trades entry for a curl, raises entry, or where it is undecided (hatched). Shares of the volume stand "
            "in the "
            "table of this section.",
            "Signs of the softer less the stiffer design over pairs of axes, each panel the mean over the others.",
            None,
            FITTED,
        ),
        Wanted(
            "calibration.png",
            "Reliability diagrams of the fitted surfaces: share seen against predicted probability on sites left out "
            "of "
            "the fit, for both designs and both events. The bins stand in reliability.csv.",
            "Calibration of the surfaces on sites left out of the fit.",
            None,
            FITTED,
        ),
    ),
    "curl": (
        Wanted(
            "curl.png",
            "Six panels: ROC curves of the wires; sensitivity and specificity over tip load; likelihood ratios over "
            "tip "
            "load; predictive values of a curl seen and of none over prevalence; counts and what was fixed. The "
            "numbers "
            "stand in the tables of this section, in predictive.csv and roc.csv.",
            "What a seen curl tells: ROC, sensitivity and specificity, likelihood ratios, predictive values.",
            _curl,
        ),
    ),
    "sensitivity": (
        Wanted(
            "sensitivity.png",
            "For each outcome two panels: total and first-order Sobol' index of every input, sorted, with intervals; "
            "and "
            "Morris' sigma against mu*. The numbers stand in the tables of this section.",
            "Which inputs decide: Sobol' indices and Morris' measures of each outcome.",
            _sensitivity,
        ),
    ),
}
"""Figures of each kind of study, in order."""
