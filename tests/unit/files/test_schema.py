"""Schemas refuse what the checks refuse of single fields; the command that prints them."""

import json
import tomllib
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator
from typer.testing import CliRunner

from tipmech.cli import app
from tipmech.files.common import InputError, validate
from tipmech.files.schema import KINDS, schema_of

EXPERIMENTS = Path(__file__).parents[3] / "experiments"
run = CliRunner()

MISTAKES = {
    "unknown field": ("seed = 11", "sed = 11"),
    "out of range": ("scrambles = 16", "scrambles = 1"),
    "wrong type": ("scrambles = 16", "scrambles = 16.5"),
    "wrong word": ('outcome = "entered"', 'outcome = "enters"'),
    "missing": ("angles_deg = [25, 40, 55]\n", ""),
    "empty array": ("angles_deg = [25, 40, 55]", "angles_deg = []"),
    "name of a factor": ('name = "friction"', 'name = "colour"'),
}


@pytest.mark.parametrize("mistake", MISTAKES)
def test_the_schema_refuses_what_the_check_refuses(mistake: str) -> None:
    old, new = MISTAKES[mistake]
    text = (EXPERIMENTS / "compare" / "soft_tip.toml").read_text(encoding="utf-8")
    schema = Draft202012Validator(schema_of("compare"))
    assert schema.is_valid(tomllib.loads(text))
    assert old in text
    wrong = tomllib.loads(text.replace(old, new, 1))
    assert not schema.is_valid(wrong)
    with pytest.raises(InputError):
        validate("a.toml", wrong, KINDS["compare"])


def test_an_axis_of_an_atlas_is_one_of_those_named() -> None:
    tables = tomllib.loads((EXPERIMENTS / "atlas" / "softer.toml").read_text(encoding="utf-8"))
    schema = Draft202012Validator(schema_of("atlas"))
    assert schema.is_valid(tables)
    tables["atlas"]["ranges"]["colour"] = [1.0, 2.0]
    assert not schema.is_valid(tables)


def test_one_kind_is_printed() -> None:
    said = run.invoke(app, ["schema", "map"])
    assert said.exit_code == 0
    assert json.loads(said.output) == schema_of("map")


def test_all_kinds_go_into_a_folder_and_replace_nothing_unasked(tmp_path: Path) -> None:
    out = str(tmp_path / "s")
    assert run.invoke(app, ["schema", "--out", out]).exit_code == 0
    assert {path.stem for path in (tmp_path / "s").iterdir()} == set(KINDS)
    again = run.invoke(app, ["schema", "map", "--out", out])
    assert (again.exit_code, again.output.count("\n")) == (2, 1)
    assert "map.json" in again.output
    assert run.invoke(app, ["schema", "map", "--out", out, "--overwrite"]).exit_code == 0


@pytest.mark.parametrize("kinds", [[], ["maps"], ["map", "case"]])
def test_other_kinds_are_refused_in_one_sentence(kinds: list[str]) -> None:
    said = run.invoke(app, ["schema", *kinds])
    assert (said.exit_code, said.output.count("\n")) == (2, 1)
    assert said.output.startswith("KIND is ")
    assert "sensitivity" in said.output
