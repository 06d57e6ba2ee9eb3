"""What a seen curl tells: known chances recovered, looks, conditions, unsolved insertions, resume, any workers."""

import multiprocessing as mp
import os
import signal
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from curl_record import curl_record
from study.made_up_curl import (
    LOOKS,
    PREVALENCE,
    SENSITIVITY,
    SPECIFICITY,
    curl_spec,
    forbidden,
    known,
    perfect,
    run_slowly,
    with_failures,
)

import tipmech
from tipmech.checks import FieldError, InputError
from tipmech.insertion.classify import classify, travel
from tipmech.insertion.glance import glance
from tipmech.insertion.imaging import Imaging
from tipmech.insertion.seen import Detector, held
from tipmech.outcome import Stop
from tipmech.show.curl import curl_figure
from tipmech.study.curl_tables import (
    ANALYSES,
    CONDITIONS,
    POOLED,
    Asked,
    chosen_look,
    most_looks,
    observed,
    solved_looks,
    tables_of,
)
from tipmech.study.looks import held_score, part, read_record, strokes
from tipmech.study.run_curl import ROOTS, run_curl
from tipmech.study.table import length, select
from tipmech.study.version import code_version, deciding

SPEC = curl_spec(points=4)
PACKAGE = Path(tipmech.__file__).parent
FILES = ("rows.parquet", "rows.csv", "looks.parquet", "looks.csv")


@pytest.fixture(scope="module")
def result(tmp_path_factory):
    return run_curl(curl_spec(scrambles=32, points=4), tmp_path_factory.mktemp("c") / "c", 1, evaluate=known)


@pytest.fixture(scope="module")
def tables(result):
    return tables_of(result, Asked())


def of(table, load=0, angle=POOLED, analysis=ANALYSES[0], condition=CONDITIONS[0]):
    here = (table["tip_load_index"] == load) & (table["analysis"] == analysis) & (table["condition"] == condition)
    part_ = select(table, here & (table["angle_index"] == angle))
    return {name: column[0] for name, column in part_.items()}


def test_known_chances_lie_within_their_intervals(tables):
    for load in (0, 1):
        row = of(tables["tells"], load)
        truths = {
            "sensitivity": SENSITIVITY,
            "specificity": SPECIFICITY,
            "prevalence": PREVALENCE,
            "likelihood_positive": SENSITIVITY / (1.0 - SPECIFICITY),
            "likelihood_negative": (1.0 - SENSITIVITY) / SPECIFICITY,
            "odds_ratio": SENSITIVITY * SPECIFICITY / ((1.0 - SENSITIVITY) * (1.0 - SPECIFICITY)),
            "predictive_positive": SENSITIVITY * PREVALENCE
            / (SENSITIVITY * PREVALENCE + (1.0 - SPECIFICITY) * (1.0 - PREVALENCE)),
            # beside the threshold scores are alike with and without: the area of two steps
            "area": 0.5 * (SENSITIVITY + SPECIFICITY),
        }  # fmt: skip
        for name, truth in truths.items():
            assert row[f"{name}_low"] <= truth <= row[f"{name}_high"], (name, truth, row[name])
            assert row[f"{name}_low"] < row[name] < row[f"{name}_high"]
        assert row["n"] == row["tp"] + row["fn"] + row["fp"] + row["tn"] == 256
        assert row["sensitivity_high"] - row["sensitivity_low"] < 0.25
        assert row["fp_truly_curled"] == row["fp"] and row["tn_truly_curled"] == 0
        assert 0 < row["tn_foreshortened"] < row["tn"] and 0 < row["fn_foreshortened"] < row["fn"]


def test_angles_are_told_apart_and_add_up(tables):
    pooled, *each = (of(tables["tells"], 1, j) for j in (POOLED, 0, 1))
    assert all(pooled[name] == sum(row[name] for row in each) for name in ("n", "tp", "fn", "fp", "tn"))
    assert np.isnan(pooled["angle"]) and [row["angle"] for row in each] == [0.3, 0.8]


