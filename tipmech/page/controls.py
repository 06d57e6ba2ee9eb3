"""What can be set on the page: names, words, units, ranges; and the tables of a case file that a setting stands for.

Knows neither web nor solver, so that the page can be laid out before the physics is loaded.
"""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields, replace
from math import isfinite
from typing import Any, Self

from ..checks import FieldError, InputError, range_text, shown
from ..units import label, suffix
from ..wire.presets import PRESETS

SOURCE = "the page"  # stands where messages name a file
STEP_MM = 0.1  # feed per increment
FEED_MM = 25.0  # of wire, at most: with the longest support the straight vessel behind the tear still holds it
FREE_MM = 2.0  # free length of [local]; with the stand-off it makes the distance from support to lip
SHORTEST_MM = FREE_MM + 0.2
WIRES = 2  # side by side, at most


@dataclass(frozen=True)
class Control:
    """One number that can be set: name with its unit, words, range, step of the slider, start value.

    field : of the case file that it sets; less : what is taken off for it
    """

    name: str
    words: str
    low: float
    high: float
    step: float
    start: float
    hint: str
    field: str = ""
    less: float = 0.0

    @property
    def unit(self) -> str:
        """Unit as it is written beside the number."""
        unit = suffix(self.name)
        return "" if unit is None else label(unit)

    def check(self, value: Any) -> float:
        """Return `value` as a number if it lies in the range.

        Raises
        ------
        FieldError
            naming the control, the value and what is allowed
        """
        number = isinstance(value, int | float) and not isinstance(value, bool) and isfinite(value)
        if not number or not self.low <= value <= self.high:
            raise FieldError(self.words, value, f"{range_text(self.low, self.high)} {self.unit}".rstrip())
        return float(value)


SHARED: tuple[Control, ...] = (
    Control(
        "tip_bend_deg", "tip bend", 0.0, 90.0, 5.0, 30.0,
        "natural bend over the last 2.5 mm, toward the tear", "tip_shape.bend_deg",
    ),
    Control(
        "friction", "friction of the wire", 0.0, 0.6, 0.01, 0.12,
        "Coulomb's coefficient against tissue", "wire.friction",
    ),
    Control(
        "front_force_mN", "front holds", 2.0, 150.0, 1.0, 32.0,
        "axial force at which the plane opens further", "false_channel.front_force_mn",
    ),
    Control(
        "flap_modulus_MPa", "flap modulus", 0.1, 5.0, 0.1, 0.6,
        "Young's modulus of flap and wall, 0.35 mm thick", "vessel.wall_youngs_modulus_mpa",
    ),
    Control(
        "angle_deg", "approach angle", 5.0, 60.0, 1.0, 30.0,
        "between the support's aim and the vessel's axis", "local.angle_deg",
    ),
    Control(
        "support_mm", "support to lip", SHORTEST_MM, 7.0, 0.1, 3.5,
        "from the support's mouth to the upstream lip", "local.standoff_mm", FREE_MM,
    ),
)  # fmt: skip
TIP_LOAD = Control(
    "tip_load_gf", "tip load", 0.2, 10.0, 0.1, 0.8, "simulated bench, 10 mm free length", "wire.tip_load_gf"
)
TURN = Control("view_deg", "direction of view", -90.0, 90.0, 5.0, -30.0, "detector to the left (+) or right (-)")
STROKE = Control("stroke_mm", "stroke", 0.1, 5.0, 0.1, 1.0, "advanced or withdrawn at a press of the button")
CONTROLS = {c.name: c for c in (*SHARED, TIP_LOAD, TURN, STROKE)}


def in_words(text: str) -> str:
    """A message about a case with the names of controls in place of those of fields."""
    for control in (*SHARED, TIP_LOAD):
        text = text.replace(control.field, control.words)
    return text


