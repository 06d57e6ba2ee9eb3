"""The calibrated scale of a wire, and one insertion over it."""

from dataclasses import asdict, replace
from pathlib import Path

import numpy as np
import pytest
from insertion_cases import make_case
from scipy import stats
from synthetic import make_record
from unit.lab.written_posterior import LEAST_WIDTH, normal_posterior

from tipmech.checks import InputError
from tipmech.files.wire import read_wire
from tipmech.insertion.case import Case, Move
from tipmech.insertion.classify import classify
from tipmech.insertion.record import Record
from tipmech.insertion.record_file import UNITS
from tipmech.insertion.run import advance
from tipmech.lab.insertions import insertions_over
from tipmech.lab.scale import Scale, read_scale, scaled
from tipmech.outcome import Label, Stop
from tipmech.profile import Profile
from tipmech.wire.design import profile

WIRE = read_wire("workhorse")
MEAN, SD = -0.2, 0.3


@pytest.fixture
def scale(tmp_path: Path) -> Scale:
    return read_scale(normal_posterior(tmp_path / "posterior.parquet", WIRE, MEAN, SD), WIRE)


def test_scales_are_quantiles_of_the_posterior(scale: Scale) -> None:
    levels = np.array([0.025, 0.3, 0.5, 0.975])
    assert np.log(scale.at(levels)) == pytest.approx(stats.norm(MEAN, SD).ppf(levels), abs=2e-3 * SD)
    assert scale.median == pytest.approx(np.exp(MEAN), rel=1e-3)
    assert np.log(scale.middles(4)) == pytest.approx(
        stats.norm(MEAN, SD).ppf([0.125, 0.375, 0.625, 0.875]), abs=2e-3 * SD
    )


def test_the_posterior_of_another_wire_or_coupling_is_refused(tmp_path: Path) -> None:
    path = normal_posterior(tmp_path / "posterior.parquet", WIRE, MEAN, SD)
    with pytest.raises(InputError, match=r"belongs to the wire .*workhorse.*; allowed: the posterior of .*very soft"):
        read_scale(path, read_wire("very_soft"))
    with pytest.raises(InputError, match="calibrated with coupling 'sliding'; allowed: 'bonded'"):
        read_scale(path, WIRE, "bonded")


def test_a_scale_of_one_leaves_the_profile_as_it_is() -> None:
    stock = profile(WIRE)
    assert scaled(stock, 1.0) is stock
    assert scaled(stock, 0.5).EI1[0] == 0.5 * stock.EI1[0]


def short() -> Case:
    return replace(make_case(), moves=(Move("advance", 2e-3),))


def same(one: Record, two: Record) -> bool:
    return all(np.array_equal(getattr(one, k), getattr(two, k), equal_nan=True) for k in UNITS)


def test_no_width_about_the_drawing_is_the_run_without_a_posterior(tmp_path: Path) -> None:
    case = short()
    alone = advance(case)
    sure = read_scale(normal_posterior(tmp_path / "sure.parquet", WIRE, 0.0, 0.0), WIRE)
    found = insertions_over(case, sure, 3)
    assert sure.median == 1.0 and found.median == 1.0
    assert same(found.record, alone)
    np.testing.assert_equal(asdict(found.outcome), asdict(classify(alone)))  # which takes nan for equal
    assert len(found.drawn) == 3
    for one in found.drawn:
        np.testing.assert_equal(asdict(one.outcome), asdict(found.outcome))
        assert np.array_equal(one.push, alone.push)
    elsewhere = read_scale(normal_posterior(tmp_path / "half.parquet", WIRE, np.log(0.5), 0.0), WIRE)
    half = advance(replace(case, profile=case.profile.softened(0.5)))
    assert not np.array_equal(half.push, alone.push)  # else the case could not tell
    assert insertions_over(case, elsewhere, 1).record.push == pytest.approx(half.push, abs=1e3 * LEAST_WIDTH)


def test_the_median_wire_is_the_record_and_every_share_is_counted(scale: Scale) -> None:
    seen: list[Profile] = []
    case = make_case()

    def made_up(one: Case) -> Record:
        """Not solved above a scale of 1, and a push that is the scale (N)."""
        seen.append(one.profile)
        factor = float(one.profile.EI1[0] / case.profile.EI1[0])
        record = make_record()
        stop = Stop.NOT_CONVERGED if factor > 1.0 else Stop.PROTOCOL_DONE
        return replace(record, case=one, push=np.full_like(record.push, factor), stop=int(stop))

    steps: list[tuple[float, float]] = []
    found = insertions_over(case, scale, 8, lambda done, total: steps.append((done, total)), made_up)
    assert steps == [(k, 9) for k in range(10)]
    scales = scale.middles(8)
    assert [p.EI1[0] / case.profile.EI1[0] for p in seen] == pytest.approx([scale.median, *scales])
    assert f"x {scale.median:.3g}" in found.record.case.profile.name
    above = int(np.sum(scales > 1.0))
    assert 0 < above < 8 and found.unsolved == found.counts[Label.NOT_SOLVED] == above
    assert sum(found.counts.values()) == 8
    solved = scales[scales <= 1.0]
    assert found.band("max_push") == pytest.approx((solved[0], float(np.median(solved)), solved[-1]))


def test_an_odd_number_of_wires_holds_the_median_one_which_runs_once(scale: Scale) -> None:
    runs: list[float] = []

    def made_up(one: Case) -> Record:
        runs.append(float(one.profile.EI1[0]))
        return replace(make_record(), case=one)

    found = insertions_over(make_case(), scale, 3, advance=made_up)
    assert len(runs) == 3 and found.drawn[1].scale == found.median


def test_where_no_wire_is_solved_there_is_no_band(scale: Scale) -> None:
    found = insertions_over(
        make_case(), scale, 2, advance=lambda one: replace(make_record(), case=one, stop=int(Stop.NOT_CONVERGED))
    )
    assert found.counts == {Label.NOT_SOLVED: 2} and np.all(np.isnan(found.band("max_push")))
