"""The wire a case file asks for by its tip load: the member of the softness family whose simulated bench gives it."""

from dataclasses import replace

from ..study.spec import softness_factor
from ..units import UNITS, from_si
from .common import named
from .scene import CaseFile
from .study import bench_of

FREE_LENGTH = 10e-3  # m, of the bench that defines `tip_load_gf` (common practice)


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
