"""The centreline of [vessel] or of a study's [scene], straight to points, and its checks against lumen and flap."""

import csv
from math import isfinite, radians
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from ..checks import Said, mm, shown
from ..vessel.biarc import helix
from ..vessel.path import DEVIATION, Fit, closest_approach, facing, through_points, tightest_bend
from ..vessel.scene import NEAR, Centreline
from .common import LARGEST_FILE, FieldError
from .scene_tables import LineTable

Array = NDArray[np.float64]

MM = 1e-3
HEADER = ["x_mm", "y_mm", "z_mm"]
HEADER_WORDS = f"the header {','.join(HEADER)} (coordinates in mm)"
LEAST_POINTS = 4  # a cubic spline has four coefficients in each direction
REPEATED = 1e-3  # mm, neighbours nearer than this are one point: far below what any imaging tells apart
SMOOTHING = 0.1  # mm, root mean square: a fifth of a voxel of 0.5 mm (J)
SHORTEST, LONGEST = 10e-3, 1.0  # m, of a line of points: outside of these the unit is most likely not mm
FARTHEST = 1e5  # mm, of a coordinate from the origin: more is no vessel, and squares of it would overflow
MOST_ARCS = 200  # of a line of points: one for every 5 mm of the longest; more follow noise, and contact looks at each


def centreline_of(
    v: LineTable, flap: float, tear_start: float, path: str | Path, through: Fit | None = None
) -> Centreline:
    """Centreline of a table of the file at `path`, with a flap of thickness `flap` (m); through: of points, if known.

    With helix and points azimuth 0 is the outer side of the bend at `tear_start` (m).

    Raises
    ------
    FieldError
        a bend tighter than lumen and flap, a line that runs into itself, a wrong points file; fields without the table
    """
    lead, tail = v.lead_mm * MM, v.tail_mm * MM
    if v.centreline == "straight":
        return Centreline.straight(lead + tail)
    if v.centreline == "points":
        line, field = (through or fit_of_points(v, path)).line, "points_file"
    elif v.centreline == "helix":
        radius, pitch, turns = v.helix_radius_mm or 0.0, v.helix_pitch_mm or 0.0, v.helix_turns or 0.0
        line, field = helix(radius * MM, pitch * MM, turns, DEVIATION, lead, tail)[0], "helix_radius_mm"
    else:
        radius, angle = (v.bend_radius_mm or 0.0) * MM, radians(v.bend_deg or 0.0)
        outer = v.lumen_diameter_mm / 2 * MM + flap
        if radius <= outer:
            raise FieldError("bend_radius_mm", v.bend_radius_mm, f"greater than lumen radius plus flap, {outer / MM:g}")
        make = Centreline.arc if v.centreline == "arc" else Centreline.s_curve
        line = make(lead, radius, angle, tail)
        _check_apart(line, outer, "bend_radius_mm")
        return line
    _check_shape(line, v, flap, field)
    return facing(line, tear_start)


def _check_shape(line: Centreline, v: LineTable, flap: float, field: str) -> None:
    """Check that the wall, lumen and flap thick, neither folds at a bend nor runs into another part of itself."""
    widest = v.lumen_diameter_mm / 2 * MM + max(0.0, v.taper_mm_per_mm * line.length)
    outer = widest + flap
    radius, s = tightest_bend(line)
    if radius <= outer:
        what = Said(f"a line with a bend of radius {mm(radius)}, {mm(s)} from its start")
        raise FieldError(field, what, f"bends wider than lumen radius plus flap, {mm(outer)}")
    _check_apart(line, outer, field)


def _check_apart(line: Centreline, outer: float, field: str) -> None:
    """Check that a vessel of radius `outer` (m) along the line does not run into itself."""
    # a point of one part must not lie within the reach of the projection (theory 14) about another one
    clear = outer + max(outer, NEAR)
    distance, first, second = closest_approach(line, clear)
    if distance < clear:
        what = Said(f"a line whose parts at {mm(first)} and {mm(second)} come within {mm(distance)} of each other")
        raise FieldError(field, what, f"parts at least {mm(clear)} apart, so that the vessel does not run into itself")


