"""One strand beside a core: against a frame of both wires, and the limits of what holds the core."""

import numpy as np
import pytest
from strand_frame import Twin, rigidity

from tipmech.wire import sections
from tipmech.wire.materials import MATERIALS
from tipmech.wire.strand import held_strand, laid_strand, lifted_strand, strand_stiffness

STEEL = MATERIALS["steel_304"]
TWINS = {
    "core thicker": Twin(0.062e-3, 0.03e-3, 0.046e-3, 1.5e-3, STEEL.E, STEEL.G),
    "core as thick, steep": Twin(0.03e-3, 0.03e-3, 0.033e-3, 0.4e-3, STEEL.E, STEEL.G),
}
STEPS = (16, 32)  # beams a turn; their error falls with the square, so that the limit follows from two
CLOSE = 5e-4  # of the extrapolated frame: what is left is of fourth order in the step
BENT = 0.03  # of EI: held on the core the strand bends a little less freely than the open helix, 0.02 and 2.0 % here


def of_wires(twin: Twin) -> tuple[np.ndarray, sections.Helix]:
    return (
        sections.round_section(STEEL, np.array([twin.core])),
        sections.Helix(twin.strand, np.array([twin.offset]), twin.pitch),
    )


def limit(twin: Twin, load: int, **how: object) -> float:
    coarse, fine = (rigidity(twin, steps, load, **how) for steps in STEPS)  # type: ignore[arg-type]
    return fine + (fine - coarse) / ((STEPS[1] / STEPS[0]) ** 2 - 1.0)


@pytest.mark.parametrize("name", TWINS)
def test_torsion_and_stretch_of_a_core_that_nothing_holds(name: str) -> None:
    twin = TWINS[name]
    core, helix = of_wires(twin)
    torsion, axial = laid_strand(core, STEEL, helix)
    assert limit(twin, 5) == pytest.approx(core[2, 0] + torsion[0], rel=CLOSE)
    assert limit(twin, 2) == pytest.approx(core[3, 0] + axial[0], rel=CLOSE)


@pytest.mark.parametrize("name", TWINS)
def test_torsion_and_stretch_of_a_held_core(name: str) -> None:
    twin = TWINS[name]
    core, helix = of_wires(twin)
    torsion, axial = held_strand(STEEL, helix)
    assert limit(twin, 5, straight=True, held=(2,)) == pytest.approx(core[2, 0] + torsion[0], rel=CLOSE)
    assert limit(twin, 2, straight=True, held=(5,)) == pytest.approx(core[3, 0] + axial[0], rel=CLOSE)


@pytest.mark.parametrize("name", TWINS)
def test_a_sliding_strand_bends_as_an_open_helix(name: str) -> None:
    twin = TWINS[name]
    core, helix = of_wires(twin)
    lifted = core[0, 0] + lifted_strand(STEEL, helix)[0, 0]
    frame = limit(twin, 3)
    assert lifted <= frame <= (1.0 + BENT) * lifted


@pytest.mark.parametrize("pitch", [0.1e-3, 0.4e-3, 1.5e-3, 20e-3])
def test_what_holds_the_core_orders_the_states(pitch: float) -> None:
    """Nothing inside it: lifted; a core of any stiffness; a rigid one: held."""
    helix = sections.Helix(0.03e-3, np.array([0.04e-3, 0.06e-3]), pitch)
    free, (torsion, axial) = lifted_strand(STEEL, helix), held_strand(STEEL, helix)
    alone = laid_strand(np.zeros((6, 2)), STEEL, helix)
    assert alone[0] == pytest.approx(free[2], rel=1e-6) and alone[1] == pytest.approx(free[3], rel=1e-6)
    core = sections.round_section(STEEL, np.full(2, 0.05e-3))
    laid = [laid_strand(core * scale, STEEL, helix) for scale in (1e-2, 1.0, 1e2)]
    torsions = np.stack([alone[0], *(one[0] for one in laid), torsion])
    axials = np.stack([alone[1], *(one[1] for one in laid), axial])
    assert np.all(np.diff(torsions, axis=0) > 0.0) and np.all(np.diff(axials, axis=0) > 0.0)
    rigid = laid_strand(core * 1e6, STEEL, helix)
    assert rigid[0] == pytest.approx(torsion, rel=1e-3) and rigid[1] == pytest.approx(axial, rel=1e-3)


def test_leading_terms_are_the_ropes() -> None:
    """A thin wire neither bends nor twists: E A R^2 sin a cos^2 a, E A sin^3 a (Costello), and what is left."""
    helix = sections.Helix(1e-6, np.array([0.046e-3]), 1.5e-3)
    sin, cos, radius = np.sin(helix.angle), np.cos(helix.angle), helix.radius
    wire = sections.round_section(STEEL, np.array([helix.wire]))[3]
    torsion, axial = held_strand(STEEL, helix)
    assert torsion == pytest.approx(wire * radius**2 * sin * cos**2, rel=1e-3)
    assert axial == pytest.approx(wire * sin**3, rel=1e-3)
    core = sections.round_section(STEEL, np.array([5e-6]))
    along = wire * sin**3
    share = 1.0 / (1.0 + along / core[3] + along * radius**2 / core[0])
    laid, _ = laid_strand(core, STEEL, helix)
    assert share < 0.1 and laid == pytest.approx(share * torsion, rel=2e-2)


def test_stiffness_is_positive() -> None:
    helix = sections.Helix(0.03e-3, np.linspace(0.02e-3, 0.2e-3, 7), 0.5e-3)
    stiff = strand_stiffness(STEEL, helix)
    assert np.allclose(stiff, np.swapaxes(stiff, 1, 2)) and np.all(np.linalg.eigvalsh(stiff) > 0.0)
