"""Reading and writing a wire's construction as TOML: user units in, a `Design` in SI out.

A wire file, distances counted from the tip's end::

    name = "Example"                    # shown everywhere
    note = "invented"
    coupling = "sliding"                # or "bonded": which bound the simulation uses
    may_gap = false                     # true: stretches without core and ribbon are meant
    [tip]
    end = "dome"                        # or "flat", or "tapered" with length_mm and end_diameter_mm
    diameter_mm = 0.356
    corner_radius_mm = 0.178
    [surface]
    kind = "hydrophobic"                # bare, hydrophobic, hydrophilic; friction = ... overrides its median
    [bend]                              # optional preshape
    angle_deg = 30.0
    length_mm = 2.5
    [second_bend]                       # optional, behind the first
    angle_deg = 20.0
    length_mm = 3.0
    distance_mm = 8.0                   # of its distal end from the tip
    roll_deg = 0.0                      # about the wire's axis, from the first bend's plane; 180: the other way
    [[core]]                            # round, piecewise linear
    material = "steel_304"
    distance_mm = [0.0, 20.0, 300.0]
    diameter_mm = [0.05, 0.08, 0.34]

and `[[ribbon]]`, `[[strand]]`, `[[coil]]`, `[[jacket]]` as in the classes below, `[[material]]` as in material.py.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated, Any, Literal, get_args

from pydantic import Field

from ..checks import FieldError, InputError, Said, shown
from ..units import from_si, si_fields, suffix
from ..wire.design import Design
from ..wire.materials import MATERIALS, Material
from ..wire.parts import Coil, Jacket, Part, Ribbon, Strand, Taper
from ..wire.presets import PRESETS, preset_path
from ..wire.tip import Bend, SecondBend, Surface, Tip
from .common import Model, Name, fail, load, named
from .material import MaterialTable, material_fields, material_of

LONGEST = 4000.0  # mm, longer than any guidewire
LONGEST_TIP = 30.0  # mm, of a tapered end: longer ones are parts that taper
THICKEST = 2.0  # mm, beyond the largest guidewires (0.038 inch is 0.97 mm)


class TipTable(Model):
    """`[tip]`: the wire's end."""

    end: Literal["dome", "flat", "tapered"]
    diameter_mm: float = Field(ge=0.1, le=THICKEST)
    corner_radius_mm: float = Field(gt=0, le=THICKEST / 2)
    length_mm: float | None = Field(default=None, gt=0, le=LONGEST_TIP)
    end_diameter_mm: float | None = Field(default=None, gt=0, le=THICKEST)


class SurfaceTable(Model):
    """`[surface]`: its kind gives the median friction, unless stated."""

    kind: Literal["bare", "hydrophobic", "hydrophilic"]
    friction: float | None = Field(default=None, ge=0, le=1)


class BendTable(Model):
    """`[bend]`: preshape of the tip."""

    angle_deg: float = Field(ge=0, le=180)
    length_mm: float = Field(gt=0, le=30)


class SecondBendTable(Model):
    """`[second_bend]`: a bend behind the first, its plane rolled from the first one's."""

    angle_deg: float = Field(ge=0, le=180)
    length_mm: float = Field(gt=0, le=60)
    distance_mm: float = Field(ge=0, le=300)
    roll_deg: float = Field(default=0.0, ge=-360, le=360)


class CoreTable(Model):
    """`[[core]]`: round core, piecewise linear diameter; a step is two tables. `may_thin`: a waist or bulb is meant."""

    material: Name
    distance_mm: tuple[Annotated[float, Field(ge=0, le=LONGEST)], ...] = Field(min_length=2, max_length=100)
    diameter_mm: tuple[Annotated[float, Field(ge=0.005, le=THICKEST)], ...] = Field(min_length=2, max_length=100)
    may_thin: bool = False


class SpanTable(Model):
    """A part with constant data over a range of distance from the tip."""

    material: Name
    start_mm: float = Field(ge=0, le=LONGEST)
    end_mm: float = Field(gt=0, le=LONGEST)


class RibbonTable(SpanTable):
    """`[[ribbon]]`: flat core piece on the axis."""

    width_mm: float = Field(gt=0, le=THICKEST)
    thickness_mm: float = Field(ge=0.005, le=THICKEST)


class StrandTable(SpanTable):
    """`[[strand]]`: second strand of a twin-strand core."""

    wire_diameter_mm: float = Field(ge=0.005, le=THICKEST)
    pitch_mm: float = Field(gt=0, le=100)
    offset_mm: float = Field(gt=0, le=THICKEST)
    hand: Literal["right", "left"] = "right"


class CoilTable(SpanTable):
    """`[[coil]]`: pitch = axial length of one turn of one filar."""

    wire_diameter_mm: float = Field(ge=0.005, le=THICKEST)
    mean_diameter_mm: float = Field(gt=0, le=THICKEST)
    mean_diameter_end_mm: float | None = Field(default=None, gt=0, le=THICKEST)
    pitch_mm: float = Field(gt=0, le=20)
    filars: int = Field(default=1, ge=1, le=24)
    hand: Literal["right", "left"] = "right"
    initial_tension_mN: float = Field(default=0.0, ge=0, le=10000)


