"""Tables of a case file as the user writes them: fields with unit, range and default. No conversion here.

Defaults marked (J) are proposed without data; docs/parameters.md lists them.
"""

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from ..checks import Said
from .common import FieldError, Model, Name
from .imaging import ImagingTable
from .policy import PolicyTable

CASE_SEEDS = 2**63  # seeds of a case
THINNEST, THICKEST = 0.02, 1.5  # mm, of intima and media
SHORTEST_PLANE, LONGEST_PLANE = 0.2, 100.0  # mm, of the false channel
Degrees = Annotated[float, Field(ge=-360, le=360)]


class WireTable(Model):
    """[wire]: which wire. One of `preset` and `file`; at most one of `tip_load_gf` and `softness`."""

    preset: Name | None = None
    file: Annotated[str, Field(min_length=1, max_length=400)] | None = None
    coupling: Literal["sliding", "bonded"] = "sliding"
    tip_load_gf: Annotated[float, Field(gt=0, le=60)] | None = None
    softness: Annotated[float, Field(gt=0, le=100)] = 1.0
    friction: Annotated[float, Field(ge=0, le=1)] | None = None
    static_ratio: float = Field(default=1.0, ge=1, le=3)

    @model_validator(mode="after")
    def _one_wire(self) -> Self:
        if (self.preset is None) == (self.file is None):
            raise FieldError("preset", self.preset, "exactly one of preset and file in [wire]")
        if self.tip_load_gf is not None and self.softness != 1.0:
            raise FieldError("softness", self.softness, "at most one of softness and tip_load_gf in [wire]")
        return self


class TipShapeTable(Model):
    """[tip_shape]: bend of the preshaped tip (no table: the design's own); roll 0 = toward azimuth 0."""

    bend_deg: float = Field(default=0.0, ge=0, le=180)
    bend_length_mm: float = Field(default=2.5, ge=0.3, le=20)
    roll_deg: Degrees = 0.0


BENDS = {
    "straight": (),
    "arc": ("bend_radius_mm", "bend_deg"),
    "s": ("bend_radius_mm", "bend_deg"),
    "helix": ("helix_radius_mm", "helix_pitch_mm", "helix_turns"),
    "points": ("points_file",),
}  # fields that each kind of centreline needs


class LineTable(Model):
    """Fields of a centreline and its lumen, in [vessel] of case files and [scene] of study files.

    `taper_mm_per_mm` is the change of the radius (< 0 = narrowing).
    """

    centreline: Literal["straight", "arc", "s", "helix", "points"] = "straight"
    lead_mm: float = Field(default=25.0, gt=0, le=300)
    tail_mm: float = Field(default=25.0, gt=0, le=300)
    bend_radius_mm: Annotated[float, Field(ge=2, le=500)] | None = None
    bend_deg: Annotated[float, Field(gt=0, le=180)] | None = None
    helix_radius_mm: Annotated[float, Field(ge=0.1, le=500)] | None = None
    helix_pitch_mm: Annotated[float, Field(ge=-500, le=500)] | None = None
    helix_turns: Annotated[float, Field(ge=0.05, le=20)] | None = None
    points_file: Annotated[str, Field(min_length=1, max_length=400)] | None = None
    smoothing_mm: Annotated[float, Field(ge=0, le=2)] | None = None
    lumen_diameter_mm: float = Field(default=3.0, ge=0.5, le=10)
    taper_mm_per_mm: float = Field(default=0.0, ge=-0.05, le=0.05)

    @model_validator(mode="after")
    def _bend(self) -> Self:
        needed, kind = BENDS[self.centreline], f'centreline = "{self.centreline}"'
        for name in dict.fromkeys(name for names in BENDS.values() for name in names):
            value = getattr(self, name)
            if value is not None and name in self.model_fields_set and name not in needed:
                raise FieldError(name, value, f"nothing here when {kind}")
            if value is None and name in needed:
                what = "a text" if name == "points_file" else "a number"
                raise FieldError(name, "missing", f"{what}, because {kind}")
        if self.smoothing_mm is not None and self.centreline != "points":
            raise FieldError("smoothing_mm", self.smoothing_mm, f"nothing here when {kind}")
        for name in ("lead_mm", "tail_mm"):
            if self.centreline == "points" and name in self.model_fields_set:
                raise FieldError(name, getattr(self, name), f"nothing here when {kind} (the points are the whole line)")
        return self


