"""A process that films one record: `python -m tipmech.page.film FOLDER NAME`, then one JSON document."""

import json
import sys
from pathlib import Path

from ..insertion.classify import classify
from ..insertion.record_file import load
from ..show.animate import animate


def main(arguments: list[str]) -> int:
    """Film the record NAME of FOLDER beside it."""
    folder, name = Path(arguments[0]), arguments[1]
    out = sys.stdout
    sys.stdout = sys.stderr
    try:
        record = load(folder / name)
        path = animate(record, classify(record), (folder / name).with_suffix(".gif"))
        answer = {"kind": "film", "name": path.name}
    except (OSError, ValueError) as error:
        answer = {"kind": "no_film", "text": str(error)}
    out.write(json.dumps(answer) + "\n")
    out.flush()
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
