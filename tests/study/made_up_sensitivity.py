"""A made-up sensitivity study: outcomes that hang on known inputs of the case, in place of the mechanics."""

import time
from dataclasses import replace

import numpy as np
from study.made_up import EXTENDED, TRUE, UNSOLVED, bench, make_spec

from tipmech.study import store
from tipmech.study.run_sensitivity import run_sensitivity
from tipmech.study.sensitivity import SensitivitySpec, load_knots

LOADS, ANGLES = (0.5e-2, 2e-2), (0.3, 0.8)


def sensitivity_spec(**options):
    """A spec whose tip load and angle are sampled, small enough for a test."""
    study = make_spec(loads=load_knots(*LOADS), angles=ANGLES, bend_length=1.5e-3)
    return SensitivitySpec(study, **{"trajectories": 4, "base_points": 8, "tip_load": LOADS, "angle": ANGLES} | options)


def known(case):
    """Extends where the front is flat; the largest push is the wire's tip load."""
    outcome = EXTENDED if case.scene.channel.front_shape == "flat" else TRUE
    return replace(outcome, max_push=bench(case.profile))


def known_with_failures(case):
    """The same, a twentieth of it not solved."""
    return UNSOLVED if np.random.default_rng(case.seed + 1).random() < 0.05 else known(case)


def failing_often(case):
    """One in a hundred not solved, by a hash of what was drawn: most blocks stay whole."""
    channel, tear = case.scene.channel, case.scene.tear
    drawn = (case.friction, channel.room, channel.fracture_energy, tear.gap, tear.length, case.tip_shape.angle)
    draw = np.random.default_rng([int(1e12 * value) for value in drawn]).random()
    return UNSOLVED if draw < 0.01 else known(case)


def slow(case):
    """Long enough to be stopped meanwhile."""
    time.sleep(0.01)
    return known(case)


def run_slowly(spec, out, code):
    """Run in a process that a test kills."""
    store.code_version = lambda *more: code  # that of the process that goes on with it
    run_sensitivity(spec, ("extended",), out, workers=2, evaluate=slow)
