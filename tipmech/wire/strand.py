"""A second strand beside the core: one wire laid around it, joined to it at its ends. SI units.

What it adds depends on what holds the core. One strand lies on one side: its tension shortens the core and bows it into
a counter-helix, and both relieve the strand. Three states, each at least as stiff as the one before:

- lifted off the core: a helical spring of its own (`lifted_strand`), as where turning or pressing slackens it
- laid on a core that is free to shorten, to turn and to bow (`laid_strand`): turned so that it winds up, or pulled
- the same with core and length held (`held_strand`): the upper bound

Derived in docs/wire/construction.md, compared with a frame of both wires in tests/unit/wire/test_strand.py.
"""

import numpy as np
from numpy.typing import NDArray

from .materials import Material
from .sections import KEYS, Helix, open_coil, round_section

Array = NDArray[np.float64]


def lifted_strand(material: Material, helix: Helix) -> Array:
    """Rows of `sections.KEYS` of a strand that lies nowhere on its core: `open_coil`, and the wire stretches as well.

    A strand is laid steeply, so that the wire's stretch, sin a/E A of the axial compliance, counts: up to a fifth.
    """
    table = open_coil(material, helix)
    table[3] = 1.0 / (1.0 / table[3] + np.sin(helix.angle) / round_section(material, np.array(helix.wire))[3])
    return table


def strand_stiffness(material: Material, helix: Helix) -> Array:
    """Stiffness of a strand that follows its core, per axial length, shape (n, 3, 3), N.

    Deformations: stretch e of the core, its twist t as R t (winding up), and its bow by u toward the strand (a helix of
    the strand's pitch) as v = u cos^2 a/R. The strand's strain and changes of curvature and twist per its own length,
    from the geometry of a helix of radius R + u,

        sin^2 a e + sin a cos a R t + v
        (-sin^2 a cos^2 a e + sin a cos a (1 + sin^2 a) R t + sin^2 a v)/R
        (sin a cos^3 a e + sin^4 a R t - sin a cos a v)/R

    with E A, E I and G J of its wire and a length 1/sin a. Sliding or stuck is the same here: all is uniform.
    """
    wire = round_section(material, np.array(helix.wire))
    sin, cos, radius = np.sin(helix.angle), np.cos(helix.angle), helix.radius
    strain = np.stack([sin**2, sin * cos, np.ones_like(sin)], axis=-1)
    bend = np.stack([-((sin * cos) ** 2), sin * cos * (1.0 + sin**2), sin**2], axis=-1) / radius[:, None]
    twist = np.stack([sin * cos**3, sin**4, -sin * cos], axis=-1) / radius[:, None]
    terms = ((wire[3], strain), (wire[0], bend), (wire[2], twist))
    whole = sum(k * row[:, :, None] * row[:, None, :] for k, row in terms)
    return np.asarray(whole / sin[:, None, None])


def held_strand(material: Material, helix: Helix) -> tuple[Array, Array]:
    """What a strand adds in torsion (N m2) and axially (N) on a core held straight; length held, or turning.

    Beside the bending and twisting of its own wire E A R^2 sin a cos^2 a and E A sin^3 a (Costello), as each of several
    strands laid evenly, which do not bow their core.
    """
    stiff = strand_stiffness(material, helix)
    return stiff[:, 1, 1] * helix.radius**2, stiff[:, 0, 0]


def laid_strand(core: Array, material: Material, helix: Helix) -> tuple[Array, Array]:
    """What a strand adds in torsion, wound up (N m2), and axially, pulled (N), to a core that nothing holds.

    `core`: rows of `sections.KEYS` of all that lies inside the strand, shape (6, n). The core shortens, turns and bows
    as it likes: compliance of both together under a torque or a pull alone. Mostly the bow counts, about
    1/(1 + A1/A2 + A1 R^2/EI) of `held_strand`'s gain in torsion, A1 = E A sin^3 a, A2 and EI of the core.
    """
    radius, sin = helix.radius, np.sin(helix.angle)
    own = np.stack([core[3], core[2] / radius**2, mean_direction(core[0], core[1]) / (radius**2 * sin**4)], axis=-1)
    flex = np.linalg.inv(strand_stiffness(material, helix) + own[:, :, None] * np.eye(3))
    return radius**2 / flex[:, 1, 1] - core[2], 1.0 / flex[:, 0, 0] - core[3]


def bonded_strand(base: Array, material: Material, helix: Helix) -> Array:
    """Gain of one strand bonded beside the axis of a section `base`, which counts the `lifted_strand` already.

    Bending in the plane of its offset: the neutral axis moves toward the strand, and the gain is R^2 A1 A2/(A1 + A2),
    A1 = E A sin^3 a of the strand and A2 the rest of the axial rigidity (composite section of two bars). Across that
    plane nothing is gained: see `mean_direction`. Torsion and stretch as `held_strand`, an upper bound; shear as the
    wire's own section.
    """
    wire = round_section(material, np.full_like(helix.radius, helix.wire))
    free = lifted_strand(material, helix)
    strand = wire[3] * np.sin(helix.angle) ** 3
    rest = np.maximum(base[3] - free[3], 0.0)
    torsion, axial = held_strand(material, helix)
    gain = np.zeros((len(KEYS), *helix.radius.shape))
    gain[:2] = helix.radius**2 * strand * rest / (strand + rest)
    gain[2], gain[3] = torsion - free[2], axial - free[3]
    gain[4] = np.maximum(wire[4] - free[4], 0.0)
    return gain


def mean_direction(least: Array, most: Array) -> Array:
    """Bending rigidity of a section whose two principal planes go round within a pitch that is short beside a bend.

    A moment meets both alike, so their compliances add: 1/EI = (1/EI_least + 1/EI_most)/2. 0 where both are 0.
    """
    both = least + most
    return np.asarray(2.0 * least * most / np.where(both > 0.0, both, 1.0))
