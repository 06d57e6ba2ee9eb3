"""JSON Schemas of the files that users write, made from the tables that check them; docs/schemas/ holds them.

A schema knows fields, types, ranges and words. What hangs on several fields, on the wire or on another file only the
check of the command knows (`--check`).
"""

from collections.abc import Sequence
from typing import Any

from pydantic.json_schema import GenerateJsonSchema, JsonSchemaMode, JsonSchemaValue
from pydantic_core import CoreSchema, core_schema

from ..checks import InputError
from .atlas import AtlasTables
from .calibration import CalibrationTables
from .common import Model
from .compare import CompareTables
from .curl import CurlTables
from .design_task import DesignFile
from .scene_tables import CaseTables
from .sensitivity import SensitivityTables
from .study_tables import AttemptsTables, MapTables, ThresholdTables
from .wire import WireFile

KINDS: dict[str, type[Model]] = {
    "map": MapTables,
    "threshold": ThresholdTables,
    "attempts": AttemptsTables,
    "compare": CompareTables,
    "atlas": AtlasTables,
    "sensitivity": SensitivityTables,
    "curl": CurlTables,
    "case": CaseTables,
    "wire": WireFile,
    "calibration": CalibrationTables,
    "design": DesignFile,
}
"""Kinds of files and the tables of each."""


class _ForTOML(GenerateJsonSchema):
    """JSON Schema of a TOML file: no null, for a field is there or left out; no titles made up from fields' names."""

    def generate(self, schema: CoreSchema, mode: JsonSchemaMode = "validation") -> JsonSchemaValue:
        return {"$schema": self.schema_dialect, **super().generate(schema, mode)}

    def nullable_schema(self, schema: core_schema.NullableSchema) -> JsonSchemaValue:
        return self.generate_inner(schema["schema"])

    def default_schema(self, schema: core_schema.WithDefaultSchema) -> JsonSchemaValue:
        found = super().default_schema(schema)
        if _tables_or_nothing(found.get("default")):
            found.pop("default", None)
        return found

    def field_title_should_be_set(self, schema: Any) -> bool:
        return False


def _tables_or_nothing(default: Any) -> bool:
    """Whether a default is no value of a file: none, or one of tables, each field of which tells its own."""
    first = default[0] if isinstance(default, list) and default else default
    return default is None or isinstance(first, dict)


def check_kinds(kinds: Sequence[str]) -> None:
    """Refuse a kind of file that there is not."""
    for kind in kinds:
        if kind not in KINDS:
            raise InputError(f"KIND is '{kind}'; allowed: {', '.join(KINDS)}")


def schema_of(kind: str) -> dict[str, Any]:
    """JSON Schema of a kind of file, one of `KINDS`."""
    return KINDS[kind].model_json_schema(schema_generator=_ForTOML) | {"title": f"{kind} file of tipmech"}
