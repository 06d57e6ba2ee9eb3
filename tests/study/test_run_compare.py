"""Comparisons with a made-up simulator of known probabilities: pairing, factors, distributions, rounds, resume."""

import importlib
from dataclasses import replace
from math import log

import numpy as np
import pytest
from study.made_up import EXTENDED, NEVER, TRUE, UNSOLVED, bench, make_spec

from tipmech.checks import FieldError, InputError
from tipmech.cli.compare import cautions, not_reached
from tipmech.insertion.case import Case
from tipmech.insertion.record import Outcome
from tipmech.study import events
from tipmech.study.compare_sizes import size_table
from tipmech.study.compare_spec import CompareSpec, Plan, SharedUnknown, shared_draws
from tipmech.study.compare_tables import comparison_table, tables_of, trend_table
from tipmech.study.factors import Distribution, Factor, arms_of, points_of, probability_of, unknown
from tipmech.study.inputs import NAMES, UNKNOWNS, draw, point_seed, scramble_points, sobol_points
from tipmech.study.odds import _odds, interaction_table
from tipmech.study.pairs import POOLED
from tipmech.study.plan import outlook
from tipmech.study.power import power_of
from tipmech.study.run_compare import run_compare, scrambles_wanted
from tipmech.study.table import from_rows, length, select

run_compare_module = importlib.import_module("tipmech.study.run_compare")
LOADS, ANGLES = (0.5e-2, 1e-2, 2e-2), (0.3, 0.8)
STUDY = make_spec(LOADS, ANGLES, scrambles=16, points=4)
FRICTION = Factor("friction", (0.05, 0.1, 0.2))
SPEC = CompareSpec(STUDY, (FRICTION,), plan=Plan(margin=0.05))


def softness(case: Case) -> Outcome:
    """Enters with P = 0.2 per doubling of the stiffness, by a number that all designs of a point have in common."""
    return EXTENDED if _uniform(case) < 0.2 * (1.0 + log(bench(case.profile) / LOADS[0], 2.0)) else TRUE


def _uniform(case: Case) -> float:
    return float(np.random.default_rng(case.seed).random())


def no_difference(case: Case) -> Outcome:
    return EXTENDED if _uniform(case) < 0.3 else TRUE


def with_failures(case: Case) -> Outcome:
    return UNSOLVED if np.random.default_rng(case.seed + 1).random() < 0.1 else softness(case)


def forbidden(case: Case) -> Outcome:
    raise AssertionError("a finished point was computed again")


def run(spec, folder, evaluate=softness, **options):
    return run_compare(spec, folder, workers=1, evaluate=evaluate, **options)


def test_designs_and_arms_meet_the_same_points(tmp_path):
    result = run(replace(SPEC, plan=Plan(margin=0.1)), tmp_path / "c", evaluate=no_difference)
    assert length(result.rows) == 3 * 3 * 2 * 64
    first = select(result.rows, (result.rows["arm"] == 0) & (result.rows["tip_load_index"] == 0))
    for arm in range(3):
        for i in range(3):
            here = select(result.rows, (result.rows["arm"] == arm) & (result.rows["tip_load_index"] == i))
            for name in ("seed", "index", "scramble", "x_room", "x_mouth_gap"):
                np.testing.assert_array_equal(here[name], first[name])
    table = comparison_table(result)
    assert np.all(table["difference"] == 0.0) and np.all(table["p_adjusted"] == 1.0)
    for outcome, told in (
        ("entered", {"equivalent within the margin"}),
        ("curled", {"undecided: no run tells them apart"}),
    ):
        assert set(table["verdict"][table["outcome"] == outcome]) == told


def test_known_effects_are_found(tmp_path):
    result = run(CompareSpec(STUDY, plan=Plan(margin=0.05)), tmp_path / "c")
    table = comparison_table(result)
    pooled = select(table, (table["arm"] == POOLED) & (table["outcome"] == "entered"))
    assert pooled["difference"] == pytest.approx([-0.4, -0.2], abs=0.08)
    for low, high, truth in zip(pooled["difference_low"], pooled["difference_high"], (-0.4, -0.2), strict=True):
        assert low <= truth <= high
    assert list(pooled["verdict"]) == ["lower", "lower"] and list(pooled["family"]) == ["planned"] * 2
    assert pooled["ratio"] == pytest.approx([1 / 3, 2 / 3], abs=0.12)
    assert np.all(pooled["only_design"] == 0.0)  # nested events: the softer never enters alone
    trend = trend_table(result)
    here = select(trend, (trend["arm"] == POOLED) & (trend["outcome"] == "entered"))
    assert here["per_doubling_low"][0] <= 0.2 <= here["per_doubling_high"][0]
    sizes = size_table(result)
    seen = select(sizes, sizes["seen"] == 1)
    assert np.all(seen["points"] < 128) and seen["power_here"][0] > 0.95 and 0.5 < seen["power_here"][1] < 0.9
    assert np.all(seen["design_effect"] > 1.3)  # both angles of a point tell the same


