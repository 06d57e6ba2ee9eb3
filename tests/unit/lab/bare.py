"""A uniform core alone: every figure of it is a power of its diameter."""

from tipmech.wire.design import Design
from tipmech.wire.materials import MATERIALS
from tipmech.wire.parts import Taper
from tipmech.wire.tip import Surface, Tip

D = 0.1e-3  # m


def bare(diameter: float = D) -> Design:
    core = Taper(MATERIALS["steel_304"], (0.0, 0.3), (diameter, diameter))
    return Design("bare core", (core,), Tip("dome", diameter, diameter / 2.0), Surface("bare"))
