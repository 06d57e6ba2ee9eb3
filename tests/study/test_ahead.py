"""What a study is told to take, against what it then makes; and the one sentence about a file of no study."""

import time
from math import comb

import numpy as np
import pytest
from statsmodels.stats.proportion import proportion_confint
from study.made_up import by_force, coin, make_spec
from study.made_up_curl import curl_spec, known
from study.made_up_sensitivity import known as known_sensitivity
from study.made_up_sensitivity import sensitivity_spec
from study.test_run_attempts import coins
from study.test_run_attempts import spec_of as attempts_spec
from typer.testing import CliRunner

from tipmech.cli import app
from tipmech.cli.plan import lines_of
from tipmech.files.kind import kind_of
from tipmech.study.ahead import BAND, half_width, look_ahead, median_ranks, sharpness, timed
from tipmech.study.estimates import median_of_intervals
from tipmech.study.indices import sobol_indices
from tipmech.study.run_atlas import AtlasSpec, Range, run_atlas
from tipmech.study.run_attempts import run_attempts
from tipmech.study.run_curl import run_curl
from tipmech.study.run_map import run_map
from tipmech.study.run_sensitivity import run_sensitivity
from tipmech.study.run_threshold import ThresholdSpec, run_threshold
from tipmech.study.table import length

SMALL = make_spec(angles=(0.3, 1.3), bend_length=4.2e-3, scrambles=4, points=2)  # one of the angles does not fit
AXES = (Range("room", 0.8e-3, 5e-3), Range("unsupported_length", 2.5e-3, 25e-3))
FILE = 'angles_deg = [40.0]\n[wire]\npreset = "workhorse"\n'
CASE = '[wire]\npreset = "workhorse"\n'


def nothing(task):
    return {}


@pytest.mark.parametrize(
    ("spec", "run"),
    [
        (SMALL, lambda s, out: run_map(s, out, 1, evaluate=coin)),
        (ThresholdSpec(SMALL), lambda s, out: run_threshold(s, out, 1, evaluate=by_force)),
        (attempts_spec(scrambles=4, points=1), lambda s, out: run_attempts(s, out, 1, evaluate=coins)),
        (curl_spec(scrambles=4, points=1), lambda s, out: run_curl(s, out, 1, evaluate=known)),
        (AtlasSpec(make_spec((0.5e-2, 2e-2), (0.3,), points=1), AXES, 64),
         lambda s, out: run_atlas(s, out, 1, evaluate=coin)),
        (sensitivity_spec(), lambda s, out: run_sensitivity(s, ("extended",), out, 1, evaluate=known_sensitivity)),
    ],
    ids=["map", "threshold", "attempts", "curl", "atlas", "sensitivity"],
)  # fmt: skip
def test_counts_are_those_of_the_study_itself(tmp_path, spec, run):
    ahead = look_ahead(spec, 3, 2, nothing)
    result = run(spec, tmp_path / "s")
    assert ahead.count == length(result.rows) > 0
    assert ahead.chunks == len(list((tmp_path / "s/chunks").rglob("*.parquet"))) and ahead.pilot == 3
    assert ahead.wall_time == ahead.count * ahead.seconds / 2
    assert f"{ahead.count} " in lines_of(ahead)[0]


def test_a_pilot_is_spread_over_the_study_and_its_first_run_is_not_timed():
    from tipmech.study.task import tasks_of

    seen = []

    def work(task):
        seen.append(task)
        end = time.process_time() + (0.2 if len(seen) == 1 else 0.01)
        while time.process_time() < end:
            pass
        return {}

    times = timed(tasks_of([(0, 0), (1, 0), (2, 0)], 32, 16), work, 3)
    assert len(times) == 3 and max(times) < 0.15 and all(t.count == 1 for t in seen)
    assert [(t.tip_load, t.first) for t in seen] == [(0, 0), (0, 0), (1, 15), (2, 31)]
    assert len(timed(tasks_of([(0, 0)], 5, 16), work, 12)) == 5 and timed([], work, 3) == []