def fit_of_points(v: LineTable, path: str | Path) -> Fit:
    """Centreline through the points of points_file, whose path counts from the folder of the file at `path`."""
    points = read_points(Path(path).parent, str(v.points_file))
    chord = float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())
    if not SHORTEST <= chord <= LONGEST:
        raise _wrong_length(chord)
    smoothing = SMOOTHING if v.smoothing_mm is None else v.smoothing_mm
    fit = through_points(points, smoothing * MM)
    if (arcs := len(fit.line.lengths)) > MOST_ARCS:
        allowed = f"a larger value: it takes {arcs} arcs to follow these points, at most {MOST_ARCS}"
        raise FieldError("smoothing_mm", smoothing, allowed)
    return fit


def _wrong_length(chord: float) -> FieldError:
    """Mistake of a line of points `chord` (m) long."""
    allowed = f"a line of {mm(SHORTEST)} to {mm(LONGEST)} (the coordinates are in mm)"
    return FieldError("points_file", Said(f"a line {mm(chord)} long"), allowed)


def read_points(folder: Path, name: str) -> Array:
    """Points of the CSV file `name` in `folder`, with the header x_mm,y_mm,z_mm, in m, shape (n, 3).

    Lines that begin with # are remarks.

    Raises
    ------
    FieldError
        of points_file: what is wrong with the file, in which line, what is allowed
    """
    lines = [
        (k, row)
        for k, row in enumerate(_text(folder, name).splitlines(), start=1)
        if row.strip() and row.lstrip()[0] != "#"
    ]
    if not lines:
        raise _wrong(name, "which is empty", f"a CSV file with {HEADER_WORDS}")
    number, header = lines[0]
    if _cells(header) != HEADER:
        raise _wrong(name, f"whose line {number} is {shown(header)}", HEADER_WORDS)
    rows = [_row(name, number, line) for number, line in lines[1:]]
    if len(rows) < LEAST_POINTS:
        raise _wrong(name, f"which has {len(rows)} points", f"at least {LEAST_POINTS} points")
    points = np.array(rows)
    chords = np.linalg.norm(np.diff(points, axis=0), axis=1)
    near = np.flatnonzero(chords < REPEATED)
    if len(near):
        if (chord := float(chords.sum()) * MM) < SHORTEST:  # in metres all of them are near
            raise _wrong_length(chord)
        first, again = lines[near[0] + 1][0], lines[near[0] + 2][0]
        allowed = f"neighbours at least {REPEATED:g} mm apart"
        raise _wrong(name, f"whose line {again} repeats the point of line {first}", allowed)
    return points * MM


def _text(folder: Path, name: str) -> str:
    """Text of a points file."""
    file = folder / name
    try:
        if file.is_file() and file.stat().st_size > LARGEST_FILE:
            raise _wrong(name, f"which has {file.stat().st_size} bytes", f"at most {LARGEST_FILE} bytes")
        return file.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        allowed = f"the path of a CSV file, from this file's folder (there is no such file: {file})"
        raise FieldError("points_file", name, allowed) from None
    except OSError as error:
        raise _wrong(name, f"which cannot be read ({error.strerror})", f"a CSV file with {HEADER_WORDS}") from None
    except UnicodeDecodeError:
        raise _wrong(name, "which is not text in UTF-8", f"a CSV file with {HEADER_WORDS}") from None


def _wrong(name: str, what: str, allowed: str) -> FieldError:
    """Mistake in a points file."""
    return FieldError("points_file", Said(f"{shown(name)}, {what}"), allowed)


def _cells(line: str) -> list[str]:
    """Entries of one line, without blanks around them."""
    return [cell.strip() for cell in next(csv.reader([line]))]


def _row(name: str, number: int, line: str) -> list[float]:
    """The three coordinates of one line, mm."""
    try:
        values = [float(cell) for cell in _cells(line)]
    except ValueError:
        values = []
    if len(values) != len(HEADER) or not all(isfinite(x) and abs(x) <= FARTHEST for x in values):
        allowed = f"three finite numbers, {','.join(HEADER)}, within {FARTHEST:g} mm"
        raise _wrong(name, f"whose line {number} is {shown(line)}", allowed)
    return values
