"""The sign atlas on made-up outcomes with a known sign everywhere, and its surfaces against a logistic truth."""

from dataclasses import replace
from math import exp, log
from types import SimpleNamespace

import numpy as np
import pytest
import statsmodels.api as statsmodels
from scipy.special import expit
from scipy.stats import qmc
from sklearn.metrics import brier_score_loss
from study.made_up import EXTENDED, TRUE, make_spec

from experiments.coverage.signs import TRUTHS, made_up, study
from tipmech.checks import FieldError
from tipmech.insertion.case import Case
from tipmech.insertion.record import Outcome
from tipmech.outcome import Label
from tipmech.study.atlas import (
    EVENTS,
    INSTEAD,
    VOLUME,
    Difference,
    Sign,
    _at_front,
    _spread,
    atlas_of,
    coordinates,
    differences,
    signs,
)
from tipmech.study.atlas_tables import no_news, reliability_table, share_table
from tipmech.study.beside import Beside
from tipmech.study.inputs import scramble_points
from tipmech.study.run_atlas import AtlasSpec, Range, run_atlas, shares, site
from tipmech.study.streams import Use, stream
from tipmech.study.surface import Counts, _models, calibration, drawn, fit, terms

LOADS = (0.5e-2, 2e-2)
AXES = (Range("room", 0.8e-3, 5e-3), Range("unsupported_length", 2.5e-3, 25e-3))
SPEC = AtlasSpec(make_spec(LOADS, (0.3,), points=16), AXES, 128)


def signed(x):
    """More enter at high places of the third axis. With the soft wire few do at low places of the first, nearly all at
    high ones; of those it keeps out none curls at low places of the second axis, and all do at high ones."""
    soft, stiff = expit(3.0 * x[:, 0] + x[:, 2]), expit(x[:, 2])
    return soft, stiff, np.clip((stiff - soft) / (1.0 - soft), 0.0, 1.0) * expit(6.0 * x[:, 1]), np.zeros(len(x))


def coin(case: Case) -> Outcome:
    """Half of them enter."""
    return EXTENDED if np.random.default_rng(case.seed).random() < 0.5 else TRUE


@pytest.fixture(scope="module")
def atlas():
    result = made_up(signed, 1, 256, 64)
    result.spec.margin = 0.2  # a narrower one takes more insertions than even these
    return atlas_of(result, 60)


def at(*places: tuple[float, float]):
    """Places on the first two axes, the others in the middle, a notch, the lower angle."""
    return np.array([[one, other, 0.0, 0.0, -1.0, -1.0] for one, other in places])


def test_signs_are_those_that_were_put_in(atlas):
    found = differences(atlas, at((-0.8, -0.7), (-0.35, 0.6), (0.7, -0.7), (0.7, 0.9)))
    assert list(signs(atlas, found)) == [Sign.LOWERS, Sign.TRADES, Sign.REVERSES, Sign.REVERSES]


def test_a_place_at_the_border_is_undecided(atlas):
    """Few curl there: entry or curl falls with entry. A margin wider than the fall would call that no change."""
    spec = SimpleNamespace(**vars(atlas.result.spec) | {"margin": 0.05})
    usual = replace(atlas, result=SimpleNamespace(**vars(atlas.result) | {"spec": spec}))
    sign = signs(usual, differences(atlas, at(*((v, -0.8) for v in np.linspace(-0.8, 0.8, 41)))))
    assert sign[0] == int(Sign.LOWERS) and sign[-1] == int(Sign.REVERSES) and sign[20] == int(Sign.UNDECIDED)
    assert list(np.unique(sign)) == [Sign.UNDECIDED, Sign.LOWERS, Sign.REVERSES]


def test_panels_and_shares_agree_with_the_signs(atlas):
    wide = [p for p in atlas.panels if (p.one, p.other) == (0, 1)]
    assert [p.flat for p in wide] == [False, True] and len(atlas.panels) == 6
    for panel in wide:
        sign = signs(atlas, panel.found).reshape(21, 21)
        assert np.all(sign[:, 14:19] == int(Sign.REVERSES))
        assert np.all(sign[2:6, 2:6] == int(Sign.LOWERS)) and np.all(panel.found["entered"].value[:2] < 0.0)
    table = share_table(atlas)
    total = sum(table[name] for name in table if name != "front_shape")
    np.testing.assert_allclose(total, 1.0)
    assert np.all(table["raises_entry"] > 0.3)


