"""What the study asks, what it may be used for, what hangs on it: the sections before the model."""

from math import degrees

from ...study.compare_spec import CONSTRUCTION, TIP_LOAD
from ...study.factors import factor_words
from ...units import from_si
from ...validation.table import CASES, THEMES
from .folder import Finished
from .numbers import number
from .parts import Bullets, Section, Text, grid

STANDARD = (
    "ASME V&V 40-2018, Assessing Credibility of Computational Modeling through Verification and Validation: "
    "Application to Medical Devices"
)
GUIDANCE = (
    "FDA, Assessing the Credibility of Computational Modeling and Simulation in Medical Device Submissions, "
    "guidance of 17 November 2023"
)
FAMILY = "one softness family (bending and torsion of the distal 30 mm scaled, all else equal)"

QUESTIONS = {
    "map": (
        "For wires of one softness family at these commanded approach angles: how likely is it that the tip enters the "
        "false lumen, and does it then curl or drive the delamination front on?"
    ),
    "threshold": (
        "For wires of one softness family at these commanded approach angles, starting in the pocket: above which "
        "front "
        "force F* does the tip curl before it drives the front on?"
    ),
    "attempts": (
        "For wires of one softness family under one operator's policy: how many attempts does it take to the true "
        "lumen, "
        "what do they open in all, and which forces do they use?"
    ),
    "atlas": (
        "Where, over ranges of what decides it, does the softer of two tips lower entry into the false lumen, where "
        "does "
        "it only trade entry for a curl, and where does it raise entry?"
    ),
    "sensitivity": (
        "Which of the uncertain inputs decide an outcome of an insertion: by themselves, and in interaction with "
        "others?"
    ),
    "curl": (
        "What does a curl seen on the screen, or none seen, tell about whether the wire lies in the false lumen, for "
        "wires "
        "of one softness family?"
    ),
}
ESTIMANDS = {
    "map": "Per insertion, jointly: the share of all solved insertions of a cell in which an event happens.",
    "threshold": "Median over the cases of a cell of F* (N), and of F* over its scale 2 EI/W_c² (theory (2)).",
    "attempts": "Per procedure of up to the policy's largest number of attempts.",
    "compare": (
        "Mean over arms and angles, each with the same weight, of the mean over points of (outcome with the design − "
        "outcome with the reference), per insertion."
    ),
    "procedures": (
        "Mean over arms and angles, each with the same weight, of the mean over points of (outcome with the design − "
        "outcome with the reference), per procedure by the policy under “Inputs”, all its attempts together."
    ),
    "atlas": "Sign of P(softer) − P(stiffer) of entry, and of entry or curl, per insertion, by place on the axes.",
    "sensitivity": "Morris' mu* and sigma; first-order and total Sobol' indices, of an outcome per insertion.",
    "curl": (
        "Sensitivity, specificity, likelihood ratios and area under the ROC curve of the sign “a curl is seen”, one "
        "look "
        "for each insertion (primary) or all looks; conditions: in the false lumen at the look, entered before it."
    ),
}
EVENTS = (
    "Entered: the leading point lies 0.5 mm beyond the downstream lip in the false channel (or 0.5 mm behind the "
    "upstream "
    "one). Curled: the tip points against the vessel's axis and the wire leads it by at least one diameter, for 0.3 "
    "mm of "
    "travel. Extended: the fronts moved on by more than 0.5 mm. Defined once, in docs/theory.md, “Outcome”."
)


def about(study: Finished) -> Section:
    """What the page is, and where a reader of the two documents finds each item."""
    same = study.code == study.own_code
    who = (
        "The same code computed the study and wrote this report."
        if same
        else f"Other code ({study.own_code}) wrote this report: what it says of distributions, definitions and "
        f"checks is "
        "its own; numbers are those of the folder."
    )
    hashed = "agrees with" if study.hash_agrees else "DOES NOT agree with"
    return Section(
        "about",
        "About this report",
        (
            Text(
                "One finished study, put together from its folder. No insertion was computed and no estimate made "
                "anew: numbers are those of the folder's tables and manifest, or counts and quantiles of their rows, "
                "and every table below names its source. "
                f"Code {study.code} computed the study. {who} The manifest's own hash, computed anew from its kind, "
                f"spec "
                f"and code, {hashed} the one it states ({study.manifest['hash']})."
            ),
            Text(
                f"The order follows the items of {STANDARD}, and of {GUIDANCE}, so that a reader of these finds "
                f"each. The "
                "names of the items are given from general knowledge of both documents. No conformity with either is "
                "claimed: there is no decision here for which it could be assessed."
            ),
            grid(
                "Where each item stands",
                ("item", "of", "here"),
                [
                    ("question of interest; context of use", "both", "the sections of these names"),
                    ("model influence, decision consequence, model risk", "both", "Model risk"),
                    ("software quality assurance; numerical code verification", "V&V 40", "Verification, “Code”"),
                    (
                        "discretization error; numerical solver error",
                        "V&V 40",
                        "Verification, “Calculation” and “Numerical uncertainty”",
                    ),
                    ("use error", "V&V 40", "Verification, “Calculation”"),
                    ("model form; model inputs", "V&V 40", "The model in short; Inputs"),
                    ("comparator: test samples, test conditions", "V&V 40", "Validation: there is none"),
                    ("equivalency of input parameters; output comparison", "V&V 40", "Validation: there is none"),
                    (
                        "relevance of the quantities of interest; relevance of the validation activities",
                        "V&V 40",
                        "Applicability",
                    ),
                    ("eight categories of credibility evidence", "FDA 2023", "Validation, “Evidence by category”"),
                    ("uncertainty quantification, sensitivity", "both", "Uncertainty quantification; Sensitivity"),
                    ("adequacy assessment", "both", "Model risk: none is made"),
                ],
                "this report",
            ),
        ),
    )