@dataclass(frozen=True)
class Wire:
    """A wire on the bench: a preset as designed, or scaled to a tip load (gf)."""

    preset: str = "workhorse"
    tip_load_gf: float | None = None

    def __post_init__(self) -> None:
        if self.preset not in PRESETS:
            raise FieldError("wire", self.preset, f"one of {', '.join(PRESETS)}")
        if self.tip_load_gf is not None:
            TIP_LOAD.check(self.tip_load_gf)

    @property
    def words(self) -> str:
        """Its name on the page."""
        name = self.preset.replace("_", " ")
        return f"{name}, as designed" if self.tip_load_gf is None else f"{name} scaled to {self.tip_load_gf:g} gf"


@dataclass(frozen=True)
class Setting:
    """Everything set on the bench, in users' units; every number is checked when it is built.

    Raises
    ------
    FieldError
        naming the control, the value and what is allowed
    """

    wires: tuple[Wire, ...] = (Wire(),)
    tip_bend_deg: float = 30.0
    friction: float = 0.12
    front_force_mN: float = 32.0
    flap_modulus_MPa: float = 0.6
    angle_deg: float = 30.0
    support_mm: float = 3.5

    def __post_init__(self) -> None:
        if not 1 <= len(self.wires) <= WIRES:
            raise FieldError("number of wires", len(self.wires), f"1 to {WIRES}")
        for control in SHARED:
            object.__setattr__(self, control.name, control.check(getattr(self, control.name)))

    def with_number(self, name: str, value: Any) -> Self:
        """The same with one of the shared numbers changed."""
        if name not in {c.name for c in SHARED}:
            raise FieldError("control", name, f"one of {', '.join(c.name for c in SHARED)}")
        return replace(self, **{name: value})

    def plain(self) -> dict[str, Any]:
        """As data for JSON; `setting_of` gives it back."""
        return asdict(self)

    def tables(self, wire: Wire) -> dict[str, Any]:
        """Tables of the case file that the bench with this wire is (docs/parameters.md)."""
        tables: dict[str, Any] = {
            "title": f"lab page: {wire.words}",
            "start": "local",
            "seed": 1,
            "wire": {"preset": wire.preset},
            "tip_shape": {"bend_length_mm": 2.5},
            "local": {"free_length_mm": FREE_MM},
            "vessel": {"centreline": "straight", "lead_mm": 20.0, "tail_mm": 25.0, "lumen_diameter_mm": 3.0},
            "tear": {"start_mm": 15.0, "length_mm": 2.0, "mouth_gap_mm": 0.3},
            "false_channel": {"length_mm": 4.0, "room_mm": 2.5, "thickness_mm": 0.2},
            "drive": {"force_cap_n": 1.0},
            "moves": [{"advance_mm": FEED_MM}],
            "stop": {"advance_past_tear_mm": 200.0, "at_breach": False},
            "numerics": {"increment_mm": STEP_MM},
        }
        values = {control: getattr(self, control.name) for control in SHARED}
        if wire.tip_load_gf is not None:
            values[TIP_LOAD] = wire.tip_load_gf
        for control, value in values.items():
            table, field = control.field.split(".")
            tables[table][field] = round(value - control.less, 6) if control.less else value
        return tables


def setting_of(data: Mapping[str, Any]) -> Setting:
    """Setting from plain data, every value checked.

    Raises
    ------
    InputError
        one sentence: which control, which value, what is allowed
    """
    known = {f.name for f in fields(Setting)}
    if not isinstance(data, Mapping) or set(data) != known:
        raise InputError(f"{SOURCE}: a setting has the fields {', '.join(sorted(known))}; got {shown(data)}")
    try:
        wires = tuple(Wire(**wire) for wire in data["wires"])
        return Setting(**{**data, "wires": wires})
    except FieldError as error:
        raise InputError(f"{SOURCE}: {error}") from None
    except TypeError:
        raise InputError(
            f"{SOURCE}: wires is {shown(data['wires'])}; allowed: a list of preset and tip_load_gf"
        ) from None