def test_all_looks_are_secondary_and_fewer_of_them_show_it(tables):
    row = of(tables["tells"], analysis=ANALYSES[1])
    assert row["n"] == 256 * LOOKS
    assert row["sensitivity"] == pytest.approx(SENSITIVITY / LOOKS, abs=0.04)
    other = of(tables["tells"], condition=CONDITIONS[1])
    assert other["tp"] == of(tables["tells"])["tp"]  # both conditions are the same here


def test_predictive_values_follow_bayes_over_prevalence(tables):
    table = tables["predictive"]
    here = select(table, (table["tip_load_index"] == 0) & (table["analysis"] == ANALYSES[0]))
    here = select(here, here["condition"] == CONDITIONS[0])
    row, p = of(tables["tells"]), here["prevalence_assumed"]
    assert list(p) == [0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8]
    sens, spec = row["sensitivity"], row["specificity"]
    np.testing.assert_allclose(here["predictive_positive"], sens * p / (sens * p + (1 - spec) * (1 - p)))
    np.testing.assert_allclose(here["predictive_negative"], spec * (1 - p) / (spec * (1 - p) + (1 - sens) * p))
    for name in ("predictive_positive", "predictive_negative"):
        assert np.all((here[f"{name}_low"] < here[name]) & (here[name] < here[f"{name}_high"]))


def test_the_roc_curve_passes_through_the_detector_s_own_threshold(tables):
    marks, row = tables["thresholds"], of(tables["tells"])
    own = select(marks, (marks["own"] == 1) & (marks["tip_load_index"] == 0) & (marks["analysis"] == ANALYSES[0]))
    assert own["threshold"][0] == 1.0
    for name in ("sensitivity", "specificity"):
        assert own[name][0] == own[f"{name}_anew"][0] == row[name]
        assert own[f"{name}_low"][0] == row[f"{name}_low"]
    corners = tables["roc"]
    here = (corners["tip_load_index"] == 0) & (corners["analysis"] == ANALYSES[0])
    here &= corners["condition"] == CONDITIONS[0]
    x, y = corners["false_positive_rate"][here], corners["sensitivity"][here]
    assert np.trapezoid(y, x) == pytest.approx(row["area"], abs=1e-12)
    assert np.all(np.diff(x) >= 0) and np.all(np.diff(y) >= 0)


def test_the_chosen_look_is_the_first_with_a_curl_else_the_last():
    looks = {
        "look": np.array([1, 2, 3, 1, 2, 1]),
        "score": np.array([0.2, 1.1, 1.5, 0.3, 0.4, 2.0]),
        "in_false": np.array([0, 0, 1, 0, 1, 1]),
        "entered": np.array([0, 0, 1, 0, 0, 1]),
        "foreshortening": np.full(6, 0.9),
        "curled": np.zeros(6, int),
        "scramble": np.array([0, 0, 0, 0, 0, 1]),
        "index": np.array([0, 0, 0, 1, 1, 2]),
    }
    assert list(chosen_look(looks, 1.0)) == [1, 4, 5]
    assert list(chosen_look(looks, 1.2)) == [2, 4, 5]
    o = observed(looks, ANALYSES[0], CONDITIONS[0], 1.0, 0.5)
    assert list(o.condition) == [False, True, True] and list(o.score) == [1.5, 0.4, 2.0]
    assert list(o.positive) == [True, False, True]
    assert list(observed(looks, ANALYSES[0], CONDITIONS[0], 1.2, 0.5).condition) == [True, True, True]
    every = observed(looks, ANALYSES[1], CONDITIONS[1], 1.0, 0.5)
    assert list(every.condition) == [False, False, True, False, False, True] and len(every.score) == 6


