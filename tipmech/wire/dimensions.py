"""Dimensions of a design by plain names ("coil 1 pitch", "core 1 diameter at 0 mm"), and a design with some changed.

Every number of a wire file is one; names follow `Design.named_parts`. Changes are differences from the design they
are applied to, so that several add up in any order. SI units.

Some things follow a change instead of breaking the wire:

- "core 1 diameter" (no station) moves every diameter of that core by the same amount, as a grinder's offset does;
- what ends and begins at one place is a joint and moves as one, whichever part of it is named, else it would become
  a gap or an overlap; only the first end there is listed. Two of its names at once move each by its own value;
- a tip as wide as the wire stays as wide as the wire; the corner radius of its face stays in proportion to that face,
  whose diameter is the tip's own, or the `end_diameter` of a tapered tip: the wide end of a cone moves alone.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np

from ..checks import FieldError, Said, mm
from .design import FIT, SEAM, Design
from .parts import Coil, Jacket, Part, Ribbon, Strand, Taper
from .tip import Tip

FIELDS: dict[type[Part], tuple[str, ...]] = {
    Ribbon: ("width", "thickness", "start", "end"),
    Strand: ("wire_diameter", "pitch", "offset", "start", "end"),
    Coil: ("wire_diameter", "mean_diameter", "mean_diameter_end", "pitch", "start", "end"),
    Jacket: ("outer_diameter", "outer_diameter_end", "inner_diameter", "start", "end"),
}
"""Lengths of each kind of part, as its fields; a core (Taper) has stations instead."""
BENDS = ("bend", "second_bend")  # places of the preshape, which searches and sensitivities keep as it is
TIP_END = np.array([0.0, 1e-3])  # m, stations whose outer radius a tip may not exceed: as Design checks it


@dataclass(frozen=True)
class Dimension:
    """One dimension of a design.

    Parameters
    ----------
    name : str
        plain name, unique in its design
    place : str
        part as in `Design.named_parts`, or "tip", "bend", "second_bend"
    field : str
        field of the part; "diameters" or "distances" for a core
    index : int or None
        station of a core; None: all diameters of a core, or a field without stations
    value : float
        in the design it was listed from, m (rad for angles); a core's distal diameter for all of them
    angle : bool
        whether it is an angle: all others are lengths
    """

    name: str
    place: str
    field: str
    index: int | None
    value: float
    angle: bool = False

    @property
    def unit(self) -> str:
        """Users' unit: key of `units.UNITS`."""
        return "deg" if self.angle else "mm"


def dimensions(design: Design) -> dict[str, Dimension]:
    """Dimensions of a design by name, in the order of its parts, then tip and bend; one for each joint of parts."""
    doubles = {d.name for joint in _joints(design) for d in joint[1:]}
    return {name: d for name, d in _named(design).items() if name not in doubles}


def _named(design: Design) -> dict[str, Dimension]:
    """All dimensions, those that are another name of a joint included."""
    found: list[Dimension] = []
    for place, part in design.named_parts():
        found += _core(place, part) if isinstance(part, Taper) else _fields(place, part, FIELDS[type(part)])
    found += _fields("tip", design.tip, ("diameter", "corner_radius", "length", "end_diameter"))
    if design.bend.angle > 0.0:
        found.append(Dimension("bend angle", "bend", "angle", None, design.bend.angle, angle=True))
        found += _fields("bend", design.bend, ("length",))
    if design.second_bend is not None:
        for field in ("angle", "roll"):
            value = getattr(design.second_bend, field)
            found.append(Dimension(f"second_bend {field}", "second_bend", field, None, value, angle=True))
        found += _fields("second_bend", design.second_bend, ("length", "distance"))
    return {d.name: d for d in found}


def find_dimension(design: Design, name: str) -> Dimension:
    """Dimension of this name; any end or start at a joint is a name of it.

    Raises
    ------
    FieldError
        naming those that there are
    """
    known = _named(design)
    if name not in known:
        raise FieldError("dimension", name, f"one of {', '.join(dimensions(design))}")
    return known[name]


def same_dimension(design: Design, dimension: Dimension) -> Dimension:
    """The same dimension in another design of the same parts, where a station's name may differ."""
    place = (dimension.place, dimension.field, dimension.index)
    return next(d for d in _named(design).values() if (d.place, d.field, d.index) == place)


def changed(design: Design, values: Mapping[str, float]) -> Design:
    """Design with the named dimensions at new values (m; rad for angles).

    Raises
    ------
    FieldError
        on an unknown name, or when a part is impossible or the parts no longer fit each other
    """
    known = {name: find_dimension(design, name) for name in values}
    steps = {name: (known[name], value - known[name].value) for name, value in values.items()}
    per_part: dict[str, list[tuple[Dimension, float]]] = {}
    for dimension, step in steps.values():
        per_part.setdefault(dimension.place, []).append((dimension, step))
    _follow(design, per_part)
    parts = tuple(_moved(place, part, per_part.get(place, [])) for place, part in design.named_parts())
    tip, bend, second = design.tip, design.bend, design.second_bend
    if "tip" in per_part:
        fields = {d.field: d.value + step for d, step in per_part["tip"]}
        tip = _refaced(tip, fields.get("diameter", tip.diameter), fields.get("end_diameter", tip.end_diameter))
        tip = replace(
            tip, corner_radius=fields.get("corner_radius", tip.corner_radius), length=fields.get("length", tip.length)
        )
    if "bend" in per_part:
        bend = replace(bend, **{d.field: d.value + step for d, step in per_part["bend"]})
    if second is not None and "second_bend" in per_part:
        second = replace(second, **{d.field: d.value + step for d, step in per_part["second_bend"]})
    return replace(design, parts=parts, tip=_fitted_tip(design, parts, tip), bend=bend, second_bend=second)


