"""A case file: TOML in the user's units -> the SI scene and case, with the checks across fields.

Every mistake raises `InputError` with one sentence. The tables and their ranges are in scene_tables.py.
"""

from dataclasses import dataclass
from math import cos, radians
from pathlib import Path
from typing import Literal

from ..insertion.case import Case, Drive, Move, SecondTipBend, StopRules, TipShape
from ..insertion.imaging import Imaging
from ..insertion.policy import Policy
from ..insertion.seen import Detector
from ..profile import Profile
from ..vessel.aim import aimed_support, bore_fits
from ..vessel.layers import Layers
from ..vessel.path import Fit
from ..vessel.scene import Centreline, Lumen, Scene, Support, Tear
from ..wire.design import Coupling, Design, profile
from .centreline import centreline_of, fit_of_points
from .common import STUDY_FIELDS, FieldError, InputError, named, read_toml, validate
from .imaging import imaging_of
from .numerics import numerics_of
from .policy import PolicyTable
from .scene_checks import (
    angle_range,
    check_grip,
    check_moves,
    check_shape_modelled,
    check_support_fits,
    check_vessel,
    check_wire_bends,
    check_wire_fits,
)
from .scene_tables import ApproachTable, CaseTables, LocalTable, MoveTable, SceneTables
from .vessel import channel_of, layers_of, lumen_of, plug_of, tear_of, wall_of
from .wire import asked_wire

MM = 1e-3


@dataclass(frozen=True)
class CaseFile:
    """What a case file asked for.

    `case.profile` is the design's own profile with `softness` applied. When `tip_load_gf` is set, the caller still
    has to find the softness factor that gives this tip load (a bench run) and put the softened profile in.
    `through`: the line through the points of a vessel given by points, and how far off it they are. `layers`: the
    wall's, where the file gives them.
    """

    case: Case
    design: Design
    coupling: Coupling
    softness: float
    tip_load_gf: float | None
    start: str
    title: str
    source: Path
    imaging: Imaging
    detector: Detector
    policy: Policy | None
    through: Fit | None = None
    layers: Layers | None = None


def read_case(path: str | Path) -> CaseFile:
    """Read a case file and check it, alone and across fields.

    Raises
    ------
    InputError
        one sentence: file, field, value, what is allowed
    """
    tables = read_toml(path)
    if study := [name for name in STUDY_FIELDS if name in tables]:
        owners = {"comparison": "compare", "policy": "attempts", "ladder": "threshold"}
        owners |= {name: name for name in ("sensitivity", "atlas", "curl")}
        command = next((name for table, name in owners.items() if table in tables), "map")
        raise InputError(
            f"{path}: is a study file (it has {study[0]}), one for `tipmech {command}`; allowed: a case file"
        )
    return case_file(validate(path, tables, CaseTables), Path(path))


def case_file(tables: CaseTables, path: Path) -> CaseFile:
    """Case of tables already read from the file at `path` (or made as if from there), checked across fields.

    Raises
    ------
    InputError
        one sentence: file, field, value, what is allowed
    """
    wire = tables.wire
    design = asked_wire(path, wire.preset, wire.file)
    with named(path, "wire."):
        stock = profile(design, wire.coupling)
        stock = stock.softened(wire.softness) if wire.softness != 1.0 else stock
    with named(path, "vessel."):
        through = fit_of_points(tables.vessel, path) if tables.vessel.centreline == "points" else None
    with named(path):
        scene = scene_of(tables, path, through)
        shape = _tip_shape(tables, design)
        check_shape_modelled(tables, shape)
        check_wire_fits(scene, stock, shape)
        if tables.vessel.centreline in ("helix", "points"):
            check_wire_bends(scene, design, tables)
        check_moves(tables)
        check_grip(scene, stock, tables)
        case = _case(tables, scene, stock, shape)
        imaging, detector = imaging_of(tables.imaging, case)
    asked = (wire.coupling, wire.softness, wire.tip_load_gf, tables.start, tables.title)
    policy = None if tables.policy is None else _policy(tables.policy, case, path)
    return CaseFile(case, design, *asked, path, imaging, detector, policy, through, layers_of(tables))


def _policy(table: PolicyTable, case: Case, path: Path) -> Policy:
    """Policy in SI, whose rules the wire that the moves feed out can reach, and whose feed the tear."""
    fed = sum(m.amount if m.kind == "advance" else -m.amount for m in case.moves if m.kind != "turn")
    way = case.scene.tip_distance if case.scene.start == "approach" else case.scene.support.distance
    with named(path):
        table.check_feed(way)
        table.check_reach(round(fed - way, 9), "what [[moves]] advance less the way to the tear")
        return table.policy()


def _tip_shape(tables: CaseTables, design: Design) -> TipShape:
    """Tip shape of [tip_shape]; without that table the design's own bends, the first rolled toward azimuth 0."""
    table = tables.tip_shape
    if table is None:
        own = design.second_bend
        second = None if own is None else SecondTipBend(own.angle, own.length, own.distance, own.roll)
        return TipShape(design.bend.angle, design.bend.length, 0.0, second)
    return TipShape(radians(table.bend_deg), table.bend_length_mm * MM, radians(table.roll_deg))