def lost(atlas, event: str):
    """The atlas with a surface of one event that predicts far worse than the overall share."""
    surface = atlas.surfaces[event, 0]
    worse = replace(surface, calibration=replace(surface.calibration, brier=surface.calibration.base + 0.2))
    return replace(atlas, surfaces={**atlas.surfaces, (event, 0): worse})


def test_what_hangs_on_a_surface_that_tells_nothing_is_undecided(atlas):
    found = differences(atlas, at((-0.8, -0.7), (-0.35, 0.6), (0.7, 0.0)))
    assert list(signs(atlas, found)) == [Sign.LOWERS, Sign.TRADES, Sign.REVERSES]
    assert no_news(reliability_table(atlas)) == ""
    assert list(signs(lost(atlas, "failed"), found)) == [Sign.UNDECIDED, Sign.UNDECIDED, Sign.REVERSES]
    assert "the surfaces of entry or curl predict no better" in no_news(reliability_table(lost(atlas, "failed")))
    assert not np.any(signs(lost(atlas, "entered"), found))
    assert "every sign is undecided" in no_news(reliability_table(lost(atlas, "entered")))


@pytest.mark.parametrize(
    ("entry", "failed", "sign"),
    [
        ((-0.2, 0.01), (-0.2, 0.01), Sign.LOWERS),
        ((-0.2, 0.01), (0.0, 0.01), Sign.TRADES),
        ((-0.2, 0.01), (0.0, 0.1), Sign.UNDECIDED),  # too wide to tell that nothing changed
        ((-0.2, 0.01), (0.25, 0.01), Sign.UNDECIDED),  # more curl than fewer enter
        ((-0.06, 0.01), (-0.045, 0.02), Sign.UNDECIDED),  # within the margin, but curls are not shown to rise
        ((-0.01, 0.001), (0.0, 0.001), Sign.UNDECIDED),  # below the floor
        ((-0.2, 0.1), (0.0, 0.01), Sign.UNDECIDED),
        ((0.2, 0.01), (0.2, 0.01), Sign.REVERSES),
    ],
)
def test_signs_need_evidence(atlas, entry, failed, sign):
    given = replace(atlas, quantile=3.0)
    assert signs(given, at_one_place(entry, failed))[0] == sign


def at_one_place(entry, failed, excess=(0.0, 0.0), spread: float = 0.0):
    """(value, error) of each event at one place, and what counts near on the second axis say beyond it; `spread`: what
    insertions that were not solved could make of it."""
    out = {}
    for name, (value, error), more in zip(EVENTS, (entry, failed), excess, strict=True):
        v, e, beside = np.array([value]), np.array([error]), np.array([[0.0], [more]])
        out[name] = Difference(v, e, v - spread, v + spread, beside, np.full((2, 1), 0.01))
    v, e = np.array([failed[0] - entry[0]]), np.array([failed[1]])
    out[INSTEAD] = Difference(v, e, v - spread, v + spread, 0.0 * beside, np.full((2, 1), 0.01))
    return out


def test_what_was_not_solved_widens_the_band(atlas):
    given, clear = replace(atlas, quantile=3.0), ((-0.2, 0.01), (-0.2, 0.01))
    assert signs(given, at_one_place(*clear, spread=0.1))[0] == Sign.LOWERS
    assert signs(given, at_one_place(*clear, spread=0.18))[0] == Sign.UNDECIDED


def test_counts_near_on_one_axis_speak_against_a_sign(atlas):
    given, clear = replace(atlas, quantile=3.0), ((-0.2, 0.01), (-0.2, 0.01))
    assert signs(given, at_one_place(*clear, excess=(0.17, 0.0)))[0] == Sign.LOWERS
    assert signs(given, at_one_place(*clear, excess=(0.19, 0.0)))[0] == Sign.UNDECIDED
    trade = (-0.2, 0.01), (0.0, 0.01)
    assert signs(given, at_one_place(*trade, excess=(0.0, 0.21)))[0] == Sign.TRADES  # the margin is 0.2
    assert signs(given, at_one_place(*trade, excess=(0.0, 0.23)))[0] == Sign.UNDECIDED