def test_half_widths_are_those_of_the_intervals_that_will_be_made():
    low, high = proportion_confint(12, 60, method="wilson")
    assert half_width(0.2, 60, 10**6) == pytest.approx(0.5 * (high - low), abs=1e-4)
    rng = np.random.default_rng(1)
    values = np.exp(rng.normal(size=40))
    low, high = median_ranks(40)
    found, ordered = median_of_intervals(values, values), np.sort(values)
    assert (found.low, found.high) == (ordered[round(low * 40) - 1], ordered[round(high * 40) - 1])
    assert median_ranks(4) == (0.0, 1.0)  # too few cases for any interval


def test_the_half_width_of_an_index_is_about_that_of_a_made_up_study():
    """Of independent base points with a total index of 0.3 and probability a half."""
    rng, spec = np.random.default_rng(2), sensitivity_spec(base_points=128)
    ahead = sharpness(spec)
    n = spec.base_points
    a = rng.random(n) < 0.5
    mixed = np.where(rng.random(n) < 0.15, ~a, a)  # 0.15 = 2 x 0.3 x 0.25 of the pairs differ
    y = np.column_stack([a, mixed, a, rng.random(n) < 0.5]).astype(float).ravel()
    found = sobol_indices(2, y, np.ones(len(y), dtype=bool), (0.0, 1.0), True)
    assert 0.5 * (found.total.high - found.total.low)[0] == pytest.approx(ahead.rows[0][1][2], rel=0.5)
    assert found.total.high[1] == pytest.approx(ahead.rows[1][1][2], rel=0.05)


def test_the_band_of_an_atlas_narrows_with_its_insertions_and_widens_with_the_degree():
    spec = AtlasSpec(make_spec((0.5e-2, 2e-2), (0.3,), points=4), AXES, 256)
    (_, one), (_, two) = sharpness(spec).rows
    assert one[2] == pytest.approx(BAND * (0.1 * comb(5, 1) / 1024) ** 0.5) and two[2] > one[2]


KINDS = {
    "map": "",
    "threshold": "[ladder]\n",
    "attempts": "[policy]\n",
    "compare": "[comparison]\n[policy]\n",
    "atlas": "[atlas]\n",
    "sensitivity": "[sensitivity]\n",
    "curl": "[curl]\n",
}


@pytest.mark.parametrize(("kind", "table"), KINDS.items(), ids=list(KINDS))
def test_a_kind_is_told_by_its_tables(tmp_path, kind, table):
    path = tmp_path / "study.toml"
    path.write_text("tip_loads_gf = [1.0]\n" + FILE + table)
    assert kind_of(path) == kind


@pytest.mark.parametrize("text", ["", CASE, CASE + "[policy]\n"])
def test_a_file_of_no_study_is_one_sentence(tmp_path, text):
    path = tmp_path / "case.toml"
    path.write_text(text)
    result = CliRunner().invoke(app, ["plan", str(path)])
    assert result.exit_code == 2 and "\n" not in result.stderr.strip()
    assert f"{path}: is no file of a study" in result.stderr and "tipmech sensitivity, tipmech curl" in result.stderr


def test_the_command_tells_what_is_ahead(tmp_path):
    path = tmp_path / "map.toml"
    path.write_text("tip_loads_gf = [1.0]\nscrambles = 4\n" + FILE)
    result = CliRunner().invoke(app, ["plan", str(path), "--pilot", "1"])
    assert result.exit_code == 0, result.output
    assert "1 cell of 4 scrambles x 2 points: 8 insertions, in 1 chunks" in result.stdout
    told = " ".join(result.stdout.split())
    assert "half-widths of 95 % intervals to expect, by probability (assumed)" in told
    assert not [p for p in tmp_path.iterdir() if p != path]
