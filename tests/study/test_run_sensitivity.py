import json
import multiprocessing as mp
import os
import signal
import time
from dataclasses import replace
from math import exp, log
from pathlib import Path

import numpy as np
import pytest
from study.made_up import bench, make_spec
from study.made_up_sensitivity import failing_often, known, known_with_failures, run_slowly, sensitivity_spec

import tipmech
from tipmech.checks import FieldError, InputError
from tipmech.show.sensitivity import index_axis, outcome_words, sensitivity_figure, sorted_inputs, together
from tipmech.study.inputs import NAMES
from tipmech.study.run_sensitivity import ROOTS, DesignWork, Piece, pieces, run_sensitivity
from tipmech.study.sensitivity import MORRIS, SOBOL, insertion_at, interpolation_error, load_knots, wire_at
from tipmech.study.table import concat, length, select
from tipmech.study.version import code_version, deciding

SPEC = sensitivity_spec()
ALL = ("entered", "extended", "curled", "opened_area", "max_push")
FILES = ("rows.parquet", "rows.csv", "morris.parquet", "morris.csv", "indices.parquet", "indices.csv")
PACKAGE = Path(tipmech.__file__).parent


def of(table, outcome, name):
    part = select(table, (table["outcome"] == outcome) & (table["input"] == name))
    return {key: column[0] for key, column in part.items()}


def forbidden(case):
    raise AssertionError("a finished insertion was computed again")


def test_one_worker_and_two_give_the_same_bytes(tmp_path):
    one = run_sensitivity(SPEC, ALL, tmp_path / "one", workers=1, evaluate=known)
    run_sensitivity(SPEC, ALL, tmp_path / "two", workers=2, evaluate=known)
    for name in FILES:
        assert (tmp_path / "one" / name).read_bytes() == (tmp_path / "two" / name).read_bytes(), name
    assert length(one.rows) == SPEC.count == 4 * 23 + 8 * 24 and one.manifest["status"] == "finished"
    assert length(one.indices) == length(one.morris) == 22 * len(ALL)


def test_any_order_gives_the_same_rows():
    whole = DesignWork(SPEC, known)(Piece(SOBOL, 0, 12))
    parts = [DesignWork(SPEC, known)(Piece(SOBOL, k, k + 4)) for k in (8, 0, 4)]
    mixed = concat([parts[1], parts[2], parts[0]])
    assert all(np.array_equal(whole[key], mixed[key], equal_nan=whole[key].dtype.kind == "f") for key in whole)


def test_screening_comes_first_and_everything_once():
    found = pieces(SPEC)
    assert [p.design for p in found] == sorted(p.design for p in found) and len({p.key for p in found}) == len(found)
    assert sum(p.count for p in found) == SPEC.count


def test_what_decides_is_found_through_the_whole_chain(tmp_path):
    result = run_sensitivity(
        replace(SPEC, base_points=32, trajectories=10), ALL, tmp_path / "s", workers=1, evaluate=known
    )
    front, load = (of(result.indices, *place) for place in (("extended", "front_flat"), ("max_push", "tip_load")))
    for found in (front, load):
        assert found["total"] == pytest.approx(1.0, abs=0.4) and found["first"] == pytest.approx(1.0, abs=0.4)
        assert found["total_low"] <= 1.0 <= found["total_high"]
    assert front["mean"] == pytest.approx(0.5, abs=0.05) and front["unit"] == "-" and load["unit"] == "N"
    for name in ("room", "imperfection", "angle", "fracture_energy_median_factor"):
        assert of(result.indices, "extended", name)["total"] == of(result.morris, "max_push", name)["mu_star"] == 0.0
    step = of(result.morris, "extended", "front_flat")
    assert step["mu_star"] == pytest.approx(1.5) and step["sigma"] == 0.0  # every step turns it; 1 over 2/3
    assert np.isnan(of(result.indices, "curled", "room")["total"])  # never curls: no variance to share
    indices, morris = (select(t, t["outcome"] == "extended") for t in (result.indices, result.morris))
    assert indices["input"][sorted_inputs(indices, morris)[0]] == "front_flat"
    unseen = of(indices, "extended", "room")["total_high"]
    assert f"a total index of 0 may be up to {unseen:.2g}" in outcome_words(indices, "extended")
    pushes = outcome_words(select(result.indices, result.indices["outcome"] == "max_push"), "max_push")
    assert "may be up to" not in pushes and "intervals too narrow if a few insertions make its variance" in pushes


