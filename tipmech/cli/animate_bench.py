"""Bench tests of a wire for `tipmech animate --bench`: the test is made anew with as many states as a film needs."""

from collections.abc import Callable
from typing import Any

import numpy as np

from ..bench.buckling import buckling
from ..bench.tip_load import LONG_TRAVEL, tip_load
from ..bench.tip_shape import STANDARD_TIP, Shape
from ..bench.torque import torque_response
from ..checks import FieldError, InputError
from ..files.wire import read_wire
from ..profile import Profile
from ..rod.errors import NotConvergedError
from ..show.film.bench import BenchFilm, View
from ..show.film.buckling import BucklingView
from ..show.film.tip_load import TipLoadView
from ..show.film.whip import WhipView
from ..wire.design import Design, profile

STATES = 120  # of a tip-load test, so that the film goes from one to the next within two frames

Made = tuple[View, dict[str, Any]]


def _tip_load(design: Design, stock: Profile) -> Made:
    test = tip_load(stock, travel=LONG_TRAVEL, at=np.linspace(0.0, LONG_TRAVEL, STATES).tolist())
    return TipLoadView(design.name, stock, test), {"tip_load_n": test.force, "states": len(test.axial)}


def _buckling(design: Design, stock: Profile) -> Made:
    test = buckling(stock)
    return BucklingView(design.name, stock, test), {"critical_load_n": test.critical, "states": len(test.load)}


def _whip(design: Design, stock: Profile) -> Made:
    shape = Shape.of(design)
    test = torque_response(stock, shape=shape if shape.arcs else STANDARD_TIP)
    return WhipView(design.name, test), {"largest_jump_rad": test.whip, "lag_rad": test.lag, "states": len(test.base)}


TESTS: dict[str, Callable[[Design, Profile], Made]] = {"tip_load": _tip_load, "buckling": _buckling, "whip": _whip}


def bench_of(wire: str, test: str, speed: float) -> tuple[BenchFilm, dict[str, Any]]:
    """Film of a bench test of a wire file or preset, and its facts."""
    design = read_wire(wire)
    try:
        view, facts = TESTS[test](design, profile(design))
    except (FieldError, NotConvergedError) as error:
        raise InputError(f"{wire}: the test {test} cannot be made with this wire: {error}") from None
    return BenchFilm(view, speed=speed), {"wire": design.name, "test": test, **facts}