def test_unsolved_insertions_are_counted_left_out_and_bounded(tmp_path):
    result = run_curl(SPEC, tmp_path / "c", 1, evaluate=with_failures)
    tables = tables_of(result, Asked())
    row = of(tables["tells"])
    unsolved = int(np.sum((result.rows["label"] == 0) & (result.rows["tip_load_index"] == 0)))
    assert row["n_insertions"] == 128 and row["n_not_solved"] == unsolved > 5 and row["n"] == 128 - unsolved
    assert row["n_never_reached"] > 5 and row["n_never_reached"] <= row["tn"]
    assert np.any(result.rows["looks"] == 0) and length(result.looks) == np.sum(result.rows["looks"])
    assert set(np.unique(solved_looks(result.looks)["label"])) <= set(np.unique(result.rows["label"])) - {0}
    tp, fn = row["tp"], row["fn"]
    assert row["sensitivity_bound_low"] == pytest.approx(tp / (tp + fn + unsolved))
    assert row["sensitivity_bound_high"] == pytest.approx((tp + unsolved) / (tp + fn + unsolved))
    for name in ("sensitivity", "specificity", "likelihood_positive", "likelihood_negative", "odds_ratio"):
        assert row[f"{name}_bound_low"] < row[name] < row[f"{name}_bound_high"]
    looks = of(tables["tells"], analysis=ANALYSES[1])
    shares = looks["tp"], looks["fn"], unsolved * most_looks(SPEC)
    assert looks["sensitivity_bound_low"] == pytest.approx(shares[0] / sum(shares))
    assert curl_figure(result, tables).texts


def test_a_perfect_sign_has_no_ratio_but_a_reason(tmp_path):
    result = run_curl(SPEC, tmp_path / "c", 1, evaluate=perfect)
    tables = tables_of(result, Asked())
    row = of(tables["tells"])
    assert (row["sensitivity"], row["specificity"], row["area"]) == (1.0, 1.0, 1.0)
    assert row["sensitivity_low"] < 1.0 and np.isnan(row["area_low"])
    for name, word in (
        ("likelihood_positive", "infinite"),
        ("likelihood_negative", "be 0"),
        ("odds_ratio", "infinite"),
    ):
        assert np.isnan(row[name]) and word in row[f"{name}_reason"]
    assert np.all(np.isnan(tables["predictive"]["predictive_positive"]))
    assert "no false positive" in tables["predictive"]["predictive_positive_reason"][0]
    assert curl_figure(result, tables).texts


def test_one_worker_and_two_and_a_second_start_give_the_same_bytes(tmp_path):
    spec = curl_spec(scrambles=4, points=4)
    one = run_curl(spec, tmp_path / "one", 1, evaluate=with_failures)
    run_curl(spec, tmp_path / "two", 2, evaluate=with_failures)
    for name in FILES:
        assert (tmp_path / "one" / name).read_bytes() == (tmp_path / "two" / name).read_bytes(), name
    again = run_curl(spec, tmp_path / "one", 1, evaluate=forbidden)
    np.testing.assert_array_equal(one.looks["score"], again.looks["score"])
    with pytest.raises(InputError, match=r"another study \(every was 0.001, now 0.002"):
        run_curl(replace(spec, every=2e-3), tmp_path / "one", 1, evaluate=known)


def test_a_killed_run_goes_on(tmp_path):
    out, spec = tmp_path / "c", curl_spec(scrambles=8, points=8)
    process = mp.get_context("spawn").Process(target=run_slowly, args=(spec, out, code_version(*ROOTS)))
    process.start()
    chunks = out / "chunks"
    deadline = time.monotonic() + 120
    while time.monotonic() < deadline and len(list(chunks.rglob("*.parquet")) if chunks.is_dir() else []) < 3:
        time.sleep(0.01)
    os.kill(process.pid, signal.SIGKILL)
    process.join()
    kept = {p: p.stat().st_mtime_ns for p in chunks.rglob("*.parquet")}
    assert 3 <= len(kept) < 32 and not (out / "rows.parquet").exists()
    time.sleep(0.3)  # the orphaned workers notice that their parent is gone; they never write
    run_curl(spec, out, 1, evaluate=known)
    assert all(path.stat().st_mtime_ns == stamp for path, stamp in kept.items())
    run_curl(spec, tmp_path / "whole", 1, evaluate=known)
    for name in FILES:
        assert (out / name).read_bytes() == (tmp_path / "whole" / name).read_bytes(), name


