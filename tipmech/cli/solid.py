"""`tipmech solid`: a finished insertion in three dimensions: a picture, a page that turns, a glTF file."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from ..checks import InputError
from ..files.record import loaded
from ..files.scene import CaseFile, read_case
from ..insertion.classify import classify
from ..insertion.imaging import Imaging
from ..insertion.record import Record
from ..show.solid.gltf import glb_bytes, save_glb
from ..show.solid.look import strain_most, travel_most
from ..show.solid.page import PAGE, SIZE, page_text, save_page
from ..show.solid.parts import moving_parts, vessel_parts
from ..show.solid.picture import note_words, solid_figure, state_words
from ..show.solid.scene import CannotDraw, whole_view
from ..show.style import save
from ..vessel.layers import Layers
from ..wire.design import Design
from .terminal import finish, guard, print_json, print_table, progress

PICTURE, GLB = "solid.png", "solid.glb"
SAME = 1e-9  # m, of the radii of a design and of a record's wire
ALLOWED = "a record written by `tipmech advance`"


@dataclass(frozen=True)
class Asked:
    """A record, its increment to show, and what a case file adds: construction, layers, directions of view."""

    record: Record
    row: int
    design: Design | None
    layers: Layers | None
    imaging: Imaging
    title: str


def read_solid(path: Path, increment: int | None, case: Path | None) -> Asked:
    """Read and check a record, the number of its increment (from 1; None: the last) and the case file it is of.

    Raises
    ------
    InputError
        one sentence: file, and what is wrong with it
    """
    try:
        record = loaded(path)
    except (FileNotFoundError, ValueError) as error:
        raise InputError(f"{error}; allowed: {ALLOWED}") from None
    count = len(record.feed)
    if count == 0:
        raise InputError(f"{path}: holds no increment; allowed: {ALLOWED} that holds at least one")
    if increment is not None and not 1 <= increment <= count:
        raise InputError(f"--increment: {increment} given; allowed: 1 to {count}, the increments of {path}")
    row = count - 1 if increment is None else increment - 1
    if case is None:
        return Asked(record, row, None, None, Imaging(), "")
    asked = read_case(case)
    check_same(record, path, asked)
    return Asked(record, row, asked.design, asked.layers, asked.imaging, asked.title)


def check_same(record: Record, path: Path, asked: CaseFile) -> None:
    """Check that a case file is that of a record: the same vessel and tear, a wire as thick."""
    if asked.case.scene != record.case.scene:
        what = "describes another vessel, tear or support than"
        raise InputError(f"{asked.source}: {what} {path} was run in; allowed: the case file of that insertion")
    mine, its = record.case.profile, asked.case.profile
    along = np.union1d(mine.distance, its.distance)
    if float(np.max(np.abs(mine.at("radius", along) - its.at("radius", along)))) > SAME:
        raise InputError(
            f"{asked.source}: field 'wire' is {its.name}, not as thick as the wire of {path} ({mine.name}); "
            "allowed: the case file of that insertion"
        )


def run(asked: Asked, source: str, folder: Path, *, picture: bool, as_json: bool, overwrite: bool) -> None:
    """Draw what was asked for and write it into `folder`, all of it or nothing."""
    names = (PICTURE, PAGE, GLB) if picture else (PAGE, GLB)
    guard(folder, names, overwrite)
    record, row = asked.record, asked.row
    title = asked.title or source
    most = strain_most(record, row), travel_most(record, row)
    outcome, layered = classify(record), asked.layers is not None
    words = "; ".join(state_words(record, outcome, row))
    with progress("scene", quiet=as_json) as report:
        parts = vessel_parts(record.case, asked.layers)
        parts |= moving_parts(record, row, asked.design, strain=most[0], travel=most[1])
        figure = None
        if picture:
            try:
                figure = solid_figure(record, outcome, row, parts, most, asked.imaging, title, layered=layered)
            except CannotDraw as error:
                raise InputError(f"{error}; allowed: --no-picture, which writes {PAGE} and {GLB} alone") from None
        report(1, 3)
        text = page_text(
            parts, whole_view(record, row, SIZE[0] / SIZE[1]), title=title, words=words,
            note=note_words(parts, layered), layered=layered, most=most,
        )  # fmt: skip
        report(2, 3)
        data = glb_bytes(parts, f"{title}: {words}")
        report(3, 3)
    paths = [] if figure is None else [save(figure, folder / PICTURE)]
    paths += [save_page(text, folder / PAGE), save_glb(data, folder / GLB)]
    facts: dict[str, Any] = {
        "record": source, "increment": row + 1, "increments": len(record.feed), "feed_m": float(record.feed[row]),
        "state": words, "layers": layered, "coil": "coil" in parts, "parts": list(parts),
    }  # fmt: skip
    if as_json:
        print_json({**facts, "files": paths})
        return
    rows = [
        ("increment", f"{row + 1} of {len(record.feed)}"),
        ("state", words),
        ("parts", ", ".join(parts)),
    ]
    print_table(f"{title} in three dimensions", ("scene", ""), rows)
    finish(paths)
