"""Inputs that only some kinds of study have: ladder, factors, shared unknowns, axes, ranges, the operator's policy."""

from math import degrees, isfinite
from typing import Any

from ...study.factors import level_words
from ...units import from_si
from .folder import Finished
from .numbers import interval, number, shown
from .parts import NONE, Block, grid


def further(study: Finished) -> list[Block]:
    """Factors, shared unknowns, axes, ranges, the policy: what only some kinds of study have."""
    spec, out = study.spec, list[Block]()
    if study.kind == "threshold":
        rows = [
            ("forces of the ladder over 2 EI/W_c²", interval(spec["ladder_low"], spec["ladder_high"])),
            ("number of them", number(spec["ladder_count"])),
            ("relative width of the final bracket", number(spec["tolerance"])),
        ]
        out.append(grid("The ladder of front forces", ("quantity", "value"), rows, "manifest.json, spec"))
    if study.compares and spec["factors"]:
        rows = [
            (f["name"].replace("_", " "), ", ".join(level_words(f["name"], v) for v in f["levels"]))
            for f in spec["factors"]
        ]
        out.append(grid("Factors, crossed with everything", ("factor", "levels"), rows, "manifest.json, spec.factors"))
    if study.compares and spec["shared_unknowns"]:
        three = [(s["name"].replace("_", " "), _shared_words(s), s["source"]) for s in spec["shared_unknowns"]]
        caption = f"Shared by all designs of a replicate, {spec['replicates']} draws"
        out.append(grid(caption, ("unknown", "distribution", "source"), three, "manifest.json, spec.shared_unknowns"))
    if study.kind == "atlas":
        rows = [
            (r["name"].replace("_", " "), f"{level_words(r['name'], r['low'])} to {level_words(r['name'], r['high'])}")
            for r in spec["ranges"]
        ]
        rows.append(("end condition at the front", "notch or flat, half of the sites each"))
        out.append(
            grid("Axes of the atlas, even in the logarithm", ("axis", "range"), rows, "manifest.json, spec.ranges")
        )
    if study.kind == "sensitivity":
        out += _ranges(study)
    if study.of_procedures:
        out += _policy(spec)
    if study.of_procedures or study.kind == "curl":
        out += _screen(spec)
    return out


def _shared_words(shared: dict[str, Any]) -> str:
    if shared["choices"]:
        return f"one of {', '.join(level_words(shared['name'], v) for v in shared['choices'])}, equally likely"
    told = [f"{name} {level_words('' if name == 'log_sd' else shared['name'], v)}" for name, v in shared["parameters"]]
    return f"{shared['kind']}, {', '.join(told)}"


def _ranges(study: Finished) -> list[Block]:
    """Tip load and angle of a sensitivity study."""
    spec, rows = study.spec, list[tuple[str, str]]()
    if spec["tip_load"] is not None:
        low, high = (number(from_si(v, "gf")) for v in spec["tip_load"])
        rows.append(("tip load", f"{low} to {high} gf, uniform in the logarithm"))
        rows.append(("error of the interpolated wires' tip load, largest", f"{number(100.0 * spec['load_error'])} %"))
    if spec["angle"] is not None:
        low, high = (f"{degrees(v):.3g}" for v in spec["angle"])
        rows.append(("commanded approach angle", f"{low} to {high}°, uniform"))
    return [grid("Designs as inputs", ("input", "range"), rows, "manifest.json, spec")] if rows else []


def _policy(spec: dict[str, Any]) -> list[Block]:
    """The operator's rules, in their order."""
    policy, rows = spec["policy"], []
    for k, rule in enumerate(policy["rules"], start=1):
        when = rule["when"].replace("_", " ")
        level = _level(rule["when"], rule["level"])
        then = "; ".join(_action(a) for a in rule["then"])
        known = "true state (for comparison only)" if rule["true_state"] else "screen, hand or feed"
        rows.append((str(k), f"{when}{level}", known, then))
    most = policy["attempts"] or NONE
    words = (
        f"The policy: a look every {shown(policy['look_every'], 'm')}; at most {most} attempts and "
        f"{shown(policy['feed'], 'm')} of feed; through: {shown(policy['true_lumen'], 'm')} past the tear in the "
        f"true lumen"
    )
    source = "manifest.json, spec.policy; an operator's choice, assumption"
    return [grid(words, ("rule", "sign", "known from", "then"), rows, source)]


LEVEL_UNITS = {"buckled_seen": "rad", "push_above": "N", "advance_past_tear": "m", "true_lumen_past_tear": "m"}


def _level(when: str, value: float) -> str:
    return f", {shown(value, LEVEL_UNITS[when])}" if when in LEVEL_UNITS else ""


def _action(action: dict[str, Any]) -> str:
    """An action of a rule in words."""
    kind, amount = str(action["kind"]).replace("_", " "), float(action["amount"])
    if not isfinite(amount):
        return kind
    words = f"{kind} {shown(amount, 'rad' if action['kind'] == 'turn' else 'm')}"
    if action["kind"] == "strokes":
        words = f"{action['count']} {words}, each back by {shown(action['back'], 'm')}"
    return f"{words}, turning by {shown(action['turn'], 'rad')}" if action["turn"] else words


def _screen(spec: dict[str, Any]) -> list[Block]:
    """How the operator sees: views, screen, detector."""
    imaging, detector = spec["imaging"], spec["detector"]
    views = "; ".join(f"LAO {shown(v['lao'], 'rad')}, cranial {shown(v['cranial'], 'rad')}" for v in imaging["views"])
    rows = [
        ("views (RAO and caudal negative)", views),
        ("frames per second", number(imaging["frame_rate"])),
        ("pixel at the patient", shown(imaging["pixel"], "m")),
        ("noise of every point of the line, sd", shown(imaging["noise"], "m")),
        ("length seen, from the tip", shown(imaging["radiopaque"], "m")),
        (
            "detector: chord of the tip, of the wire behind",
            f"{shown(detector['tip'], 'm')}, {shown(detector['behind'], 'm')}",
        ),
        ("detector: turn of the tip that counts", shown(detector["turned"], "rad")),
        ("detector: lead of the bight, wire diameters", number(detector["ahead"])),
        ("detector: free pixels between limbs", number(detector["apart"])),
        ("detector: frames in a row", number(detector["hold"])),
        ("detector: threshold of its score, theory (75)", number(detector["threshold"])),
    ]
    if "every" in spec:
        rows.append(("advance past the tear between two looks", shown(spec["every"], "m")))
        rows.append(("share of its length below which a tip counts as foreshortened", number(spec["foreshortened"])))
    source = "manifest.json, spec; docs/parameters.md, “[imaging]”, assumption where no source stands there"
    return [grid("How the wire is seen", ("quantity", "value"), rows, source)]
