"""The wire a case file asks for by its tip load: the member of the softness family whose simulated bench gives it."""

from collections.abc import Callable
from dataclasses import replace

from ..bench.tip_load import tip_load
from ..profile import Profile
from ..study.spec import softness_factor
from ..units import UNITS, from_si
from .common import named
from .scene import CaseFile

FREE_LENGTH = 10e-3  # m, of the bench that defines `tip_load_gf` (common practice)


def bench_of(free_length: float) -> Callable[[Profile], float]:
    """The simulated tip-load bench at a free length (m), as a function from a profile to its tip load (N)."""

    def bench(wire: Profile) -> float:
        return float(tip_load(wire, free_length).force)

    return bench


def at_tip_load(asked: CaseFile) -> CaseFile:
    """Case file with its wire scaled (softer or stiffer) to `tip_load_gf`; unchanged when none was asked for.

    Runs the simulated bench at 10 mm a few times. A load that the family does not reach is an `InputError`.
    """
    if asked.tip_load_gf is None:
        return asked
    case = asked.case
    with named(asked.source, "wire."):
        factor = softness_factor(case.profile, asked.tip_load_gf * UNITS["gf"], bench_of(FREE_LENGTH))
    name = f"{case.profile.name}, scaled to {from_si(asked.tip_load_gf * UNITS['gf'], 'gf'):.3g} gf (x {factor:.3g})"
    return replace(
        asked, case=replace(case, profile=replace(case.profile.softened(factor), name=name)), tip_load_gf=None
    )