def test_odds_are_those_of_a_logistic_truth(tmp_path):
    study = make_spec(LOADS, ANGLES, scrambles=64, points=4)
    spec = CompareSpec(study, (Factor("fracture_energy", (10.0, 20.0, 40.0)),))
    table = interaction_table(run(spec, tmp_path / "c", evaluate=logistic))
    by_term = dict(zip(table["term"], zip(table["odds_ratio_low"], table["odds_ratio_high"], strict=True), strict=True))
    for term, truth in (("tip load, doubled", 2.0), ("angle, 10 degrees more", 1.0)):
        low, high = by_term[term]
        assert low <= truth <= high and high / low < 2.0
    low, high = by_term["fracture_energy, doubled"]
    assert high / low < 2.0 and low < 1.0  # tougher: rarer; scattered about its median, so weaker than 0.5
    low, high = by_term["tip load, doubled x angle, 10 degrees more"]
    assert low <= 1.0 <= high
    assert set(table["fit"]) == {"fitted"}


def logistic(case: Case) -> Outcome:
    """Odds of entry double with the stiffness and halve with G_c; the same number for all designs of a point."""
    stiffness = bench(case.profile) / LOADS[0]
    odds = 0.5 * stiffness / (case.scene.channel.fracture_energy / 20.0)
    u = np.random.default_rng([case.seed, int(1e6 * stiffness), int(1e3 * case.scene.channel.fracture_energy)]).random()
    return EXTENDED if u < odds / (1.0 + odds) else TRUE


SLOPE = 0.2  # of the probability of entry, for each doubling of the friction's median


def slippery(case: Case) -> Outcome:
    """Enters with P = 0.6 less SLOPE for each doubling of the surface's friction, by the point's own number."""
    doublings = np.log2(case.friction / 0.05)
    return EXTENDED if _uniform(case) < 0.6 - SLOPE * doublings else TRUE


def at_one_load(by: str, levels: tuple, factors: tuple = (), reference: int = -1) -> CompareSpec:
    one, n = make_spec(LOADS[1:2], ANGLES, scrambles=16, points=4), len(levels)
    study = replace(one, tip_loads=one.tip_loads * n, factors=one.factors * n, wires=one.wires * n)
    return CompareSpec(study, factors, plan=Plan(reference=reference), by=by, levels=levels)


def test_levels_of_a_factor_as_designs(tmp_path):
    """Each design has its own level in the same vessels; a known effect of it is found, with its trend and its odds."""
    spec = at_one_load("friction", (0.05, 0.1, 0.2), (Factor("front_shape", ("notch", "flat")),))
    result = run(spec, tmp_path / "c", slippery)
    designs = [select(result.rows, result.rows["tip_load_index"] == i) for i in range(3)]
    for k, one in enumerate(designs):
        for name in ("seed", "x_room", "x_mouth_gap"):
            np.testing.assert_array_equal(one[name], designs[0][name])
        assert np.median(one["x_friction"]) == pytest.approx((0.05, 0.1, 0.2)[k], rel=0.1)
    pooled = select(comparison_table(result), comparison_table(result)["arm"] == POOLED)
    pooled = select(pooled, pooled["outcome"] == "entered")
    assert list(pooled["design_words"]) == ["friction 0.05", "friction 0.1"]
    assert set(pooled["reference_words"]) == {"friction 0.2"} and set(pooled["tip_load"]) == {LOADS[1]}
    for low, high, truth in zip(pooled["difference_low"], pooled["difference_high"], (0.4, 0.2), strict=True):
        assert low <= truth <= high
    trend = trend_table(result)
    here = select(trend, (trend["arm"] == POOLED) & (trend["outcome"] == "entered"))
    assert here["along"][0] == "friction" and here["per_doubling_low"][0] <= -SLOPE <= here["per_doubling_high"][0]
    odds = interaction_table(result)
    assert list(odds["term"]) == [
        "friction, doubled", "angle, 10 degrees more", "front_shape: flat (against notch)",
        "friction, doubled x angle, 10 degrees more", "friction, doubled x front_shape: flat (against notch)",
    ]  # fmt: skip
    assert odds["odds_ratio_high"][0] < 1.0


