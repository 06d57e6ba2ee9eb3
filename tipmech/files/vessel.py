"""The parts of a vessel from the tables of a case file, in SI; how they fit together is checked in scene_checks."""

from math import radians

from ..checks import mm
from ..vessel.layers import Layer, Layers, dissected
from ..vessel.scene import Centreline, FalseChannel, Lumen, Narrowing, Plug, Tear, Wall
from .common import FieldError
from .scene_tables import SceneTables

MM = 1e-3


def wall_of(tables: SceneTables) -> Wall:
    """Wall of [vessel], or of [layers]."""
    v, t = tables.vessel, tables.layers
    layers = layers_of(tables)
    if t is None or layers is None:
        return Wall(v.wall_youngs_modulus_mpa * 1e6, v.flap_thickness_mm * MM, v.breach_toughness_j_m2)
    return dissected(layers, v.breach_toughness_j_m2, t.outer_breach_toughness_j_m2)


def layers_of(tables: SceneTables) -> Layers | None:
    """Layers of [layers]; None: there is no such table."""
    t = tables.layers
    if t is None:
        return None
    rest = t.wall_mm - t.intima_mm - t.media_mm
    return Layers(
        Layer(t.intima_mm * MM, t.intima_youngs_modulus_mpa * 1e6),
        Layer(t.media_mm * MM, t.media_youngs_modulus_mpa * 1e6),
        Layer(rest * MM, t.adventitia_youngs_modulus_mpa * 1e6),
        t.cleavage,
    )


def lumen_of(tables: SceneTables, line: Centreline) -> Lumen:
    """Lumen of [vessel] with its [narrowing]."""
    v, n = tables.vessel, tables.narrowing
    even = Lumen(v.lumen_diameter_mm / 2 * MM, v.taper_mm_per_mm)
    if n is None:
        return even
    _check_stretch("narrowing", n.from_mm, n.to_mm, line)
    middle = float(even.at(0.5 * (n.from_mm + n.to_mm) * MM))
    depth = n.diameter_stenosis_percent / 100.0 * middle
    return Lumen(even.radius, even.taper, Narrowing(n.from_mm * MM, n.to_mm * MM, n.flank_mm * MM, depth))


def plug_of(tables: SceneTables, line: Centreline) -> Plug | None:
    """Plug of [plug]."""
    p = tables.plug
    if p is None:
        return None
    _check_stretch("plug", p.from_mm, p.to_mm, line)
    return Plug(p.from_mm * MM, p.to_mm * MM, p.force_mn * 1e-3)


def _check_stretch(table: str, first: float, last: float, line: Centreline) -> None:
    """Check that a stretch of the vessel, mm, has a length and lies in it."""
    if last <= first:
        raise FieldError(f"{table}.to_mm", last, f"greater than {table}.from_mm, {first:g}")
    if last * MM > line.length:
        raise FieldError(f"{table}.to_mm", last, f"at most the vessel's length, {mm(line.length)}")


def tear_of(tables: SceneTables) -> Tear:
    """Window and lips of [tear]."""
    t = tables.tear
    return Tear(
        start=t.start_mm * MM,
        length=t.length_mm * MM,
        gap=t.mouth_gap_mm * MM,
        lip_radius=t.lip_radius_mm * MM,
        half_width=t.half_width_mm * MM,
        azimuth=radians(t.azimuth_deg),
        free_lip=t.free_lip,
        lip_length=t.lip_length_mm * MM,
        spiral=radians(t.spiral_deg_mm) / MM,
        intact=t.intact,
        weak_toughness=t.weak_toughness_j_m2,
    )


def channel_of(tables: SceneTables) -> FalseChannel:
    """Plane and front of [false_channel]."""
    f = tables.false_channel
    return FalseChannel(
        length=f.length_mm * MM,
        room=f.room_mm * MM,
        thickness=f.thickness_mm * MM,
        fracture_energy=f.fracture_energy_j_m2,
        front_shape=f.front_shape,
        front_force=None if f.front_force_mn is None else f.front_force_mn * 1e-3,
        front_stiffness=f.front_stiffness_n_m,
        pressure=f.pressure_kpa * 1e3,
        front_friction=f.front_friction,
        retrograde=None if f.retrograde_mm is None else f.retrograde_mm * MM,
    )
