"""The model in short, with its equations' numbers, and what of a real artery is outside it."""

from .folder import Finished
from .parts import Bullets, Section, Text, grid

EQUATIONS = (
    ("wire", "a discrete Cosserat rod: stretch, shear, bending and twist, large rotations; its stiffness along the "
             "length from its construction; a wire made softer or stiffer is one of a softness family",
                 "(3)–(12), (30)–(33)"),
    ("vessel", "a centreline of arcs or through points, a circular lumen with a linear taper; a dissection: entry "
               "tear with two lips, a false channel of given room and thickness, a flap", "(13)–(18d)"),
    ("tissue in contact", "contact forces by Hertz' law (tip) and a line law (shaft), in series with the bending of "
                          "the flap, clamped strips on their own", "(19)–(22b)"),
    ("delamination front", "yields at F_front = G_c w and stays where it has come to; the tip's end condition there "
                           "is a notch or flat", "(23)–(25)"),
    ("piercing", "where the tip force reaches J_c π d", "(26)"),
    ("friction", "Coulomb's, with an elastic slip, at the centreline", "(28)"),
    ("an increment of feed", "the equilibrium that minimises an incremental energy; snaps through a drag; stability "
                             "by counts of negative eigenvalues", "(27), (29)"),
    ("curl against extension", "the scale of the contest is the wire's fold in the pocket, F_fold = 2 EI/W_c²", "(2)"),
    ("outcome", "one definition of entered, curled, extended and of one label for each insertion", "“Outcome”"),
)  # fmt: skip
OUTSIDE = (
    "blood flow, pulsation, heartbeat and breathing: pressure is a fixed difference across flap and lip",
    "branches, calcium, a vessel that moves, straightens or is not circular",
    "tissue whose layers slide, creep or heal; a rim that tears; a flap that spreads load along itself (it is a row "
    "of independent strips)",
    "what follows when the outer wall or the intact intima is pierced: the run ends there",
    "plastic set and hysteresis of the wire; the long shaft's winding-up (the wire behind the modelled length is a "
    "spring); a support that gives way",
    "more than one opening, and how often there is one",
    "an operator's experience: rules, or a plain advance, stand for the hand",
)
LEAN = (
    "the opened plane is paid for at the width w of the front and is then open over the whole room W: what happens "
    "after the first half millimetre of extension leans on this",
    "where several equilibria can be reached, the drag has a say in which one is; outcomes that hang on the order of "
    "snaps differ by chance",
    "the tip's end condition at the front (notch or flat) changes the folding force of a straight tip by a factor of "
    "8.2: run both",
    "a wire wound up across the vessel's axis is not solved; it is counted as not solved",
    "breach is out of reach by default (J_c π d = 0.67 N against a push cap of 0.3 N): a zero count of piercings is "
    "that assumption, no finding",
    "commanded and achieved angle differ: results are over the commanded angle of the undeflected tip",
    "tip load is this tool's bench definition; another protocol gives another stiffness for the same figure (factor "
    "8.2)",
)  # fmt: skip


def model() -> Section:
    """The governing equations, each in a sentence."""
    return Section(
        "model",
        "The model in short",
        (
            Text(
                "A wire is pushed, increment by increment, out of a rigid support through a vessel with a dissected "
                "wall. "
                "It is quasi-static: no inertia, no flow. Numbers of equations are those of docs/theory.md."
            ),
            grid("Parts of the model", ("part", "what it is", "theory"), EQUATIONS, "docs/theory.md"),
        ),
    )


def applicability(study: Finished) -> Section:
    """What of a real artery is outside the model."""
    return Section(
        "applicability",
        "Applicability",
        (
            Text(
                "Relevance of the quantities of interest: they are mechanical events of one insertion "
                + ("series (a procedure) " if study.of_procedures else "")
                + "in an invented vessel; none is a clinical endpoint. Relevance of validation activities: there are "
                "none "
                "that could be carried over (see Validation). Outside the model, and therefore outside every number "
                "here:"
            ),
            Bullets(OUTSIDE),
            Text(
                "The whole list, with what each simplification does: docs/limits.md, “Not in the model”, “Simplified”."
            ),
        ),
    )


def limitations(study: Finished) -> Section:
    """What leans on assumptions within the model, and what this kind of study does not say."""
    return Section(
        "limitations",
        "Limitations",
        (
            Text("Of the model (docs/limits.md):"),
            Bullets(LEAN),
            Text("Of this kind of study:"),
            Bullets(OF_KIND[study.kind]),
        ),
    )


OF_KIND: dict[str, tuple[str, ...]] = {
    "map": (
        "one vessel, one wire family, one set of shared unknowns: vary these between maps and report families of "
        "results",
        "where runs end at their first curl, a curl competes with entry and extension: use the incidence curves, not "
        "ratios of final counts",
        "neighbouring cells share their points: intervals of single cells do not tell whether two cells differ",
    ),
    "threshold": (
        "the wire starts in the pocket: how it comes in is left out",
        "cases known by an open bracket only keep their place in the order; where the median depends on them it is "
        "no number",
        "cases at which neither happened leave brackets wide",
    ),
    "attempts": (
        "the policy is part of the result: another may turn the order of the wires round",
        "a curl seen is a rule's answer to a noisy line on a screen; an observer may see more or less",
        "turns reach the tip too directly: the long shaft does not wind up",
    ),
    "compare": (
        "what tells the designs apart is all that differs between them; existing wires differ in many things at once",
        "what is not drawn or crossed is fixed",
        "the equivalence margin is the user's, a number without a source",
        "the planned comparison alone is confirmatory; all else is marked exploratory",
    ),
    "procedures": (
        "the policy is part of the result: another may turn the order of the designs round",
        "a curl seen is a rule's answer to a noisy line on a screen; an observer may see more or less",
        "what tells the designs apart is all that differs between them; existing wires differ in many things at once",
        "the equivalence margin is the user's, a number without a source",
        "the planned comparison alone is confirmatory; all else is marked exploratory",
    ),
    "atlas": (
        "signs are of fitted surfaces; intervals are of the sites drawn, not of the choice of a logistic model",
        "places outside the ranges of the axes are not spoken of",
        "what is no axis scatters as usual or is fixed",
    ),
    "sensitivity": (
        "indices describe the distributions assumed, most of them without data; they are no property of vessels",
        "inputs are taken as independent; with dependent inputs the indices lose their meaning as shares",
        "the share of tip load and angle is that of the ranges given",
    ),
    "curl": (
        "the detector is a rule, not an observer; its thresholds were fitted to nobody, and its screen is cleaner "
        "than a "
        "real one",
        "two views and an assumed lie of the vessel decide what is foreshortened",
        "prevalence is that of the random vessels, all of which have an opening; it is no rate in patients",
        "a seen curl changes nothing here: the hand goes on, an operator would stop",
    ),
}