def test_a_pinned_unknown_as_designs_takes_its_value_and_nothing_else_changes(tmp_path):
    result = run(at_one_load("unsupported_length", (4e-3, 16e-3)), tmp_path / "c", no_difference)
    near, far = (select(result.rows, result.rows["tip_load_index"] == i) for i in range(2))
    np.testing.assert_allclose(near["x_unsupported_length"], 4e-3)
    np.testing.assert_allclose(far["x_unsupported_length"], 16e-3)
    for name in [k for k in near if k.startswith("x_") and k != "x_unsupported_length"]:
        np.testing.assert_array_equal(near[name], far[name])
    assert outlook(result.spec, 2, 1).cells == 4


def test_constructions_as_designs_have_no_trend_and_odds_against_the_reference(tmp_path):
    """Two wires of one tip load that differ in torsion: the made-up outcome hangs on that alone."""
    spec = at_one_load("construction", ("plain", "other"), reference=0)
    twisted = replace(spec.study.wires[1], GJ=2.0 * spec.study.wires[1].GJ)
    spec = replace(spec, study=replace(spec.study, wires=(spec.study.wires[0], twisted)))
    result = run(spec, tmp_path / "c", by_torsion)
    tables = tables_of(result)
    assert "trends" not in tables
    pooled = select(tables["comparisons"], tables["comparisons"]["arm"] == POOLED)
    entered = select(pooled, pooled["outcome"] == "entered")
    assert list(entered["design_words"]) == ["other"] and list(entered["reference_words"]) == ["plain"]
    assert entered["difference_low"][0] <= 0.3 <= entered["difference_high"][0] and entered["verdict"][0] == "higher"
    assert list(tables["interactions"]["term"])[0] == "other (against plain)"
    assert tables["interactions"]["odds_ratio_low"][0] > 1.0


def by_torsion(case: Case) -> Outcome:
    stiff = case.profile.GJ[0] / case.profile.EI1[0] > 1.0
    return EXTENDED if _uniform(case) < (0.5 if stiff else 0.2) else TRUE


@pytest.mark.parametrize(
    ("by", "levels", "field"),
    [("colour", (1.0, 2.0), "name"), ("friction", (0.1, 0.1), "levels"), ("tip_load", (0.1, 0.2), "levels")],
)
def test_what_tells_no_designs_apart_is_refused(by, levels, field):
    with pytest.raises(FieldError) as error:
        at_one_load(by, levels)
    assert error.value.field == field


def test_an_event_that_never_happens_has_no_odds(tmp_path):
    table = interaction_table(run(SPEC, tmp_path / "c", evaluate=never))
    assert np.all(np.isnan(table["odds_ratio"])) and table["fit"][0].startswith("not fitted: the event never")


def never(case: Case) -> Outcome:
    return NEVER


def test_unsolved_points_are_left_out_of_pairs_and_bounded(tmp_path):
    result = run(CompareSpec(STUDY), tmp_path / "c", evaluate=with_failures)
    table = comparison_table(result)
    here = select(table, (table["outcome"] == "entered") & (table["arm"] == POOLED))
    assert np.all(here["left_out"] > 0) and np.all(here["n"] + here["left_out"] == 128)
    assert np.all((here["bound_low"] < here["difference"]) & (here["difference"] < here["bound_high"]))
    assert np.all(result.cells["n_not_solved"] > 0)
    assert np.all(result.cells["p_entered_bound_low"] < result.cells["p_entered"])


