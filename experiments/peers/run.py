"""The rod against general-purpose codes on three cases: one process, one table (text, CSV, JSON).

    python -m experiments.peers.run --out results/peers

Each code first searches its own fastest setting and coarsest mesh within the accuracy; then all codes that solve
statically are timed in turn, round by round, so that a busy machine slows them alike.
"""

import argparse
import csv
import importlib
import json
import platform
from collections.abc import Callable
from dataclasses import asdict, dataclass
from pathlib import Path
from statistics import median
from typing import Any

from . import ours
from .cases import ACCURACY, CASES, Case
from .code import Best, Code, search, silence

ROUNDS = 15
PEERS = ("opensees", "exudyn_beams", "mujoco_cable", "pyelastica_rod")
WANTED = {"3-D": 10.0, "2-D": 1.0, "dynamic": 10.0, "explicit": 1.0}  # their time over ours
WANTED_TRUE = 1e4  # explicit, with the rod's true inertia and stiffness
HEAD = ("", "code", "version", "kind", "el.", "time", "with model", "ratio", "wanted", "error/L", "ended", "wrong")
SOFTENED, ESTIMATED = "tuned", "estimated"


@dataclass(frozen=True)
class Line:
    """One row of the table; times in s, ratio: their time over ours, error over the length."""

    case: str
    code: str
    version: str
    kind: str
    elements: int
    seconds: float
    with_model: float
    ratio: float
    wanted: float
    error: float
    branch: str
    wrong: int
    attempts: int
    how: str
    setting: str
    note: str


def available() -> tuple[list[Code], list[str]]:
    """Codes that could be imported, and one sentence for each that could not."""
    found, missing = [], []
    for name in PEERS:
        try:
            found += importlib.import_module(f".{name}", __package__).codes()
        except (ImportError, OSError, RuntimeError) as error:
            missing.append(f"{name}: not compared, it could not be imported ({error})")
    return found, missing


def branch_of(best: Best) -> str:
    """Words for where the code ended."""
    if not best.elements:
        return "accuracy not reached"
    return "buckled, stable" if best.case.key == "b" else "stable"


def line_of(best: Best, reference: float, how: str = "measured") -> Line:
    """Row of a finished search."""
    seconds = median(best.times) if best.times else float("nan")
    true = best.code.kind == "explicit" and SOFTENED not in best.code.name
    return Line(
        case=best.case.key,
        code=best.code.name,
        version=best.code.version,
        kind=best.code.kind,
        elements=best.elements,
        seconds=seconds,
        with_model=median(best.with_model) if best.with_model else float("nan"),
        ratio=seconds / reference,
        wanted=float("nan") if best.code.solve is ours.solve else WANTED_TRUE if true else WANTED[best.code.kind],
        error=best.error if best.elements else best.closest,
        branch=branch_of(best),
        wrong=best.wrong,
        attempts=best.attempts,
        how=how,
        setting=", ".join(f"{key} {value}" for key, value in best.setting.items()),
        note=best.code.note,
    )


def compare(case: Case, codes: list[Code], rounds: int, say: Callable[[str], None]) -> list[Line]:
    """All codes on one case; ours comes first."""
    own = ours.codes()
    for code in own:
        code.solve(case, 4, **next(iter(code.settings(case))))  # compile before any clock runs
    searched = []
    for code in [*own, *codes]:
        say(f"({case.key}) {code.name}: searching")
        with silence():
            searched.append(search(code, case))
    with silence():
        for _ in range(rounds):
            for best in searched:
                if best.elements and not best.code.once:
                    best.measure()
    space, plane = (median(best.times) for best in searched[:2])
    lines = [line_of(best, plane if best.code.kind == "2-D" else space) for best in searched]
    for best in searched:
        if best.code.kind == "explicit" and best.elements:
            say(f"({case.key}) {best.code.name}: the same with the rod's true stiffness and inertia")
            module = importlib.import_module(".pyelastica_rod", __package__)
            true, how = module.true_rod(best)
            lines.append(line_of(true, space, how))
    return lines


