"""From a stress-strain curve to the bending moment of a part: closed forms for rounds and rectangles. SI units.

Plane sections, the same curve in tension and compression, so that the neutral axis stays in the middle. A curve of
straight pieces is the line E eps less what is lost beyond each of its breaks; integrated over the section each break
gives one closed form. theory, "Moment over curvature".
"""

from collections.abc import Callable
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from ..bending import GRID, PartLaw, rising
from .materials import Material
from .parts import Part, Ribbon, Taper

Array = NDArray[np.float64]
Breaks = tuple[tuple[float, float], ...]
Losses = Callable[[Array], tuple[Array, Array]]


def round_losses(height: Array) -> tuple[Array, Array]:
    """Moment and slope of the stress beyond a height c (over the radius) of a round section, over those of all of it.

    int (|y| - c)+ |y| dA/I and int_{|y| > c} y^2 dA/I. With cos t = c: (16/pi)(A - c B), (16/pi) A, where
    A = t/8 - sin(4 t)/32 and B = sin(t)^3/3 (elementary integrals; c = 0 gives 1 - 0, c = 1 gives 0).
    """
    c = np.clip(height, 0.0, 1.0)
    t = np.arccos(c)
    area = t / 8.0 - np.sin(4.0 * t) / 32.0
    return 16.0 / np.pi * (area - c * np.sin(t) ** 3 / 3.0), 16.0 / np.pi * area


def rectangle_losses(height: Array) -> tuple[Array, Array]:
    """The same for a rectangle, c over half its thickness: 1 - 3 c/2 + c^3/2 and 1 - c^3."""
    c = np.clip(height, 0.0, 1.0)
    return 1.0 - 1.5 * c + 0.5 * c**3, 1.0 - c**3


def moment_ratio(stretch: Array, breaks: Breaks, losses: Losses) -> tuple[Array, Array]:
    """Bending moment of a section over that at its limit, and its slope over EI.

    Parameters
    ----------
    stretch : ndarray
        curvature over the one at which the outer fibre reaches the first break, -
    breaks : tuple of (strain, loss)
        strains at which the curve's slope falls, and by what share of E; the first one is the limit
    losses : callable
        of the section's shape

    Returns
    -------
    tuple of ndarray
        M/(EI kappa_y) and M'/EI, -
    """
    first = breaks[0][0]
    moment, slope = np.array(stretch, dtype=float), np.ones_like(stretch, dtype=float)
    for strain, loss in breaks:
        lost, steep = losses(strain / first / stretch)
        moment = moment - loss * stretch * lost
        slope = slope - loss * steep
    return moment, slope


@lru_cache(maxsize=64)  # a study asks for the same few materials again and again
def _table(breaks: Breaks, losses: Losses) -> tuple[Array, Array]:
    """Moment and slope at GRID; the first entries are 1 by definition of the limit."""
    moment, slope = moment_ratio(GRID, breaks, losses)
    moment[0], slope[0] = 1.0, 1.0
    slope = rising(moment[None], slope[None])[0]
    moment.setflags(write=False)
    slope.setflags(write=False)
    return moment, slope


def has_law(part: Part) -> bool:
    """Whether a part's bending leaves the line: cores and ribbons of a material with a law.

    Coils, strands and jackets stay on it: a coil's wire bends and twists at once, over far smaller strains.
    """
    return isinstance(part, Taper | Ribbon) and part.material.law is not None


def part_law(part: Part, s: Array, here: NDArray[np.bool_], whole: Array) -> PartLaw:
    """Law of a core or a ribbon over stations s (m); `here` says where it is present, `whole` is the wire's EI1, N m2.

    A ribbon's table is that of bending about its width; about the other axis the same one holds at the curvature times
    width over thickness.
    """
    material: Material = part.material
    assert material.law is not None
    losses = rectangle_losses if isinstance(part, Ribbon) else round_losses
    moment, slope = _table(material.law.breaks(material.E, material.yield_strain), losses)
    share = np.zeros_like(s)
    share[here] = part.rigidity(s[here])[0] / whole[here]
    limit = np.interp(s, s[here], part.yield_curvature(s[here]))  # where it is absent: any, its share is 0
    aspect = (part.width / part.thickness) ** 2 if isinstance(part, Ribbon) else 1.0
    return PartLaw(share, limit, moment, slope, aspect)
