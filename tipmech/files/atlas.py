"""Files for `tipmech atlas`: a map's file with two tip loads and an [atlas] table of ranges.

`check_*` reads and checks a file; `read_*` also finds the softness factor of every tip load, which runs the bench.
"""

from pathlib import Path
from typing import Annotated, Self

from pydantic import Field, model_validator

from ..study.factors import PINNED, SHARED
from ..study.run_atlas import FEWEST_SITES, AtlasSpec, Range
from ..study.spec import Bench
from .common import FieldError, Model, fail, named, read_toml
from .factors import NAMES, check_level
from .study import check_study, spec_of
from .study_tables import LocalStudyTable, MapTables

ATLAS_ALLOWED = (
    "an [atlas] table, which makes a file one for `tipmech atlas` (a map's file goes to `tipmech map`, one with "
    "[comparison] to `tipmech compare`)"
)
AXES = tuple(edge for edge, (inner, _) in NAMES.items() if inner in {*SHARED, *PINNED} - {"front_shape", "pressure"})
"""Names of what may be an axis: factors whose values are above 0."""

Two = Annotated[tuple[float, float], Field()]


class AtlasTable(Model):
    """[atlas]: sites (a power of 2), ranges of its axes by name, level of its band, floor of a difference, margin
    within which entry or curl counts as unchanged."""

    sites: int = Field(default=256, ge=FEWEST_SITES, le=16384)
    level: float = Field(default=0.05, ge=0.001, le=0.2)
    floor: float = Field(default=0.02, ge=0, le=0.5)
    margin: float = Field(default=0.05, gt=0, le=0.5)
    ranges: dict[str, Two] = Field(json_schema_extra={"propertyNames": {"enum": list(AXES)}})

    @model_validator(mode="after")
    def _ranges(self) -> Self:
        if self.sites & (self.sites - 1):
            raise FieldError("sites", self.sites, "a power of 2: 64, 128, 256, ...")
        if len(self.ranges) < 2:
            raise FieldError("ranges", list(self.ranges), f"at least two of {', '.join(AXES)}")
        for name, (low, high) in self.ranges.items():
            if name not in AXES:
                raise FieldError("ranges", name, f"names among {', '.join(AXES)}")
            if not 0.0 < low < high:
                raise FieldError(f"ranges.{name}", [low, high], "two values above 0, the second greater")
            for end in (low, high):
                check_level(name, end, f"ranges.{name}")
        return self


class AtlasTables(MapTables):
    """A whole file of an atlas."""

    atlas: AtlasTable

    @model_validator(mode="after")
    def _atlas(self) -> Self:
        if self.wire.posterior is not None:
            raise FieldError("wire.posterior", self.wire.posterior, "left out: the two designs go by tip load")
        if len(self.tip_loads_gf or ()) != 2:
            raise FieldError("tip_loads_gf", list(self.tip_loads_gf or ()), "two tip loads, the softer first")
        for name in ("scrambles",):
            if name in self.model_fields_set:
                raise FieldError(name, getattr(self, name), "left out: every site is a scramble of its own")
        return self


def check_atlas(path: str | Path) -> AtlasTables:
    """Read and check a file of an atlas, wire and geometry included, without running the bench."""
    if "atlas" not in read_toml(path):
        fail(path, "atlas", None, ATLAS_ALLOWED)
    return check_study(path, AtlasTables)


def read_atlas(path: str | Path, bench: Bench | None = None) -> AtlasSpec:
    """Spec of a file of an atlas; `bench` as for `read_map`.

    Raises
    ------
    InputError
        one sentence: file, field, value, what is allowed
    """
    tables = check_atlas(path)
    study = spec_of(path, tables, bench, None, tables.presentation, tables.local or LocalStudyTable())
    a = tables.atlas
    ranges = tuple(Range(NAMES[n][0], low * NAMES[n][1], high * NAMES[n][1]) for n, (low, high) in a.ranges.items())
    with named(path):
        return AtlasSpec(study, ranges, a.sites, a.level, a.floor, a.margin)