class VesselTable(LineTable):
    """[vessel]: centreline, lumen and wall."""

    wall_youngs_modulus_mpa: float = Field(default=0.6, ge=0.01, le=100)
    flap_thickness_mm: float = Field(default=0.35, ge=0.05, le=1.5)
    breach_toughness_j_m2: float = Field(default=600.0, ge=10, le=20000)


class NarrowingTable(Model):
    """[narrowing]: of the lumen, full between two places, with flanks before and behind."""

    from_mm: float = Field(ge=0, le=700)
    to_mm: float = Field(ge=0, le=700)
    flank_mm: float = Field(default=3.0, ge=0.5, le=50)
    diameter_stenosis_percent: float = Field(ge=1, le=90)


class LayersTable(Model):
    """[layers]: the wall as intima, media and adventitia, which takes what they leave of the wall's thickness.

    The plane of dissection runs in the media, `cleavage` of its thickness deep.
    """

    wall_mm: float = Field(default=0.84, ge=0.1, le=3)
    intima_mm: float = 0.24
    media_mm: float = 0.20
    cleavage: float = Field(default=0.5, ge=0, le=1)
    intima_youngs_modulus_mpa: float = Field(default=0.9, ge=0.01, le=100)
    media_youngs_modulus_mpa: float = Field(default=0.4, ge=0.01, le=100)
    adventitia_youngs_modulus_mpa: float = Field(default=0.8, ge=0.01, le=100)
    outer_breach_toughness_j_m2: float = Field(default=2000.0, ge=10, le=20000)

    @model_validator(mode="after")
    def _inside_the_wall(self) -> Self:
        wall = f"layers.wall_mm, {self.wall_mm:g}"
        for name, inside, room in (
            ("intima_mm", 0.0, wall),
            ("media_mm", self.intima_mm, f"{self.wall_mm - self.intima_mm:g}, what layers.intima_mm leaves of {wall}"),
        ):
            value = getattr(self, name)
            if inside + value >= self.wall_mm:
                raise FieldError(name, value, f"less than {room}, so that the layers are thinner than the wall")
            if not THINNEST <= value <= THICKEST:
                allowed = f"at least {THINNEST:g} and at most {THICKEST:g}, and with the other layers less than {wall}"
                raise FieldError(name, value, allowed)
        return self


class PlugTable(Model):
    """[plug]: what occludes the true lumen; it yields to an axial force and closes again behind a withdrawn wire."""

    from_mm: float = Field(ge=0, le=700)
    to_mm: float = Field(ge=0, le=700)
    force_mn: float = Field(gt=0, le=10000)


class TearTable(Model):
    """[tear]: the window in the intima and its lips (dimensioned in `tipmech advance`'s section drawing).

    An `intact` wall has no window; with `weak_toughness_j_m2` it opens where the window would be, pressed hard enough.
    """

    start_mm: float = Field(ge=0, le=700)
    length_mm: float = Field(default=2.0, ge=0.2, le=30)
    mouth_gap_mm: float = Field(default=0.25, ge=0, le=20)
    lip_radius_mm: float = Field(default=0.1, ge=0.02, le=0.5)
    half_width_mm: float = Field(default=1.0, ge=0.1, le=10)
    azimuth_deg: Degrees = 0.0
    free_lip: Literal["downstream", "upstream"] = "downstream"
    lip_length_mm: float = Field(default=1.0, ge=0.1, le=10)
    spiral_deg_mm: float = Field(default=0.0, ge=-30, le=30)
    intact: bool = False
    weak_toughness_j_m2: Annotated[float, Field(ge=0.1, le=20000)] | None = None

    @model_validator(mode="after")
    def _weak_where_intact(self) -> Self:
        if self.weak_toughness_j_m2 is not None and not self.intact:
            raise FieldError("weak_toughness_j_m2", self.weak_toughness_j_m2, "nothing here unless intact = true")
        return self


