"""A wire that curls in the pocket and is pushed on: it touches itself, and ends as it is told."""

from dataclasses import replace
from functools import cache

import numpy as np
from insertion_cases import in_pocket, make_case, mirrored

from tipmech.insertion.case import Case, Move, StopRules
from tipmech.insertion.classify import curl_start, travel
from tipmech.insertion.record import Record
from tipmech.insertion.run import advance
from tipmech.outcome import Stop

RADIUS = 0.178e-3  # m, of the wire of `make_case`


def case(past_curl: float | None) -> Case:
    """A soft wire against a front that holds."""
    c = in_pocket(make_case(2e-8), front_force=0.5, room=3e-3)
    return replace(c, stop=StopRules(30e-3, past_curl), moves=(Move("advance", 12e-3),))


@cache
def record(past_curl: float | None) -> Record:
    return advance(case(past_curl))


def test_a_run_goes_on_past_the_first_curl_unless_told_otherwise() -> None:
    r = record(None)
    assert r.stop == Stop.PROTOCOL_DONE
    assert travel(r)[-1] > curl_start(r) + 4e-3


def test_limbs_touch_and_do_not_pass_through_each_other() -> None:
    r = record(None)
    assert 0.9 < np.min(r.limb_approach) < 1.02
    # the same from the nodes alone: none nearer than a diameter, less what contact yields, to another limb
    far = 6.0 * RADIUS
    for x in r.positions:
        arc = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(x, axis=0), axis=1))])
        gap = np.linalg.norm(x[:, None] - x[None], axis=2)
        apart = np.abs(arc[:, None] - arc[None]) > far
        assert gap[apart].min() > 0.9 * 2.0 * RADIUS


def test_the_energy_of_a_folded_wire_is_accounted_for() -> None:
    r = record(None)
    touched = r.limb_approach < 1.02
    assert touched.sum() > 10
    assert r.audit_error[-1] < 0.03


def test_a_run_told_to_end_at_the_first_curl_ends_there() -> None:
    r = record(0.0)
    assert r.stop == Stop.FIRST_CURL
    n = len(r.feed)
    np.testing.assert_array_equal(r.positions, record(None).positions[:n])


def test_a_run_told_to_end_past_the_curl_ends_there() -> None:
    r = record(2e-3)
    assert r.stop == Stop.ADVANCE_PAST_CURL_DONE
    assert abs(travel(r)[-1] - curl_start(r) - 2.3e-3) < 0.11e-3  # a curl counts once it has lasted 0.3 mm


def test_a_mirrored_fold_is_the_mirror_image() -> None:
    r = advance(mirrored(case(2e-3)))
    np.testing.assert_allclose(r.positions[:, :, 1], -record(2e-3).positions[:, :, 1], atol=2e-6)
    np.testing.assert_allclose(r.push, record(2e-3).push, atol=1e-3 * record(2e-3).push.max())