def test_one_worker_and_two_and_a_second_start_give_the_same_bytes(tmp_path):
    spec = replace(SPEC, study=replace(STUDY, scrambles=4, points=2))
    one = run(spec, tmp_path / "one")
    run_compare(spec, tmp_path / "two", workers=2, evaluate=softness)
    for name in ("rows.parquet", "cells.parquet", "rows.csv"):
        assert (tmp_path / "one" / name).read_bytes() == (tmp_path / "two" / name).read_bytes()
    again = run(spec, tmp_path / "one", evaluate=forbidden)
    np.testing.assert_array_equal(one.rows["label"], again.rows["label"])
    with pytest.raises(InputError, match="holds another study"):
        run(replace(spec, plan=replace(spec.plan, margin=0.1)), tmp_path / "one")


def test_scrambles_are_added_where_an_interval_is_too_wide_and_only_there(tmp_path):
    """Half the cells are certain: they stop at once; the others go on to the half-width wanted, from common points."""
    plan = Plan(half_width=0.06, most_scrambles=4096)
    spec = CompareSpec(replace(STUDY, scrambles=8, points=2), plan=plan)
    result = run(spec, tmp_path / "c", evaluate=certain_at_small_angles)
    small = result.cells["angle_index"] == 0
    assert np.all(result.cells["n"][small] < 0.35 * result.cells["n"][~small].min())
    half = 0.5 * (result.cells["p_entered_high"] - result.cells["p_entered_low"])
    assert np.all(half <= 0.06) and np.all(result.cells["half_width_reached"] == 1)
    again = run(spec, tmp_path / "c", evaluate=forbidden)
    np.testing.assert_array_equal(result.rows["seed"], again.rows["seed"])


