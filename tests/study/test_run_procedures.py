"""Comparisons of procedures with a made-up operator of known success: pairing, damage, sample size, going on."""

import importlib
from dataclasses import replace
from math import log

import numpy as np
import pytest
from scipy import stats
from study.made_up import bench, make_spec
from study.test_run_attempts import POLICY, course
from typer.testing import CliRunner

from tipmech.checks import FieldError, InputError
from tipmech.cli import app
from tipmech.insertion.imaging import Imaging
from tipmech.insertion.seen import Detector
from tipmech.outcome import End
from tipmech.study.compare_sizes import size_table
from tipmech.study.compare_spec import CompareSpec, Plan
from tipmech.study.compare_tables import comparison_table, tables_of, trend_table
from tipmech.study.factors import Factor
from tipmech.study.odds import interaction_table
from tipmech.study.pairs import POOLED
from tipmech.study.plan import outlook
from tipmech.study.power import points_needed, power_of_mean
from tipmech.study.run_attempts import CHUNK, run_attempts
from tipmech.study.run_compare import run_compare
from tipmech.study.run_procedures import ProceduresSpec, run_procedures
from tipmech.study.table import length, select

LOADS = (0.5e-2, 1e-2, 2e-2)
STUDY = make_spec(LOADS, (0.3, 0.8), scrambles=16, points=4)
SLOPE = 1e-6  # m2 opened more for each doubling of the tip load, in every attempt
TABLES = ("rows", "cells", "comparisons", "trends", "interactions", "sizes")


def spec_of(outcome="through", study=STUDY, factors=(), **plan) -> ProceduresSpec:
    return ProceduresSpec(CompareSpec(study, factors, plan=Plan(outcome, **plan)), POLICY, Imaging(), Detector())


def doublings(case) -> float:
    return log(bench(case.profile) / LOADS[0], 2.0)


def operator(spec, case):
    """Two attempts where the first fails (P 0.5, common to all designs); through with P 0.9 less 0.2 for each doubling;
    opens SLOPE for each doubling in every attempt, and as much as the point's own chance has."""
    first, last, more = np.random.default_rng(case.seed).random(3)
    made = 1 if first < 0.5 else 2
    through = last < 0.9 - 0.2 * doublings(case)
    return course(
        made, End.TRUE_LUMEN if through else End.ATTEMPTS_USED_UP, made * (SLOPE * doublings(case) + 1e-6 * more)
    )


def failing(spec, case):
    if np.random.default_rng(case.seed + 1).random() < 0.1:
        return course(1, End.NOT_SOLVED)
    return operator(spec, case)


def forbidden(spec, case):
    raise AssertionError("a finished procedure was carried out again")


def run(spec, folder, evaluate=operator, **options):
    return run_procedures(spec, folder, 1, evaluate=evaluate, **options)


def pooled(table, outcome):
    return select(table, (table["arm"] == POOLED) & (table["outcome"] == outcome))


@pytest.fixture(scope="module")
def result(tmp_path_factory):
    return run(spec_of(margin=0.1), tmp_path_factory.mktemp("p") / "p")


def test_a_row_is_a_procedure_with_all_its_attempts(result):
    rows = result.rows
    assert length(rows) == 3 * 2 * 64 and set(rows["attempts"]) == {1, 2}
    firsts = [select(rows, (rows["tip_load_index"] == i) & (rows["angle_index"] == 0)) for i in range(3)]
    for other in firsts[1:]:
        for name in ("seed", "index", "scramble", "x_room", "attempts"):
            np.testing.assert_array_equal(other[name], firsts[0][name])
    np.testing.assert_array_equal(rows["through"], rows["end"] == int(End.TRUE_LUMEN))
    np.testing.assert_array_equal(rows["entered"], rows["attempts"] == 2)  # in the first of two, not in the last
    means = [np.mean(rows["attempts"][(rows["tip_load_index"] == i) & (rows["angle_index"] == 0)]) for i in range(3)]
    np.testing.assert_allclose(result.cells["attempts"][result.cells["angle_index"] == 0], means)


def test_rows_are_those_of_a_study_of_attempts(result, tmp_path):
    """Without factors the same procedures as `run_attempts` makes: same points, same attempts, same damage."""
    alone = run_attempts(spec_of().of(STUDY), tmp_path / "a", 1, evaluate=operator).rows
    order = np.lexsort((alone["index"], alone["tip_load_index"], alone["angle_index"]))
    for name in ("seed", "attempts", "through", "opened_area", "travel", "largest_push", "end"):
        np.testing.assert_array_equal(alone[name][order], result.rows[name])


