"""`tipmech attempts` on a case file: one procedure by its policy, told attempt by attempt."""

from dataclasses import asdict
from pathlib import Path
from typing import Any

from typer import echo

from ..files.case_wire import at_tip_load
from ..files.scene import CaseFile
from ..insertion.attempts import Course, follow
from ..insertion.policy import Policy
from ..insertion.record_file import save
from ..outcome import END_WORDS, End
from ..show.attempts import rule_words
from ..show.course import course_figure
from ..show.passage import off_opening, off_words
from ..show.style import save as save_figure
from .terminal import finish, guard, print_json, print_table, progress, write_json

PICTURE, FACTS, RECORD = "course.png", "course.json", "record.nc"
UNITS = {
    **dict.fromkeys(("travel", "opened_length", "off_opening"), "m"),
    **dict.fromkeys(("largest_push", "median_push"), "N"),
    **dict.fromkeys(("turned", "bend_left"), "rad"),
    "opened_area": "m2",
}
YES = {1: "yes", 0: "no", -1: "nobody looked"}


def run(asked: CaseFile, policy: Policy, folder: Path, *, as_json: bool, overwrite: bool) -> None:
    """Carry out the policy on the file's case and write everything into `folder`."""
    guard(folder, (PICTURE, FACTS, RECORD), overwrite)
    case = at_tip_load(asked).case
    with progress("attempts", quiet=as_json):
        course = follow(case, policy, asked.imaging, asked.detector)
    # the facts go first and come back last: a folder that holds them is complete
    (folder / FACTS).unlink(missing_ok=True)
    paths = [save(course.record, folder / RECORD, overwrite=overwrite)]
    title = f"{asked.title or asked.source.stem}: {case.profile.name}"
    paths.append(save_figure(course_figure(course, policy, title), folder / PICTURE))
    off = off_opening(course.record)
    facts = course_facts(asked, case.profile.name, course, off)
    paths.append(write_json(facts, folder / FACTS))
    if as_json:
        print_json({**facts, "files": paths})
        return
    head = ("attempt", "ended by", "travel,\nmm", "peak\npush,\nmN", "area,\nmm²", "in false\nlumen", "curled", "seen")
    print_table(asked.title or asked.source.stem, head, course_rows(course, policy))
    for line in course_lines(course, off):
        echo(line)
    finish(paths)


def course_facts(asked: CaseFile, wire: str, course: Course, off: float) -> dict[str, Any]:
    """A procedure as plain data: words, SI values and their units; off: how far off its opening it passes, m."""
    whole = {
        name: getattr(course, name)
        for name in ("travel", "turned", "largest_push", "median_push", "opened_area", "opened_length", "looks")
    }
    whole["off_opening"] = off
    return {
        "title": asked.title,
        "case_file": str(asked.source),
        "wire": wire,
        "end": END_WORDS[End(course.end)],
        "through": course.end == End.TRUE_LUMEN,
        "attempts": [asdict(attempt) for attempt in course.attempts],
        "whole": whole,
        "units": UNITS,
    }


def course_rows(course: Course, policy: Policy) -> list[tuple[str, ...]]:
    """Rows of the printed table, in users' units."""
    out: list[tuple[str, ...]] = []
    for number, attempt in enumerate(course.attempts, start=1):
        rule = policy.rules[attempt.rule - 1] if attempt.rule else None
        out.append(
            (
                str(number),
                rule_words(rule).split(":")[0] if rule else "the end",
                f"{attempt.travel * 1e3:.1f}",
                f"{attempt.largest_push * 1e3:.3g}",
                f"{attempt.opened_area * 1e6:.2f}",
                YES[int(attempt.entered)],
                YES[int(attempt.curled)],
                YES[attempt.curl_seen],
            )
        )
    return out


def course_lines(course: Course, off: float) -> list[str]:
    """What is said under the table; off: as of `course_facts`."""
    return [
        f"ended because: {END_WORDS[End(course.end)]}",
        f"newly opened in all: {course.opened_area * 1e6:.2f} mm²; travel of the hand {course.travel * 1e3:.0f} mm; "
        f"largest push {course.largest_push * 1e3:.3g} mN",
        f"passes the flap off its opening by at most {off_words(course.record, off)}",
    ]
