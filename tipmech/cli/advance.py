"""`tipmech advance`: run one insertion, classify it, write record, pictures and outcome.

With a posterior of `tipmech calibrate` record, pictures and outcome are those of its median wire, and the insertion is
run at further scales of it beside.
"""

from dataclasses import asdict
from math import degrees, isfinite
from pathlib import Path
from typing import Any

import numpy as np

from ..checks import InputError
from ..files.case_wire import at_tip_load
from ..files.scene import CaseFile
from ..insertion.classify import classify
from ..insertion.opened import areas, opened
from ..insertion.record import Outcome, Record
from ..insertion.record_file import save
from ..insertion.run import advance
from ..insertion.seen import Seen, look_from_all
from ..insertion.shape import element_lengths
from ..lab.insertions import FORCES, Drawn, Insertions, insertions_over
from ..lab.scale import Scale, read_scale
from ..outcome import LABEL_WORDS, SHAPE_WORDS, STOP_WORDS, Label, Shape, Stop, Where
from ..show.contest import outcome_words, told
from ..show.cross import save_cross
from ..show.film import movie as formats
from ..show.film.insertion import InsertionFilm
from ..show.film.movie import write
from ..show.film.pace import hand_times, short_speed
from ..show.insertions import Line, insertions_figure
from ..show.opened import save_opened
from ..show.passage import off_opening, off_words
from ..show.section import save_section
from ..show.seen import SIDES, save_seen
from ..show.seen import words as seen_words
from ..show.strip import save_strip
from ..show.view import bending
from ..wire.design import Design
from .line import line_facts, line_rows
from .opened import opened_facts, write_moves
from .terminal import finish, guard, print_json, print_table, progress, write_json

RECORD, STRIP, SECTION, OUTCOME, GIF = "record.nc", "strip.png", "section.png", "outcome.json", "animation.gif"
OPENED, CROSS, MOVES = "opened.png", "cross.png", "moves.csv"
OVER = "posterior.png"
SEEN = "seen.png"
OFF = "passes the flap off its opening by at most"
MM = 1e3
CONFUSION = ("curled_and_shown", "curled_not_shown", "shown_not_curled", "neither")

UNITS = {
    "reached": "m",
    "entered": "m",
    "curled": "m",
    "extended": "m",
    "extension": "m",
    "opened_area": "m2",
    "feed_past_tear": "m",
    "max_push": "N",
    "max_tip_force": "N",
    "contact_angle": "rad",
    "tip_angle_change": "rad",
}


def run(
    asked: CaseFile, folder: Path, *, gif: bool, as_json: bool, overwrite: bool, scale: Scale | None = None, draws: int
) -> None:
    """Run the case of a file and write everything into `folder`; over `draws` wires of a posterior where one is given.

    scale : from `scale_of`
    """
    guard(folder, (RECORD, STRIP, SECTION, CROSS, OPENED, MOVES, SEEN, OUTCOME, GIF, OVER), overwrite)
    asked = at_tip_load(asked)
    over: Insertions | None = None
    if scale is not None:
        with progress(f"insertions of the median wire and {draws} others", quiet=as_json) as report:
            over = insertions_over(asked.case, scale, draws, report)
        record, outcome = over.record, over.outcome
    else:
        with progress("insertion", quiet=as_json) as report:
            record = advance(asked.case, lambda share: report(share, 1.0))
        outcome = classify(record)
    # outcome.json goes first and comes back last: a folder that holds it is complete
    for name in (OUTCOME, CROSS, OPENED, MOVES, SEEN, GIF, OVER):
        (folder / name).unlink(missing_ok=True)
    paths = [save(record, folder / RECORD, overwrite=overwrite)]
    ended = ended_words(record, outcome)
    paths += [save_strip(record, outcome, folder / STRIP), save_section(record.case, folder / SECTION, ended)]
    found = areas(record)
    if len(record.feed):
        paths.append(save_cross(record, outcome, folder / CROSS))
        paths.append(save_opened(record, outcome, opened(record), found, folder / OPENED))
        paths.append(write_moves(record, folder / MOVES))
    looks = look_from_all(record, asked.imaging, asked.detector)
    if looks:
        paths.append(save_seen(record, outcome, looks, asked.imaging, folder / SEEN))
    if gif and len(record.feed):
        speed = short_speed(float(hand_times(record)[-1]))
        film = InsertionFilm(record, outcome, asked.title or asked.source.stem, speed=speed)
        with progress("animation", quiet=as_json) as report:
            paths.append(write(film, folder / GIF, formats.GIF, report))
    bent = beyond_elastic(asked.design, record)
    facts = outcome_facts(asked, record, outcome) | {"opened": opened_facts(record, found)}
    off = off_opening(record)
    facts |= {"core_bending_over_elastic_limit": bent, "off_opening_m": off, "seen": seen_facts(looks)}
    if asked.through is not None:
        facts["line_through_points"] = line_facts(asked.through)
    if over is not None and scale is not None:
        facts["over_posterior"] = over_facts(over, scale)
        paths.append(_draw_over(asked, over, scale, folder))
    paths.append(write_json(facts, folder / OUTCOME))
    if as_json:
        print_json({**facts, "files": paths})
        return
    title = asked.title or asked.source.stem
    which = "" if over is None else f": the median wire of the posterior (scale of EI x {over.median:.3g})"
    rows = [*outcome_rows(record, outcome), (OFF, off_words(record, off)), *elastic_rows(bent), *seen_rows(looks)]
    rows += [] if asked.through is None else line_rows(asked.through)
    print_table(f"{title}{which}", ("outcome", ""), rows)
    if over is not None and scale is not None:
        print_table(f"over the posterior: {len(over.drawn)} equally likely wires", ("", ""), over_rows(over, scale))
    finish(paths)