def test_unsolved_insertions_are_bounds():
    """As if they had all gone one way, then the other: the band holds both fits."""
    result = made_up(TRUTHS["lowers"], 3, 64, 4)
    lost = np.random.default_rng(1).random(len(result.rows["arm"])) < 0.05
    rows = result.rows | {"label": np.where(lost, int(Label.NOT_SOLVED), result.rows["label"])}
    some = atlas_of(SimpleNamespace(**vars(result) | {"rows": rows}), 2)
    assert some.not_solved == lost.sum()
    d = some.volume[0]["entered"]
    assert np.all(d.low <= d.value) and np.all(d.value <= d.high)
    assert np.mean(d.high - d.low) == pytest.approx(2 * 0.05, abs=0.03)  # of both designs


def test_the_excess_is_that_of_the_sites_near_on_an_axis():
    places = np.random.default_rng(2).uniform(-1.0, 1.0, (64, 2))
    beside = Beside(places, {"entered": np.where(places[:, 0] > 0.0, 0.3, 0.0)})
    x = np.array([[-0.8, 0.0], [0.8, 0.0]])
    mean, error = beside.along("entered", x, 1)
    assert mean[0] == pytest.approx([0.0, 0.3]) and error[0] == pytest.approx([0.0, 0.0])
    nearest = np.argsort(np.abs(places[:, 1]))[:8]
    assert mean[1] == pytest.approx(np.full(2, beside.excess["entered"][nearest].mean()))
    nearest = np.argsort(np.hypot(*(places - x[1]).T))[:8]
    assert len(mean) == 3 and mean[2][1] == pytest.approx(beside.excess["entered"][nearest].mean())  # both axes
    both, _ = beside.along("entered", x, 2)
    assert both[:, 0] == pytest.approx(mean.mean(axis=1))


def test_beside_an_edge_less_is_called_wrongly():
    """Half of an axis without any difference: there the surface swings, and the counts do not."""
    result = made_up(TRUTHS["edge"], 1001, 256, 8)
    atlas = atlas_of(result, 40)
    without = replace(atlas, beside=None)
    wrong = []
    for one in (atlas, without):
        sign = np.concatenate([signs(one, v if one is atlas else blind(v)) for v in one.volume])
        at = np.concatenate([_at_front(result, _spread(result, VOLUME), f) for f in (False, True)])
        wrong.append(np.mean(sign[at[:, 0] >= 0.0] != int(Sign.UNDECIDED)))
    assert wrong[1] > 0.1 and wrong[0] < 0.5 * wrong[1]


def blind(found):
    """The differences without what the counts say."""
    return {name: replace(d, excess=0.0 * d.excess, excess_error=0.0 * d.excess_error) for name, d in found.items()}


def test_one_band_holds_all_resamples_but_the_level(atlas):
    """The quantile is that of the largest distance, over all places and both events; far above a single place's."""
    assert 2.3 < atlas.quantile < 6.0
    assert all(np.all(v[name].error > 0.0) for v in atlas.volume for name in EVENTS)


def test_with_no_difference_anywhere_nothing_is_decided():
    """Publication of the rate: experiments/coverage/signs.py; here a few studies, to see that it is no accident."""
    seen = [study(TRUTHS["none"], seed, 64, 4, 60) for seed in range(2)]
    assert sum(bool(np.any(s.sign)) for s in seen) <= 1
    assert np.mean([s.band for s in seen]) > 0.97


def test_a_step_is_seen_to_be_no_smooth_surface():
    """The made-up chance jumps: a surface is worth more than the share, and its calibration shows the jump."""
    rng = np.random.default_rng(8)
    x, site = rng.uniform(-1.0, 1.0, (256, 2)), np.arange(256)
    counts = Counts(rng.binomial(64, np.where(x[:, 0] > 0.2, 0.9, 0.1)), np.full(256, 64), np.zeros(256, int))
    (surface,) = fit(x, site, [counts], drawn(site, [counts], 1, 2), 1)
    c = surface.calibration
    assert c.brier < 0.7 * c.base
    assert np.mean((c.predicted > c.low) & (c.predicted < c.high)) < 0.5