def test_a_known_difference_of_success_is_found(result):
    table = comparison_table(result)
    here = pooled(table, "through")
    assert list(here["family"]) == ["planned"] * 2 and list(here["verdict"]) == ["higher", "higher"]
    for low, high, truth in zip(here["difference_low"], here["difference_high"], (0.4, 0.2), strict=True):
        assert low <= truth <= high
    assert set(table["outcome"]) == {"through", "entered", "curled", "opened_area"}
    assert set(pooled(table, "entered")["verdict"]) == {"equivalent within the margin"}
    trend = pooled(trend_table(result), "through")
    assert trend["per_doubling_low"][0] <= -0.2 <= trend["per_doubling_high"][0]
    sizes = size_table(result)
    needed = {"design_effect", "pairs", "points", "power_here"}
    assert set(sizes) == {"design_words", "tip_load", "discordant", "risk_difference", "seen"} | needed


def test_damage_is_the_area_of_all_attempts(tmp_path):
    """Mean difference of each design from the stiffest: SLOPE times doublings times 1.5 attempts in the mean."""
    result = run(spec_of("opened_area", margin=0.1), tmp_path / "d")
    here = pooled(comparison_table(result), "opened_area")
    assert list(here["family"]) == ["planned"] * 2 and list(here["verdict"]) == ["lower", "lower"]
    for low, high, truth in zip(here["difference_low"], here["difference_high"], (-2.0, -1.0), strict=True):
        assert low <= 1.5 * SLOPE * truth <= high
    trend = pooled(trend_table(result), "opened_area")
    assert trend["per_doubling_low"][0] <= 1.5 * SLOPE <= trend["per_doubling_high"][0]
    np.testing.assert_allclose(here["margin"], 0.1 * here["mean_reference"])
    assert not length(interaction_table(result))


def test_points_for_a_difference_of_damage_follow_from_its_spread(tmp_path):
    result = run(spec_of("opened_area"), tmp_path / "d")
    sizes, rows = size_table(result), result.rows
    softest, stiffest = (rows["opened_area"][rows["tip_load_index"] == i] for i in (0, 2))
    mine = select(sizes, sizes["tip_load"] == LOADS[0])
    np.testing.assert_allclose(mine["spread"], np.std(softest - stiffest, ddof=1))
    np.testing.assert_allclose(mine["difference"][:3], np.array([0.1, 0.2, 0.5]) * stiffest.mean())
    assert mine["difference"][3] == pytest.approx(abs(np.mean(softest - stiffest))) and mine["seen"][3] == 1
    assert set(sizes["unit"]) == {"m2"}


@pytest.mark.parametrize(("difference", "power"), [(0.3, 0.8), (0.5, 0.9)])
def test_points_needed_reach_their_power(difference, power):
    """By simulation with z tests of normal differences of spread 1.7, and by the inverse."""
    n = int(points_needed(difference, 1.7, 0.05, power))
    assert power_of_mean(difference, 1.7 / np.sqrt(n), 0.05) == pytest.approx(power, abs=0.01)
    d = np.random.default_rng(3).normal(difference, 1.7, (20_000, n))
    rejected = np.abs(d.mean(axis=1)) * np.sqrt(n) / 1.7 > stats.norm.ppf(0.975)
    assert np.mean(rejected) == pytest.approx(power, abs=3.0 * np.sqrt(power * (1.0 - power) / 20_000) + 0.01)


def test_unsolved_procedures_are_left_out_and_bounded(tmp_path):
    result = run(spec_of(), tmp_path / "p", failing)
    for outcome in ("through", "opened_area"):
        here = pooled(comparison_table(result), outcome)
        assert np.all(here["left_out"] > 0) and np.all(here["n"] + here["left_out"] == 128)
        assert np.all((here["bound_low"] < here["difference"]) & (here["difference"] < here["bound_high"]))
    assert np.all(result.cells["n_not_solved"] > 0)


def test_factors_are_crossed_and_scrambles_added(tmp_path):
    friction = Factor("friction", (0.05, 0.2))
    study = replace(STUDY, scrambles=4, points=2)
    result = run(spec_of(study=study, factors=(friction,), half_width=0.15, most_scrambles=512), tmp_path / "p")
    assert len(result.arms) == 2 and set(result.rows["arm"]) == {0, 1}
    half = 0.5 * (result.cells["p_through_high"] - result.cells["p_through_low"])
    assert np.all(half <= 0.15) and np.all(result.cells["n"] > 8)


