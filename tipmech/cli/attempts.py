"""`tipmech attempts`: run a policy on wires side by side with progress, draw its figures, print its cells."""

from math import degrees, isfinite
from pathlib import Path
from typing import Any

from typer import echo

from ..files.attempts import read_attempts
from ..outcome import END_WORDS, End
from ..show.attempts import attempts_figure
from ..show.course import course_figure, telling
from ..show.style import save
from ..study.execute import Progress
from ..study.run_attempts import AttemptsResult, AttemptsSpec, case_of, evaluate, run_attempts
from ..study.table import to_rows
from ..study.uncertainty import uncertainty_text
from ..units import from_si
from .scheduler import workers_of
from .terminal import finish, print_json, print_table, progress

TABLES = ("cells", "incidence", "pairs", "rows", "attempts")
SHOWN = 3  # columns of shares within 1, 2, 3 attempts
QUANTITIES = {
    "through": ("share through", 1.0, ""),
    "travel": ("travel of the hand", 1e3, " mm"),
    "largest_push": ("largest push", 1e3, " mN"),
    "opened_area": ("opened area", 1e6, " mm²"),
    "opened_length": ("opened length", 1e3, " mm"),
}


def run(
    file: Path,
    out: Path,
    workers: int | None,
    *,
    seed: int | None,
    samples: int | None,
    as_json: bool,
    overwrite: bool,
    scheduler: str | None = None,
) -> None:
    """Attempts of a file."""
    with progress("wires: tip-load bench", quiet=as_json):
        spec = read_attempts(file, seed=seed, samples=samples)
    workers = workers or spec.study.workers
    with workers_of(scheduler, workers) as found, progress("attempts", quiet=as_json) as report:

        def on_progress(state: Progress) -> None:
            report(state.done, state.total)

        result = run_attempts(spec, out, found, overwrite, on_progress)
    note = uncertainty_text(code=result.manifest["code"])
    paths = [save(attempts_figure(result, note), out / "attempts.png")]
    if (place := telling(result)) is not None:
        course = evaluate(spec, case_of(spec, *place))
        told = f"{spec.name}: one procedure, {place_words(spec, place)}"
        paths.append(save(course_figure(course, spec.policy, told), out / "course.png"))
    paths += [*(out / f"{name}.{end}" for name in TABLES for end in ("csv", "parquet")), out / "manifest.json"]
    if as_json:
        tables = {name: getattr(result, name) for name in ("cells", "incidence", "pairs")}
        print_json({"manifest": result.manifest, **tables, "files": paths})
        return
    head = ("tip\nload,\nangle", "solved", *(f"within\n{k}" for k in range(1, SHOWN + 1)), "in the\nend")
    head += ("area,\nmm²", "peak\npush,\nmN")
    print_table(title(result), head, [_row(result, cell) for cell in to_rows(result.cells)], numbers=True)
    for line in [*ends(result), *differences(result)]:
        echo(line)
    finish(paths)


def place_words(spec: AttemptsSpec, place: tuple[int, int, int]) -> str:
    """Wire, angle and point of a procedure in words."""
    load, angle = spec.study.tip_loads[place[0]], spec.study.angles[place[1]]
    return f"{from_si(load, 'gf'):.3g} gf, {degrees(angle):.0f}°, point {place[2]}"


def title(result: AttemptsResult) -> str:
    """What the table holds, in words."""
    spec = result.spec
    return "\n".join(
        (
            f"{spec.name}: share through within 1, 2, 3 attempts",
            f"wire: {spec.study.base.name}; 95 % intervals",
            "of a procedure: area newly opened, mean; peak push, median and 90 % quantile",
        )
    )


def _row(result: AttemptsResult, cell: dict[str, Any]) -> tuple[str, ...]:
    shares = [
        f"{row['p']:.2f}\n{short(row['low'])}-{short(row['high'])}" if isfinite(row["p"]) else "-"
        for row in to_rows(result.incidence)
        if (row["tip_load_index"], row["angle_index"]) == (cell["tip_load_index"], cell["angle_index"])
    ]
    shown = [*shares[:SHOWN], *["-"] * (SHOWN - len(shares))]
    areas = (cell[f"opened_area{end}"] * 1e6 for end in ("", "_low", "_high"))
    area, low, high = (f"{float(f'{value:.2g}'):g}" for value in areas)
    return (
        f"{from_si(cell['tip_load'], 'gf'):.3g} gf\n{degrees(cell['angle']):.0f}°",
        f"{cell['n_solved']}/{cell['n']}",
        *shown,
        shares[-1],
        f"{area}\n{low}-{high}",
        f"{cell['largest_push_median'] * 1e3:.3g}\n{cell['largest_push_p90'] * 1e3:.3g}",
    )


def short(share: float) -> str:
    """A share without its leading zero: .25; 1 in full."""
    return f"{share:.2f}".removeprefix("0")


def ends(result: AttemptsResult) -> list[str]:
    """How the procedures of each cell ended, in words; nothing is left out."""
    out = []
    for cell in to_rows(result.cells):
        counts = [(int(cell[f"n_end_{end.name.lower()}"]), END_WORDS[end]) for end in End]
        place = f"{from_si(cell['tip_load'], 'gf'):.3g} gf, {degrees(cell['angle']):.0f}°"
        told = "; ".join(f"{n} {words}" for n, words in counts if n)
        out.append(f"{place}, {cell['attempts_made']} attempts in {cell['n']} procedures: {told}")
        length = f"{cell['opened_length_median'] * 1e3:.2f} mm, 90 % quantile {cell['opened_length_p90'] * 1e3:.2f} mm"
        push = f"{cell['median_push'] * 1e3:.2g} mN" if isfinite(cell["median_push"]) else "none"
        out.append(f"  opened length: median {length}; push while advancing past the tear: median {push}")
        seen = f"a curl seen in {cell['attempts_curl_seen']}, truly there in {cell['attempts_seen_and_curled']} of them"
        missed = f"curls not seen {cell['attempts_curled_not_seen']}"
        out.append(f"  attempts in the false lumen {cell['attempts_entered']}; {seen}; {missed}")
    return out


def differences(result: AttemptsResult) -> list[str]:
    """Paired differences of each wire to the first, in words."""
    first = from_si(result.spec.study.tip_loads[0], "gf")
    out = []
    for row in to_rows(result.pairs):
        words, factor, unit = QUANTITIES[row["quantity"]]
        middle, low, high = (f"{row[k] * factor:+.3g}" for k in ("difference", "low", "high"))
        place = f"{from_si(row['tip_load'], 'gf'):.3g} gf less {first:.3g} gf, {degrees(row['angle']):.0f}°"
        inside = "in every scramble" if low == high else f"{low} to {high}"
        out.append(f"{place}: {words} {middle}{unit} ({inside}), {row['n']} pairs, {row['n_left_out']} left out")
    return out
