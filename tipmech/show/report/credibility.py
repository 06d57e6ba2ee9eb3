"""Sensitivity, verification, validation, uncertainty quantification: what supports the numbers, and what does not."""

import json

import numpy as np

from ...study import events, run_attempts
from ...study.uncertainty import STORED, uncertainty_text
from .computed import unsolved
from .folder import ROOTS, Finished
from .numbers import number
from .parts import Block, Bullets, Head, Section, Text, grid
from .purpose import checks_words

CHECK_ROWS, JUDGED = (
    298,
    297,
)  # rows of the table of checks in docs/validation.md, and those with a tolerance; a test counts
AUDIT = 0.01  # imbalance of the energy audit beyond which rows are counted
QUANTILES = (("median", 0.5), ("90 %", 0.9), ("99 %", 0.99), ("largest", 1.0))


def sensitivity(study: Finished) -> Section:
    """Where the sensitivity of the outcome to the inputs stands."""
    if study.kind == "sensitivity":
        blocks: tuple[Block, ...] = (
            Text(
                "This study is a sensitivity study: first-order and total Sobol' indices and Morris' measures of each "
                "outcome, with intervals, stand under “Results”. How to read them: docs/sensitivity.md."
            ),
        )
    else:
        blocks = (
            Text(
                "No sensitivity study belongs to this study: the folder holds none, and none was computed for this "
                "report. "
                "Which uncertain inputs decide an outcome is a study of its own, “tipmech sensitivity FILE”, of which "
                "“tipmech report” makes a page too (docs/sensitivity.md)."
            ),
            Text(WITHIN[study.kind]),
        )
    return Section("sensitivity", "Sensitivity", blocks)


WITHIN = {
    "map": "Within this map: tip load and commanded angle are its axes; all else scatters or is fixed.",
    "threshold": "Within this study: tip load and commanded angle are its axes; all else scatters or is fixed.",
    "attempts": "Within this study: wires and angles are compared under one policy; the policy itself is not varied.",
    "compare": "Within this comparison: factors are crossed, and the logistic model gives their odds and interactions.",
    "procedures": (
        "Within this comparison: factors are crossed; of an event the logistic model gives their odds and "
        "interactions. The policy is not varied."
    ),
    "curl": "Within this study: wires, angles and the detector's threshold are varied; all else scatters or is fixed.",
    "atlas": "Within this atlas: the axes are those of its panels; what is no axis scatters as usual or is fixed.",
}


def verification(study: Finished) -> Section:
    """Code, calculation, numerical uncertainty."""
    return Section(
        "verification",
        "Verification",
        (
            Head("verification-code", "Code"),
            Bullets(
                (
                    "Numerical code verification: closed forms and published benchmarks, with references computed by "
                    "other "
                    f"means than the code. {checks_words()} give {CHECK_ROWS} rows, {JUDGED} of them judged against a "
                    "tolerance with a reason (docs/validation.md). Not run for this report; the command, with exit "
                    "code 1 "
                    "where a row fails: tipmech validate",
                    "Observed order of convergence in element size: rows “order” of the same table.",
                    "Software quality assurance: pinned packages, unit tests, and a test that rows of a study are "
                    "the same "
                    "to the bit for any number of processes (DEVELOPERS.md: .ci/run).",
                )
            ),
            Head("verification-calculation", "Calculation"),
            *_calculation(study),
            Head("verification-numerical", "Numerical uncertainty"),
            *_numerical(study),
        ),
    )


