"""Tables of files for maps, thresholds and attempts as the user writes them: fields with unit, range and default.

Only lengths are turned to SI here, for the checks across fields; study.py makes the spec.
"""

from math import pi, radians
from typing import Annotated, Literal, Self

from pydantic import Field, PrivateAttr, ValidationInfo, model_validator

from ..study.spec import LONGEST_UNSUPPORTED, LONGEST_WINDOW, THICKEST_FLAP, BaseScene
from ..units import UNITS
from ..vessel.scene import Centreline, Lumen
from .centreline import centreline_of
from .common import FieldError, Model, Name
from .imaging import ImagingTable
from .policy import PolicyTable
from .scene_tables import LineTable, NumericsTable

MM = UNITS["mm"]
SEEDS, MOST_POINTS = 2**31, 4096  # seeds of a study, points of a scramble

TipLoad = Annotated[float, Field(ge=0.02, le=60)]
Angle = Annotated[float, Field(ge=0, le=90)]


class StudyWireTable(Model):
    """[wire]: the wire whose softness family is used; one of `preset` and `file`. friction: median, else the wire's.

    posterior: file of its calibration, whose `posterior_wires` equally likely wires are then the columns.
    """

    preset: Name | None = None
    file: Annotated[str, Field(min_length=1, max_length=400)] | None = None
    coupling: Literal["sliding", "bonded"] = "sliding"
    friction: Annotated[float, Field(ge=0.005, le=1)] | None = None
    bench_free_length_mm: float = Field(default=10.0, ge=3, le=20)
    posterior: Annotated[str, Field(min_length=1, max_length=400)] | None = None
    posterior_wires: Annotated[int, Field(ge=2, le=40)] | None = None

    @model_validator(mode="after")
    def _one_wire(self) -> Self:
        if self.posterior_wires is not None and self.posterior is None:
            raise FieldError("posterior_wires", self.posterior_wires, "left out where no posterior is named")
        if (self.preset is None) == (self.file is None):
            raise FieldError("preset", self.preset, "exactly one of preset and file in [wire]")
        return self


class StudySceneTable(LineTable):
    """[scene]: the vessel that every insertion of the study shares. Tissue values and the tear's size are sampled."""

    centreline: Literal["straight", "arc", "s", "helix", "points"] = "arc"
    lead_mm: float = Field(default=40.0, gt=0, le=300)
    bend_radius_mm: Annotated[float, Field(ge=5, le=500)] | None = 25.0
    bend_deg: Annotated[float, Field(gt=0, le=180)] | None = 60.0
    tail_mm: float = Field(default=20.0, gt=0, le=300)
    lumen_diameter_mm: float = Field(default=3.0, ge=1, le=10)
    taper_mm_per_mm: float = Field(default=-0.005, ge=-0.02, le=0.02)
    tear_start_mm: float = Field(default=45.0, ge=5, le=500)
    tear_azimuth_deg: float = Field(default=0.0, ge=-360, le=360)
    tear_half_width_mm: float = Field(default=1.0, ge=0.1, le=5)
    lip_length_mm: float = Field(default=1.0, ge=0.1, le=10)
    pocket_length_mm: float = Field(default=3.0, ge=0.5, le=50)
    support_inner_diameter_mm: float = Field(default=0.45, ge=0.1, le=2)
    support_outer_diameter_mm: float = Field(default=0.9, ge=0.2, le=3)
    support_friction: float = Field(default=0.04, ge=0, le=1)
    support_tilt_deg: float = Field(default=0.0, ge=0, le=60)
    _line: Centreline = PrivateAttr()

    @model_validator(mode="after")
    def _geometry(self, info: ValidationInfo) -> Self:
        file = (info.context or {}).get("path", "")
        self._line = centreline_of(self, THICKEST_FLAP, self.tear_start_mm * MM, file)
        length = self._line.length / MM
        end = self.lumen_diameter_mm + 2 * self.taper_mm_per_mm * length
        if end < 0.5:
            low = (0.5 - self.lumen_diameter_mm) / (2 * length)
            allowed = f"at least {low:.4f}, so that the vessel is 0.5 mm wide at its end"
            raise FieldError("taper_mm_per_mm", self.taper_mm_per_mm, allowed)
        if self.support_outer_diameter_mm <= self.support_inner_diameter_mm:
            allowed = f"greater than support_inner_diameter_mm, {self.support_inner_diameter_mm:g}"
            raise FieldError("support_outer_diameter_mm", self.support_outer_diameter_mm, allowed)
        if self.lip_length_mm > self.pocket_length_mm:
            allowed = f"at most pocket_length_mm, {self.pocket_length_mm:g}"
            raise FieldError("lip_length_mm", self.lip_length_mm, allowed)
        return self

    def check_at_tear(self) -> None:
        """Check support and tear against the lumen up to the tear, which must lie in the vessel."""
        at_tear = self.lumen_diameter_mm + 2 * self.taper_mm_per_mm * self.tear_start_mm
        narrow = min(at_tear, self.lumen_diameter_mm)
        if self.support_outer_diameter_mm >= narrow:
            allowed = f"less than the lumen's diameter up to the tear, {narrow:.3g}"
            raise FieldError("scene.support_outer_diameter_mm", self.support_outer_diameter_mm, allowed)
        quarter = pi * at_tear / 4
        if self.tear_half_width_mm > quarter:
            allowed = f"at most a quarter of the lumen's circumference at the tear, {quarter:.4g}"
            raise FieldError("scene.tear_half_width_mm", self.tear_half_width_mm, allowed)

    def line(self) -> Centreline:
        """Centreline, SI."""
        return self._line

    def scene(self) -> BaseScene:
        """The shared scene, SI."""
        return BaseScene(
            centreline=self.line(),
            lumen=Lumen(self.lumen_diameter_mm / 2 * MM, self.taper_mm_per_mm),
            tear_start=self.tear_start_mm * MM,
            tear_azimuth=radians(self.tear_azimuth_deg),
            half_width=self.tear_half_width_mm * MM,
            lip_length=self.lip_length_mm * MM,
            pocket_length=self.pocket_length_mm * MM,
            support_inner_radius=self.support_inner_diameter_mm / 2 * MM,
            support_outer_radius=self.support_outer_diameter_mm / 2 * MM,
            support_friction=self.support_friction,
            support_tilt=radians(self.support_tilt_deg),
        )