class FalseChannelTable(Model):
    """[false_channel]: the pocket behind the flap and its front. `front_force_mn` replaces G_c times width."""

    length_mm: float = 5.0
    room_mm: float = Field(default=2.0, ge=0.1, le=30)
    thickness_mm: float = Field(default=0.0, ge=0, le=20)
    fracture_energy_j_m2: float = Field(default=35.0, ge=0, le=5000)
    front_shape: Literal["notch", "flat"] = "notch"
    front_force_mn: Annotated[float, Field(ge=0, le=10000)] | None = None
    front_stiffness_n_m: float = Field(default=600.0, ge=10, le=100000)
    pressure_kpa: float = Field(default=0.0, ge=-20, le=20)
    front_friction: float = Field(default=0.2, ge=0, le=2)
    retrograde_mm: Annotated[float, Field(ge=1, le=100)] | None = None

    @model_validator(mode="after")
    def _downstream(self) -> Self:
        if not SHORTEST_PLANE <= self.length_mm <= LONGEST_PLANE:
            reach = f"at least {SHORTEST_PLANE:g} and at most {LONGEST_PLANE:g}, from the downstream lip to the front"
            allowed = f"{reach} (a plane upstream of the tear: false_channel.retrograde_mm)"
            raise FieldError("length_mm", self.length_mm, allowed)
        return self


class SupportTable(Model):
    """[support]: the support catheter. Its mouth lies `distance_mm` before the tear; None = see `read_case`."""

    distance_mm: Annotated[float, Field(ge=-1000, le=200)] | None = None
    tilt_deg: Annotated[float, Field(ge=0, le=90)] | None = None
    tilt_azimuth_deg: Degrees | None = None
    offset_mm: Annotated[tuple[float, float], Field()] | None = None
    inner_diameter_mm: float = Field(default=0.45, ge=0.1, le=3)
    friction: float = Field(default=0.04, ge=0, le=1)


class LocalTable(Model):
    """[local], only with start = "local": the support aims the tip at the upstream lip of the tear.

    With `free_length_mm` out of the support the tip stands `standoff_mm` before the lip at `angle_deg`.
    """

    angle_deg: float = Field(default=30.0, ge=0, le=90)
    free_length_mm: float = Field(default=2.5, ge=2, le=3)
    standoff_mm: float = Field(default=1.0, ge=0.2, le=5)


class ApproachTable(Model):
    """[approach], only with start = "approach": the wire lies along the vessel, its tip's end before the tear; the
    support, bent as the vessel is, ends behind the tip."""

    tip_before_tear_mm: float = Field(default=20.0, gt=0, le=300)
    support_behind_tip_mm: float = Field(default=10.0, ge=0, le=300)


class DriveTable(Model):
    """[drive]: the hand, a displacement through a series spring with a force cap."""

    stiffness_n_mm: float = Field(default=0.3, ge=0.01, le=10)
    force_cap_n: float = Field(default=0.3, ge=0.005, le=10)
    rate_mm_s: float = Field(default=1.0, ge=0.01, le=100)


class MoveTable(Model):
    """[[moves]]: exactly one of advance, withdraw and turn; turn_deg beside one of the others: turned meanwhile."""

    advance_mm: Annotated[float, Field(gt=0, le=300)] | None = None
    withdraw_mm: Annotated[float, Field(gt=0, le=300)] | None = None
    turn_deg: Annotated[float, Field(ge=-7200, le=7200)] | None = None

    @model_validator(mode="after")
    def _one_kind(self) -> Self:
        given = [k for k in ("advance_mm", "withdraw_mm", "turn_deg") if getattr(self, k) is not None]
        if not given or {"advance_mm", "withdraw_mm"} <= set(given):
            what = Said(f"a table with {' and '.join(given) or 'nothing'}")
            allowed = "exactly one of advance_mm, withdraw_mm and turn_deg (turn_deg also beside one of the others)"
            raise FieldError("", what, allowed)
        return self


