"""Studies of attempts: shares with known answers, paired differences, resume, and the same rows for any workers."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from study.made_up import make_spec

from tipmech.checks import InputError
from tipmech.insertion.attempts import Attempt, Course
from tipmech.insertion.imaging import Imaging
from tipmech.insertion.policy import Action, Policy, Rule
from tipmech.insertion.seen import Detector
from tipmech.outcome import End
from tipmech.study.inputs import point_seed
from tipmech.study.run_attempts import AttemptsSpec, case_of, run_attempts, within
from tipmech.study.table import length, read_parquet

P_THROUGH = 0.4  # of each attempt, whatever came before
MOST = 4
POLICY = Policy(
    (Rule("curl_seen", (Action("withdraw_before_tear", 2e-3), Action("turn", 1.5))),),
    look_every=1e-3,
    feed=0.3,
    true_lumen=5e-3,
    attempts=MOST,
)
FILES = [f"{n}.{e}" for n in ("rows", "attempts", "cells", "incidence", "pairs") for e in ("parquet", "csv")]


def spec_of(**options) -> AttemptsSpec:
    study = make_spec(angles=(0.5,), **{"scrambles": 16, "points": 8} | options)
    return AttemptsSpec(study, POLICY, Imaging(), Detector())


SPEC = spec_of()


def course(made: int, end: End, area: float = 0.0) -> Course:
    attempt = Attempt(1, 20e-3, 0.01, area / made, 1e-4, True, False, 1, 0.1)
    attempts = (*(attempt,) * (made - 1), replace(attempt, rule=0, entered=False))
    record = SimpleNamespace(audit_error=np.array([1e-3]), feed=np.zeros(1))
    return Course(attempts, int(end), 0.02 * made, 1.5, 0.01, 0.002, area, 1e-4 * made, 10, record)


def course_on(record, made: int) -> Course:
    """Attempts of equal travel on a made-up record."""
    told = course(made, End.TRUE_LUMEN)
    path = float(np.abs(np.diff(record.feed, prepend=0.0)).sum())
    return replace(told, attempts=tuple(replace(a, travel=path / made) for a in told.attempts), record=record)


def coins(spec: AttemptsSpec, case) -> Course:
    """Attempts by chance, the same for all wires at a point; the stiffer the wire, the more it opens."""
    draw = np.random.default_rng(case.seed).random(MOST)
    hits = np.flatnonzero(draw < P_THROUGH)
    area = 1e-6 * (1.0 + float(case.profile.EI1[0]) / 4e-8)
    return course(int(hits[0]) + 1, End.TRUE_LUMEN, area) if len(hits) else course(MOST, End.ATTEMPTS_USED_UP, area)


def coins_with_failures(spec: AttemptsSpec, case) -> Course:
    if np.random.default_rng(case.seed + 1).random() < 0.2:
        return course(1, End.NOT_SOLVED)
    return coins(spec, case)


def forbidden(spec: AttemptsSpec, case) -> Course:
    raise AssertionError("a finished point was computed again")


def broken_late(spec: AttemptsSpec, case) -> Course:
    if case.seed == point_seed(SPEC.seed, 21):
        raise ZeroDivisionError("made-up failure")
    return coins(spec, case)


@pytest.fixture(scope="module")
def result(tmp_path_factory):
    return run_attempts(SPEC, tmp_path_factory.mktemp("a") / "a", 1, evaluate=coins)


def test_shares_are_those_of_the_coins(result):
    table, n = result.incidence, SPEC.study.count
    draws = np.array([np.random.default_rng(point_seed(SPEC.seed, k)).random(MOST) < P_THROUGH for k in range(n)])
    for i in (0, 1):
        own = table["tip_load_index"] == i
        np.testing.assert_array_equal(table["attempts"][own], np.arange(1, MOST + 1))
        np.testing.assert_allclose(table["p"][own], [draws[:, :k].any(axis=1).mean() for k in range(1, MOST + 1)])


def test_intervals_hold_known_shares_at_the_stated_rate():
    """400 made-up cells of 128 procedures: the wider of two 95 % intervals misses in at most 5 %, and 3 sd more."""
    rng = np.random.default_rng(4)
    scramble = np.repeat(np.arange(16), 8)
    held = np.zeros(MOST)
    for _ in range(400):
        made = rng.geometric(P_THROUGH, 128)
        cell = {"through": (made <= MOST).astype(int), "attempts": np.minimum(made, MOST), "scramble": scramble}
        cell["end"] = np.where(cell["through"] == 1, int(End.TRUE_LUMEN), int(End.ATTEMPTS_USED_UP))
        for k in range(1, MOST + 1):
            share = within(cell, k)
            held[k - 1] += share["low"] <= 1.0 - (1.0 - P_THROUGH) ** k <= share["high"]
    assert np.all(held / 400 > 0.95 - 3.0 * np.sqrt(0.05 * 0.95 / 400))


def test_every_procedure_and_every_attempt_has_its_row(result):
    rows, attempts, n = result.rows, result.attempts, SPEC.study.count
    assert length(rows) == 2 * n
    assert length(attempts) == int(rows["attempts"].sum()) == int(result.cells["attempts_made"].sum())
    np.testing.assert_array_equal(rows["through"], rows["end"] == int(End.TRUE_LUMEN))
    ends = sum(result.cells[f"n_end_{end.name.lower()}"] for end in End)
    np.testing.assert_array_equal(ends, [n, n])
    first = attempts["index"] == rows["index"][0]
    np.testing.assert_array_equal(attempts["attempt"][first & (attempts["tip_load_index"] == 0)],
                                  np.arange(1, rows["attempts"][0] + 1))  # fmt: skip


def test_differences_are_paired_over_common_points(result):
    pairs = result.pairs
    assert set(pairs["tip_load_index"]) == {1} and set(pairs["n"]) == {SPEC.study.count}
    by = {q: k for k, q in enumerate(pairs["quantity"])}
    for name in ("through", "travel", "largest_push"):
        assert pairs["difference"][by[name]] == pytest.approx(0.0, abs=1e-15)
    stiff = np.array([float(w.EI1[0]) for w in SPEC.study.wires])
    k = by["opened_area"]
    assert pairs["difference"][k] == pytest.approx(1e-6 * (stiff[1] - stiff[0]) / 4e-8)
    assert pairs["high"][k] - pairs["low"][k] < 1e-12  # the same at every point: the pairing takes all scatter out


def test_unsolved_procedures_are_counted_and_bounded(tmp_path):
    result = run_attempts(SPEC, tmp_path / "a", 1, evaluate=coins_with_failures)
    cell = {k: v[0] for k, v in result.cells.items()}
    rows = {k: v[result.rows["tip_load_index"] == 0] for k, v in result.rows.items()}
    failed, through = int(np.sum(rows["end"] == int(End.NOT_SOLVED))), int(rows["through"].sum())
    n = SPEC.study.count
    assert failed > 0 and (cell["n"], cell["n_not_solved"], cell["n_end_not_solved"]) == (n, failed, failed)
    assert cell["p_through"] == pytest.approx(through / (n - failed))
    assert (cell["p_through_bound_low"], cell["p_through_bound_high"]) == (through / n, (through + failed) / n)
    assert set(result.pairs["n_left_out"]) == {failed}


def test_one_worker_and_two_give_the_same_bytes(result, tmp_path):
    run_attempts(SPEC, tmp_path / "two", 2, evaluate=coins)
    for name in FILES:
        assert (result.folder / name).read_bytes() == (tmp_path / "two" / name).read_bytes(), name


def test_a_broken_off_study_keeps_what_is_finished_and_goes_on(result, tmp_path):
    with pytest.raises(ZeroDivisionError):
        run_attempts(SPEC, tmp_path / "a", 1, evaluate=broken_late)
    kept = {p: p.stat().st_mtime_ns for p in (tmp_path / "a" / "chunks").rglob("*.parquet")}
    assert len(kept) >= 1 and not (tmp_path / "a" / "rows.parquet").exists()
    run_attempts(SPEC, tmp_path / "a", 1, evaluate=coins)
    for path, when in kept.items():
        assert path.stat().st_mtime_ns == when
    for name in FILES:
        assert (result.folder / name).read_bytes() == (tmp_path / "a" / name).read_bytes(), name
    run_attempts(SPEC, tmp_path / "a", 1, evaluate=forbidden)


def test_another_policy_is_another_study(result):
    other = replace(SPEC, policy=replace(POLICY, attempts=MOST + 1))
    with pytest.raises(InputError, match="policy.attempts was 4, now 5"):
        run_attempts(other, result.folder, 1, evaluate=coins)


def test_the_csv_speaks_users_units_and_words(result):
    head, first = (result.folder / "rows.csv").read_text(encoding="utf-8").splitlines()[:2]
    for column in ("travel_mm", "opened_area_mm2", "largest_push_mn", "end_words", "turned_deg"):
        assert f'"{column}"' in head
    assert "true lumen" in first or "largest number" in first
    assert read_parquet(result.folder / "rows.parquet")["travel"].max() < 1.0  # SI


def test_the_mechanics_give_the_same_rows_in_another_process(tmp_path):
    """Two procedures of the real thing, here and by two workers."""
    spec = spec_of(loads=(0.5e-2,), scrambles=2, points=1)
    one = run_attempts(spec, tmp_path / "one", 1)
    assert len(one.rows["end"]) == 2
    assert case_of(spec, 0, 0, 1).seed == one.rows["seed"][1]
    two = run_attempts(replace(spec, study=replace(spec.study, workers=2)), tmp_path / "two")
    for name in FILES:
        assert (one.folder / name).read_bytes() == (two.folder / name).read_bytes(), name