def _refaced(tip: Tip, diameter: float, end_diameter: float | None) -> Tip:
    """A tip of other diameters (m), the corner of its face in proportion to the face."""
    before, now = tip.end_diameter or tip.diameter, end_diameter or diameter
    share = tip.corner_radius / before  # 1/2 of a dome exactly, so that it stays one
    return replace(tip, diameter=diameter, corner_radius=share * now, end_diameter=end_diameter)


def _core(place: str, core: Taper) -> list[Dimension]:
    """Dimensions of a core: its diameters together, each alone, its stations."""
    found = [Dimension(f"{place} diameter", place, "diameters", None, core.diameters[0])]
    for i, (s, d) in enumerate(zip(core.distances, core.diameters, strict=True)):
        found.append(Dimension(f"{place} diameter at {s * 1e3:g} mm", place, "diameters", i, d))
    for i, s in enumerate(core.distances):
        last = i == len(core.distances) - 1
        word = "start" if i == 0 else "end" if last else f"station at {s * 1e3:g} mm"
        found.append(Dimension(f"{place} {word}", place, "distances", i, s))
    return found


def _fields(place: str, thing: Any, names: tuple[str, ...]) -> list[Dimension]:
    """Dimensions that are fields; those left out (None) have none."""
    values = [(name, getattr(thing, name)) for name in names]
    return [Dimension(f"{place} {name}", place, name, None, value) for name, value in values if value is not None]


def _joints(design: Design) -> list[list[Dimension]]:
    """Places where some parts end and others begin: all ends and starts there, the ends first."""
    parts = design.named_parts()
    ends, starts = [_edge(place, part, -1) for place, part in parts], [_edge(place, part, 0) for place, part in parts]
    found: list[list[Dimension]] = []
    for end in ends:
        if any(end in joint for joint in found):
            continue
        here = [[d for d in edges if abs(d.value - end.value) <= SEAM] for edges in (ends, starts)]
        if here[1]:
            found.append([*here[0], *here[1]])
    return found


def _follow(design: Design, steps: dict[str, list[tuple[Dimension, float]]]) -> None:
    """Add to `steps` the ends and starts that move with another of their joint; those named do not follow."""
    for joint in _joints(design):
        moved = [(d, step) for d in joint for own, step in steps.get(d.place, []) if _same(own, d)]
        if moved:
            named = [d for d, _ in moved]
            for d in joint:
                if d not in named:
                    steps.setdefault(d.place, []).append((d, moved[0][1]))


def _same(one: Dimension, other: Dimension) -> bool:
    return (one.place, one.field, one.index) == (other.place, other.field, other.index)


def _edge(place: str, part: Part, index: Literal[0, -1]) -> Dimension:
    """Distal (0) or proximal (-1) end of a part as a dimension."""
    word, value = ("start", part.start) if index == 0 else ("end", part.end)
    if isinstance(part, Taper):
        return Dimension(f"{place} {word}", place, "distances", index % len(part.distances), value)
    return Dimension(f"{place} {word}", place, word, None, value)


def _moved(place: str, part: Part, steps: list[tuple[Dimension, float]]) -> Part:
    """A part with its dimensions moved; a mistake is named by the part."""
    if not steps:
        return part
    fields: dict[str, Any] = {}
    for dimension, step in steps:
        if isinstance(part, Taper):
            old = np.array(fields.get(dimension.field, getattr(part, dimension.field)))
            old[slice(None) if dimension.index is None else dimension.index] += step
            fields[dimension.field] = tuple(float(v) for v in old)
        else:
            fields[dimension.field] = fields.get(dimension.field, getattr(part, dimension.field)) + step
    try:
        return replace(part, **fields)
    except FieldError as error:
        said = mm(error.value) if isinstance(error.value, float) else error.value
        raise FieldError(f"{place} {error.field}", said, error.allowed) from None


def _widest(parts: tuple[Part, ...]) -> float:
    """Outer diameter of the wire at its tip (the larger of 0 and 1 mm), m; 0 where no part is there."""
    radii = [0.0]
    for part in parts:
        here = TIP_END[(part.start <= TIP_END) & (part.end >= TIP_END)]
        radii += [float(r) for r in part.room(here)[1]]
    return 2.0 * max(radii)


def _fitted_tip(design: Design, parts: tuple[Part, ...], tip: Tip) -> Tip:
    """The tip, which stays as wide as the wire if it was."""
    before, now = _widest(design.parts), _widest(parts)
    if abs(design.tip.diameter - before) > 2.0 * FIT or now == before or tip.diameter != design.tip.diameter:
        return tip
    if now <= 0.0:
        raise FieldError("parts", Said("missing at the tip"), "a part that reaches the tip")
    return _refaced(tip, tip.diameter * now / before, tip.end_diameter)
