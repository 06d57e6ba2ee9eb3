"""`tipmech schema`: JSON Schemas of the files that users write."""

import json
from pathlib import Path

import typer

from ..checks import InputError
from ..files.schema import KINDS, check_kinds, schema_of
from ..whole import whole_file
from .terminal import finish, guard


def run(kinds: list[str], out: Path | None, *, overwrite: bool) -> None:
    """Schemas of these kinds of files (none named: of all), printed or into a folder."""
    check_kinds(kinds)
    if out is None:
        if len(kinds) != 1:
            named = " ".join(kinds) or "missing"
            raise InputError(f"KIND is {named}; allowed: one of {', '.join(KINDS)}, or several with --out")
        typer.echo(text_of(kinds[0]), nl=False)
        return
    paths = [out / f"{kind}.json" for kind in kinds or KINDS]
    guard(out, [path.name for path in paths], overwrite)
    for path in paths:
        with whole_file(path) as temporary:
            temporary.write_text(text_of(path.stem), encoding="utf-8")
    finish(paths)


def text_of(kind: str) -> str:
    """A schema as it stands in its file."""
    return json.dumps(schema_of(kind), indent=1, ensure_ascii=False) + "\n"
