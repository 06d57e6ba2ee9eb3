"""Files for `tipmech curl`: a map's file with [curl], which says when the screen is read, and [imaging], how.

`check_*` reads and checks a file; `read_*` also finds the softness factor of every tip load, which runs the bench.
"""

from pathlib import Path
from typing import Annotated, Self

from pydantic import Field, model_validator

from ..insertion.case import Drive
from ..insertion.imaging import frame_count
from ..study.curl_tables import PREVALENCES, THRESHOLDS, Asked
from ..study.run_curl import CurlSpec
from ..study.spec import LONGEST_UNSUPPORTED, Bench
from .common import FieldError, Model, fail, named, read_toml
from .imaging import ImagingTable, looks_of
from .study import MM, check_study, spec_of
from .study_tables import LocalStudyTable, MapTables

ALLOWED = (
    "a [curl] table, which makes a file one for `tipmech curl` (an empty one takes its defaults; a map's file goes to "
    "`tipmech map`)"
)
Threshold = Annotated[float, Field(gt=0, le=10)]
Prevalence = Annotated[float, Field(gt=0, lt=1)]


class CurlTable(Model):
    """[curl]: when the screen is read, and what is worked out of it."""

    look_mm: float = Field(default=1.0, ge=0.1, le=10)
    foreshortened: float = Field(default=0.5, ge=0, le=1)
    thresholds: Annotated[tuple[Threshold, ...], Field(min_length=1, max_length=40)] = THRESHOLDS
    prevalences: Annotated[tuple[Prevalence, ...], Field(min_length=1, max_length=40)] = PREVALENCES

    @model_validator(mode="after")
    def _increasing(self) -> Self:
        for name in ("thresholds", "prevalences"):
            values = getattr(self, name)
            if any(b <= a for a, b in zip(values, values[1:], strict=False)):
                raise FieldError(name, list(values), "numbers, each larger than the one before")
        return self

    def asked(self) -> Asked:
        """What is worked out of the looks."""
        return Asked(self.thresholds, self.prevalences)


class CurlTables(MapTables):
    """A whole file of a study of what a seen curl tells."""

    curl: CurlTable
    imaging: ImagingTable = ImagingTable()

    @model_validator(mode="after")
    def _curl(self) -> Self:
        if self.wire.posterior is not None:
            raise FieldError("wire.posterior", self.wire.posterior, "left out: wires are taken by tip load")
        if self.curl.look_mm > self.advance_past_tear_mm:
            allowed = f"at most advance_past_tear_mm, {self.advance_past_tear_mm:g}"
            raise FieldError("curl.look_mm", self.curl.look_mm, allowed)
        imaging, _ = looks_of(self.imaging)
        way = max(min(LONGEST_UNSUPPORTED / MM, self.scene.tear_start_mm), self.curl.look_mm) + self.feed_extra_mm
        rate = Drive().rate if imaging.hand_rate is None else imaging.hand_rate
        try:
            frame_count(way * MM / rate, imaging)
        except FieldError as error:
            raise FieldError("imaging.frames_per_s", error.value, error.allowed) from None
        return self


def check_curl(path: str | Path) -> CurlTables:
    """Read and check a file, wire and geometry included, without running the bench.

    Raises
    ------
    InputError
        one sentence: file, field, value, what is allowed
    """
    if "curl" not in read_toml(path):
        fail(path, "curl", None, ALLOWED)
    return check_study(path, CurlTables)


def read_curl(path: str | Path, bench: Bench | None = None) -> CurlSpec:
    """Spec of a file; `bench` as for `read_map`."""
    tables = check_curl(path)
    study = spec_of(path, tables, bench, None, tables.presentation, tables.local or LocalStudyTable())
    imaging, detector = looks_of(tables.imaging)
    with named(path):
        return CurlSpec(study, imaging, detector, tables.curl.look_mm * MM, tables.curl.foreshortened)