class SharedTable(Model):
    """[shared]: unknowns fixed for the whole study and printed on it."""

    fracture_energy_j_m2: float = Field(default=35.0, ge=0.1, le=1000)
    breach_toughness_j_m2: float = Field(default=600.0, ge=10, le=20000)
    force_cap_n: float = Field(default=0.3, ge=0.005, le=10)
    drive_stiffness_n_mm: float = Field(default=0.3, ge=0.01, le=10)
    front_shape: Literal["notch", "flat"] = "notch"
    front_friction: float = Field(default=0.2, ge=0, le=2)
    static_ratio: float = Field(default=1.0, ge=1, le=3)


class StudyTables(Model):
    """What map files and threshold files have in common."""

    title: Name = "study"
    tip_loads_gf: Annotated[tuple[TipLoad, ...], Field(min_length=1, max_length=40)] | None = None
    angles_deg: Annotated[tuple[Angle, ...], Field(min_length=1, max_length=40)]
    scrambles: int = Field(default=16, ge=2, le=1000)
    points_per_scramble: int = Field(default=2, ge=1, le=MOST_POINTS)
    seed: int = Field(default=1, ge=0, lt=SEEDS)
    workers: int = Field(default=2, ge=1, le=512)
    bend_length_mm: float = Field(default=2.5, ge=0.3, le=20)
    roll_half_range_deg: float = Field(default=180.0, ge=0, le=180)
    wire: StudyWireTable
    scene: StudySceneTable = StudySceneTable()
    shared: SharedTable = SharedTable()
    numerics: NumericsTable = NumericsTable()
    feed_extra_mm: float = Field(default=12.0, ge=1, le=100)
    advance_past_tear_mm: float = Field(default=10.0, ge=1, le=100)
    advance_past_curl_mm: float = Field(default=0.0, ge=0, le=100)

    @model_validator(mode="after")
    def _grid(self) -> Self:
        if self.tip_loads_gf is None and self.wire.posterior is None:
            raise FieldError("tip_loads_gf", None, "at least one tip load (or wire.posterior of a calibration)")
        if self.tip_loads_gf is not None and self.wire.posterior is not None:
            allowed = "left out with wire.posterior, whose wires are the columns (a tip load would undo its scale)"
            raise FieldError("tip_loads_gf", list(self.tip_loads_gf), allowed)
        for name in ("tip_loads_gf", "angles_deg"):
            values = getattr(self, name) or ()
            if any(b <= a for a, b in zip(values, values[1:], strict=False)):
                raise FieldError(name, list(values), "numbers, each larger than the one before")
        if self.points_per_scramble & (self.points_per_scramble - 1):
            raise FieldError("points_per_scramble", self.points_per_scramble, "a power of 2: 1, 2, 4, 8, ...")
        if self.angles_deg[0] < self.scene.support_tilt_deg:
            allowed = f"at least scene.support_tilt_deg, {self.scene.support_tilt_deg:g} (the bend makes the rest)"
            raise FieldError("angles_deg", self.angles_deg[0], allowed)
        return self

    @model_validator(mode="after")
    def _lengths(self) -> Self:
        scene, longest = self.scene, LONGEST_WINDOW / MM
        end = scene.line().length / MM
        last = end - longest - scene.pocket_length_mm - self.feed_extra_mm
        if scene.tear_start_mm > last:
            allowed = f"at most {last:.4g}, so that tear (to {longest:g} mm), pocket and feed fit a {end:.4g} mm vessel"
            raise FieldError("scene.tear_start_mm", scene.tear_start_mm, allowed)
        scene.check_at_tear()
        reach = max(min(LONGEST_UNSUPPORTED / MM, scene.tear_start_mm), longest + scene.pocket_length_mm)
        if self.numerics.length_mm < reach + self.feed_extra_mm:
            allowed = f"at least {reach + self.feed_extra_mm:.4g}, the longest feed of the study"
            raise FieldError("numerics.length_mm", self.numerics.length_mm, allowed)
        return self


