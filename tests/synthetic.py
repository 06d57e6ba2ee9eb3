"""A made-up insertion for tests of pictures and files: a wire on a prescribed path that ends in an in-plane curl."""

from dataclasses import replace
from math import pi, radians, tan

import numpy as np
from scipy.spatial.transform import Rotation

from tipmech.insertion.case import Case, Move, Numerics, TipShape
from tipmech.insertion.record import Outcome, Record
from tipmech.outcome import Label, Shape, Stop, Where
from tipmech.profile import uniform
from tipmech.vessel.scene import Centreline, FalseChannel, Lumen, Scene, Support, Tear, Wall

STEPS, ELEMENTS = 24, 60
RADIUS, HEIGHT, LUMEN = 0.178e-3, 0.35e-3, 1.5e-3
TILT = radians(10)


def make_case(centreline: Centreline | None = None, azimuth: float = 0.0) -> Case:
    scene = Scene(
        centreline or Centreline.straight(50e-3),
        Lumen(LUMEN),
        Wall(0.6e6, HEIGHT, 600.0),
        Tear(20e-3, 2e-3, 0.25e-3, 0.1e-3, 1e-3, azimuth, "downstream", 1e-3),
        FalseChannel(5e-3, 2e-3, 0.2e-3, 35.0, "notch"),
        Support(8e-3, TILT, azimuth, (0.0, 0.0), 0.22e-3),
    )
    moves = (Move("advance", 17.5e-3), Move("turn", 0.1))
    wire, shape = uniform(4e-8, 0.1, name="uniform test wire"), TipShape(0.5, 2.5e-3, 0.1)
    none = np.full_like(wire.EA, 1e-12)  # the path is no equilibrium: its strains shall be no forces
    return Case(replace(wire, EA=none, GA=none), scene, shape, 0.1, moves, numerics=Numerics(elements=ELEMENTS))


def _path() -> np.ndarray:
    """(s, depth, z) along the made-up path: down to the wall, through the mouth, to the front, half a turn and more."""
    floor = LUMEN + HEIGHT - RADIUS
    s = [-40e-3, 12e-3, 19e-3, 20.3e-3, 21.5e-3, 26.6e-3]
    depth = [-52e-3 * tan(TILT), 0.0, 7e-3 * tan(TILT), LUMEN - 1.2 * RADIUS, floor, floor]
    along = np.linspace(s[0], s[-1], 5000)
    turn = np.linspace(0.0, 1.3 * pi, 300)[1:]
    curl = np.column_stack([s[-1] + 0.4e-3 * np.sin(turn), np.full(len(turn), floor), 0.4e-3 * (1 - np.cos(turn))])
    return np.vstack([np.column_stack([along, np.interp(along, s, depth), 0 * along]), curl])


def frames_along(points: np.ndarray) -> np.ndarray:
    """Element frames (w, x, y, z) whose third axis follows the polyline `points`, carried on without twist."""
    unit = np.diff(points, axis=0)
    unit /= np.linalg.norm(unit, axis=1)[:, None]
    frame, along, out = Rotation.identity(), np.array([0.0, 0.0, 1.0]), []
    for t in unit:
        axis, turn = np.cross(along, t), np.arctan2(np.linalg.norm(np.cross(along, t)), along @ t)
        size = np.linalg.norm(axis)
        frame = (Rotation.from_rotvec(axis / size * turn) if size > 0.0 else Rotation.identity()) * frame
        along = t
        out.append(frame.as_quat()[[3, 0, 1, 2]])
    return np.array(out)


def make_record(centreline: Centreline | None = None, azimuth: float = 0.0) -> Record:
    case = make_case(centreline, azimuth)
    line, path = case.scene.centreline, _path()
    arc = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(path, axis=0), axis=1))])
    start = float(np.interp(12e-3, path[:5000, 0], arc[:5000]))
    feed = np.linspace(0.0, 17.5e-3, STEPS)
    local = np.empty((STEPS, ELEMENTS + 1, 3))
    world = np.empty_like(local)
    for k in range(STEPS):
        tip = min(start + feed[k], float(arc[-1]))
        here = np.linspace(tip - 30e-3, tip, ELEMENTS + 1)
        local[k] = np.column_stack([np.interp(here, arc, path[:, i]) for i in range(3)])
        point, _, e1, e2 = line.frame(local[k, :, 0])
        out, across = np.cos(azimuth) * e1 + np.sin(azimuth) * e2, np.cos(azimuth) * e2 - np.sin(azimuth) * e1
        world[k] = point + local[k, :, 1:2] * out + local[k, :, 2:] * across
    s = local[:, :, 0]
    side = np.where(s < 20e-3, 0, np.where(s > 22e-3, 2, (local[:, :, 1] > LUMEN).astype(int))).astype(np.int64)
    lead = s.max(axis=1)
    zero, none = np.zeros(STEPS), np.zeros(STEPS, dtype=np.int64)
    push = 20e-3 * (1 - np.exp(-feed / 5e-3)) + 30e-3 * np.clip((feed - 13e-3) / 4e-3, 0, 1)
    values = dict.fromkeys(
        (
            "turn torque force_true force_false force_lip force_floor force_hole force_lip_along opened_area lip "
            "energy_elastic energy_contact energy_drive "
            "work_hand diss_friction diss_front diss_margin diss_plug diss_viscous force_plug force_front_back "
            "released_at_snaps audit_error"
        ).split(),
        zero,
    )
    return Record(
        case=case,
        feed=feed,
        positions=world,
        quaternions=np.array([frames_along(x) for x in world]),
        push=push,
        tip_force=0.5 * push,
        tip_angle=np.clip((feed - 15e-3) / 2.5e-3, 0, 1) * 2.3,
        tip_s=s[:, -1],
        lead_s=lead,
        lead_false_s=np.where(lead > 22e-3, lead, np.nan),
        side=side,
        force_front=0.3 * push,
        front=np.maximum(27e-3, lead + RADIUS),
        plug=np.full(STEPS, np.inf),
        front_centre=zero,
        front_back=np.full(STEPS, np.nan),
        lead_back_s=np.full(STEPS, np.nan),
        margins=np.zeros((STEPS, 2, 4)),
        holes=np.zeros((0, 4)),
        count_stuck=none,
        count_released=none,
        count_met=none,
        iterations=none + 3,
        held=none,
        limb_approach=np.full(len(feed), np.inf),
        stop=int(Stop.FIRST_CURL),
        contact_angle=float("nan"),
        **values,
    )


def make_outcome() -> Outcome:
    return Outcome(
        where=int(Where.FALSE_LUMEN),
        shape=int(Shape.CURLED),
        label=int(Label.FALSE_LUMEN_CURLED),
        stop=int(Stop.FIRST_CURL),
        reached=8.2e-3,
        entered=3e-3,
        curled=8e-3,
        extended=float("nan"),
        entered_before_curl=True,
        extension=0.1e-3,
        opened_area=0.0,
        feed_past_tear=9.3e-3,
        max_push=50e-3,
        max_tip_force=25e-3,
        contact_angle=float("nan"),
        tip_angle_change=2.3,
        jammed=False,
        audit_error=0.002,
        increments=STEPS,
        iterations=3 * STEPS,
    )
