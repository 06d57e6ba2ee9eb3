"""Materials of a guidewire, each with its source and plausible range. SI units.

"from memory" and "assumed" mark values that nobody has looked up; docs/parameters.md lists them all.
"""

from dataclasses import dataclass
from math import pi

from ..checks import FieldError, Said, check_positive, check_range

Breaks = tuple[tuple[float, float], ...]  # strain at which the stress-strain curve's slope falls, and its share of E


@dataclass(frozen=True)
class Hardening:
    """Stress that goes on rising with `slope` (Pa) beyond the yield strain; 0: perfectly plastic.

    The rod follows it back when a bend is released (deformation theory): no set stays, no work is lost.

    slope : float
        tangent modulus beyond yield, Pa
    source : str
        where the value comes from
    """

    slope: float
    source: str

    def __post_init__(self) -> None:
        check_range(self.slope, name="slope", low=0.0)

    def breaks(self, E: float, start: float) -> Breaks:
        """Breaks of the stress-strain curve of a material that yields at strain `start`."""
        return ((start, 1.0 - self.slope / E),)


@dataclass(frozen=True)
class Superelastic:
    """Loading curve of a superelastic alloy: a plateau from the yield strain on, then martensite.

    The rod follows the loading curve in both directions: a potential, without the hysteresis between the loading and
    the unloading plateau, which is reported only; the same in tension and compression. The yield of martensite beyond
    it is left out.

    plateau_slope : float
        tangent modulus on the loading plateau, Pa
    transformation_strain : float
        length of that plateau, -
    martensite_modulus : float
        tangent modulus behind it, Pa
    unloading_stress : float
        stress of the unloading plateau, Pa; reported, not used by the rod
    source : str
        where the values come from
    """

    plateau_slope: float
    transformation_strain: float
    martensite_modulus: float
    unloading_stress: float
    source: str

    def __post_init__(self) -> None:
        check_range(self.plateau_slope, name="plateau_slope", low=0.0)
        check_positive(self.transformation_strain, name="transformation_strain", high=0.2)
        check_positive(self.martensite_modulus, name="martensite_modulus")
        check_positive(self.unloading_stress, name="unloading_stress")

    def breaks(self, E: float, start: float) -> Breaks:
        """Breaks of the stress-strain curve of a material whose plateau begins at strain `start`."""
        end = start + self.transformation_strain
        return (start, (E - self.plateau_slope) / E), (end, (self.plateau_slope - self.martensite_modulus) / E)

    def hysteresis(self, E: float, start: float) -> float:
        """Stress between the loading plateau at its start and the unloading plateau, Pa."""
        return E * start - self.unloading_stress


Law = Hardening | Superelastic


@dataclass(frozen=True)
class Material:
    """One material, isotropic and elastic up to `yield_strain`.

    Parameters
    ----------
    name : str
        key in files
    E : float
        Young's modulus, Pa
    G : float
        shear modulus, Pa (its own value: for drawn wire it does not follow from E and a round-number Poisson ratio)
    density : float
        kg/m3
    yield_strain : float
        strain at which the elastic description ends, -
    limit : str
        what begins there
    E_range : tuple of float
        plausible range of E, Pa
    source : str
        where the values come from
    law : Hardening or Superelastic, optional
        stress beyond `yield_strain`; without one the rod stays on the line
    """

    name: str
    E: float
    G: float
    density: float
    yield_strain: float
    limit: str
    E_range: tuple[float, float]
    source: str
    law: Law | None = None

    def __post_init__(self) -> None:
        check_positive(self.E, name="E")
        check_positive(self.G, name="G")
        if not 0.0 < self.nu < 0.5 + 1e-9:
            raise ValueError(
                f"material {self.name}: E/(2 G) - 1 is {self.nu:.3g}; allowed: greater than 0 and at most 0.5"
            )
        check_positive(self.density, name="density")
        check_positive(self.yield_strain, name="yield_strain", high=1.0)
        if not self.source:
            raise ValueError(f"material {self.name}: a source is needed ('assumed' is one)")
        self._check_law()

    @property
    def nu(self) -> float:
        """Poisson ratio E/(2 G) - 1, -."""
        return self.E / (2.0 * self.G) - 1.0

    def _check_law(self) -> None:
        """Check that the law's curve is softer than E behind the limit, and that its unloading plateau lies below."""
        law, E, start = self.law, Said(f"E ({self.E / 1e9:.4g} GPa)"), self.E * self.yield_strain
        if isinstance(law, Hardening) and law.slope >= self.E:
            raise FieldError("slope", Said(f"{law.slope / 1e9:.4g} GPa"), f"less than {E}")
        if isinstance(law, Superelastic):
            for field in ("plateau_slope", "martensite_modulus"):
                value = getattr(law, field)
                if value >= self.E:
                    raise FieldError(field, Said(f"{value / 1e9:.4g} GPa"), f"less than {E}")
            if law.plateau_slope > law.martensite_modulus:
                least = f"at most martensite_modulus ({law.martensite_modulus / 1e9:.4g} GPa)"
                raise FieldError("plateau_slope", Said(f"{law.plateau_slope / 1e9:.4g} GPa"), least)
            if law.unloading_stress > start:
                most = f"at most the stress at which the loading plateau begins ({start / 1e6:.4g} MPa)"
                raise FieldError("unloading_stress", Said(f"{law.unloading_stress / 1e6:.4g} MPa"), most)