class LocalStudyTable(Model):
    """[local], only with presentation = "local": the straight tip is aimed at the lip."""

    free_length_mm: float = Field(default=2.5, ge=2, le=3)
    standoff_mm: float = Field(default=1.0, ge=0.2, le=5)


class MapTables(StudyTables):
    """A whole map file."""

    presentation: Literal["approach", "local"] = "approach"
    local: LocalStudyTable | None = None

    @model_validator(mode="after")
    def _presentation(self) -> Self:
        if self.local is not None and self.presentation != "local":
            raise FieldError("local", "given", 'a [local] table only with presentation = "local"')
        return self


class LadderTable(Model):
    """[ladder]: front forces tried, over each case's scale 2 EI / Wc^2, and the final bracket's relative width."""

    low: float = Field(default=0.3, ge=0.01, le=1)
    high: float = Field(default=8.0, ge=2, le=100)
    count: int = Field(default=8, ge=8, le=40)
    tolerance: float = Field(default=0.02, ge=0.001, le=0.2)


class ThresholdTables(StudyTables):
    """A whole threshold file."""

    ladder: LadderTable


class AttemptsTables(MapTables):
    """A whole file of attempts: [policy] in place of what ends a single insertion, and [imaging], by which it sees."""

    policy: PolicyTable
    imaging: ImagingTable = ImagingTable()

    @model_validator(mode="after")
    def _policy(self) -> Self:
        if self.wire.posterior is not None:
            raise FieldError("wire.posterior", self.wire.posterior, "left out: attempts take their wires by tip load")
        check_policy(self, self.policy)
        return self


def check_policy(tables: MapTables, policy: PolicyTable) -> None:
    """Check that an operator's rules and ends fit a study: its wire there is, its hand's largest push, its way."""
    for name in ("advance_past_tear_mm", "advance_past_curl_mm"):
        if name in tables.model_fields_set:
            raise FieldError(name, getattr(tables, name), "nothing here: rules and [policy.stop] say when to stop")
    least = LONGEST_WINDOW / MM + policy.true_lumen_mm
    if tables.feed_extra_mm < least:
        allowed = f"at least {least:g}, so that the wire reaches policy.true_lumen_mm past the longest tear"
        raise FieldError("feed_extra_mm", tables.feed_extra_mm, allowed)
    policy.check_pushes(tables.shared.force_cap_n, "shared.force_cap_n")
    if tables.presentation == "local":  # else the way is drawn
        local = tables.local or LocalStudyTable()
        policy.check_feed((local.free_length_mm + local.standoff_mm) * MM)
    policy.check_reach(tables.feed_extra_mm * MM, "feed_extra_mm")
