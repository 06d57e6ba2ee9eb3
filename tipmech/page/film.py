"""A process that films saved records: `python -m tipmech.page.film FOLDER NAME [NAME]`, then one JSON document.

Two records of one push become a film of both side by side, which stands still where they part.
"""

import json
import sys
from pathlib import Path

from ..insertion.classify import classify
from ..insertion.record_file import load
from ..show.film.insertion import InsertionFilm
from ..show.film.movie import MP4, Film, write
from ..show.film.twin import TwinFilm
from ..show.pair import Run

TITLE = "from the lab page"


def film_of(paths: list[Path]) -> Film:
    """Film of one record or of two."""
    records = [load(path) for path in paths]
    runs = [Run(f"{k}  {r.case.profile.name}", r, classify(r)) for k, r in zip("AB", records, strict=False)]
    if len(runs) == 1:
        return InsertionFilm(runs[0].record, runs[0].outcome, f"{records[0].case.profile.name}: {TITLE}")
    return TwinFilm((runs[0], runs[1]), f"One hand, two wires: {TITLE}")


def main(arguments: list[str]) -> int:
    """Film the records NAME of FOLDER beside the first."""
    folder, names = Path(arguments[0]), arguments[1:]
    out = sys.stdout
    sys.stdout = sys.stderr
    try:
        paths = [folder / name for name in names]
        made = paths[0].with_name(paths[0].stem + ("" if len(paths) == 1 else "_and_2") + ".mp4")
        answer = {"kind": "film", "name": write(film_of(paths), made, MP4).name}
    except (OSError, ValueError) as error:
        answer = {"kind": "no_film", "text": str(error)}
    out.write(json.dumps(answer) + "\n")
    out.flush()
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
