"""The constants of the validation rows against their second computation in experiments/references/.

Tolerances: what is left of an independent computation (round-off of shooting, a limit's flat place), never of the rod.
"""

import ast
from pathlib import Path

import pytest

from experiments.references import bending, coils, planar, roots, run, slip, space, tube, twist
from tipmech.validation import bench as bench_rows
from tipmech.validation import coils as coil_rows
from tipmech.validation import curvature, dynamics, elastica, response, spatial, tubes
from tipmech.validation import model as package_model
from tipmech.validation import planar as planar_rows
from tipmech.validation import space as space_rows
from tipmech.validation import twist as twist_rows

CLOSE = 1e-9  # shooting against shooting
FLAT = 1e-6  # where a load or an angle has its limit: the place on the path is known to the root of 1e-12 only
WALLS = 3e-3  # differences of 1/25 of sqrt(c R)
CRITICAL = 2e-7  # the frame's end loads: the constants carry six to seven digits


def close(value: object, tolerance: float = CLOSE) -> object:
    return pytest.approx(value, rel=tolerance)


def test_nothing_of_the_package_is_used() -> None:
    for path in (Path(run.__file__).parent).glob("*.py"):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        names = [a.name for n in ast.walk(tree) if isinstance(n, ast.Import) for a in n.names]
        names += [n.module or "" for n in ast.walk(tree) if isinstance(n, ast.ImportFrom) and n.level < 2]
        assert names and not [name for name in names if name.startswith("tipmech")], path.name
        assert not [n for n in ast.walk(tree) if isinstance(n, ast.ImportFrom) and n.level > 1], path.name


def test_lee_frame() -> None:
    limits, empty = planar.lee_path()
    assert 1.0 / planar.LEE_AXIAL == close(planar_rows.LEE_AXIAL)
    for seen, row in zip(limits, planar_rows.LEE_LIMITS, strict=True):
        assert seen[0] == close(row[0]) and seen[1:] == close(row[1:], FLAT)
    assert empty == close(planar_rows.LEE_EMPTY)


def test_deep_arch() -> None:
    limits, at_6 = planar.arch_path()
    assert limits[0][0] == close(planar_rows.ARCH_LIMIT[0]) and limits[0][1:] == close(planar_rows.ARCH_LIMIT[1:], FLAT)
    assert limits[1][0] == close(planar_rows.ARCH_SECOND)
    assert at_6 == close(planar_rows.ARCH_AT_6)


def test_toggle() -> None:
    for seen, row in zip(planar.toggle_limits(), planar_rows.TOGGLE_LIMITS, strict=True):
        assert seen[0] == close(row[0]) and seen[1] == close(row[1], FLAT)


def test_follower_force() -> None:
    for load, row in planar_rows.FOLLOWER.items():
        tip = planar.follower(load / planar_rows.FOLLOWER_UNIT, planar_rows.FOLLOWER_AXIAL)
        assert [100.0 * part for part in tip] == close(list(row))


def test_shear_flexible_cantilever() -> None:
    soft = (1.0 / planar_rows.SHEAR_AXIAL, 1.0 / planar_rows.SHEAR_RIGIDITY)
    for load, row in planar_rows.SHEAR.items():
        x, y, _, moment = planar.cantilever(load, soft=soft)
        assert (1.0 - x, y, moment) == close(row)


def test_elastica() -> None:
    for load, row in elastica.TRANSVERSE.items():
        x, y, _, _ = planar.cantilever(load)
        assert (y, 1.0 - x) == close(row)
    for (degrees, load), row in elastica.INCLINED.items():
        assert planar.cantilever(load, degrees)[:3] == close(row)
    for degrees, ratio in elastica.BUCKLED.items():
        assert roots.buckled(degrees) == close(ratio, 5e-6 if degrees == 90 else CLOSE)  # 1.3932, as printed


def test_45_degree_bend() -> None:
    for load, row in spatial.BEND_REFERENCE.items():
        assert list(space.bend45(load)) == close(list(row))