def ended_words(record: Record, outcome: Outcome) -> str:
    """How the insertion ended that was run from a drawing, for its heading."""
    return f"The insertion run from here ended {outcome_words(outcome)}: {told(record, outcome)}"


def scale_of(asked: CaseFile, posterior: Path) -> Scale:
    """Calibrated scale for a case's wire.

    Raises
    ------
    InputError
        when the file is no posterior or another wire's, or the case sets the wire's stiffness by other means
    """
    allowed = "neither softness nor tip_load_gf with --posterior, whose scale is that of the wire as drawn"
    if asked.tip_load_gf is not None:
        raise InputError(f"{asked.source}: field 'wire.tip_load_gf' is {asked.tip_load_gf:g}; allowed: {allowed}")
    if asked.softness != 1.0:
        raise InputError(f"{asked.source}: field 'wire.softness' is {asked.softness:g}; allowed: {allowed}")
    return read_scale(posterior, asked.design, asked.coupling)


def over_facts(over: Insertions, scale: Scale) -> dict[str, Any]:
    """Insertions over a posterior as plain data, SI."""
    return {
        "posterior": scale.path,
        "record_is_that_of": "the posterior's median scale",
        "median_scale": over.median,
        "wires": len(over.drawn),
        "wires_are": "the middles of equal shares of the posterior, each as likely as the others",
        "counts": {LABEL_WORDS[label]: n for label, n in over.counts.items()},
        "not_solved": over.unsolved,
        "forces_over_solved": {
            name: dict(zip(("smallest", "median", "largest"), over.band(name), strict=True)) for name in FORCES
        },
        "each": [
            {
                "scale": d.scale,
                "outcome": LABEL_WORDS[Label(d.outcome.label)],
                "stop": STOP_WORDS[Stop(d.outcome.stop)],
                "values": asdict(d.outcome),
            }
            for d in over.drawn
        ],
    }


def over_rows(over: Insertions, scale: Scale) -> list[tuple[str, str]]:
    """Rows of the printed table over a posterior."""
    n = len(over.drawn)
    rows = [("scale of EI", scale.words())]
    rows += [(LABEL_WORDS[label], f"{count} of {n}") for label, count in over.counts.items()]
    if not over.unsolved:
        rows.append((LABEL_WORDS[Label.NOT_SOLVED], f"0 of {n}"))
    for name, words in zip(FORCES, ("largest push", "largest tip force"), strict=True):
        low, middle, high = (1e3 * v for v in over.band(name))
        rows.append((f"{words}, mN (solved wires)", f"{middle:.3g} ({low:.3g} to {high:.3g})"))
    return rows


def _draw_over(asked: CaseFile, over: Insertions, scale: Scale, folder: Path) -> Path:
    """Picture of the insertions over a posterior."""

    def line(d: Drawn) -> Line:
        return Line(d.scale, Label(d.outcome.label), d.feed, d.push, d.tip_force)

    r = over.record
    note = (
        f"Scale of EI and GJ {scale.words()}, from {scale.path.name}. Thin: {len(over.drawn)} equally likely wires, "
        "colour and end mark by outcome; thick: the median wire, that of record and film strip. All else is that of "
        "the case: the spread is what the calibration alone leaves open. Median wire at the end: "
        f"{told(over.record, over.outcome)}."
    )
    return insertions_figure(
        f"{asked.title or asked.source.stem}: over the calibration of {asked.design.name}",
        line(Drawn(over.median, over.outcome, r.feed, r.push, r.tip_force)),
        [line(d) for d in over.drawn],
        folder / OVER,
        note,
    )


def outcome_facts(asked: CaseFile, record: Record, outcome: Outcome) -> dict[str, Any]:
    """Outcome as plain data: words, codes, SI values and their units."""
    return {
        "title": asked.title,
        "case_file": str(asked.source),
        "wire": record.case.profile.name,
        "outcome": LABEL_WORDS[Label(outcome.label)],
        "where": Where(outcome.where).name.lower(),
        "shape": SHAPE_WORDS[Shape(outcome.shape)],
        "stop": STOP_WORDS[Stop(outcome.stop)],
        "stability": stability(record),
        "values": asdict(outcome),
        "units": UNITS,
    }


