"""Simulated runs beside the reduced model: made-up studies, cases built anew, agreement."""

from dataclasses import replace
from math import nan

import numpy as np
import pytest
from study.made_up import CURLED, EXTENDED, NEVER, TRUE, UNSOLVED, by_force, coin, make_spec, true_threshold

from tipmech.checks import InputError
from tipmech.regime.contest import Regime
from tipmech.show.regime import facts, fold_figure, regime_figure
from tipmech.study.build import build_pocket_case
from tipmech.study.inputs import point_seed, sobol_points
from tipmech.study.overlay import (
    agreement,
    confusion,
    inside,
    job_of,
    jobs_of_study,
    numbers_of_case,
    overlay,
    share_within,
    simulated,
)
from tipmech.study.run_map import run_map
from tipmech.study.run_threshold import ThresholdSpec, run_threshold
from tipmech.study.table import length

SMALL = make_spec(loads=(1e-2,), angles=(0.6,), scrambles=2, points=2)


def test_a_threshold_study_is_read_back_and_laid_over(tmp_path):
    spec = ThresholdSpec(SMALL)
    result = run_threshold(spec, tmp_path / "t", workers=1, evaluate=by_force)
    jobs = jobs_of_study(tmp_path / "t")
    assert len(jobs) == 4 and all(len(j.forces) == 8 for j in jobs)
    points = sobol_points(SMALL)
    for k, job in enumerate(jobs):
        force = result.rows["force"][k]
        assert job.threshold == pytest.approx(force, rel=1e-9)
        assert force == pytest.approx(true_threshold(job.case), rel=0.02)
        again = build_pocket_case(SMALL, 0, 0, points[k], point_seed(SMALL.seed, k))
        assert repr(job.case) == repr(again)
        assert [e is Regime.CURLS for e in job.events] == [f > true_threshold(job.case) for f in job.forces]
    o = overlay(jobs[:2], workers=1)
    assert length(o.runs) == 16 and length(o.thresholds) == 2
    assert np.all(o.runs["number_front"] == pytest.approx(o.runs["force_drive"] / np.repeat(o.thresholds["scale"], 8)))
    below = o.runs["drive_over_fold"] < 1.0
    assert np.all((o.runs["predicted"] == int(Regime.DRIVES_ON)) == below) and 0 < below.sum() < 16
    assert len(regime_figure(o).axes) == 2 and len(fold_figure(o).axes) == 2
    assert any("16 runs" in line for line in facts(o))


def test_a_map_is_read_back(tmp_path):
    result = run_map(SMALL, tmp_path / "m", workers=1, evaluate=coin)
    jobs = jobs_of_study(tmp_path / "m")
    assert len(jobs) == length(result.rows)
    for k, job in enumerate(jobs):
        assert job.events == (simulated(coin(job.case)),), k
        assert np.isnan(job.threshold)


def test_an_unfinished_or_foreign_folder_is_refused(tmp_path):
    with pytest.raises(InputError, match="no such folder"):
        jobs_of_study(tmp_path / "none")


@pytest.mark.parametrize(
    ("outcome", "regime"),
    [
        (CURLED, Regime.CURLS),
        (EXTENDED, Regime.DRIVES_ON),
        (replace(EXTENDED, extended=nan), Regime.BOWS),
        (replace(EXTENDED, curled=5e-3), Regime.DRIVES_ON),
        (TRUE, Regime.STAYS_OUT),
        (NEVER, Regime.STAYS_OUT),
        (UNSOLVED, Regime.NOT_SOLVED),
    ],
)
def test_simulated_regimes(outcome, regime):
    known = replace(outcome, entered_before_curl=outcome.entered == outcome.entered)
    assert simulated(known) is regime


def test_a_run_that_came_in_is_judged_in_the_pocket_whatever_the_lip_said(tmp_path):
    run_map(SMALL, tmp_path / "m", workers=1, evaluate=coin)
    case = jobs_of_study(tmp_path / "m")[0].case
    o = overlay([job_of(case, replace(EXTENDED, entered_before_curl=True), "one")], workers=1)
    assert length(inside(o.runs)) == 1 and inside(o.runs)["predicted"][0] != int(Regime.STAYS_OUT)
    out = overlay([job_of(case, TRUE, "one")], workers=1)
    assert length(inside(out.runs)) == 0 and np.isnan(out.runs["force_fold"][0])
    assert len(regime_figure(out).axes) == 3


def test_agreement_leaves_out_what_was_not_solved():
    grid = confusion(np.array([1, 1, 2, 2, 4, 3]), np.array([1, 2, 2, 2, 1, 4]))
    same, kappa, n = agreement(grid)
    assert (same, n) == (0.75, 4) and kappa == pytest.approx(0.5)


def test_share_within_counts_what_was_not_found_as_outside():
    t = {"simulated": np.array([1.0, 1.0, 1.0, 1.0]), "predicted": np.array([1.19, 0.79, nan, 1.0])}
    assert share_within(t) == 0.5


def test_numbers_of_a_case_are_those_of_its_scene():
    case = build_pocket_case(SMALL, 0, 0, sobol_points(SMALL)[0], front_force=0.02)
    p = numbers_of_case(case)
    assert p.front_force == 0.02 and p.room == case.scene.channel.room
    assert p.reach == pytest.approx(case.scene.channel.length - p.diameter)
    assert 0.0 <= p.bend <= case.tip_shape.angle