def test_a_logistic_truth_is_found_with_its_interval():
    rng = np.random.default_rng(2)
    x, site = rng.uniform(-1.0, 1.0, (200, 2)), np.arange(200)
    truth = 1.0 / (1.0 + np.exp(-(0.5 + 2.0 * x[:, 0] - x[:, 1])))
    counts = Counts(rng.binomial(10, truth), np.full(200, 10), np.zeros(200, int))
    (surface,) = fit(x, site, [counts], drawn(site, [counts], 1, 60), 1)
    places = np.array([[0.0, 0.0], [0.8, -0.5], [-0.8, 0.5]])
    p = surface.probability(places)
    known = 1.0 / (1.0 + np.exp(-(0.5 + 2.0 * places[:, 0] - places[:, 1])))
    assert np.all(np.abs(p[0] - known) < 3.0 * p[1:].std(axis=0))
    assert p[0] == pytest.approx(known, abs=0.06)
    c = surface.calibration
    assert np.mean((c.low <= c.predicted) & (c.predicted <= c.high)) >= 0.7
    assert c.brier < 0.8 * c.base


def test_a_surface_is_the_logistic_regression_of_statsmodels():
    """With a weak penalty and one degree: against a binomial model without one."""
    rng = np.random.default_rng(4)
    x = rng.uniform(-1.0, 1.0, (300, 2))
    counts = Counts(rng.binomial(40, 1.0 / (1.0 + np.exp(-x[:, 0] + 0.5))), np.full(300, 40), np.zeros(300, int))
    (weights,) = _models(terms(x, 1), counts, np.ones((1, 300)), 1e6)
    both = np.column_stack([counts.happened, counts.solved - counts.happened])
    known = statsmodels.GLM(both, statsmodels.add_constant(x), family=statsmodels.families.Binomial()).fit()
    assert weights == pytest.approx(known.params, abs=1e-4)


def test_designs_share_degree_penalty_and_drawn_sites():
    rng = np.random.default_rng(5)
    x, site = np.repeat(rng.uniform(-1.0, 1.0, (80, 2)), 2, axis=0), np.repeat(np.arange(80), 2)
    eight, none = np.full(160, 8), np.zeros(160, int)
    counts = [Counts(rng.binomial(8, p), eight, none) for p in (0.5 + 0.4 * x[:, 0], np.full(160, 0.5))]
    draws = drawn(site, counts, 3, 40)
    assert draws.shape == (40, 160) and np.all(draws.sum(axis=1) == 160.0)
    np.testing.assert_array_equal(draws[:, ::2], draws[:, 1::2])  # sites, not places, are drawn
    one, other = fit(x, site, counts, draws, 3)
    assert (one.degree, one.penalty) == (other.degree, other.penalty)
    assert one.weights.shape == other.weights.shape == (41, one.weights.shape[1])
    same, again = fit(x, site, [counts[0], counts[0]], draws, 3)
    np.testing.assert_array_equal(same.probability(x), again.probability(x))


def test_a_flat_chance_is_worth_no_surface():
    rng = np.random.default_rng(6)
    x, site = rng.uniform(-1.0, 1.0, (64, 4)), np.arange(64)
    worth = []
    for k in range(4):
        counts = Counts(rng.binomial(4, np.full(64, 0.3)), np.full(64, 4), np.zeros(64, int))
        c = fit(x, site, [counts], drawn(site, [counts], k, 2), k)[0].calibration
        worth.append(c.brier < c.base)
    assert np.mean(worth) <= 0.5


def test_a_design_with_the_same_chance_everywhere_decides_signs_all_the_same():
    """Its surface is no better than its share; the difference from the other design's is known as well as ever."""
    atlas = atlas_of(
        made_up(lambda x: (expit(3.0 * x[:, 0]), *(np.full(len(x), v) for v in (0.5, 0.1, 0.1))), 1, 128, 16), 30
    )
    assert atlas.tells("entered") and no_news(reliability_table(atlas)) == ""
    found = signs(atlas, differences(atlas, at((-0.9, 0.0), (0.9, 0.0))))
    assert list(found) == [Sign.LOWERS, Sign.REVERSES]


