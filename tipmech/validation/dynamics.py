"""Inertia: natural frequencies, a column losing its frequency, free and pinned bodies in large motion, energy."""

from functools import cache
from math import pi, sqrt

import numpy as np
from scipy.integrate import solve_ivp
from scipy.special import ellipk

from ..rod.build import Section, straight
from ..rod.dynamics import Motion, State, at_rest, integrate
from ..rod.elastic import Array, RodArrays
from ..rod.inertia import Inertia, angular_momentum, lumped_inertia, momentum
from ..rod.model import BoolArray
from ..rod.modes import Modes, natural_modes
from ..rod.static_terms import fix, rod_arrays
from ..rod.time_step import Problem
from .model import EI, LENGTH, POISSON, compressed, uniform_rod
from .row import Case, Row, absolute, at_most, relative

ELEMENTS = 160
MASS = 1e-4  # kg/m, of the order of a wire of 0.14 mm
SLENDER = 400.0  # length over radius: shear and rotational inertia change the third frequency by 2e-4
UNIT = sqrt(EI / MASS) / LENGTH**2  # rad/s
CANTILEVER = (1.8751040687, 4.6940911330, 7.8547574382)  # roots of cos z cosh z = -1
FREE = (4.7300407449, 7.8532046241, 10.9956078380)  # roots of cos z cosh z = 1
BLEVINS = (
    "cos z cosh z = {}, omega = z2 sqrt(EI/m)/L2 (Blevins, Formulas for Natural Frequency and Mode Shape; from memory)"
)
WAVE = "standing wave, omega = (pi/2) c/L"


def _rod(
    elements: int, clamped: tuple[bool, bool], slender: float = SLENDER
) -> tuple[RodArrays, Array, Array, Inertia]:
    """Uniform solid round rod of the checks with its inertia."""
    radius = LENGTH / slender
    rod, x, q = rod_arrays(uniform_rod(elements, stiff=4.0 * EI / radius**2), clamped)
    across = 0.25 * MASS * radius**2
    spin = np.tile([across, across, 2.0 * across], (elements, 1))
    return rod, x, q, lumped_inertia(rod.length, np.full(elements, MASS), spin)


def _plane(elements: int, **parts: int | tuple[int, ...]) -> BoolArray:
    """Mask that leaves the plane y = 0, and `parts`."""
    frames = tuple(range(elements))
    return fix(elements, y=tuple(range(elements + 1)), rx=frames, rz=frames) | fix(elements, **parts)


def bending() -> list[Row]:
    """First three bending frequencies, clamped-free and free-free."""
    n = ELEMENTS
    found = []
    rod, x, q, inertia = _rod(n, (True, False))
    modes = natural_modes(rod, inertia, x, q, fixed=_plane(n, x=0, z=0), count=3)
    for k, (rate, root) in enumerate(zip(modes.rates, CANTILEVER, strict=True), start=1):
        quantity = f"frequency {k} of a cantilever, rad/s"
        found.append(relative(f"cantilever-{k}", quantity, rate, root**2 * UNIT, 1e-3, BLEVINS.format(-1)))
    rod, x, q, inertia = _rod(n, (False, False))
    modes = natural_modes(rod, inertia, x, q, fixed=np.zeros(6 * n + 3, dtype=bool), count=12)
    source = "a free body's rigid motions"
    found.append(absolute("free-rigid", "modes of frequency zero of a free rod", modes.rigid, 6, 0.0, source))
    for k, (rate, root) in enumerate(zip(modes.rates[::2], FREE, strict=True), start=1):
        quantity = f"frequency {k} of a free rod, rad/s (the softer of each pair)"
        found.append(relative(f"free-{k}", quantity, rate, root**2 * UNIT, 1e-3, BLEVINS.format(1)))
    return found


def waves() -> list[Row]:
    """Torsional and axial fundamental, clamped-free."""
    n = ELEMENTS
    nodes, frames = tuple(range(n + 1)), tuple(range(n))
    rod, x, q, inertia = _rod(n, (True, False))
    radius = LENGTH / SLENDER
    twist = fix(n, x=nodes, y=nodes, z=nodes, rx=frames, ry=frames)
    speed = sqrt(EI / (1.0 + POISSON) / (0.5 * MASS * radius**2))
    torsion = natural_modes(rod, inertia, x, q, fixed=twist, count=1).rates[0]
    along = fix(n, x=nodes, y=nodes, z=0, rx=frames, ry=frames, rz=frames)
    stretch = natural_modes(rod, inertia, x, q, fixed=along, count=1).rates[0]
    sound = sqrt(4.0 * EI / radius**2 / MASS)
    return [
        relative("torsion-1", "torsional frequency, clamped-free, rad/s", torsion, 0.5 * pi * speed / LENGTH, 1e-3,
                 f"{WAVE}, c2 = GJ/(rho J)"),
        relative("axial-1", "axial frequency, clamped-free, rad/s", stretch, 0.5 * pi * sound / LENGTH, 1e-3,
                 f"{WAVE}, c2 = EA/m"),
    ]  # fmt: skip