def _case(tables: CaseTables, scene: Scene, stock: Profile, shape: TipShape) -> Case:
    """Case in SI of checked tables."""
    d = tables.drive
    friction = tables.wire.friction
    return Case(
        profile=stock,
        scene=scene,
        tip_shape=shape,
        friction=stock.friction if friction is None else friction,
        moves=tuple(_move(m) for m in tables.moves),
        static_ratio=tables.wire.static_ratio,
        drive=Drive(d.stiffness_n_mm / MM, d.force_cap_n, d.rate_mm_s * MM),
        stop=StopRules(
            tables.stop.advance_past_tear_mm * MM,
            None if tables.stop.advance_past_curl_mm is None else tables.stop.advance_past_curl_mm * MM,
            tables.stop.at_breach,
            tables.stop.at_extension,
        ),
        numerics=numerics_of(tables.numerics),
        seed=tables.seed,
    )


def _move(table: MoveTable) -> Move:
    """One move in SI."""
    turn = radians(table.turn_deg or 0.0)
    if table.advance_mm is not None:
        return Move("advance", table.advance_mm * MM, turn)
    if table.withdraw_mm is not None:
        return Move("withdraw", table.withdraw_mm * MM, turn)
    return Move("turn", turn)


def scene_of(tables: SceneTables, path: Path, through: Fit | None = None) -> Scene:
    """Scene in SI of the scene tables of the file at `path`, with the checks across fields (`FieldError`); through: the
    line through the points of its vessel, if that is known already."""
    wall, tear, channel = wall_of(tables), tear_of(tables), channel_of(tables)
    with named(path, "vessel."):
        centreline = centreline_of(tables.vessel, wall.flap_thickness, tear.start, path, through)
    lumen, plug = lumen_of(tables, centreline), plug_of(tables, centreline)
    check_vessel(centreline, lumen, wall, tear, channel)
    if plug is not None and channel.retrograde is not None:
        raise FieldError("false_channel.retrograde_mm", channel.retrograde / MM, "nothing here with a [plug]")
    support = _support(tables, centreline, lumen, tear)
    if tables.start == "approach":
        tip = (tables.approach or ApproachTable()).tip_before_tear_mm * MM
        return Scene(centreline, lumen, wall, tear, channel, support, "approach", tip, plug)
    if tables.start == "pocket" and tear.intact:
        raise FieldError("start", "pocket", '"lumen" with tear.intact = true: there is no false channel to start in')
    start: Literal["pocket", "lumen"] = "pocket" if tables.start == "pocket" else "lumen"
    return Scene(centreline, lumen, wall, tear, channel, support, start, plug=plug)


def _support(tables: SceneTables, line: Centreline, lumen: Lumen, tear: Tear) -> Support:
    """Support of the tables, by the way the insertion starts."""
    s = tables.support
    inner = s.inner_diameter_mm / 2 * MM
    if tables.start == "pocket":
        return Support(0.0, 0.0, tear.azimuth, (0.0, 0.0), inner, s.friction)
    if tables.start == "local":
        return _local_support(tables.local or LocalTable(), inner, s.friction, line, lumen, tear)
    if tables.start == "approach":
        return _support_behind_tip(tables.approach or ApproachTable(), inner, s.friction, lumen, tear)
    distance = 8.0 if s.distance_mm is None else s.distance_mm
    if not 0.0 < distance * MM <= tear.start:
        raise FieldError(
            "support.distance_mm",
            distance,
            f"greater than 0 (a support that ends before the tear) and at most tear.start_mm, {tear.start / MM:g}",
        )
    offset = s.offset_mm or (0.0, 0.0)
    tilt = radians(s.tilt_deg or 0.0)
    azimuth = tear.azimuth if s.tilt_azimuth_deg is None else radians(s.tilt_azimuth_deg)
    support = Support(distance * MM, tilt, azimuth, (offset[0] * MM, offset[1] * MM), inner, s.friction)
    check_support_fits(support, float(lumen.at(tear.start - distance * MM)))
    return support


def _support_behind_tip(table: ApproachTable, inner: float, friction: float, lumen: Lumen, tear: Tear) -> Support:
    """Support that follows the vessel and ends behind the tip of a wire laid along it."""
    if table.tip_before_tear_mm * MM > tear.start:
        allowed = f"at most tear.start_mm, {tear.start / MM:g}, so that the tip lies in the vessel"
        raise FieldError("approach.tip_before_tear_mm", table.tip_before_tear_mm, allowed)
    distance = (table.tip_before_tear_mm + table.support_behind_tip_mm) * MM
    if distance > tear.start:
        room = tear.start / MM - table.tip_before_tear_mm
        allowed = f"at most {room:g}, so that the support ends in the vessel"
        raise FieldError("approach.support_behind_tip_mm", table.support_behind_tip_mm, allowed)
    support = Support(distance, 0.0, 0.0, (0.0, 0.0), inner, friction, follows=True)
    check_support_fits(support, float(lumen.at(tear.start - distance)))
    return support


def _local_support(
    table: LocalTable, inner: float, friction: float, line: Centreline, lumen: Lumen, tear: Tear
) -> Support:
    """Support aimed at the upstream lip; its mouth, free length plus stand-off behind the lip, must lie in the lumen.

    The tip starts at the mouth; the first `free_length` of feed brings it, free of any wall, `standoff` before the lip.
    """
    reach = (table.free_length_mm + table.standoff_mm) * MM

    def aimed(angle: float) -> Support:
        return aimed_support(line, lumen, tear.start, tear.azimuth, angle, reach, inner, friction)

    def fits(angle: float) -> bool:
        return bore_fits(aimed(angle), lumen, tear.start)

    angle = radians(table.angle_deg)
    if reach * cos(angle) > tear.start:
        raise FieldError("tear.start_mm", tear.start / MM, f"at least {reach * cos(angle) / MM:.3f} with this [local]")
    if not fits(angle):
        raise FieldError("local.angle_deg", table.angle_deg, f"{angle_range(fits)} (what fits this lumen)")
    return aimed(angle)
