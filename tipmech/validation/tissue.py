"""Flap and lip as the contact feels them, against plate theory: strip under line and point load, lip under pressure."""

import numpy as np

from ..vessel.build import build_walls, plate_rigidity
from ..vessel.energy import false_side
from ..vessel.laws import HERTZ, LINE
from ..vessel.scene import Centreline, FalseChannel, Lumen, Scene, Support, Tear, Wall
from ..vessel.walls import Walls
from .row import Case, Row, relative

WALL = Wall(youngs_modulus=0.6e6, flap_thickness=0.35e-3, breach_toughness=600.0)
ROOM, LIP, PRESSURE = 2e-3, 1e-3, 1e3  # m, m, Pa
RADIUS, SMOOTHING = 0.178e-3, 5e-6  # m, of the wire and of the onset of contact
PRESSED = (0.1e-3, 0.2e-3)  # m, how deep the wire is pushed up into the flap at rest
STRIP_SOURCE = "strip clamped on both sides, {} (beam theory, Roark's table of straight beams; from memory)"


def _walls(pressure: float = 0.0) -> Walls:
    """A straight vessel with a long channel, so that neither lip nor front is near its middle."""
    channel = FalseChannel(10e-3, ROOM, 0.4e-3, 35.0, "flat", pressure=pressure)
    tear = Tear(10e-3, 2e-3, 0.4e-3, 0.1e-3, 1e-3, 0.0, "downstream", LIP)
    support = Support(8e-3, 0.0, 0.0, (0.0, 0.0), 0.225e-3)
    scene = Scene(Centreline.straight(40e-3), Lumen(1.5e-3), WALL, tear, channel, support)
    return build_walls(scene, 2.0 * RADIUS, SMOOTHING)


def _pressed(walls: Walls, depth: float, tip: bool) -> float:
    """Force of the flap on a wire (1 m of shaft, or the tip) whose surface stands `depth` above its lower face, N."""
    s, front = 17e-3, 22e-3
    roof = walls.radius + walls.flap - walls.thickness  # radius of that face
    r = roof + RADIUS - depth
    return -float(false_side(walls, s, r, 0.0, 0.0, front, RADIUS, 1.0, tip, False).b_r)


def strip() -> list[Row]:
    """Stiffness of the flap under shaft and tip, the indentation of its tissue taken off."""
    walls = _walls()
    rigidity = plate_rigidity(WALL.youngs_modulus, WALL.flap_thickness, WALL.poisson)
    shaft = [_pressed(walls, d, False) for d in PRESSED]
    sunk = (PRESSED[1] - PRESSED[0]) - (shaft[1] - shaft[0]) / (LINE * WALL.youngs_modulus)
    line = (shaft[1] - shaft[0]) / sunk
    tip = _pressed(walls, PRESSED[1], True)
    point = tip / (PRESSED[1] - (tip / (HERTZ * WALL.youngs_modulus * np.sqrt(RADIUS))) ** (2.0 / 3.0))
    plate = "Timoshenko & Woinowsky-Krieger, clamped plates, long limit: w = 0.00725 P b^2/D (from memory)"
    return [
        relative("flap-line", "stiffness of the flap's strip under a line load, N/m2", line, 192.0 * rigidity / ROOM**3,
                 1e-6, STRIP_SOURCE.format("central load: w = P b^3/192 D")),
        relative("flap-point", "stiffness of the flap under the tip, N/m", point, rigidity / (0.00725 * ROOM**2), 1e-3,
                 plate),
    ]  # fmt: skip


def lip() -> list[Row]:
    """Lift of the free lip at rest under the pressure across it."""
    walls = _walls(PRESSURE)
    rigidity = plate_rigidity(WALL.youngs_modulus, WALL.flap_thickness, WALL.poisson)
    lift = walls.lip_load / walls.lip_stiffness
    source = "cantilever under uniform load: w = p l^4/8 D (beam theory)"
    return [relative("lip-pressure", "lift of a free lip under 1 kPa, m", lift, PRESSURE * LIP**4 / (8.0 * rigidity),
                     1e-9, source)]  # fmt: skip


CASES: tuple[Case, ...] = (strip, lip)