def outcome_rows(record: Record, outcome: Outcome) -> list[tuple[str, str]]:
    """Rows of the printed table, in users' units."""

    def mm(value: float) -> str:
        return f"{value * MM:.2f} mm" if isfinite(value) else "never"

    angle = outcome.contact_angle
    label = outcome_words(outcome)
    if Label(outcome.label) is Label.NOT_SOLVED:
        label += ": the values below are those of the last equilibrium found, not an outcome"
    return [
        ("label", label),
        ("tip is in", Where(outcome.where).name.lower().replace("_", " ")),
        ("shape", SHAPE_WORDS[Shape(outcome.shape)]),
        ("ended because", STOP_WORDS[Stop(outcome.stop)]),
        ("negative eigenvalues at the end, friction stuck / released", stability_words(record)),
        ("reached the tear at feed", mm(outcome.reached)),
        ("entered, after that", mm(outcome.entered)),
        ("curled, after that", mm(outcome.curled)),
        ("plane extended by 0.5 mm, after that", mm(outcome.extended)),
        ("extension of the plane", mm(outcome.extension)),
        ("newly opened area", f"{outcome.opened_area * 1e6:.3f} mm²"),
        ("largest push", f"{outcome.max_push * 1e3:.2f} mN"),
        ("largest tip force", f"{outcome.max_tip_force * 1e3:.2f} mN"),
        ("angle at first contact in the tear's window", f"{degrees(angle):.1f}°" if isfinite(angle) else "no contact"),
        ("jammed against the front", "yes: the order of its snaps decides" if outcome.jammed else "no"),
        ("energy audit error", f"{abs(outcome.audit_error) * 100:.2f} %"),
        ("increments, Newton iterations", f"{outcome.increments}, {outcome.iterations}"),
        ("wire", record.case.profile.name),
    ]


def beyond_elastic(design: Design, record: Record) -> dict[str, float] | None:
    """Largest bending of the core beyond its shaped form over the curvature at which it yields, and where and when.

    The core is that of the design as it is: the softness family scales rigidities, not the core's diameter. None where
    the design has no core.
    """
    lengths = element_lengths(record.case)
    distance = np.append(np.cumsum(lengths[::-1])[::-1], 0.0)
    limits = [k for name, k in design.yield_curvature(distance).items() if name.startswith(("core", "ribbon"))]
    if not limits or not len(record.feed):
        return None
    limit = np.fmin.reduce(limits)
    over = np.nan_to_num(bending(record.case, record.quaternions) / limit)
    row, node = np.unravel_index(int(np.argmax(over)), over.shape)
    beyond = np.flatnonzero(np.any(over > 1.0, axis=1))
    first = float(record.feed[beyond[0]]) if len(beyond) else float("nan")
    return {
        "ratio": float(over[row, node]),
        "distance_from_tip_m": float(distance[node]),
        "feed_m": float(record.feed[row]),
        "beyond_since_feed_m": first,
    }


def elastic_rows(bent: dict[str, float] | None) -> list[tuple[str, str]]:
    """Row of the printed table that says whether the wire would have kept its shape."""
    if bent is None:
        return []
    text = f"{bent['ratio']:.2f}, {bent['distance_from_tip_m'] * MM:.1f} mm from the tip"
    if bent["ratio"] > 1.0:
        since = bent["beyond_since_feed_m"] * MM
        text += f": from {since:.2f} mm of feed on a real core would take a set, which this one does not"
    return [("largest bending of the core over its elastic limit", text)]


def seen_facts(looks: tuple[Seen, ...]) -> list[dict[str, Any]]:
    """What was seen from each view as plain data, SI units (angles in degrees, as the file has them)."""
    return [
        {
            "view": look.frames.view.name,
            "lao_deg": degrees(look.frames.view.lao),
            "cranial_deg": degrees(look.frames.view.cranial),
            "curl_true_s": look.true_time,
            "curl_true_travel_m": look.true_path,
            "curl_true_in": SIDES.get(look.true_side),
            "curl_seen_s": look.seen_time,
            "curl_seen_travel_m": look.seen_path,
            "curl_seen_in": SIDES.get(look.seen_side),
            "late_m": look.late,
            "hidden_by_view": look.hidden_by_view,
            "false_alarm": look.false_alarm,
            "frames": dict(zip(CONFUSION, look.confusion, strict=True)),
            "least_foreshortening": float(look.frames.foreshortening.min()),
        }
        for look in looks
    ]


def seen_rows(looks: tuple[Seen, ...]) -> list[tuple[str, str]]:
    """Rows of the printed table: what an operator would have seen from each view."""
    return [(f"seen, {look.frames.view.name}", seen_words(look)) for look in looks]


def stability(record: Record) -> dict[str, Any]:
    """Stability of the last recorded state: negative eigenvalues of the static tangent, and whether it is unstable."""
    stuck, released = int(record.count_stuck[-1]), int(record.count_released[-1])
    return {"count_stuck": stuck, "count_released": released, "unstable": stuck > 0}


def stability_words(record: Record) -> str:
    """The counts, and the word for them."""
    facts = stability(record)
    return f"{facts['count_stuck']} / {facts['count_released']}{', unstable' if facts['unstable'] else ''}"