def test_rows_say_what_was_drawn(tmp_path):
    rows = run_sensitivity(SPEC, ("extended",), tmp_path / "s", workers=1, evaluate=known).rows
    assert len([c for c in rows if c.startswith("x_")]) == len(NAMES) + 2
    assert np.array_equal(rows["x_front_flat"] == 1, ~np.isnan(rows["extended"]))
    assert np.ptp(np.log(rows["tip_load"])) > 0.8 * log(4.0) and rows["tip_load"].min() >= 0.5e-2
    # a block of the Saltelli design: 22 steps from its first row, each in one input; its last row is independent
    block = select(rows, (rows["design"] == SOBOL) & (rows["block"] == 3))
    assert list(block["place"]) == list(range(24))
    for column, input_name in (("x_room", "room"), ("tip_load", "tip_load"), ("seed", "imperfection")):
        moved = np.flatnonzero(block[column][:-1] != block[column][0])
        assert list(moved) == [1 + [i.name for i in SPEC.inputs].index(input_name)]
    energy = np.flatnonzero(block["x_fracture_energy"][:-1] != block["x_fracture_energy"][0])
    assert list(energy) == [1, 1 + [i.name for i in SPEC.inputs].index("fracture_energy_median_factor")]
    words = (tmp_path / "s" / "rows.csv").read_text().splitlines()[0]
    for name in ("tip_load_gf", "x_front_flat_words", "design_words", "x_fracture_energy_median_j_m2"):
        assert f'"{name}"' in words


def test_holes_are_counted_and_both_ends_are_given(tmp_path):
    result = run_sensitivity(replace(SPEC, base_points=32), ALL, tmp_path / "s", workers=1, evaluate=failing_often)
    rows, found = result.rows, of(result.indices, "extended", "front_flat")
    unsolved = (rows["label"] == 0) & (rows["design"] == SOBOL)
    broken = len(np.unique(rows["block"][unsolved]))
    assert found["n_not_solved"] == np.sum(unsolved) > 0 and found["n"] == 32 * 24
    assert found["complete_base_points"] == 32 - broken and found["base_points"] == 32
    assert found["total"] == pytest.approx(1.0, abs=0.4)  # of what is left
    assert found["total_unsolved_least"] != found["total_unsolved_most"]
    text = " ".join(t.get_text() for t in sensitivity_figure(result).texts)
    assert f"{32 - broken} of 32" in text and f"Sobol' {found['n_not_solved']} of 768" in text
    screened = of(result.morris, "extended", "front_flat")
    part = (rows["label"] == 0) & (rows["design"] == MORRIS)
    assert screened["complete_trajectories"] == 4 - len(np.unique(rows["block"][part]))


def test_nothing_left_whole_is_no_estimate_but_a_figure(tmp_path):
    result = run_sensitivity(SPEC, ("extended",), tmp_path / "s", workers=1, evaluate=known_with_failures)
    found = of(result.indices, "extended", "front_flat")
    assert found["complete_base_points"] < 8 and np.isfinite(found["total_unsolved_most"])
    assert sensitivity_figure(result).texts


def test_outcomes_may_be_asked_later_and_nothing_runs_again(tmp_path):
    run_sensitivity(SPEC, ("extended",), tmp_path / "s", workers=1, evaluate=known)
    more = run_sensitivity(SPEC, ("max_push", "curled"), tmp_path / "s", workers=1, evaluate=forbidden)
    assert set(more.indices["outcome"]) == {"max_push", "curled"}
    with pytest.raises(InputError, match=r"another study \(trajectories was 4, now 5"):
        run_sensitivity(replace(SPEC, trajectories=5), ("extended",), tmp_path / "s", workers=1, evaluate=known)
    with pytest.raises(InputError, match="sampler"):
        run_sensitivity(replace(SPEC, sampler="SALib 0"), ("extended",), tmp_path / "s", workers=1, evaluate=known)


def test_a_killed_run_goes_on(tmp_path):
    out, spec = tmp_path / "s", replace(SPEC, base_points=16)
    process = mp.get_context("spawn").Process(target=run_slowly, args=(spec, out, code_version(*ROOTS)))
    process.start()
    chunks = out / "chunks"
    deadline = time.monotonic() + 120
    while time.monotonic() < deadline and len(list(chunks.rglob("*.parquet")) if chunks.is_dir() else []) < 3:
        time.sleep(0.01)
    os.kill(process.pid, signal.SIGKILL)
    process.join()
    kept = {p: p.stat().st_mtime_ns for p in chunks.rglob("*.parquet")}
    assert 3 <= len(kept) < len(pieces(spec)) and not (out / "rows.parquet").exists()
    time.sleep(0.3)  # the orphaned workers notice that their parent is gone; they never write
    run_sensitivity(spec, ("extended",), out, workers=1, evaluate=known)
    assert all(path.stat().st_mtime_ns == stamp for path, stamp in kept.items())
    run_sensitivity(spec, ("extended",), tmp_path / "whole", workers=1, evaluate=known)
    for name in FILES:
        assert (out / name).read_bytes() == (tmp_path / "whole" / name).read_bytes(), name


