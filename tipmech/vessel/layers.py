"""The wall as layers: what a dissection between two of them makes the flap and what it leaves as the outer wall."""

from dataclasses import dataclass

from .scene import OuterWall, Wall


@dataclass(frozen=True)
class Layer:
    """One layer of the wall: thickness (m), Young's modulus (Pa)."""

    thickness: float
    youngs_modulus: float


@dataclass(frozen=True)
class Layers:
    """Intima, media and adventitia; `cleavage` is the depth of the plane of dissection in the media, as a share of its
    thickness from the lumen's side (0: between intima and media, 1: between media and adventitia)."""

    intima: Layer
    media: Layer
    adventitia: Layer
    cleavage: float

    @property
    def inside(self) -> tuple[Layer, ...]:
        """Layers of the flap, from the lumen."""
        return self.intima, Layer(self.cleavage * self.media.thickness, self.media.youngs_modulus)

    @property
    def outside(self) -> tuple[Layer, ...]:
        """Layers of the outer wall, from the plane."""
        return Layer((1.0 - self.cleavage) * self.media.thickness, self.media.youngs_modulus), self.adventitia


def bending_modulus(layers: tuple[Layer, ...]) -> float:
    """Modulus of an even plate as thick as bonded layers that bends as they do, Pa.

    D = sum E_k ((b_k - z0)^3 - (a_k - z0)^3)/(3 (1 - nu^2)) about the neutral plane z0 = sum E_k (b_k^2 - a_k^2) /
    (2 sum E_k (b_k - a_k)): laminated plates with the same Poisson ratio in all layers (classical, from memory).
    """
    total, first, second, z = 0.0, 0.0, 0.0, 0.0
    for layer in layers:
        end = z + layer.thickness
        total += layer.youngs_modulus * (end - z)
        first += layer.youngs_modulus * (end**2 - z**2) / 2.0
        second += layer.youngs_modulus * (end**3 - z**3) / 3.0
        z = end
    return 12.0 * (second - first**2 / total) / z**3


def series_modulus(layers: tuple[Layer, ...]) -> float:
    """Modulus of layers pressed through their thickness one on the other (Reuss), Pa."""
    return sum(x.thickness for x in layers) / sum(x.thickness / x.youngs_modulus for x in layers)


def dissected(layers: Layers, breach_toughness: float, outer_toughness: float, poisson: float = 0.49) -> Wall:
    """Wall whose flap is what lies inside the plane and whose outer wall is what lies behind it.

    breach_toughness, outer_toughness : energies to pierce flap and outer wall, J/m2
    """
    flap = layers.inside
    outer = OuterWall(series_modulus(layers.outside), outer_toughness)
    return Wall(bending_modulus(flap), sum(x.thickness for x in flap), breach_toughness, poisson, outer)