class JacketTable(SpanTable):
    """`[[jacket]]`: polymer tube."""

    outer_diameter_mm: float = Field(gt=0, le=THICKEST)
    inner_diameter_mm: float = Field(gt=0, le=THICKEST)
    outer_diameter_end_mm: float | None = Field(default=None, gt=0, le=THICKEST)


class WireFile(Model):
    """A whole wire file."""

    name: Name
    note: str = Field(default="", max_length=400)
    coupling: Literal["sliding", "bonded"] = "sliding"
    may_gap: bool = False
    tip: TipTable
    surface: SurfaceTable
    bend: BendTable | None = None
    second_bend: SecondBendTable | None = None
    core: tuple[CoreTable, ...] = Field(default=(), max_length=20)
    ribbon: tuple[RibbonTable, ...] = Field(default=(), max_length=20)
    strand: tuple[StrandTable, ...] = Field(default=(), max_length=20)
    coil: tuple[CoilTable, ...] = Field(default=(), max_length=20)
    jacket: tuple[JacketTable, ...] = Field(default=(), max_length=20)
    material: tuple[MaterialTable, ...] = Field(default=(), max_length=20)


KINDS: dict[str, type[Part]] = {"core": Taper, "ribbon": Ribbon, "strand": Strand, "coil": Coil, "jacket": Jacket}
PLURALS = {"distance": "distances", "diameter": "diameters"}  # arrays in a file -> fields of Taper


def read_wire(source: str | Path) -> Design:
    """Wire design from a preset's name or from a TOML file.

    Raises
    ------
    InputError
        one sentence naming file, field, value and what is allowed
    """
    if str(source) in PRESETS:
        source = preset_path(str(source))
    elif not Path(source).exists() and Path(source).suffix == "":
        raise InputError(f"wire is '{source}'; allowed: the path of a TOML file, or one of {', '.join(PRESETS)}")
    return design_of(source, load(source, WireFile))


def asked_wire(path: str | Path, preset: str | None, file: str | None, table: str = "wire") -> Design:
    """Wire design that [wire], or another table, of the file `path` asks for; mistakes name that file and the field.

    A wire file's path counts from the folder of the file that names it.
    """
    if preset is not None:
        if preset not in PRESETS:
            fail(path, f"{table}.preset", preset, f"one of {', '.join(PRESETS)}")
        return read_wire(preset)
    source = Path(path).parent / str(file)
    if not source.is_file():
        fail(
            path,
            f"{table}.file",
            file,
            f"the path of a wire file, from this file's folder (there is no such file: {source})",
        )
    try:
        return design_of(source, load(source, WireFile))
    except InputError as error:
        raise InputError(f"{path}: field '{table}.file' is {shown(file)}: {error}") from None


def design_of(path: str | Path, table: WireFile) -> Design:
    """Design in SI from a checked wire file; `path` only names the file in messages."""
    materials = dict(MATERIALS)
    for i, own in enumerate(table.material):
        with _translated(path, f"material[{i + 1}]"):
            if own.name in materials:
                raise FieldError("name", own.name, "a name that neither a shipped nor another [[material]] has")
            materials[own.name] = material_of(own)
    parts: list[Part] = []
    for key, kind in KINDS.items():
        for i, row in enumerate(getattr(table, key)):
            parts.append(_part(path, f"{key}[{i + 1}]", kind, row, materials))
    with _translated(path, "tip"):
        tip = Tip(**si_fields(table.tip.model_dump()))
    bend = Bend(**si_fields(table.bend.model_dump())) if table.bend else Bend()
    second = SecondBend(**si_fields(table.second_bend.model_dump())) if table.second_bend else None
    surface = Surface(**table.surface.model_dump())
    with _translated(path, ""):
        return Design(table.name, tuple(parts), tip, surface, table.coupling, bend, table.note, second, table.may_gap)


def _part(path: str | Path, place: str, kind: type[Part], row: Any, materials: dict[str, Material]) -> Part:
    """One part in SI."""
    values = si_fields(row.model_dump())
    if values["material"] not in materials:
        fail(
            path,
            f"{place}.material",
            values["material"],
            f"one of {', '.join(materials)}, or a [[material]] of this file",
        )
    values["material"] = materials[values["material"]]
    if kind is Taper:
        values = {PLURALS.get(key, key): value for key, value in values.items()}
    with _translated(path, place):
        try:
            return kind(**values)
        except FieldError as error:
            name = next((raw for raw in row.model_dump() if _bare(raw) == error.field), error.field)
            value = getattr(row, name, error.value)
            if isinstance(value, tuple) and isinstance(error.value, Said):
                value = error.value  # which number of a list it is, in words
            raise FieldError(name, value, error.allowed) from None


def _bare(raw: str) -> str:
    """A field's name without its unit."""
    unit = suffix(raw)
    return raw if unit is None else raw[: -len(unit) - 1]