def column() -> list[Row]:
    """Square of a pinned column's frequency under axial compression."""
    n = ELEMENTS
    rod, x, q, inertia = _rod(n, (False, False))
    critical = pi**2 * EI / LENGTH**2

    def modes(share: float) -> Modes:
        bent = compressed(x, rod.stretch, share * critical)
        return natural_modes(rod, inertia, bent, q, fixed=_plane(n, x=(0, n), z=0), count=1)

    start = modes(0.0).squares[0]
    found = []
    source = "omega2 = omega0^2 (1 - P/P_Euler), exact for pinned ends (Timoshenko, Vibration Problems; re-derived)"
    for share in (0.5, 0.9, 1.0, 1.1):
        quantity = f"omega2/omega0^2 of a pinned column at P/P_Euler = {share:g} (absolute)"
        computed = modes(share).squares[0] / start
        found.append(absolute(f"column-{share:g}", quantity, computed, 1.0 - share, 1e-3, source))
    return found


def pendulum() -> list[Row]:
    """A stiff rod hung on a pin, let go at 120 degrees from hanging."""
    n, gravity, angle = 40, 9.81, 2.0 * pi / 3.0
    axis = (float(np.sin(angle)), 0.0, float(-np.cos(angle)))
    lengths, across = np.full(n, LENGTH / n), 0.25 * MASS * (LENGTH / 50.0) ** 2
    stiff = EI * (50.0 / LENGTH) ** 2
    section = Section(EI, EI, EI, stiff, stiff, stiff)
    side = (axis[2], 0.0, -axis[0])  # in the plane: the second axis is y
    rod, x, q = rod_arrays(straight(LENGTH, n, section, axis=axis, director=side), (False, False))
    inertia = lumped_inertia(lengths, np.full(n, MASS), np.tile([across, across, 2.0 * across], (n, 1)))
    weight = np.zeros((n + 1, 3))
    weight[:, 2] = -gravity * inertia.mass
    about_pin = (MASS * LENGTH**2 / 3.0 + across) * LENGTH
    small = sqrt(MASS * LENGTH * gravity * 0.5 * LENGTH / about_pin)
    period = 4.0 * float(ellipk(np.sin(0.5 * angle) ** 2)) / small
    problem = Problem(rod, inertia, _plane(n, x=0, z=0), loads=lambda t: weight)
    run = integrate(problem, at_rest(x, q), 0.8 * period, period / 1000.0, rho=0.9)
    swing = np.arctan2(run.x[:, -1, 0], -run.x[:, -1, 2])
    turned = int(np.argmin(swing[: int(0.7 * len(swing))]))
    fit = np.polyfit(run.times[turned - 20 : turned + 21] - 0.5 * period, swing[turned - 20 : turned + 21], 2)
    half = 0.5 * period - fit[1] / (2.0 * fit[0])
    source = "compound pendulum, 4 K(sin 60 deg)/omega0, complete elliptic integral"
    return [relative("pendulum", "period of a stiff rod swinging by 120 deg, s", 2.0 * half, period, 1e-3, source)]


def tumbling() -> list[Row]:
    """A thick free rod turning about its middle axis: it tumbles, and so tests all gyroscopic terms."""
    n, stiff = 10, 1e6  # N and N m2: at 2 rad/s of a metre and a kilogram rigid to 1e-5
    lengths = np.full(n, 1.0 / n)
    section = Section(stiff, stiff, stiff, stiff, stiff, stiff)
    rod, x, q = rod_arrays(straight(1.0, n, section), (False, False))
    inertia = lumped_inertia(lengths, np.ones(n), np.tile([0.05, 0.03, 0.08], (n, 1)))
    x = x - np.array([0.0, 0.0, 0.5])
    whole = np.array([0.05, 0.03, 0.08])
    whole[:2] += float(np.sum(inertia.mass * x[:, 2] ** 2))
    turn = np.array([0.02, 2.0, 0.1])
    start = State(0.0, x, q, np.cross(turn, x), np.tile(turn, (n, 1)))
    problem = Problem(rod, inertia, np.zeros(6 * n + 3, dtype=bool))
    run = integrate(problem, start, 10.0, 1.0 / 200.0, rho=0.9, every=10)
    span = (0.0, float(run.times[-1]))
    euler = solve_ivp(
        lambda t, w: -np.cross(w, whole * w) / whole, span, turn, rtol=1e-11, atol=1e-12, t_eval=run.times
    )
    worst = float(np.max(np.abs(run.spin.mean(axis=1) - euler.y.T)))
    source = "Euler's equations for the lumped body, scipy solve_ivp, tolerance 1e-11"
    quantity = "largest error of the angular velocity within 10 s, rad/s, of 2 (absolute)"
    return [absolute("tumbling", quantity, worst, 0.0, 1e-3, source)]


