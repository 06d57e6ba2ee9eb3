"""`[[material]]` of a wire file: a user's own material, in users' units, with or without a law beyond its limit."""

from typing import Any

from pydantic import Field

from ..checks import FieldError, Said
from ..units import si_fields
from ..wire.materials import Hardening, Law, Material, Superelastic
from .common import Model, Name

LAW_FIELDS = {
    "plateau_slope_GPa": "plateau_slope",
    "transformation_strain_percent": "transformation_strain",
    "martensite_modulus_GPa": "martensite_modulus",
    "unloading_stress_MPa": "unloading_stress",
}  # of a superelastic material: fields of a file -> fields of Superelastic


class MaterialTable(Model):
    """`[[material]]`: a material of the user's own, with its source.

    Beyond `yield_strain_percent` it is linear elastic, or hardens (`hardening_modulus_GPa`), or is superelastic (the
    four fields behind it, all of them).
    """

    name: Name
    youngs_modulus_GPa: float = Field(gt=0, le=600)
    shear_modulus_GPa: float = Field(gt=0, le=300)
    density_g_per_cm3: float = Field(ge=0.5, le=25)
    yield_strain_percent: float = Field(gt=0, le=100)
    source: str = Field(min_length=3, max_length=400)
    hardening_modulus_GPa: float | None = Field(default=None, ge=0, le=600)
    plateau_slope_GPa: float | None = Field(default=None, ge=0, le=600)
    transformation_strain_percent: float | None = Field(default=None, gt=0, le=20)
    martensite_modulus_GPa: float | None = Field(default=None, gt=0, le=600)
    unloading_stress_MPa: float | None = Field(default=None, gt=0, le=5000)


def material_of(own: MaterialTable) -> Material:
    """A user's own material in SI.

    Raises
    ------
    FieldError
        naming the file's field, its value and what is allowed
    """
    data = si_fields(own.model_dump())
    E = data["youngs_modulus"]
    law = _law(own, data)
    limit = "superelastic plateau" if isinstance(law, Superelastic) else "yield"
    try:
        return Material(
            own.name,
            E,
            data["shear_modulus"],
            data["density"],
            data["yield_strain"],
            limit,
            (0.9 * E, 1.1 * E),
            own.source,
            law,
        )
    except FieldError as error:
        names = {"slope": "hardening_modulus_GPa", **{s: f for f, s in LAW_FIELDS.items()}}
        raise FieldError(names.get(error.field, error.field), error.value, error.allowed) from None


def _law(own: MaterialTable, data: dict[str, Any]) -> Law | None:
    """Law beyond the limit of a user's own material."""
    given = [field for field in LAW_FIELDS if getattr(own, field) is not None]
    if own.hardening_modulus_GPa is not None:
        if given:
            allowed = "none beside hardening_modulus_GPa: a material hardens or is superelastic"
            raise FieldError(given[0], getattr(own, given[0]), allowed)
        return Hardening(data["hardening_modulus"], own.source)
    if not given:
        return None
    for field in LAW_FIELDS:
        if field not in given:
            raise FieldError(field, Said("missing"), f"a value: a superelastic material has {', '.join(LAW_FIELDS)}")
    return Superelastic(**{name: data[name] for name in LAW_FIELDS.values()}, source=own.source)


def material_fields(own: Material) -> dict[str, Any]:
    """Fields of `[[material]]` for a material, values in SI."""
    fields: dict[str, Any] = {
        "name": own.name,
        "youngs_modulus_GPa": own.E,
        "shear_modulus_GPa": own.G,
        "density_g_per_cm3": own.density,
        "yield_strain_percent": own.yield_strain,
        "source": own.source,
    }
    if isinstance(own.law, Hardening):
        fields["hardening_modulus_GPa"] = own.law.slope
    elif own.law is not None:
        fields |= {field: getattr(own.law, name) for field, name in LAW_FIELDS.items()}
    return fields
