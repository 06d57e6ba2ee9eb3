import math
import subprocess
import sys

import pytest
import scipy.constants as sc

from tipmech import checks, units


def test_factors_are_those_of_scipy() -> None:
    assert units.UNITS["gf"] == pytest.approx(sc.g * 1e-3, rel=1e-15)
    assert units.UNITS["inch"] == sc.inch
    assert units.UNITS["mmHg"] == pytest.approx(sc.mmHg, rel=1e-15)
    assert units.UNITS["deg"] == sc.degree


@pytest.mark.parametrize("unit", units.UNITS)
def test_there_and_back(unit: str) -> None:
    assert units.from_si(units.to_si(3.7, unit), unit) == pytest.approx(3.7, rel=1e-15)
    assert units.suffix(f"some_field_{unit}") == unit


def test_longest_suffix_wins_and_names_without_unit_have_none() -> None:
    assert units.suffix("rate_mm_per_s") == "mm_per_s"
    assert units.suffix("modulus_kN_per_m2") == "kN_per_m2"
    assert units.suffix("filars") is None
    assert units.suffix("name") is None


def test_si_fields_converts_numbers_and_arrays_and_keeps_the_rest() -> None:
    out = units.si_fields({"length_mm": 20.0, "sizes_um": (1.0, 2.0), "kind": "dome", "filars": 6, "end_mm": None})
    assert out == {"length": 0.02, "sizes": (1e-6, 2e-6), "kind": "dome", "filars": 6, "end": None}


@pytest.mark.parametrize("value", [math.nan, math.inf, -1.0, 0.0, 5.1])
def test_range_check_names_argument_value_and_range(value: float) -> None:
    with pytest.raises(checks.FieldError) as caught:
        checks.check_positive(value, name="gap", high=5.0)
    assert caught.value.field == "gap"
    assert "greater than 0 and at most 5" in str(caught.value)


def test_range_check_returns_what_is_allowed() -> None:
    assert checks.check_positive(5.0, name="gap", high=5.0) == 5.0
    assert checks.check_increasing([0, 1, 2.5], name="s") == (0.0, 1.0, 2.5)
    for bad in ([1.0], [0.0, 0.0], [0.0, math.nan]):
        with pytest.raises(checks.FieldError, match="larger than the one before"):
            checks.check_increasing(bad, name="s")


def test_shown_is_short_and_on_one_line() -> None:
    assert "\n" not in checks.shown("a\nb")
    assert len(checks.shown("x" * 500)) <= checks.SHOWN_CHARACTERS
    assert checks.shown(True) == "true"
    assert checks.shown(2.0) == "2"


def test_importing_the_package_loads_nothing_heavy() -> None:
    heavy = ("numpy", "scipy", "numba", "matplotlib", "pydantic")
    code = f"import sys, tipmech, tipmech.units, tipmech.checks; print([m for m in {heavy} if m in sys.modules])"
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert out.stdout.strip() == "[]"