def _flight(elements: int = 12) -> tuple[Motion, Inertia]:
    """A soft rod thrown with a random smooth velocity, over three periods of its first mode."""
    n = elements
    rod, x, q, inertia = _rod(n, (False, False), 50.0)
    s = np.linspace(0.0, pi, n + 1)[:, None]
    speed = 0.1 * FREE[0] ** 2 * UNIT * LENGTH
    rng = np.random.default_rng(3)
    velocity = speed * sum(np.cos(k * s) * rng.normal(size=3) / (1 + k) ** 2 for k in range(3))
    start = State(0.0, x, q, np.asarray(velocity), np.zeros((n, 3)))
    period = 2.0 * pi / (FREE[0] ** 2 * UNIT)
    problem = Problem(rod, inertia, np.zeros(6 * n + 3, dtype=bool))
    return integrate(problem, start, 3.0 * period, period / 800.0, rho=0.9, every=20), inertia


def flight() -> list[Row]:
    """Momentum and angular momentum of a flying rod."""
    run, inertia = _flight()
    p = np.array([momentum(inertia, v) for v in run.velocity])
    h = np.array([angular_momentum(inertia, *z) for z in zip(run.x, run.q, run.velocity, run.spin, strict=True)])
    h = h - np.cross(np.array([inertia.mass @ x for x in run.x]) / np.sum(inertia.mass), p)
    first = [float(np.max(np.linalg.norm(v - v[0], axis=1)) / np.linalg.norm(v[0])) for v in (p, h)]
    source = "no force, no moment: both are kept"
    return [
        absolute("momentum", "largest change of momentum over its size, free flight", first[0], 0.0, 1e-8, source),
        absolute("angular-momentum", "largest change of angular momentum about the centre of mass over its size, "
                 "free flight (the scheme keeps it to its order only)", first[1], 0.0, 1e-3, source),
    ]  # fmt: skip


@cache
def _swing(rho: float) -> Motion:
    """A cantilever started in its first mode at a tip amplitude of 0.2 L, ten periods."""
    n = 20
    rod, x, q, inertia = _rod(n, (True, False), 50.0)
    fixed = fix(n, x=0, y=0, z=0)
    modes = natural_modes(rod, inertia, x, q, fixed=_plane(n, x=0, z=0), count=1)
    shape, rate = modes.shapes[0], float(modes.rates[0])
    v = shape * (0.2 * LENGTH * rate / abs(shape[6 * n]))
    velocity, spin = np.stack([v[a::6] for a in range(3)], axis=1), np.stack([v[a::6] for a in (3, 4, 5)], axis=1)
    period = 2.0 * pi / rate
    return integrate(
        Problem(rod, inertia, fixed), State(0.0, x, q, velocity, spin), 10.0 * period, period / 200.0, rho=rho
    )


def energy() -> list[Row]:
    """Energy of a cantilever in free vibration, with and without numerical damping."""
    found = []
    whole = {rho: _swing(rho).kinetic + _swing(rho).strain for rho in (1.0, 0.8)}
    drift = float(np.max(np.abs(whole[1.0] / whole[1.0][0] - 1.0)))
    source = "no work, no damping (rho = 1: the trapezoidal rule)"
    found.append(absolute("energy-kept", "largest change of energy over ten periods at rho = 1, over the energy",
                          drift, 0.0, 1e-3, source))  # fmt: skip
    # within a period the energy wobbles by the scheme's error, at rho = 1 as well: the mean of a period is judged
    means = whole[0.8][:-1].reshape(10, -1).mean(axis=1) / whole[0.8][0]
    rise = max(0.0, float(np.max(np.diff(means))))
    source = "numerical damping takes energy"
    found.append(absolute("energy-falls", "largest rise of the energy's mean from one period to the next at rho = 0.8, "
                          "over the energy", rise, 0.0, 0.0, source))  # fmt: skip
    found.append(at_most("energy-end", "that mean in the tenth period over that in the first",
                         float(means[-1] / means[0]), 1.0, 0.0, source))  # fmt: skip
    return found


CASES: tuple[Case, ...] = (bending, waves, column, pendulum, tumbling, flight, energy)
