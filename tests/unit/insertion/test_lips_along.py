"""What the lips take along the vessel closes the balance of the forces in the wire along it."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from tipmech.files.scene import read_case
from tipmech.insertion.case import Move
from tipmech.insertion.record import Record
from tipmech.insertion.run import advance
from tipmech.insertion.shape import element_lengths
from tipmech.show.rates import NO_FORCE

SLOPE = 0.15  # -, at most, of the flap that is lifted by its lip: that much of its force lies along the vessel
DEMO = Path(__file__).parents[3] / "experiments" / "local_presentation.toml"


@pytest.fixture(scope="module")
def slippery() -> Record:
    """A bent tip pushed through the mouth to the front, without any friction."""
    case = read_case(DEMO).case
    front = replace(case.scene, channel=replace(case.scene.channel, front_friction=0.0))
    return advance(replace(case, scene=front, friction=0.0, moves=(Move("advance", 11e-3),)))


def carried_before(record: Record, row: int) -> float:
    """Compression along the straight vessel in the wire just before the upstream lip, N."""
    case, x = record.case, record.positions[row]
    lengths = element_lengths(case)
    end = case.scene.tear.start - 2.0 * float(case.profile.radius[0])
    point, axis, _, _ = (v[0] for v in case.scene.centreline.frame(np.array([end])))
    k = int(np.flatnonzero((x[1:] - point) @ axis < 0.0)[-1])
    away = np.array([case.numerics.length - lengths[:k].sum() - 0.5 * lengths[k]])
    stiff = np.concatenate([case.profile.at(name, away) for name in ("GA", "GA", "EA")])
    frame = Rotation.from_quat(record.quaternions[row, k], scalar_first=True).as_matrix()
    strain = frame.T @ (x[k + 1] - x[k]) / lengths[k] - [0.0, 0.0, 1.0]
    return -float(frame @ (stiff * strain) @ axis)


def test_without_friction_the_wire_carries_what_lips_and_front_bear(slippery: Record) -> None:
    found, front = slippery.force_lip_along, slippery.force_front
    rows = np.flatnonzero(slippery.lead_s > slippery.case.scene.tear.start + 1e-3)
    carried = np.array([carried_before(slippery, row) for row in rows])
    assert carried.max() > 5e-3 and found[rows].max() > 0.3e-3 and found[rows].min() < -1e-3 and front.max() > 1e-3
    left, walls = carried - found[rows] - front[rows], slippery.force_false[rows]
    outside = walls == 0.0
    assert outside.any() and np.all(np.abs(left[outside]) < 1e-6)
    assert np.all(left > -1e-5) and np.all(left <= SLOPE * walls + 1e-6)


@pytest.mark.parametrize("name", ["perforation", "reentry"])
def test_neither_a_support_across_the_vessel_nor_what_is_pierced_counts_as_a_lip(name: str) -> None:
    """A stiff wire through the outer wall and one through the flap, with friction: no lip holds either; an edge against
    which the first lies bent pushes it on (docs/scenes.md)."""
    record = advance(read_case(DEMO.with_name("wall") / f"{name}.toml").case)
    assert record.push.max() > 10e-3
    assert np.all(record.force_lip_along <= NO_FORCE)
    if name == "perforation":
        at = np.searchsorted(record.feed, 1.4e-3 - 1e-9)
        assert record.force_lip_along[[at, -1]] == pytest.approx([-19.8e-3, -1.3e-3], abs=0.05e-3)


def test_it_is_a_part_of_the_normal_force_and_nothing_before_the_tear(slippery: Record) -> None:
    found, tear = slippery.force_lip_along, slippery.case.scene.tear
    before = slippery.lead_s < tear.start - 1e-3
    assert before.any() and np.all(found[before] == 0.0)
    drawn = slippery.force_front == 0.0
    assert np.all(found[drawn] <= slippery.force_window[drawn] + slippery.force_false[drawn] + 1e-6)


def test_the_edge_from_which_a_hook_hangs_takes_the_pull_that_the_front_behind_it_does_not() -> None:
    """A hook drawn back under the upstream lip until its shaft hangs on it, round whose edge it goes: what its flap's
    slope and friction leave of the pull is less than a tenth."""
    record = advance(read_case(DEMO.with_name("wall") / "retrograde.toml").case)
    pull, edge, front = (float(v[-1]) for v in (-record.push, -record.force_lip_along, record.force_front_back))
    assert edge > 15e-3 and front > 5e-3
    assert pull == pytest.approx(edge + front, rel=0.1)