def made_up(monkeypatch, chance):
    """In place of vessels and mechanics: a row whose event has the chance (tip load index, angle index, arm), by one
    number for all designs of a point; the rest of `run_compare` is as it ships."""

    def row(study, arm, task, index):
        seed = point_seed(study.seed, index)
        p = chance(task.tip_load, task.angle, arm)
        first, solved = np.random.default_rng(seed).random(2)
        outcome = UNSOLVED if np.isnan(p) else EXTENDED if first < p else TRUE
        place = {"arm": arm.index, "replicate": arm.replicate, "tip_load_index": task.tip_load}
        place |= {"tip_load": study.tip_loads[task.tip_load], "angle_index": task.angle}
        place |= {"angle": study.angles[task.angle], "index": index, "scramble": index // study.points, "seed": seed}
        return place | events.outcome_row(outcome)

    class Work(run_compare_module.ArmsWork):
        def __call__(self, task):
            arm, _ = self.arm(task)
            return from_rows([row(self.spec.study, arm, task, k) for k in range(task.first, task.last)])

    monkeypatch.setattr(run_compare_module, "ArmsWork", Work)
    monkeypatch.setattr(run_compare_module, "points_of", lambda arm, u, distributions: u)


def pooled_of(result):
    table = comparison_table(result)
    return select(table, (table["arm"] == POOLED) & (table["outcome"] == "entered"))


CHANCES = {(0, 0): 0.02, (1, 0): 0.30, (0, 1): 0.60, (1, 1): 0.40}  # by design and angle


def test_pooled_differences_cover_after_scrambles_were_added_where_they_are_wanted(tmp_path, monkeypatch):
    """The angles' effects are of opposite sign and their cells get unequal scrambles: each still weighs the same."""
    made_up(monkeypatch, lambda design, angle, arm: CHANCES[design, angle])
    truth, covered, unequal = -0.04, 0, 0
    for seed in range(40):
        study = make_spec((0.5e-2, 2e-2), ANGLES, scrambles=16, points=2, seed=seed)
        result = run(CompareSpec(study, plan=Plan(half_width=0.1)), tmp_path / f"{seed}")
        here = pooled_of(result)
        covered += here["difference_low"][0] <= truth <= here["difference_high"][0]
        unequal += len(set(result.cells["n"])) > 2
    assert covered >= 36 and unequal >= 35


def test_each_design_gets_scrambles_of_its_own_and_pairs_are_formed_on_common_points(tmp_path, monkeypatch):
    made_up(monkeypatch, lambda design, angle, arm: (0.01, 0.5)[design])
    study = make_spec((0.5e-2, 2e-2), ANGLES, scrambles=16, points=2)
    result = run(CompareSpec(study, plan=Plan(half_width=0.08)), tmp_path / "c")
    soft, stiff = (result.cells["n"][result.cells["tip_load_index"] == i] for i in (0, 1))
    assert np.all(soft <= 64) and np.all(stiff >= 96)
    assert pooled_of(result)["n"][0] == soft.sum()
    assert np.all(result.cells["half_width_reached"] == 1) and not not_reached(result)


def test_a_half_width_not_reached_is_said_and_a_design_without_solved_runs_does_not_end_the_rounds(
    tmp_path, monkeypatch
):
    made_up(monkeypatch, lambda design, angle, arm: (np.nan, 0.5)[design])
    study = make_spec((0.5e-2, 2e-2), (0.3,), scrambles=16, points=2)
    result = run(CompareSpec(study, plan=Plan(half_width=0.05, most_scrambles=64)), tmp_path / "c")
    assert list(result.cells["n"]) == [128, 128] and list(result.cells["half_width_reached"]) == [0, 0]
    (line,) = not_reached(result)
    assert "not reached in 2 of 2 cells" in line and "none at all" in line
    assert pooled_of(result)["verdict"][0] == "undecided"
    assert scrambles_wanted(0.05, 0.06, 16, 64) == 16 and scrambles_wanted(0.1, 0.06, 64, 64) == 64
    assert scrambles_wanted(0.0601, 0.06, 16, 64) == 17 and scrambles_wanted(1.0, 0.06, 16, 64) == 32


def test_draws_of_shared_unknowns_count_in_the_pooled_interval_and_each_has_its_own(tmp_path, monkeypatch):
    """The difference is 0.3 in half the draws and -0.3 in the others: over the unknown nothing is decided."""
    made_up(monkeypatch, lambda design, angle, arm: 0.4 if design else (0.7 if arm.replicate % 2 else 0.1))
    shared = (SharedUnknown("fracture_energy", "lognormal", (("median", 35.0), ("log_sd", 0.7))),)
    study = make_spec((0.5e-2, 2e-2), (0.3,), scrambles=16, points=4)
    result = run(CompareSpec(study, (), (), shared, 8), tmp_path / "c")
    here = pooled_of(result)
    assert here["difference_low"][0] < -0.2 and here["difference_high"][0] > 0.2 and here["verdict"][0] == "undecided"
    family = tables_of(result)["replicates"]
    mine = select(family, family["tip_load_index"] == 0)
    for r, low, high in zip(mine["replicate"], mine["difference_low"], mine["difference_high"], strict=True):
        assert low <= (0.3 if r % 2 else -0.3) <= high and high - low < 0.45
    assert np.all(np.isnan(family["difference"][family["tip_load_index"] == 1]))
    one = run(CompareSpec(study, (), (), shared, 1), tmp_path / "one")
    assert pooled_of(one)["verdict"][0] == "undecided: one draw of what is shared"


def test_points_needed_follow_the_design_effect_of_arms_that_go_together(tmp_path, monkeypatch):
    """Four angles that tell the same are worth one: a design effect of about 4, points as for a single angle."""
    made_up(monkeypatch, lambda design, angle, arm: (0.2, 0.4)[design])
    study = make_spec((0.5e-2, 2e-2), (0.2, 0.4, 0.6, 0.8), scrambles=64, points=2)
    sizes = size_table(run(CompareSpec(study), tmp_path / "c"))
    assert 2.5 < sizes["design_effect"][0] < 6.0
    ratio = sizes["points"] / sizes["pairs"]
    known = np.isfinite(ratio)
    np.testing.assert_allclose(ratio[known], sizes["design_effect"][0] / 4.0, rtol=0.1)


def test_cells_weigh_the_same_in_the_odds():
    """A cell met twice by the same rows, each with half the weight, gives the same odds and errors."""
    rng = np.random.default_rng(5)
    x, cluster = np.tile([0.0, 1.0], 400), np.repeat(np.arange(100), 8)
    y = (rng.random(800) < np.where(x > 0.0, 0.6, 0.3)).astype(float)
    twice = np.concatenate([np.arange(800), np.flatnonzero(x > 0.0)])
    once = _odds(y, {"x": x}, cluster, np.ones(800), 0.05)[0]
    again = _odds(y[twice], {"x": x[twice]}, cluster[twice], np.where(x[twice] > 0.0, 0.5, 1.0), 0.05)[0]
    for name in ("odds_ratio", "odds_ratio_low", "odds_ratio_high", "p"):
        assert again[name] == pytest.approx(once[name], rel=1e-6)


def test_few_scrambles_are_told_and_an_area_has_no_half_width():
    few = CompareSpec(make_spec(LOADS, ANGLES, scrambles=8, points=2))
    assert len(cautions(few)) == 1 and "few scrambles" in cautions(few)[0] and not cautions(CompareSpec(STUDY))
    with pytest.raises(FieldError, match="half-width of a probability"):
        Plan("opened_area", half_width=0.05)


def certain_at_small_angles(case: Case) -> Outcome:
    return TRUE if case.tip_shape.angle < 0.5 else no_difference(case)


def test_scramble_points_are_those_of_a_map():
    whole = sobol_points(STUDY)
    np.testing.assert_array_equal(np.concatenate([scramble_points(1, k, 4) for k in range(16)]), whole)


def test_a_pinned_unknown_takes_its_value_and_nothing_else_changes():
    spec = make_spec(LOADS, ANGLES)
    arm = arms_of(spec, (Factor("room", (1.5e-3,)), Factor("thickness", (0.0, 1e-3))))
    u = sobol_points(spec)
    for a, thickness in zip(arm, (0.0, 1e-3), strict=True):
        for row, old in zip(points_of(a, u), u, strict=True):
            x, before = draw(row), draw(old)
            assert (x["room"], x["thickness"]) == pytest.approx((1.5e-3, thickness), rel=1e-9)
            assert {k: v for k, v in x.items() if k not in ("room", "thickness")} == {
                k: v for k, v in before.items() if k not in ("room", "thickness")
            }


@pytest.mark.parametrize("name", [x.name for x in UNKNOWNS if x.name not in ("free_lip",)])
def test_a_probability_is_the_inverse_of_a_value(name):
    x = unknown(name)
    for u in (0.03, 0.4, 0.97):
        if u >= x.zero_below:
            assert probability_of(x, np.array([x.value(u)]))[0] == pytest.approx(u, abs=1e-9)


def test_another_distribution_gives_its_own_quantiles():
    d = Distribution("room", "lognormal", (("median", 3e-3), ("log_sd", 0.2)), "assumption")
    arm = arms_of(STUDY, ())[0]
    u = sobol_points(make_spec(LOADS, ANGLES, scrambles=32, points=8))
    rooms = np.array([draw(row)["room"] for row in points_of(arm, u, (d,))])
    assert np.median(rooms) == pytest.approx(3e-3, rel=0.02)
    assert np.std(np.log(rooms)) == pytest.approx(0.2, rel=0.05)


def test_shared_unknowns_are_common_to_a_replicate(tmp_path):
    shared = (
        SharedUnknown("fracture_energy", "lognormal", (("median", 35.0), ("log_sd", 0.7))),
        SharedUnknown("front_shape", "choice", (), ("notch", "flat")),
    )
    spec = CompareSpec(replace(STUDY, scrambles=2, points=1), (FRICTION,), (), shared, 8)
    draws = shared_draws(spec)
    assert len(draws) == 8 and {d["front_shape"] for d in draws} == {"notch", "flat"}
    assert np.median([d["fracture_energy"] for d in draws]) == pytest.approx(35.0, rel=0.35)
    result = run(spec, tmp_path / "c", evaluate=no_difference)
    assert len(result.arms) == 24
    for a in result.arms:
        assert a.spec.shared.fracture_energy == draws[a.replicate]["fracture_energy"]
        assert a.spec.shared.friction == a.levels["friction"]
    assert length(tables_of(result)["replicates"]) == 8 * 3


def test_names_that_are_no_factor_are_refused():
    with pytest.raises(FieldError, match="one of friction"):
        Factor("colour", (1.0,))
    with pytest.raises(FieldError, match="room"):
        arms_of(STUDY, (Factor("room", (1e-6,)),))
    assert "room" in NAMES


def test_the_plan_counts_what_is_ahead():
    ahead = outlook(SPEC, 1, 2)
    assert (ahead.arms, ahead.cells, ahead.points, ahead.insertions) == (3, 18, 64, 18 * 64)
    assert ahead.most == ahead.insertions and ahead.pairs == 6 * 64 and ahead.seconds > 0.0
    least, most = ahead.power[2][1]  # 0.1 among points of which a tenth differ: 64 points, or 6 times as many
    assert 0.3 < least < 0.6 and most > 0.99
    assert least == power_of(0.1, 0.1, 0.025, 64, 15) and ahead.level == 0.025