def test_one_worker_and_two_and_a_second_start_give_the_same_bytes(tmp_path):
    spec = spec_of(study=replace(STUDY, scrambles=4, points=2))
    run(spec, tmp_path / "one")
    run_procedures(spec, tmp_path / "two", 2, evaluate=operator)
    for name in ("rows.parquet", "cells.parquet", "rows.csv"):
        assert (tmp_path / "one" / name).read_bytes() == (tmp_path / "two" / name).read_bytes()
    run(spec, tmp_path / "one", forbidden)
    with pytest.raises(InputError, match=r"policy\.attempts was 4, now 5"):
        run(replace(spec, policy=replace(POLICY, attempts=5)), tmp_path / "one")
    with pytest.raises(InputError, match="a study of another kind"):
        run_compare(replace(spec.compare, plan=Plan()), tmp_path / "one")


def test_an_outcome_belongs_to_its_estimand(tmp_path):
    with pytest.raises(FieldError, match="one of through, entered, curled, opened_area"):
        spec_of("extended")
    with pytest.raises(FieldError, match="one of entered, extended"):
        run_compare(CompareSpec(STUDY, plan=Plan("through")), tmp_path / "c")
    assert not (tmp_path / "c").exists()
    assert (spec_of("entered").estimand, spec_of("opened_area").estimand) == ("procedure", "damage")


def test_the_plan_counts_procedures_and_has_no_power_for_an_area():
    seen = []
    ahead = outlook(spec_of().compare, 2, 2, seen.append, CHUNK)
    assert (ahead.insertions, ahead.chunks, len(seen)) == (6 * 64, 6 * 16, 3)
    assert len(ahead.power) == 4
    assert outlook(spec_of("opened_area").compare, 1, 2, seen.append, CHUNK).power == ()


@pytest.mark.parametrize("outcome", ["through", "opened_area"])
def test_the_command_prints_and_writes_its_tables(tmp_path, monkeypatch, outcome):
    commands = importlib.import_module("tipmech.cli.compare")  # the package has a command of this name
    spec = spec_of(outcome, replace(STUDY, scrambles=32, points=2), (Factor("friction", (0.05, 0.2)),))
    file = tmp_path / "study.toml"
    file.write_text(FILE.format("damage" if outcome == "opened_area" else "procedure"))
    monkeypatch.setattr(commands, "read_compare", lambda path: spec)
    monkeypatch.setattr(commands, "run_procedures", lambda *a, **k: run_procedures(*a, evaluate=operator, **k))
    done = CliRunner().invoke(app, ["compare", str(file), "--out", str(tmp_path / "s"), "--workers", "1"])
    assert done.exit_code == 0, done.output
    assert "768 procedures, 0 not solved" in done.stdout and "per doubling of the tip load" in done.stdout
    assert "points in each arm and angle give a" in done.stdout
    there = {path.stem for path in (tmp_path / "s").glob("*.csv")}
    assert there == set(TABLES) - ({"interactions"} if outcome == "opened_area" else set())
    assert (tmp_path / "s" / "compare.png").read_bytes().startswith(b"\x89PNG")
    again = CliRunner().invoke(app, ["report", str(tmp_path / "s")])
    assert again.exit_code == 0, again.output


FILE = """
tip_loads_gf = [0.5, 2.0]
angles_deg = [35.0]
feed_extra_mm = 18.0
[wire]
preset = "workhorse"
[comparison]
estimand = "{}"
[policy.stop]
attempts = 3
feed_mm = 300.0
[[policy.rules]]
when = "curl_seen"
then = [{{ withdraw_before_tear_mm = 2.0 }}]
"""


def test_a_result_s_tables_are_whole(result):
    made = tables_of(result)
    assert set(made) == {"comparisons", "trends", "interactions", "sizes"}


@pytest.mark.slow
def test_the_mechanics_give_the_same_rows_as_a_study_of_attempts(tmp_path):
    study = make_spec((0.5e-2, 2e-2), (0.5,), scrambles=2, points=1)
    spec = spec_of("opened_area", study)
    rows = run_procedures(spec, tmp_path / "p", 1).rows
    alone = run_attempts(spec.of(study), tmp_path / "a", 1).rows
    for name in ("seed", "attempts", "through", "opened_area", "travel", "end"):
        np.testing.assert_array_equal(rows[name], alone[name])
