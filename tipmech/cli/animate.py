"""`tipmech animate`: a finished record, two of the same seed, or a bench test of a wire as a film."""

from dataclasses import fields
from pathlib import Path
from typing import Any

import numpy as np

from ..checks import InputError
from ..files.record import read_course, read_record
from ..insertion.case import Case
from ..insertion.classify import classify, travel
from ..insertion.record import Record
from ..outcome import LABEL_WORDS, Label
from ..show.film.hand import Procedure
from ..show.film.insertion import InsertionFilm
from ..show.film.movie import GIF, MP4, Film, Format, count, size, write
from ..show.film.twin import TwinFilm
from ..show.pair import Run
from .terminal import finish, guard, print_json, print_table, progress

NAME = "animation"
DIFFERENCES = {
    "profile": "wire", "scene": "vessel, tear or support", "tip_shape": "tip's shape", "friction": "friction",
    "moves": "moves", "static_ratio": "static over kinetic friction", "drive": "drive", "stop": "stop rules",
    "numerics": "numerics", "mirror": "mirror",
}  # fmt: skip
"""Parts of a case in words."""
SLOWEST, FASTEST = 0.05, 50.0  # times real time: beyond, a film lasts minutes, or a frame skips millimetres
USERS = {"_m": (1e3, "mm"), "_n": (1e3, "mN"), "_rad": (float(np.degrees(1.0)), "°")}
"""Endings of SI facts, and their factor and unit in the table."""
SAME = 1e-6  # m: travel of a record and of the attempts beside it


def film_of(paths: list[Path], speed: float) -> tuple[Film, dict[str, Any]]:
    """Film of one record or of two of the same seed, and its facts."""
    records = [read_record(path) for path in paths]
    if len(records) == 1:
        return _one(paths[0], records[0], speed)
    return _two(paths, records, speed)


def _one(path: Path, record: Record, speed: float) -> tuple[Film, dict[str, Any]]:
    procedure, outcome = procedure_of(path, record), classify(record)
    film = InsertionFilm(
        record, outcome, f"{record.case.profile.name}: {_name(path)}", speed=speed, procedure=procedure
    )
    facts: dict[str, Any] = {"outcome": LABEL_WORDS[Label(outcome.label)], "increments": len(record.feed)}
    if procedure is not None:
        facts |= {"attempts": len(procedure.ends), "end": procedure.end}
    return film, facts


def procedure_of(path: Path, record: Record) -> Procedure | None:
    """The procedure whose record this is, from what lies beside it; None where nothing does."""
    course = read_course(path)
    if course is None:
        return None
    ends = np.cumsum([float(a["travel"]) for a in course["attempts"]])
    whole = float(travel(record)[-1])
    if abs(ends[-1] - whole) > SAME:
        raise InputError(
            f"{path}: its hand travels {whole * 1e3:.4g} mm, the attempts in course.json beside it "
            f"{ends[-1] * 1e3:.4g} mm; allowed: both of the same procedure"
        )
    return Procedure(ends, str(course["end"]))


def _two(paths: list[Path], records: list[Record], speed: float) -> tuple[Film, dict[str, Any]]:
    one, two = (record.case for record in records)
    for name, first, second in (("seed", one.seed, two.seed), ("drive's rate", one.drive.rate, two.drive.rate)):
        if first != second:
            raise InputError(f"{paths[1]}: its {name} is {second:g}, that of {paths[0]} {first:g}; allowed: the same")
    differ = differences(one, two)
    runs = [
        Run(f"{k}  {r.case.profile.name}: {_name(p)}", r, classify(r))
        for k, p, r in zip("AB", paths, records, strict=True)
    ]
    words = f"they differ in: {', '.join(differ)}" if differ else "the two cases are the same"
    film = TwinFilm((runs[0], runs[1]), f"Same seed, {one.seed}, at the same travel of the hand; {words}", speed=speed)
    parted = film.parting
    facts = {
        "outcomes": [LABEL_WORDS[Label(run.outcome.label)] for run in runs],
        "differ_in": differ,
        "parted_at_m": None if parted is None else parted.at,
        "next_events": None if parted is None else [None if e is None else e.words for e in parted.events],
    }
    return film, facts


def differences(one: Case, two: Case) -> list[str]:
    """In what two cases differ, in words."""
    from ..insertion.record_file import case_to_json

    parts = [case_to_json(case) for case in (one, two)]
    if parts[0] == parts[1]:
        return []
    import json

    first, second = (json.loads(part) for part in parts)
    return [DIFFERENCES[f.name] for f in fields(Case) if f.name in DIFFERENCES and first[f.name] != second[f.name]]


def _name(path: Path) -> str:
    """A record in words: its file, with its folder where all records have one name."""
    return f"{path.resolve().parent.name}/{path.name}"


def run(film: Film, facts: dict[str, Any], folder: Path, form: Format, *, as_json: bool, overwrite: bool) -> None:
    """Write a film into `folder`."""
    name = f"{NAME}{form.suffix}"
    guard(folder, (name,), overwrite)
    with progress("frames", quiet=as_json) as report:
        path = write(film, folder / name, form, report)
    wide, tall = size(film, form)
    facts = {
        **facts,
        "frames": count(film, form),
        "frames_per_s": form.rate,
        "seconds": film.seconds,
        "pixels": [wide, tall],
    }
    if as_json:
        print_json({**facts, "files": [path]})
        return
    print_table("", ("animation", ""), [_row(name, value) for name, value in facts.items()])
    finish([path])


def _row(name: str, value: Any) -> tuple[str, str]:
    """A fact for the table, in users' units."""
    for ending, (factor, unit) in USERS.items():
        if name.endswith(ending) and isinstance(value, float):
            return name.removesuffix(ending).replace("_", " "), f"{factor * value:.4g} {unit}"
    return name.replace("_", " "), _text(value)


def _text(value: Any) -> str:
    """A value in words."""
    if isinstance(value, list):
        return "; ".join(_text(v) for v in value)
    return "none" if value is None else f"{value:.4g}" if isinstance(value, float) else str(value)


def format_of(gif: bool) -> Format:
    """MP4, or GIF where it is asked for."""
    return GIF if gif else MP4


def check_asked(files: list[str], bench: str | None, speed: float) -> None:
    """Check what was asked for, before anything is read.

    Raises
    ------
    InputError
        where number of files, name of the test or speed are not allowed
    """
    from .animate_bench import TESTS

    if not SLOWEST <= speed <= FASTEST:
        raise InputError(f"--speed: {speed:g}; allowed: {SLOWEST:g} to {FASTEST:g} (1 is real time)")
    if bench is None and len(files) > 2:
        raise InputError(f"{len(files)} records; allowed: one, or two of the same seed")
    if bench is not None and bench not in TESTS:
        raise InputError(f"--bench: {bench}; allowed: {', '.join(TESTS)}")
    if bench is not None and len(files) != 1:
        raise InputError(f"--bench: given with {len(files)} wires; allowed: one wire file or preset")