def test_its_sources_count_for_its_own_digest_only(tmp_path):
    own = {PACKAGE / name for name in ROOTS}
    assert own <= set(deciding(PACKAGE, ROOTS)) and not own & set(deciding(PACKAGE))
    assert code_version() != code_version(*ROOTS)
    run_sensitivity(SPEC, ("extended",), tmp_path / "s", workers=1, evaluate=known)
    manifest = json.loads((tmp_path / "s" / "manifest.json").read_text())
    assert manifest["code"] == code_version(*ROOTS) and manifest["kind"] == "sensitivity"
    assert "SALib" in manifest["environment"] and manifest["spec"]["sampler"].startswith("SALib ")


def test_fixed_load_and_angle_are_no_inputs():
    spec = replace(sensitivity_spec(), study=make_spec(loads=(1e-2,), angles=(0.4,)), tip_load=None, angle=None)
    assert [i.name for i in spec.inputs][:17] == list(NAMES) and len(spec.inputs) == 20
    made = insertion_at(spec, np.full(20, 0.5))
    assert made.tip_load == 1e-2 and made.angle == 0.4 and made.case.profile.EI1[0] == spec.study.wires[0].EI1[0]
    assert made.values["fracture_energy"] == pytest.approx(35.0) and made.case.scene.channel.front_shape == "notch"


def test_wires_between_the_tabulated_loads():
    study = make_spec(loads=load_knots(0.5e-2, 2e-2))
    factor, wire = wire_at(study, 1.1e-2)
    assert bench(wire) == pytest.approx(1.1e-2, rel=1e-3) and wire.EI1[0] == pytest.approx(study.base.EI1[0] * factor)
    assert interpolation_error(study, bench) < 1e-3
    assert interpolation_error(study, lambda w: bench(w) * exp(0.01)) == pytest.approx(0.01, rel=0.1)


def test_extremes_of_a_design_stay_finite():
    for end in (0.0, 1.0):
        made = insertion_at(SPEC, np.full(22, end))
        assert np.all(np.isfinite(list(made.values.values()))) and made.tip_load == pytest.approx(
            SPEC.tip_load[int(end)]
        )


@pytest.mark.parametrize(
    ("change", "word"),
    [
        ({"base_points": 100}, "base_points is 100; allowed: a power of 2"),
        ({"levels": 5}, "levels is 5; allowed: an even number"),
        ({"trajectories": 1}, "screening is 1"),
        ({"tip_load": None}, "tip_load is None; allowed: a range"),
        ({"angle": (0.8, 0.3)}, "angle is .*; allowed: two numbers, the second larger"),
        ({"angle": (0.3, 1.2)}, "a range within the study's values"),
    ],
)
def test_bad_specs_are_refused(change, word):
    with pytest.raises(FieldError, match=word):
        replace(SPEC, **change)


def test_angles_that_do_not_fit_are_refused():
    study = make_spec(loads=(1e-2,), angles=(0.2, 1.3), bend_length=4.2e-3)
    with pytest.raises(FieldError, match="fit the lumen"):
        replace(SPEC, study=study, tip_load=None, angle=(0.2, 1.3))


def test_every_estimate_lies_on_its_axis_and_wide_intervals_end_there():
    one, wide = np.array([0.2]), np.array([9.0])
    table = {
        f"{name}{end}": v for name in ("total", "first") for end, v in (("", one), ("_low", -wide), ("_high", wide))
    }
    assert index_axis(table) == pytest.approx((-0.53, 1.53))
    assert index_axis(table | {"total": np.array([3.3])})[1] == pytest.approx(3.33)
    narrow = {key: one for key in table} | {"first": np.array([np.nan])}
    assert index_axis(narrow) == pytest.approx((-0.03, 1.03))


def test_points_on_one_place_share_a_label():
    mu, sigma = np.array([1.0, 0.5, 1.001, 0.0]), np.array([0.4, 0.2, 0.4, 0.0])
    assert [numbers for _, numbers in together(mu, sigma, 0.01)] == [[0, 2], [1]]
