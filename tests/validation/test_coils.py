import numpy as np
import pytest

from tipmech.validation import coils, helix
from tipmech.validation.row import Case
from tipmech.wire.materials import Material
from tipmech.wire.sections import Helix, round_section


@pytest.mark.parametrize("case", coils.CASES, ids=lambda case: case.__name__)
def test_rows_pass(case: Case) -> None:
    rows = case()
    assert rows
    assert not [row for row in rows if not row.passed]


def test_the_flat_turn_form_of_the_shear_would_be_seen(monkeypatch: pytest.MonkeyPatch) -> None:
    """B p/(pi R^3) holds for flat turns: 12 % off for a filar at 22 deg."""
    right = helix.open_coil

    def flat(material: Material, shape: Helix, filars: int = 1) -> np.ndarray:
        table = right(material, shape, filars)
        bend = round_section(material, np.array(shape.wire))[0]
        table[4] = filars * bend * shape.pitch / (np.pi * shape.radius**3)
        return table

    monkeypatch.setattr(helix, "open_coil", flat)
    helix.responses.cache_clear()
    failed = [row.id for row in helix.solved_coils() if not row.passed]
    assert "helix-filars-GA" in failed and "helix-filars-EI1" not in failed