@contextmanager
def _translated(path: str | Path, place: str) -> Iterator[None]:
    """`named`, with mistakes found in SI under the fields' names in a file, `place` in front."""
    with named(path):
        try:
            yield
        except FieldError as error:
            field = f"{place}.{error.field}" if place else error.field
            raise FieldError(_filed(field), error.value, error.allowed) from None


def _filed(field: str) -> str:
    """A field of a design as its file has it: 'coil 2.mean_diameter' -> 'coil[2].mean_diameter_mm'."""
    table, _, name = field.partition(".")
    word, _, number = table.replace("[", " ").rstrip("]").partition(" ")
    where = f"{word}[{number}]" if number else word
    info = WireFile.model_fields.get(word)
    model = None if info is None else next((m for m in _models(info.annotation)), None)
    if not name or model is None:
        return f"{where}.{name}" if name else where
    raw = {_bare(key): key for key in reversed(model.model_fields)}
    if model is CoreTable:
        raw |= {"start": raw["distance"], "end": raw["distance"]}
    return f"{where}.{raw.get(name, name)}"


def _models(annotation: Any) -> Iterator[type[Model]]:
    """Tables named in a field's type."""
    if isinstance(annotation, type) and issubclass(annotation, Model):
        yield annotation
    for inner in get_args(annotation):
        yield from _models(inner)


def write_wire(design: Design, path: str | Path) -> None:
    """Write a design as a wire file that `read_wire` reads back to the same design.

    Raises
    ------
    InputError
        when the file exists already
    """
    lines = [f"name = {_toml(design.name)}", f"note = {_toml(design.note)}", f"coupling = {_toml(design.coupling)}"]
    lines += ["may_gap = true"] if design.may_gap else []
    lines += _table(
        "[tip]",
        end=design.tip.end,
        diameter_mm=design.tip.diameter,
        corner_radius_mm=design.tip.corner_radius,
        length_mm=design.tip.length,
        end_diameter_mm=design.tip.end_diameter,
    )
    lines += _table("[surface]", kind=design.surface.kind, friction=design.surface.friction)
    if design.bend.angle > 0.0:
        lines += _table("[bend]", angle_deg=design.bend.angle, length_mm=design.bend.length)
    if (second := design.second_bend) is not None:
        lines += _table(
            "[second_bend]",
            angle_deg=second.angle,
            length_mm=second.length,
            distance_mm=second.distance,
            roll_deg=second.roll,
        )
    used = {part.material.name: part.material for part in design.parts}
    for own in used.values():
        if MATERIALS.get(own.name) != own:
            lines += _table("[[material]]", **material_fields(own))
    for part in design.parts:
        lines += _part_lines(part)
    try:
        with Path(path).open("x", encoding="utf-8") as file:
            file.write("\n".join(lines) + "\n")
    except FileExistsError:
        raise InputError(f"{path}: this file exists; allowed: a path that is free") from None
    except OSError as error:
        raise InputError(
            f"{path}: cannot be written ({error.strerror}); allowed: a path in a writable folder"
        ) from None


def _part_lines(part: Part) -> list[str]:
    """Lines of one part."""
    key = next(k for k, kind in KINDS.items() if isinstance(part, kind))
    if isinstance(part, Taper):
        thin = True if part.may_thin else None
        return _table(
            "[[core]]",
            material=part.material.name,
            distance_mm=part.distances,
            diameter_mm=part.diameters,
            may_thin=thin,
        )
    values = {name: value for name, value in vars(part).items() if name != "material"}
    tension = values.pop("initial_tension", 0.0)
    lengths = {name if isinstance(value, int | str) else f"{name}_mm": value for name, value in values.items()}
    return _table(f"[[{key}]]", material=part.material.name, **lengths, initial_tension_mN=tension or None)


def _table(header: str, **fields: Any) -> list[str]:
    """Lines of one table; fields with a unit's suffix are converted to it, None is left out."""
    lines = ["", header]
    for name, value in fields.items():
        if value is not None:
            lines.append(f"{name} = {_toml(_user(name, value))}")
    return lines


def _user(name: str, value: Any) -> Any:
    """Value in the unit of the field's suffix, rounded to 12 digits so that 0.05 stays 0.05."""
    factors = {
        "_mm": "mm", "_mN": "mN", "_deg": "deg", "_GPa": "GPa", "_MPa": "MPa", "_percent": "percent",
        "_cm3": "g_per_cm3",
    }  # fmt: skip
    unit = next((u for end, u in factors.items() if name.endswith(end)), None)
    if unit is None:
        return value
    if isinstance(value, tuple):
        return [_user(name, v) for v in value]
    return float(f"{from_si(value, unit):.12g}")


def _toml(value: Any) -> str:
    """A TOML value."""
    if isinstance(value, str):
        escaped = value.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n").replace("\t", "\\t")
        return f'"{escaped}"'
    if isinstance(value, list):
        return f"[{', '.join(_toml(v) for v in value)}]"
    if isinstance(value, bool):
        return str(value).lower()
    return repr(value)


__all__ = ["FieldError", "WireFile", "asked_wire", "design_of", "read_wire", "write_wire"]
