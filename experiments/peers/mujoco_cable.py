"""MuJoCo's cable plugin: a chain of rigid links with elastic ball joints, damped and run to rest.

It has no static solver. Inertia and damping are chosen freely (the result is static). The stopping rule is better than
any user's: a first run finds the step from which the tip stays within the accuracy, and only that many steps are timed.
The first link is fixed whole, so the chain is clamped in effect at its middle: N - 1/2 links make up the length.
"""

from collections.abc import Iterable
from functools import partial
from itertools import product
from math import nan, pi
from time import perf_counter
from typing import Any

import numpy as np

from .cases import ACCURACY, EI, GJ, Case
from .code import Attempt, Code

RADIUS = 0.01  # m, of the links; moduli are chosen for EI = 1 N m2 at a length of 1 m
MASS = 1.0  # kg/m
LIMIT = 40.0  # s, in units sqrt(MASS L^4/EI): ten periods of the lowest mode and more
CHUNK = 4  # steps between looks at the tip in the first run
MESHES = (10, 12, 14, 16, 18, 20, 24, 28, 32, 40)
CHAIN = """<mujoco><extension><plugin plugin="mujoco.elasticity.cable"/></extension>
<option gravity="0 0 0" timestep="{step}" integrator="implicitfast"><flag contact="disable"/></option>
<worldbody><composite type="cable" curve="s" count="{count} 1 1" size="{size}" initial="none">
<plugin plugin="mujoco.elasticity.cable">
<config key="twist" value="{twist}"/><config key="bend" value="{bend}"/></plugin>
<joint kind="main" damping="{damping}"/><geom type="capsule" size="{radius}" density="{density}"/>
</composite></worldbody></mujoco>"""


def build(mujoco: Any, elements: int, step: float, damping: float) -> tuple[Any, Any, float]:
    """Model, data, and length of a link."""
    link = 1.0 / (elements - 0.5)
    text = CHAIN.format(
        step=step, count=elements + 1, size=elements * link, radius=RADIUS, density=MASS / (pi * RADIUS**2),
        bend=4.0 / (pi * RADIUS**4), twist=2.0 * GJ / EI / (pi * RADIUS**4), damping=damping / link,
    )  # fmt: skip
    model = mujoco.MjModel.from_xml_string(text)
    last = model.nbody - 1
    model.body_ipos[last] = [link, 0.0, 0.0]  # its centre of mass at the tip: a force there needs no moment
    data = mujoco.MjData(model)
    mujoco.mj_forward(model, data)
    return model, data, link


def run(mujoco: Any, model: Any, data: Any, force: tuple[float, float], steps: int) -> None:
    """Steps under a constant tip force."""
    data.xfrc_applied[-1, 0], data.xfrc_applied[-1, 1] = force
    mujoco.mj_step(model, data, nstep=steps)


def steps_needed(mujoco: Any, case: Case, setting: tuple[int, float, float], push: int) -> int:
    """Steps of the last force after which the tip stays within the accuracy; 0 if it never does."""
    model, data, link = build(mujoco, *setting)
    for force in case.legs[:-1]:
        run(mujoco, model, data, force, push)
    outside = 0
    total = int(LIMIT / setting[1])
    for k in range(0, total, CHUNK):
        run(mujoco, model, data, case.legs[-1], CHUNK)
        if not case.error(tip_of(data, link)) <= ACCURACY:
            outside = k + CHUNK
            if not np.all(np.isfinite(data.qpos)):
                return 0
    return outside + CHUNK if outside < total - CHUNK else 0


def tip_of(data: Any, link: float) -> tuple[float, float]:
    """Tip from the effective clamp in the middle of the first link."""
    return float(data.xipos[-1, 0] - data.xpos[1, 0]) - 0.5 * link, float(data.xipos[-1, 1] - data.xpos[1, 1])


def solve(mujoco: Any, case: Case, elements: int, *, step: float, damping: float, hold: int) -> Attempt:
    """Run to rest; `hold` steps under each force but the last, `step` in s, `damping` in EI s per joint and link."""
    begin = perf_counter()
    setting = (elements, step, damping)
    last = steps_needed(mujoco, case, setting, hold) if case.divisible else hold
    if last == 0:
        return Attempt(perf_counter() - begin, (float("nan"), float("nan")), False)
    begin = perf_counter()
    model, data, link = build(mujoco, *setting)
    start = perf_counter()
    tips = []
    for force in case.legs[:-1]:
        run(mujoco, model, data, force, hold)
        tips.append(tip_of(data, link))
    run(mujoco, model, data, case.legs[-1], last)
    end = perf_counter()
    mujoco.mj_kinematics(model, data)
    tips.append(tip_of(data, link))
    off = case.largest_error(tips) if case.on_the_way else nan
    return Attempt(end - start, tips[-1], bool(np.all(np.isfinite(data.qpos))), end - begin, off=off)


def settings(case: Case) -> Iterable[dict[str, Any]]:
    """Time step, damping, steps under a force that is not the last."""
    holds = {"a": (0,), "b": (20, 60, 200), "c": (20, 30, 40)}[case.key]
    for damping, step, hold in product((0.05, 0.1, 0.2, 0.4, 0.8), (0.02, 0.05, 0.1, 0.2), holds):
        yield {"step": step, "damping": damping, "hold": hold}


def codes() -> list[Code]:
    """The cable plugin."""
    import mujoco

    mujoco.set_mju_user_warning(lambda _: None)  # an unstable setting fails by its result; no log file
    note = "inertia, damping, time step chosen for speed; stopped by the exact result; clamp's half link corrected"
    return [Code("MuJoCo cable", mujoco.__version__, "dynamic", partial(solve, mujoco), settings, note, MESHES)]