def test_brier_is_that_of_scikit_learn():
    rng = np.random.default_rng(3)
    p = rng.random(300)
    event = rng.random(300) < p
    c = calibration(p, event, np.full(300, 0.4))
    assert c.brier == pytest.approx(brier_score_loss(event, p))
    assert c.base == pytest.approx(brier_score_loss(event, np.full(300, 0.4)))
    assert np.sum(c.count) == 300


def test_an_event_that_never_happens_has_no_surface():
    def never(x):
        return np.zeros(len(x)), signed(x)[1], np.zeros(len(x)), np.zeros(len(x))

    with pytest.raises(ValueError, match="no surface for 'entered' with the tip load 0.01 N: .* always or never"):
        atlas_of(made_up(never, 1, 64, 2), 2)


@pytest.mark.parametrize("seed", [0, 1, 17, 2**31, 2**40])
def test_streams_are_those_of_no_scramble_and_no_point(seed):
    def state(sequence: np.random.SeedSequence) -> tuple[int, ...]:
        return tuple(int(v) for v in sequence.generate_state(4))

    taken = {state(np.random.SeedSequence([seed, k])) for k in range(2000)}
    taken |= {state(np.random.SeedSequence([seed, 7, k])) for k in range(2000)}
    own = [state(np.random.SeedSequence(seed, spawn_key=(int(use),))) for use in Use]
    assert not taken & set(own) and len(set(own)) == len(Use)


def test_sites_are_no_scramble_of_the_study():
    """Sites and shared unknowns were once those of scrambles 211 and 101."""
    rng = stream(SPEC.seed, Use.SITES)
    assert np.array_equal(shares(SPEC), qmc.Sobol(3, scramble=True, rng=rng).random(128))
    for scramble in (101, 211):
        u = scramble_points(SPEC.seed, scramble, 128)
        assert not np.any(np.isclose(u[:, 0], shares(SPEC)[:, 0]))


def test_sites_cover_the_ranges_and_pin_what_they_say():
    u = shares(SPEC)
    assert u.shape == (128, 3) and np.mean(u[:, 2] >= 0.5) == 0.5
    arm = site(SPEC, 5, u[5])
    assert arm.pinned["room"] == pytest.approx(AXES[0].value(u[5, 0])) == arm.levels["room"]
    assert arm.spec.shared.front_shape == arm.levels["front_shape"]
    r = AXES[1]
    assert r.place(np.array([r.low, exp(0.5 * (log(r.low) + log(r.high))), r.high])) == pytest.approx([-1.0, 0.0, 1.0])


def test_one_worker_and_two_give_the_same_bytes_and_designs_meet_the_same_vessels(tmp_path):
    spec = replace(SPEC, sites=64, study=replace(SPEC.study, points=1))
    one = run_atlas(spec, tmp_path / "one", 1, evaluate=coin)
    run_atlas(spec, tmp_path / "two", 2, evaluate=coin)
    assert (tmp_path / "one/rows.parquet").read_bytes() == (tmp_path / "two/rows.parquet").read_bytes()
    soft = one.rows["tip_load_index"] == 0
    for name in ("arm", "seed", "x_mouth_gap", "x_room"):
        np.testing.assert_array_equal(one.rows[name][soft], one.rows[name][~soft])
    assert coordinates(one, one.rows["arm"], one.rows["angle"]).shape == (128, 4)


def test_bad_ranges_are_refused():
    with pytest.raises(FieldError, match="the second greater"):
        Range("room", 2e-3, 1e-3)
    with pytest.raises(FieldError, match="room"):
        replace(SPEC, ranges=(Range("room", 1e-5, 1e-3),))
    with pytest.raises(FieldError, match="a power of 2"):
        replace(SPEC, sites=100)
    with pytest.raises(FieldError, match="at least 64"):
        replace(SPEC, sites=32)
    with pytest.raises(FieldError, match="margin"):
        replace(SPEC, margin=0.0)