def test_princeton_beam() -> None:
    for (load, degrees), row in space_rows.BEAM_TIP.items():
        assert list(space.princeton(load, degrees)) == close(list(row))


def test_frame() -> None:
    for _, direction, row in space_rows.FRAME_LOADS.values():
        assert space.frame_load(direction) == close(row, CRITICAL)
    assert space.frame_moments(opening=True) == close(space_rows.FRAME_MOMENT[0])
    assert space.frame_moments(opening=False) == close(-space_rows.FRAME_MOMENT[1])


def test_twisted_rods() -> None:
    greenhill = next(row for row in spatial.greenhill())  # its number stands in the row itself
    assert twist.greenhill() * package_model.EI / package_model.LENGTH == close(greenhill.reference)
    for tension, torque in twist_rows.HOCKLE.items():
        assert twist.hockling(tension) == close(torque)


def test_localised_helix() -> None:
    writhe = twist.Writhe(twist_rows.SHORTENED, twist_rows.TORSION)
    for turns, row in twist_rows.WRITHE.items():
        assert writhe.at(turns)[1:] == close(row)
    jump = writhe.fold()
    assert jump.rotation == close(twist_rows.JUMP[0]) and jump.torque == close(twist_rows.JUMP[1], FLAT)


def test_superelastic_sections() -> None:
    assert bending.core_moment(curvature.DIAMETER, curvature.STRAIN) == close(curvature.CORE_MOMENT)
    tip = bending.ribbon_cantilever(curvature.WIDTH, curvature.THICKNESS, curvature.LENGTH, curvature.FORCE)
    assert tip == close(curvature.CANTILEVER)
    law = curvature.NITINOL
    used = (curvature.MODULUS, curvature.START, law.plateau_slope, law.transformation_strain, law.martensite_modulus)
    assert used == (bending.MODULUS, bending.START, bending.PLATEAU, bending.LENGTH, bending.MARTENSITE)


def test_roots() -> None:
    assert dynamics.CANTILEVER == close(tuple(roots.cantilever_waves()))
    assert dynamics.FREE == close(tuple(roots.free_waves()))
    for lam, angles in tubes.WHIP_SNAP.items():
        base, *tips = roots.whip_snap(lam)
        assert base == close(angles[0]) and tips == close(list(angles[1:]), FLAT)
    for lam, table in tubes.WHIP_LAG.items():
        for base, tip in table.items():
            assert roots.whip_tip(base, lam) == close(tip)
    for feed, length in tubes.WHIP_LENGTH.items():
        assert roots.whip_length(feed) == close(length)


def test_coils() -> None:
    assert coils.rigidities(run.COIL) == close(coil_rows.REFERENCE)
    assert coils.wound(run.COIL) == close(coil_rows.WOUND)
    assert run.ROPE == close(coil_rows.ROPE)


def test_wire_in_a_bent_tube() -> None:
    for case, value in response.WALL.items():
        assert tube.wall_force(*case) == close(value)
    # a long bend of little clearance: derived by hand, two contacts at each end
    assert tube.wall_force(1e-6, 0.05, 0.03, 0.03) == close(1.0 / 3.0**0.5, WALLS)


def test_a_wrong_constant_would_be_seen() -> None:
    """A change in the eighth digit of Lee's first load is more than the tolerance lets pass."""
    load = planar_rows.LEE_LIMITS[0][0]
    assert load * (1.0 + 5e-8) != close(load)


def test_the_command_names_every_benchmark(capsys: pytest.CaptureFixture[str]) -> None:
    run.main(["--theme", "space"])
    lines = capsys.readouterr().out.splitlines()
    assert len(lines) == 13
    assert any(line.startswith("Princeton beam, 13.345 N at 45 deg") and "shooting" in line for line in lines)


def test_onset_of_slip() -> None:
    for friction in (0.03, 0.2):
        assert slip.onset(friction, bench_rows.SLIP_OFFSET) == close(bench_rows.SLIP[friction], FLAT)