def test_its_sources_count_for_its_own_digest_only():
    own = {PACKAGE / name for name in ROOTS}
    assert own <= set(deciding(PACKAGE, ROOTS)) and not own & set(deciding(PACKAGE))
    assert {PACKAGE / "insertion" / "seen.py", PACKAGE / "insertion" / "imaging.py"} <= set(deciding(PACKAGE, ROOTS))
    assert code_version() != code_version(*ROOTS)


def test_a_failure_names_its_point(tmp_path):
    with pytest.raises(AssertionError) as error:
        run_curl(SPEC, tmp_path / "c", 1, evaluate=forbidden)
    assert "at point 0 of tip load 0, angle 0" in error.value.__notes__[0]


@pytest.mark.parametrize(
    ("change", "word"), [({"every": 0.0}, "curl.look_mm"), ({"foreshortened": 1.5}, "curl.foreshortened")]
)
def test_bad_specs_are_refused(change, word):
    with pytest.raises(FieldError, match=word):
        replace(SPEC, **change)


def test_the_held_score_is_the_largest_threshold_at_which_a_curl_is_held():
    rng = np.random.default_rng(2)
    for hold in (1, 2, 3):
        for k in range(40):
            score = np.round(2.0 * rng.random(k % 6), 1)
            found = held_score(score, hold)
            for threshold in (0.05, 0.3, 0.75, 1.0, 1.55, 2.05):
                assert (found >= threshold) == (held(score >= threshold, hold) >= 0)


def test_looks_are_those_of_a_glance_at_the_same_strokes():
    """On a made-up record that curls: the same decision as the operator's glance, and the true state of each row."""
    record, imaging, detector = curl_record(), Imaging(linger=0.2, hand_rate=5e-3), Detector()
    outcome, path = classify(record), travel(record)
    reading = read_record(record, imaging, detector, 0.5e-3)
    seed = int(np.random.SeedSequence([imaging.seed, record.case.seed]).generate_state(1)[0])
    own = replace(imaging, seed=seed)
    cut = list(strokes(record, outcome, 0.5e-3))
    assert len(cut) == len(reading.looks) > 5 and cut[-1][1] == len(path) - 1
    for number, ((first, row), look) in enumerate(zip(cut, reading.looks, strict=True), start=1):
        seen = glance(part(record, first, row + 1), own, detector, number)
        assert seen.curl == (look.score >= detector.threshold)
        assert look.advance == pytest.approx(path[row] - outcome.reached)
        assert look.in_false == (record.side[row, -1] == 2 or record.lead_false_s[row] > 0.0)
    advances = np.array([look.advance for look in reading.looks[:-1]])
    np.testing.assert_allclose(advances, 0.5e-3 * np.arange(1, len(advances) + 1), atol=0.05e-3)
    assert {look.score >= 1.0 for look in reading.looks} == {True, False}  # not yet, then a curl
    assert reading.looks[-1].curled and not reading.looks[0].curled
    assert [look.entered for look in reading.looks] == sorted(look.entered for look in reading.looks)


def test_what_never_reached_is_read_once_and_what_was_not_solved_has_no_end():
    record = curl_record()
    far = replace(record, lead_s=record.lead_s - 20e-3, tip_s=record.tip_s - 20e-3)
    cut = list(strokes(far, classify(far), 1e-3))
    assert len(cut) == 1 and cut[0][1] == len(far.feed) - 1
    assert np.isnan(read_record(far, Imaging(), Detector(), 1e-3).looks[0].advance)
    lost = replace(record, stop=int(Stop.NOT_CONVERGED))
    whole, early = (list(strokes(r, classify(r), 0.7e-3)) for r in (record, lost))
    assert early == whole[:-1]
    nothing = part(lost, 0, 0)
    assert read_record(nothing, Imaging(), Detector(), 1e-3).looks == ()
