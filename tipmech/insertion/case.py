"""One insertion as data: the wire, the scene, the drive, the moves, the numerics."""

from dataclasses import dataclass, field
from typing import Literal

from ..profile import Profile
from ..vessel.scene import Scene


@dataclass(frozen=True)
class SecondTipBend:
    """Bend behind the first: angle (rad) over `length` (m), its distal end at `distance` (m) from the tip's end; `roll`
    of its plane from the first one's (rad)."""

    angle: float
    length: float
    distance: float
    roll: float = 0.0


@dataclass(frozen=True)
class TipShape:
    """Preshaped tip: bend angle (rad) over `length` (m) at the tip's end; roll of the bend's plane (rad,
    0 = toward azimuth 0 of the vessel frame at the support's mouth), which turns a flat wire's section too, bent about
    its soft axis; a second bend, if there is one."""

    angle: float = 0.0
    length: float = 2.5e-3
    roll: float = 0.0
    second: SecondTipBend | None = None


@dataclass(frozen=True)
class Drive:
    """The hand: a displacement fed through a series spring (N/m) with a force cap (N), at `rate` (m/s)."""

    stiffness: float = 300.0
    force_cap: float = 0.3
    rate: float = 1e-3


@dataclass(frozen=True)
class Move:
    """One move of the protocol: advance or withdraw by `amount` m, or turn in place by `amount` rad; `turn`: turned by
    this much (rad) over an advance or a withdrawal."""

    kind: Literal["advance", "withdraw", "turn"]
    amount: float
    turn: float = 0.0


@dataclass(frozen=True)
class StopRules:
    """advance_past_tear: feed after first reaching the tear, m; advance_past_curl: travel past the first curl, m (0: it
    ends the run; None: it does not); at_breach: a pierced flap ends the run (else the wire goes on through the hole);
    at_extension: so does a plane that has become longer, unless a curl that began before may still come to last.
    """

    advance_past_tear: float = 10e-3
    advance_past_curl: float | None = None
    at_breach: bool = True
    at_extension: bool = False


@dataclass(frozen=True)
class Numerics:
    """Settings that must not decide outcomes; their effect is measured in experiments/stability.

    elements: rod elements; length: modelled wire, m; longest: bound on an element, m (None: none); spacing: of contact
    points on the distal wire at most, m; increment: feed per increment, m; smoothing: onset smoothing of contact, m;
    slip_length: elastic slip of friction, m; viscosity, N s/m2; imperfection: natural curvature as deflection over free
    length, -; tolerance: of forces, relative to EI/L^2.
    """

    elements: int = 120
    length: float = 50e-3
    longest: float | None = None
    spacing: float = 0.06e-3
    increment: float = 0.1e-3
    smoothing: float = 5e-6
    slip_length: float = 5e-6
    viscosity: float = 2.0
    imperfection: float = 2e-3
    tolerance: float = 1e-4


@dataclass(frozen=True)
class Case:
    """One insertion. friction: wire surface against tissue; seed: of the imperfection; mirror: reflect the
    imperfection in the plane y = 0 (for the mirror test)."""

    profile: Profile
    scene: Scene
    tip_shape: TipShape
    friction: float
    moves: tuple[Move, ...] = (Move("advance", 20e-3),)
    static_ratio: float = 1.0
    drive: Drive = field(default_factory=Drive)
    stop: StopRules = field(default_factory=StopRules)
    numerics: Numerics = field(default_factory=Numerics)
    seed: int = 0
    mirror: bool = False