def question(study: Finished) -> Section:
    """The question, with the study's own designs."""
    loads = ", ".join(dict.fromkeys(number(from_si(v, "gf")) for v in study.study["tip_loads"]))
    angles = ", ".join(f"{degrees(v):.3g}" for v in study.study["angles"])
    what = f"tip loads {loads} gf; commanded angles {angles}°"
    wire = f"{study.study['base']['name']}, {FAMILY}"
    if study.by != TIP_LOAD:
        what = f"{', '.join(study.designs)}; tip load {loads} gf; commanded angles {angles}°"
        one = "wires of different construction, each" if study.by == CONSTRUCTION else f"{study.study['base']['name']},"
        wire = f"{one} made softer or stiffer to one tip load"
    if study.kind == "sensitivity":
        what = _sampled(study)
    return Section(
        "question",
        "Question of interest",
        (
            Text(_asked(study) if study.compares else QUESTIONS[study.kind]),
            Bullets(
                (
                    f"Quantity of interest (estimand): {ESTIMANDS[study.kind]}",
                    EVENTS,
                    f"Asked of: {wire}; {what}.",
                    "Given: there is an opening at the wall. Its own probability is not in here.",
                )
            ),
        ),
    )


def _asked(study: Finished) -> str:
    """The question of a comparison, by what tells its designs apart."""
    of = "a procedure's planned outcome" if study.of_procedures else "the planned outcome"
    same = "in the same vessels, point by point"
    if study.by == TIP_LOAD:
        what = "change" if study.of_procedures else "lower"
        return f"Does a softer tip {what} {of}, {same}: by how much, over which tip loads, and what changes it?"
    if study.by == CONSTRUCTION:
        return f"Do wires of different construction at one tip load differ in {of}, {same}: by how much?"
    return f"Does the {factor_words(study.by)} change {of}, of one wire at one tip load, {same}: by how much?"


def _sampled(study: Finished) -> str:
    """Ranges of tip load and angle of a sensitivity study in words."""
    spec, one = study.spec, study.study
    load, angle = spec.get("tip_load"), spec.get("angle")
    told = [
        f"tip load {number(from_si(one['tip_loads'][0], 'gf'))} gf"
        if load is None
        else f"tip load {' to '.join(number(from_si(v, 'gf')) for v in load)} gf, an input",
        f"commanded angle {degrees(one['angles'][0]):.3g}°"
        if angle is None
        else f"commanded angle {' to '.join(f'{degrees(v):.3g}' for v in angle)}°, an input",
    ]
    return "; ".join(told)


def context() -> Section:
    """What it may be used for, and what not."""
    return Section(
        "context",
        "Context of use",
        (
            Text(
                "Research and teaching: to reason about the mechanics of a guidewire tip at a dissected wall, to find "
                "which assumptions decide an outcome, and to plan bench experiments. Wires, vessel and tear are "
                "invented."
            ),
            Text("It is not a medical device, and it must not inform:"),
            Bullets(
                (
                    "the choice of a wire, an angle or a manoeuvre for a patient, or any other step of a treatment;",
                    "instructions for use, claims, labels or the approval of a product;",
                    "a rate or a risk in patients: every probability is conditional on the invented vessel, on an "
                    "opening "
                    "being there, and on the values under “Inputs”;",
                    "the ranking of existing products: the wires here are invented.",
                )
            ),
        ),
    )


def risk() -> Section:
    """Influence of the model, consequence of a wrong decision."""
    return Section(
        "risk",
        "Model risk",
        (
            grid(
                "Model risk in this context of use",
                ("item", "here"),
                [
                    (
                        "model influence",
                        "none on decisions about patients: the context of use excludes them. On a "
                        "research question the model is one argument beside bench experiments, which "
                        "it cannot replace",
                    ),
                    (
                        "decision consequence",
                        "none on patients, by the same context. A wrong conclusion costs research time",
                    ),
                    (
                        "model risk",
                        "none on patients as long as the context is kept; in any other context it is not "
                        "assessed, and this report is no basis for assessing it",
                    ),
                    (
                        "adequacy assessment",
                        "none is made: no decision relies on the model, so no credibility goals were set beforehand",
                    ),
                ],
                "the context of use above",
            ),
        ),
    )


def checks_words() -> str:
    """How many checks the code has, by theme."""
    themes = ", ".join(name.replace("_", " ") for name in THEMES)
    return f"{len(CASES)} check functions in {len(THEMES)} themes ({themes})"