def _calculation(study: Finished) -> list[Block]:
    """Energy audit of the study's own rows; what was not solved; use error."""
    holes, whole, what = unsolved(study)
    out: list[Block] = [
        Text(
            "Energy audit: |Σ (W_hand − W_friction − W_front − W_margin − W_visc − ΔE_stored)| / Σ |all of these| at "
            "the "
            "end of an insertion, works from reactions and tractions (docs/theory.md, “Audit”)."
        )
    ]
    if "audit_error" in study.rows:
        ok = run_attempts.solved(study.rows) if study.of_procedures else events.solved(study.rows)
        rows = [
            _audit(words, study.rows["audit_error"][mask])
            for words, mask in (("solved", ok), ("not solved", ~ok))
            if np.any(mask)
        ]
        head = (what, "rows", *(name for name, _ in QUANTILES), f"beyond {number(100.0 * AUDIT)} %", "no audit")
        out.append(
            grid(
                f"Energy audit of this study's {what}: quantiles of the imbalance",
                head,
                rows,
                "rows.parquet, column audit_error",
            )
        )
    else:
        out.append(Text("A threshold study keeps no audit of its single insertions: there are no quantiles to give."))
    out.append(
        Text(
            f"Not solved: {holes} of {whole} {what} (rows.parquet). They are counted, and enter as bounds or as "
            f"holes; none "
            "is replaced by a value. Use error: the spec under “Inputs” is what was computed; its hash is checked "
            "above."
        )
    )
    return out


def _audit(words: str, values: np.ndarray) -> tuple[str, ...]:
    """Quantiles of the audit in per cent."""
    known = values[np.isfinite(values)]
    told = [f"{number(100.0 * float(np.quantile(known, q)), 2)} %" if len(known) else "–" for _, q in QUANTILES]
    return (words, str(len(values)), *told, str(int(np.sum(known > AUDIT))), str(len(values) - len(known)))


def _numerical(study: Finished) -> list[Block]:
    """The stored experiment on the solver's settings, and whose code it is of."""
    stored = json.loads(STORED.read_text(encoding="utf-8"))
    own = stored["code"] == study.code
    whose = (
        f"It was measured with the code that computed this study ({study.code})."
        if own
        else f"It was measured with code {stored['code']}, this study was computed with {study.code}: it is not this "
        f"study's."
    )
    if not own and study.kind in ROOTS:
        whose += (
            " The digest of this kind of study covers further sources, so the two differ even where the mechanics "
            "are the "
            "same; the folder cannot tell."
        )
    words = {key: s["words"] for key, s in stored["thresholds"]["settings"].items()}
    rows = []
    for key, name in words.items():
        shift, same = stored["thresholds"]["settings"][key], stored["outcomes"]["settings"].get(key, {})
        sizes = [f"{number(100.0 * shift[q], 2)} %" if shift[q] is not None else "–" for q in ("q50", "q80", "q90")]
        kind = "setting of the solver" if shift["numeric"] else "input, for comparison"
        agree = [number(same[q]) if same.get(q) is not None else "–" for q in ("agreement", "kappa")]
        rows.append((name, kind, *sizes, *agree))
    head = ("changed alone", "kind", "shift of F*, 50 %", "80 %", "90 %", "classes agree", "kappa")
    return [
        Text(uncertainty_text(code=study.code)),
        Text(f"{whose} Source: tipmech/study/stability.json, written by experiments/stability."),
        grid(
            f"Shift of the curling threshold and agreement of classes with one setting changed (code {stored['code']})",
            head,
            rows,
            "tipmech/study/stability.json",
        ),
    ]


