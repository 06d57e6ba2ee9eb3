"""Each scene of this folder with a soft and a stiff wire from the same seed: film strip, animation, cross-sections,
opened region, outcomes.

    python -m experiments.scenes.run --out results/scenes [--only balloon_tear haematoma] [--no-gif] [--overwrite]

Run from the repository's root; a few minutes, most of them for the animations. Soft and stiff: bending and torsion of
the distal 30 mm times 0.3 and times 3, all else equal. Written into --out: a folder a scene with strip.png,
animation.gif, section.png and, for each wire, record, cross-sections and opened region; outcomes.csv and summary.txt,
which is printed too. --figures FOLDER: also small film strips for the documentation.
"""

import argparse
import csv
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from PIL import Image
from PIL.PngImagePlugin import PngInfo

from experiments.scenes.summary import Row, row_of, summary_text
from tipmech import CAUTION
from tipmech.checks import InputError
from tipmech.cli.terminal import guard
from tipmech.files.scene import CaseFile, read_case
from tipmech.insertion.classify import classify, travel
from tipmech.insertion.opened import areas, opened
from tipmech.insertion.record_file import save
from tipmech.insertion.run import advance
from tipmech.show.contest import told
from tipmech.show.cross import save_cross
from tipmech.show.film import movie
from tipmech.show.film.pace import short_speed
from tipmech.show.film.twin import TwinFilm
from tipmech.show.opened import save_opened
from tipmech.show.pair import Run, save_pair
from tipmech.show.section import save_section

FOLDER = Path(__file__).parent
TABLE, SUMMARY = "outcomes.csv", "summary.txt"
STRIP, GIF, SECTION = "strip.png", "animation.gif", "section.png"
SMALL = 1000  # pixels across, of a picture for the documentation


@dataclass(frozen=True)
class Cases:
    """Case files to carry out: their folder, what the names of small pictures begin with, and the two wires (names and
    factors of the stiffness in the file)."""

    folder: Path
    prefix: str
    wires: tuple[tuple[str, float], tuple[str, float]]

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the case files."""
        return tuple(sorted(path.stem for path in self.folder.glob("*.toml")))


SCENES = Cases(FOLDER, "scene", (("soft", 0.3), ("stiff", 3.0)))


def insertion(asked: CaseFile, name: str, softness: float) -> Run:
    """The insertion of a case file with its wire `softness` times as stiff."""
    record = advance(replace(asked.case, profile=asked.case.profile.softened(softness)))
    return Run(name, record, classify(record))


def carry_out(
    cases: Cases, scene: str, folder: Path, gif: bool, overwrite: bool, say: Callable[[str], None]
) -> list[Row]:
    """One scene into its folder; returns its rows."""
    asked = read_case(cases.folder / f"{scene}.toml")
    title = f"{asked.title}, seed {asked.case.seed}"
    rows: list[Row] = []
    runs: list[Run] = []
    for name, softness in cases.wires:
        say(f"{scene}: {name}")
        run = insertion(asked, f"{name} (x {softness:g})", softness)
        runs.append(run)
        rows.append(row_of(scene, name, softness, run.record, run.outcome))
        save(run.record, folder / f"record_{name}.nc", overwrite=overwrite)
        words = f"{asked.title}, {run.name}"
        save_cross(run.record, run.outcome, folder / f"cross_{name}.png", title=words)
        found = areas(run.record)
        save_opened(run.record, run.outcome, opened(run.record), found, folder / f"opened_{name}.png", words)
    ended = "\n".join(f"{run.name} ended: {told(run.record, run.outcome)}" for run in runs)
    save_section(asked.case, folder / SECTION, ended)
    save_pair((runs[0], runs[1]), folder / STRIP, title)
    if gif:
        longest = max(float(travel(run.record)[-1]) for run in runs)
        film = TwinFilm((runs[0], runs[1]), title, speed=short_speed(longest / asked.case.drive.rate))
        movie.write(film, folder / GIF, movie.GIF, lambda k, n: say(f"{scene}: animation {k}/{n}"))
    return rows


def run(
    out: Path,
    scenes: Sequence[str] = SCENES.names,
    *,
    cases: Cases = SCENES,
    gif: bool = True,
    overwrite: bool = False,
    figures: Path | None = None,
) -> str:
    """Carry out `scenes`, of those in `cases`, into `out`; returns the summary.

    Raises
    ------
    InputError
        when results are there already and `overwrite` is false
    """
    guard(out, (TABLE, SUMMARY, *scenes), overwrite)
    for name in (TABLE, SUMMARY):  # these come last: a folder that holds them is complete
        (out / name).unlink(missing_ok=True)
    rows: list[Row] = []
    for k, scene in enumerate(scenes):
        folder = out / scene
        folder.mkdir(parents=True, exist_ok=True)
        (folder / GIF).unlink(missing_ok=True)
        rows += carry_out(cases, scene, folder, gif, overwrite, lambda text, k=k: _say(f"{k + 1}/{len(scenes)} {text}"))
        if figures is not None:
            shrink(folder / STRIP, figures / f"{cases.prefix}_{scene}.png")
    _say("")
    with (out / TABLE).open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)
    text = summary_text(rows)
    (out / SUMMARY).write_text(text + "\n", encoding="utf-8")
    return text


def shrink(path: Path, to: Path) -> None:
    """A picture again, smaller, with the caution in it."""
    with Image.open(path) as image:
        size = (SMALL, round(image.height * SMALL / image.width))
        small = image.convert("RGB").resize(size, Image.Resampling.LANCZOS)
        # few colours, of which none strays: a palette by frequency turned the bright end of the strain's scale to red
        small = small.quantize(method=Image.Quantize.MAXCOVERAGE, dither=Image.Dither.NONE)
    info = PngInfo()
    info.add_text("Comment", CAUTION)
    to.parent.mkdir(parents=True, exist_ok=True)
    small.save(to, optimize=True, pnginfo=info)


def _say(text: str) -> None:
    """How far the run is, on one line of stderr."""
    print(f"\r{text:60s}", end="" if text else "\r", file=sys.stderr, flush=True)


def main(arguments: Sequence[str] | None = None, cases: Cases = SCENES, words: str | None = __doc__) -> None:
    """Command line for `cases`; words: what it says about itself."""
    parser = argparse.ArgumentParser(description=words, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--only", nargs="+", choices=cases.names, default=list(cases.names), help="these scenes alone")
    parser.add_argument("--no-gif", action="store_true")
    parser.add_argument("--overwrite", action="store_true")
    parser.add_argument("--figures", type=Path, help="folder for small film strips")
    args = parser.parse_args(arguments)
    try:
        gif, figures = not args.no_gif, args.figures
        print(run(args.out, args.only, cases=cases, gif=gif, overwrite=args.overwrite, figures=figures))
    except InputError as error:
        print(error, file=sys.stderr)
        raise SystemExit(2) from None


if __name__ == "__main__":
    main()