class StopTable(Model):
    """[stop]: advance past the tear, and past the first curl (0: the run ends there; left out: it goes on); whether a
    pierced flap or weak spot ends the run (else the wire goes on through the hole); whether a longer plane does."""

    advance_past_tear_mm: float = Field(default=10.0, gt=0, le=200)
    advance_past_curl_mm: Annotated[float, Field(ge=0, le=200)] | None = None
    at_breach: bool = True
    at_extension: bool = False


class NumericsTable(Model):
    """[numerics]: settings that must not decide the outcome; leave them out unless you test that."""

    elements: int = Field(default=120, ge=20, le=1000)
    length_mm: float = Field(default=50.0, ge=5, le=400)
    longest_mm: Annotated[float, Field(ge=0.1, le=5)] | None = None
    spacing_mm: float = Field(default=0.06, ge=0.005, le=0.2)
    increment_mm: float = Field(default=0.1, ge=0.005, le=1)
    smoothing_um: float = Field(default=5.0, ge=0.5, le=20)
    slip_length_um: float = Field(default=5.0, ge=0.1, le=50)
    viscosity_n_s_m2: float = Field(default=2.0, ge=0.01, le=1000)
    imperfection: float = Field(default=2e-3, ge=0, le=0.05)
    tolerance: float = Field(default=1e-4, ge=1e-9, le=1e-2)


class SceneTables(Model):
    """The tables that describe the scene; shared by case files and study files."""

    start: Literal["lumen", "pocket", "local", "approach"] = "lumen"
    vessel: VesselTable = VesselTable()
    narrowing: NarrowingTable | None = None
    layers: LayersTable | None = None
    plug: PlugTable | None = None
    tear: TearTable
    false_channel: FalseChannelTable = FalseChannelTable()
    support: SupportTable = SupportTable()
    local: LocalTable | None = None
    approach: ApproachTable | None = None

    @model_validator(mode="after")
    def _layers_make_the_flap(self) -> Self:
        for name in ("flap_thickness_mm", "wall_youngs_modulus_mpa"):
            if self.layers is not None and name in self.vessel.model_fields_set:
                raise FieldError(f"vessel.{name}", getattr(self.vessel, name), "nothing here, because [layers] sets it")
        return self

    @model_validator(mode="after")
    def _support_by_start(self) -> Self:
        for name in ("local", "approach"):
            if self.start != name and getattr(self, name) is not None:
                raise FieldError(name, "given", f'a [{name}] table only with start = "{name}"')
        for name in ("distance_mm", "tilt_deg", "tilt_azimuth_deg", "offset_mm"):
            value = getattr(self.support, name)
            if self.start != "lumen" and value is not None:
                raise FieldError(f"support.{name}", value, f'nothing here, because start = "{self.start}" sets it')
        return self


class CaseTables(SceneTables):
    """A whole case file."""

    title: Annotated[str, Field(max_length=200)] = ""
    seed: int = Field(default=0, ge=0, lt=CASE_SEEDS)
    wire: WireTable
    tip_shape: TipShapeTable | None = None
    drive: DriveTable = DriveTable()
    moves: Annotated[tuple[MoveTable, ...], Field(min_length=1, max_length=200)]
    stop: StopTable = StopTable()
    numerics: NumericsTable = NumericsTable()
    imaging: ImagingTable = ImagingTable()
    policy: PolicyTable | None = None

    @model_validator(mode="after")
    def _push_below_the_cap(self) -> Self:
        if self.policy is not None:
            self.policy.check_pushes(self.drive.force_cap_n, "drive.force_cap_n")
        return self
