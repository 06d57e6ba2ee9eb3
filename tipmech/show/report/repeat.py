"""How to repeat the study: code, packages, machine, seed, commands, a programme from the manifest alone."""

from ... import __version__
from .folder import Finished
from .parts import Code, Section, Text, grid

RUNNERS = {
    "map": ("study.spec", "StudySpec", "study.run_map", "run_map", ""),
    "threshold": ("study.run_threshold", "ThresholdSpec", "study.run_threshold", "run_threshold", ""),
    "attempts": ("study.run_attempts", "AttemptsSpec", "study.run_attempts", "run_attempts", ""),
    "compare": ("study.compare_spec", "CompareSpec", "study.run_compare", "run_compare", ""),
    "procedures": ("study.run_procedures", "ProceduresSpec", "study.run_procedures", "run_procedures", ""),
    "atlas": ("study.run_atlas", "AtlasSpec", "study.run_atlas", "run_atlas", ""),
    "curl": ("study.run_curl", "CurlSpec", "study.run_curl", "run_curl", ""),
    "sensitivity": ("study.sensitivity", "SensitivitySpec", "study.run_sensitivity", "run_sensitivity", "outcomes, "),
}
"""Module and name of the spec, module and name of the function that runs it, further arguments."""


def programme(study: Finished) -> str:
    """Python that computes the study again from its manifest."""
    spec_module, spec, run_module, run, more = RUNNERS[study.kind]
    imports = [f"from tipmech.{run_module} import {run}", f"from tipmech.{spec_module} import {spec}"]
    if spec_module == run_module:
        imports = [f"from tipmech.{run_module} import {spec}, {run}"]
    out = ["import json", "", "from tipmech.insertion.record_file import from_plain", *imports, ""]
    out += ['with open("FOLDER/manifest.json", encoding="utf-8") as file:', "    manifest = json.load(file)"]
    out += [f'spec = from_plain({spec}, manifest["spec"])']
    if more:
        names = tuple(dict.fromkeys(str(name) for name in study.tables["indices"]["outcome"]))
        out.append(f"outcomes = {names!r}")
    out += ['if __name__ == "__main__":', f'    again = {run}(spec, {more}"again")']
    out += ['    print(again.manifest["hash"] == manifest["hash"])']
    return "\n".join(out)


def repeat(study: Finished) -> Section:
    """Everything that is needed to compute it again."""
    manifest = study.manifest
    rows = [
        ("code that computed the study (version + digest of the sources that decide its rows)", study.code),
        ("code of this kind of study that wrote the report", study.own_code),
        ("version that wrote the report", __version__),
        ("hash of kind, spec and code", str(manifest["hash"])),
        ("seed", str(manifest["seed"])),
        *((f"{'Python' if name == 'python' else name}", str(v)) for name, v in manifest["environment"].items()),
    ]
    files = [(name, rows_, columns, digest) for name, rows_, columns, digest in study.files()]
    return Section(
        "repeat",
        "How to repeat it",
        (
            grid("Code, packages, kind of machine", ("item", "value"), rows, "manifest.json"),
            Text(
                "Install that code with its pinned packages. The manifest holds the whole spec in SI, not the study "
                "file "
                "itself. With the file, FILE, the command is:"
            ),
            Code(
                "python3 -m venv .venv\n"
                ".venv/bin/python -m pip install -r requirements.lock\n"
                ".venv/bin/python -m pip install --no-deps -e .\n"
                f".venv/bin/tipmech {'compare' if study.compares else study.kind} FILE --out again\n"
                ".venv/bin/tipmech report again"
            ),
            Text(
                "Without it, from the manifest alone (FOLDER: this study's folder); True says that it is the same "
                "study, and "
                "rows.parquet is then the same to the bit on processors of one kind:"
            ),
            Code(programme(study)),
            grid(
                "Files that this report was read from",
                ("file", "rows", "columns", "SHA-256, first 16 digits"),
                files,
                "the folder, when the report was written",
            ),
        ),
    )
