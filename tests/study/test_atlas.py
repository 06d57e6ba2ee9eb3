"""The sign atlas on made-up outcomes with a known sign everywhere, and its surfaces against a logistic truth."""

from dataclasses import replace
from math import exp, log

import numpy as np
import pytest
from sklearn.metrics import brier_score_loss
from study.made_up import CURLED, EXTENDED, TRUE, bench, make_spec

from tipmech.checks import FieldError
from tipmech.insertion.case import Case
from tipmech.insertion.record import Outcome
from tipmech.study.atlas import Sign, atlas_of, coordinates, differences, panel, reliability_table, share_table, signs
from tipmech.study.run_atlas import AtlasSpec, Range, run_atlas, shares, site
from tipmech.study.surface import calibration, fit

LOADS = (0.5e-2, 2e-2)
AXES = (Range("room", 0.8e-3, 5e-3), Range("unsupported_length", 2.5e-3, 25e-3))
SPEC = AtlasSpec(make_spec(LOADS, (0.3,), points=16), AXES, 128)


def signed(case: Case) -> Outcome:
    """With the stiff wire half of them enter. With the soft one a tenth do in narrow pockets, where a fifth curl with a
    near support and half with a far one; nine tenths do in wide pockets."""
    u = np.random.default_rng([case.seed, int(1e9 * case.scene.channel.room)]).random()
    if bench(case.profile) > 1e-2:
        return EXTENDED if u < 0.5 else TRUE
    if case.scene.channel.room > 2e-3:
        return EXTENDED if u < 0.9 else TRUE
    if u < 0.1:
        return EXTENDED
    curls = 0.1 if case.scene.support.distance < 8e-3 else 0.8
    return replace(CURLED, entered=float("nan")) if u < 0.1 + curls else TRUE


@pytest.fixture(scope="module")
def atlas(tmp_path_factory):
    return atlas_of(run_atlas(SPEC, tmp_path_factory.mktemp("atlas") / "a", 1, evaluate=signed), 60)


def at(atlas, room: float, support: float, flat: float):
    return np.array([[AXES[0].place(np.array(room)), AXES[1].place(np.array(support)), flat, 0.0]])


def test_signs_are_those_that_were_put_in(atlas):
    for flat in (-1.0, 1.0):
        for room, support, sign in (
            (1.0e-3, 3.5e-3, Sign.LOWERS),
            (1.0e-3, 19e-3, Sign.TRADES),
            (4.0e-3, 3.5e-3, Sign.REVERSES),
            (4.0e-3, 19e-3, Sign.REVERSES),
        ):
            found = signs(atlas, differences(atlas, at(atlas, room, support, flat)))
            assert found[0] == int(sign), (room, support, flat)


def test_a_place_at_the_border_is_undecided(atlas):
    room = np.linspace(1.2e-3, 3.2e-3, 60)
    x = np.concatenate([at(atlas, r, 8e-3, 1.0) for r in room])
    found = signs(atlas, differences(atlas, x))
    assert int(Sign.UNDECIDED) in found and found[0] != int(Sign.REVERSES) and found[-1] == int(Sign.REVERSES)


def test_panels_and_shares_agree_with_the_signs(atlas):
    place, sign, entered = panel(atlas, 0, 1, flat=True, steps=9)
    assert sign.shape == entered.shape == (9, 9)
    assert np.all(sign[:, 6:8] == int(Sign.REVERSES)) and np.all(entered[1:-1, 1] < 0.0)
    assert place[0] == -1.0 and place[-1] == 1.0
    table = share_table(atlas)
    total = sum(table[name] for name in table if name != "front_shape")
    np.testing.assert_allclose(total, 1.0)
    assert np.all(table["raises_entry"] > 0.35)


def test_a_step_is_seen_to_be_no_smooth_surface(atlas):
    """The made-up chance jumps at 2 mm: a surface is worth more than the share, and its calibration shows the jump."""
    table = reliability_table(atlas)
    soft = (table["event"] == "entered") & (table["tip_load"] == LOADS[0])
    assert table["brier"][soft][0] < 0.7 * table["brier_of_the_share"][soft][0]
    inside = (table["predicted"] > table["seen_low"]) & (table["predicted"] < table["seen_high"])
    assert np.mean(inside[soft]) < 0.5


def test_a_logistic_truth_is_found_with_its_interval():
    rng = np.random.default_rng(2)
    site_x = rng.uniform(-1.0, 1.0, (200, 2))
    site_of = np.repeat(np.arange(200), 10)
    x = site_x[site_of]
    truth = 1.0 / (1.0 + np.exp(-(0.5 + 2.0 * x[:, 0] - x[:, 1])))
    surface = fit(x, rng.random(2000) < truth, site_of, 1, 60)
    places = np.array([[0.0, 0.0], [0.8, -0.5], [-0.8, 0.5]])
    p = surface.probability(places)
    known = 1.0 / (1.0 + np.exp(-(0.5 + 2.0 * places[:, 0] - places[:, 1])))
    low, high = np.quantile(p[1:], [0.005, 0.995], axis=0)
    assert np.all((low <= known) & (known <= high))
    assert p[0] == pytest.approx(known, abs=0.06)
    c = surface.calibration
    assert np.mean((c.low <= c.predicted) & (c.predicted <= c.high)) >= 0.7
    assert c.brier < 0.8 * c.base


def test_brier_is_that_of_scikit_learn():
    rng = np.random.default_rng(3)
    p = rng.random(300)
    event = rng.random(300) < p
    c = calibration(p, event)
    assert c.brier == pytest.approx(brier_score_loss(event, p))
    assert np.sum(c.count) == 300 and c.brier < c.base


def test_an_event_that_never_happens_has_no_surface():
    with pytest.raises(ValueError, match="always or never"):
        fit(np.zeros((8, 1)), np.zeros(8, bool), np.arange(8), 1)


def test_sites_cover_the_ranges_and_pin_what_they_say():
    u = shares(SPEC)
    assert u.shape == (128, 3) and np.mean(u[:, 2] >= 0.5) == 0.5
    arm = site(SPEC, 5, u[5])
    assert arm.pinned["room"] == pytest.approx(AXES[0].value(u[5, 0])) == arm.levels["room"]
    assert arm.spec.shared.front_shape == arm.levels["front_shape"]
    r = AXES[1]
    assert r.place(np.array([r.low, exp(0.5 * (log(r.low) + log(r.high))), r.high])) == pytest.approx([-1.0, 0.0, 1.0])


def test_one_worker_and_two_give_the_same_bytes_and_designs_meet_the_same_vessels(tmp_path):
    spec = replace(SPEC, sites=8, study=replace(SPEC.study, points=2))
    one = run_atlas(spec, tmp_path / "one", 1, evaluate=signed)
    run_atlas(spec, tmp_path / "two", 2, evaluate=signed)
    assert (tmp_path / "one/rows.parquet").read_bytes() == (tmp_path / "two/rows.parquet").read_bytes()
    soft = one.rows["tip_load_index"] == 0
    for name in ("arm", "seed", "x_mouth_gap", "x_room"):
        np.testing.assert_array_equal(one.rows[name][soft], one.rows[name][~soft])
    assert coordinates(one, one.rows["arm"], one.rows["angle"]).shape == (32, 4)


def test_bad_ranges_are_refused():
    with pytest.raises(FieldError, match="the second greater"):
        Range("room", 2e-3, 1e-3)
    with pytest.raises(FieldError, match="room"):
        replace(SPEC, ranges=(Range("room", 1e-5, 1e-3),))
    with pytest.raises(FieldError, match="a power of 2"):
        replace(SPEC, sites=100)