def duration(seconds: float) -> str:
    """Time with a unit that keeps three digits readable."""
    if seconds != seconds:
        return "-"
    return f"{seconds:.3g} s" if seconds >= 1.0 else f"{1e3 * seconds:.3g} ms"


def table_text(lines: list[Line], missing: list[str], machine: str) -> str:
    """Table in words and numbers."""
    rows = [
        ("", "code", "version", "kind", "el.", "time", "with model", "ratio", "wanted", "error/L", "ended", "wrong")
    ]
    for line in lines:
        mark = "~" if line.how.startswith(ESTIMATED) else ""
        rows.append((
            line.case, line.code, line.version, line.kind, str(line.elements or "-"), mark + duration(line.seconds),
            duration(line.with_model), f"{line.ratio:.3g}" if line.ratio == line.ratio else "-",
            f"{line.wanted:g}" if line.wanted == line.wanted else "-", f"{line.error:.1e}", line.branch,
            f"{line.wrong}/{line.attempts}",
        ))  # fmt: skip
    widths = [max(len(row[k]) for row in rows) for k in range(len(rows[0]))]
    text = ["  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in rows]
    text += [
        "",
        *[f"({case.key}) {case.words}; exact tip {case.exact[0]:.6f}, {case.exact[1]:.6f} L" for case in CASES],
    ]
    text += [
        "",
        f"time: median of {ROUNDS} rounds in turn, wall clock of the solve alone (explicit: one run).",
        "ratio: over the package's own time of the same kind (2-D: held in a plane). with model: building it included.",
        f"error: distance of the tip from the exact elastica at the end, over L; at most {ACCURACY:g} asked.",
        "wrong: attempts of the search (8 elements and more) that the code called solved on another branch, of all.",
        "wanted: ratio asked for; ~: estimated, see `how` in the JSON.",
        "numba's compilation is not in any time.",
        machine,
        *missing,
    ]
    return "\n".join(text) + "\n"


def write(out: Path, lines: list[Line], text: str, missing: list[str], machine: str) -> None:
    """peers.txt, peers.csv, peers.json."""
    out.mkdir(parents=True, exist_ok=True)
    (out / "peers.txt").write_text(text, encoding="utf-8")
    with (out / "peers.csv").open("w", newline="", encoding="utf-8") as stream:
        writer = csv.DictWriter(stream, list(asdict(lines[0])))
        writer.writeheader()
        writer.writerows(asdict(line) for line in lines)
    everything: dict[str, Any] = {"machine": machine, "missing": missing, "rows": [asdict(line) for line in lines]}
    # nan is not JSON
    clean = json.loads(json.dumps(everything), parse_constant=lambda _: None)
    (out / "peers.json").write_text(json.dumps(clean, indent=1) + "\n", encoding="utf-8")


def main(arguments: list[str] | None = None) -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--out", type=Path, default=Path("results/peers"), help="folder for the tables")
    parser.add_argument("--cases", default="abc", help="cases to run (default: abc)")
    parser.add_argument("--only", default="", help="words; only codes whose name contains one of them")
    parser.add_argument("--rounds", type=int, default=ROUNDS, help="timings of each static code")
    given = parser.parse_args(arguments)
    codes, missing = available()
    words = given.only.lower().split()
    codes = [code for code in codes if not words or any(word in code.name.lower() for word in words)]
    lines: list[Line] = []
    machine = f"Python {platform.python_version()}, {platform.system()} {platform.machine()}"
    for case in CASES:
        if case.key in given.cases:
            lines += compare(case, codes, given.rounds, lambda text: print(text, flush=True))
            write(given.out, lines, table_text(lines, missing, machine), missing, machine)
    print(table_text(lines, missing, machine))


if __name__ == "__main__":
    main()