def validation() -> Section:
    """What was compared with experiments: nothing; what is plausibility only."""
    return Section(
        "validation",
        "Validation",
        (
            Text(
                "There is none: no number of this study, and none of the model, was compared with an experiment on an "
                "artery, on tissue or on a wire. There is no comparator (test samples, test conditions), hence no "
                "equivalency of input parameters and no output comparison."
            ),
            Text(
                "Plausibility, which is not validation (docs/validation.md, “Plausibility, not validation”; command: "
                "python "
                "-m experiments.plausibility.run): published peel forces of human aortic media, forces to advance in "
                "the "
                "plane and to pierce, and loads at which biliary wires fold, beside the model's. Peel, in-plane and "
                "breach "
                "forces follow from inputs that were chosen with these measurements in view; the fold of biliary "
                "wires, "
                "scaled by the fourth power of the diameter, cannot tell right from wrong within a factor of ten."
            ),
            Head("validation-categories", "Evidence by category"),
            grid(
                "The eight categories of credibility evidence of the FDA's guidance",
                ("category", "here"),
                (
                    ("code verification", "yes: Verification, “Code”"),
                    (
                        "model calibration",
                        "none on tissue. A wire's stiffness can be calibrated on a bench (tipmech "
                        "calibrate); whether this study's wires are such stands under “Results”, "
                        "else they are not",
                    ),
                    ("bench test validation", "none"),
                    ("in vivo validation", "none"),
                    ("population-based validation", "none"),
                    ("emergent model behaviour", "not assessed as evidence"),
                    (
                        "model plausibility",
                        "equations and assumptions are stated and argued (docs/theory.md, "
                        "docs/parameters.md, docs/limits.md); orders of magnitude as above",
                    ),
                    (
                        "calculation verification, uncertainty quantification by simulations of the context of use",
                        "this study: Verification, “Calculation”, and Uncertainty quantification",
                    ),
                ),
                "this report",
            ),
        ),
    )


PAIRED = (
    "the finite number of Sobol' points: scrambles as clusters that arms and angles share, of events the score "
    "interval with Student's t; the draws of shared unknowns, in pooled differences and trends; for odds robust errors "
    "with clusters of scrambles, given the draws"
)
IN_INTERVALS = {
    "map": "the finite number of Sobol' points: t interval of independent scrambles, and Wilson's beside it (the "
    "wider of both is shown)",
    "threshold": "the finite number of cases: order statistics of the median; the bracket of each case's search "
    "counts with both its ends",
    "attempts": "the finite number of Sobol' points: scrambles, and for shares Wilson's beside it (the wider of both "
    "is shown)",
    "compare": PAIRED,
    "procedures": PAIRED,
    "atlas": "the finite number of sites: one band for all places, from surfaces fitted to sites drawn again; "
    "insertions not solved as bounds",
    "sensitivity": "the finite number of trajectories (bootstrap) and of base points (independent scrambles; of a "
    "quantity with a long tail, as an area is, these intervals are too narrow: docs/sensitivity.md)",
    "curl": (
        "the finite number of Sobol' points, scrambles as clusters: Wilson's of the effective number for shares, "
        "jackknife "
        "with Student's t for ratios and areas"
    ),
}


def uncertainty(study: Finished) -> Section:
    """What is in the intervals, and what is not."""
    return Section(
        "uncertainty",
        "Uncertainty quantification",
        (
            Text("In the intervals of this study:"),
            Bullets(
                (
                    f"{IN_INTERVALS[study.kind]};",
                    "through the distributions under “Inputs”: the scatter from insertion to insertion that was "
                    "assumed.",
                )
            ),
            Text("Beside the intervals, told apart:"),
            Bullets(
                (
                    "insertions that were not solved: as bounds, with all of them without and with the event, or as "
                    "holes;",
                    "the solver's settings: under “Numerical uncertainty”, never added to an interval.",
                )
            ),
            Text("In none of them:"),
            Bullets(
                (
                    "whether the distributions are right: most are assumptions without data;",
                    *_shared(study),
                    "the form of the model: what it leaves out is under “Applicability”;",
                    "whether there is an opening, and how often;",
                    "how the invented vessel, wire and protocol relate to any real ones.",
                )
            ),
        ),
    )


def _shared(study: Finished) -> tuple[str, ...]:
    """What of the shared unknowns is left out of the intervals."""
    if study.compares and study.spec["replicates"]:
        drawn = ", ".join(s["name"].replace("_", " ") for s in study.spec["shared_unknowns"])
        return (f"shared unknowns that were not drawn (drawn by replicate: {drawn});",)
    if study.kind == "sensitivity":
        return ("shared unknowns that are no input: breach energy, hand, friction at the front, static ratio;",)
    return (
        "the shared unknowns (median fracture energy, end condition at the front, hand): fixed, as under “Inputs”;",
    )
