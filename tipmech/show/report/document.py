"""Puts the sections of a report together, in the order that a reader of a credibility assessment expects."""

from pathlib import Path

from ...study.compare_spec import CONSTRUCTION
from ...study.table import length
from .computed import computed, unsolved
from .credibility import sensitivity, uncertainty, validation, verification
from .dictionary import dictionary
from .folder import Finished, read_finished
from .inputs import inputs
from .model import applicability, limitations, model
from .parts import Report, Section
from .purpose import about, context, question, risk
from .repeat import repeat
from .results import results

KINDS = {
    "map": "map",
    "threshold": "threshold study",
    "attempts": "study of attempts",
    "compare": "comparison of designs",
    "procedures": "comparison of designs, by procedures",
    "atlas": "sign atlas",
    "sensitivity": "sensitivity study",
    "curl": "study of what a seen curl tells",
}


def report_of(folder: Path | str) -> Report:
    """Report of the finished study in a folder.

    Raises
    ------
    InputError
        where the folder holds no finished study
    """
    return report(read_finished(folder))


def report(study: Finished) -> Report:
    """Report of a finished study."""
    holes, whole, what = unsolved(study)
    facts = (
        ("kind", KINDS[study.kind]),
        ("wire", "; ".join(study.designs) if study.by == CONSTRUCTION else str(study.study["base"]["name"])),
        ("rows", f"{length(study.rows)} (rows.parquet)"),
        ("not solved", f"{holes} of {whole} {what}"),
        ("computed by code", study.code),
        ("report by code", study.own_code),
    )
    return Report(str(study.manifest["name"]), facts, sections(study))


def sections(study: Finished) -> tuple[Section, ...]:
    """All sections in order."""
    return (
        about(study),
        question(study),
        context(),
        risk(),
        model(),
        inputs(study),
        computed(study),
        results(study),
        sensitivity(study),
        verification(study),
        validation(),
        uncertainty(study),
        applicability(study),
        limitations(study),
        repeat(study),
        dictionary(study),
    )