def _from_nu(
    name: str,
    E: float,
    nu: float,
    density: float,
    yield_strain: float,
    limit: str,
    E_range: tuple[float, float],
    source: str,
    law: Law | None = None,
) -> Material:
    """Material given by Young's modulus and Poisson ratio."""
    return Material(name, E, E / (2.0 * (1.0 + nu)), density, yield_strain, limit, E_range, source, law)


MATERIALS: dict[str, Material] = {
    m.name: m
    for m in (
        Material(
            "steel_304",
            193e9,
            69e9,
            7900.0,
            0.009,
            "yield",
            (180e9, 200e9),
            "302/304 spring wire, ASTM A313 spring material table (E, G, density); yield strain 0.8-1.0 % from "
            "0.75-0.85 of the tabulated strength over E",
            Hardening(
                30e9,
                "assumed: from yield (1.74 GPa) to the tabulated strength of 2.24-2.45 GPa (ASTM A313, diameters up to "
                "0.23 mm) over 2 % of further strain, itself from memory",
            ),
        ),
        _from_nu(
            "nitinol",
            48e9,
            0.33,
            6450.0,
            0.010,
            "superelastic plateau",
            (45e9, 65e9),
            "drawn superelastic core wire, 48 GPa at 0.15 mm diameter: Adv Mater Process Oct 2019 p 49; density: "
            "generic data sheet; nu and start of the plateau near 1 % strain: from memory",
            Superelastic(
                1e9,
                0.05,
                34e9,
                200e6,
                "martensite 28-41 GPa and transformation strain up to 8 % in one cycle: generic data sheet; its start "
                "at 480 MPa (450-600 MPa at 37 C), length 5 %, slope 1 GPa and unloading at 100-300 MPa: from memory",
            ),
        ),
        _from_nu(
            "platinum_tungsten_8",
            180e9,
            0.38,
            20000.0,
            0.005,
            "yield",
            (165e9, 200e9),
            "Pt-8W coil wire: from memory (180 +- 15 GPa, nu 0.38, 19-21 g/cm3); yield strain assumed from a strength "
            "of 1.0-1.9 GPa",
        ),
        _from_nu(
            "platinum_nickel_10",
            180e9,
            0.38,
            19000.0,
            0.005,
            "yield",
            (165e9, 200e9),
            "alloy named for coils in patent US 2020/0095653; numbers from memory as for Pt-8W",
        ),
        _from_nu(
            "platinum_iridium_10",
            200e9,
            0.38,
            22000.0,
            0.0022,
            "yield",
            (190e9, 210e9),
            "Pt-10Ir card, ASTM B684: E, nu, density, strength 550 MPa work hardened; yield strain "
            "assumed 0.8 of it over E",
        ),
        _from_nu(
            "ptfe",
            0.5e9,
            0.46,
            2150.0,
            0.05,
            "yield",
            (0.4e9, 0.69e9),
            "catheter-grade tube below 0.69 GPa: patent US 10,744,231; 0.4-0.6 GPa, nu, density, yield: from memory",
        ),
        _from_nu(
            "polyurethane_soft_filled",
            60e6,
            0.48,
            2500.0,
            0.20,
            "lasting set",
            (36e6, 110e6),
            "medical polyether urethane 80A, 36 MPa 1 % secant flexural modulus (supplier table, ASTM D790), times "
            "1.5-3 for tungsten filling (from memory); nu, density, limit assumed",
        ),
        _from_nu(
            "polyurethane_55d_filled",
            250e6,
            0.48,
            2500.0,
            0.10,
            "lasting set",
            (149e6, 450e6),
            "medical polyether urethane 55D, 149 MPa (supplier table, ASTM D790), times 1.5-3 for tungsten filling "
            "(from memory); nu, density, limit assumed",
        ),
    )
}


def wire_area(diameter: float) -> float:
    """Area of a round wire of `diameter` (m), m2."""
    return pi * diameter**2 / 4.0
