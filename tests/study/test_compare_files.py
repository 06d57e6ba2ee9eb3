"""Files of comparisons and atlases: what is read, and one sentence for each mistake."""

from pathlib import Path

import numpy as np
import pytest
from study.made_up import bench
from typer.testing import CliRunner

from tipmech.checks import InputError
from tipmech.cli import app
from tipmech.files.atlas import check_atlas, read_atlas
from tipmech.files.compare import check_compare, read_compare
from tipmech.study.compare_spec import CompareSpec, design_words
from tipmech.study.run_procedures import ProceduresSpec

EXPERIMENTS = Path(__file__).parents[2] / "experiments"
SMALL = 'tip_loads_gf = [0.5, 2.0]\nangles_deg = [10.0, 60.0]\n[wire]\npreset = "workhorse"\n[comparison]\n'
ATLAS = (
    'tip_loads_gf = [0.5, 2.0]\nangles_deg = [40.0]\n[wire]\npreset = "workhorse"\n[atlas]\nsites = 64\n'
    "[atlas.ranges]\nroom_mm = [1.0, 4.0]\nfracture_energy_j_m2 = [5.0, 100.0]\n"
)


def write(tmp_path, text):
    path = tmp_path / "study.toml"
    path.write_text(text)
    return path


def test_the_experiments_are_sound():
    spec = read_compare(EXPERIMENTS / "compare/soft_tip.toml", bench)
    assert spec.plan.outcome == "entered" and spec.reference == len(spec.study.tip_loads) - 1
    assert [f.name for f in spec.factors] == ["friction", "front_shape"]
    for name, by, reference in (
        ("lubricity", "friction", 0.25),
        ("support_distance", "unsupported_length", 24e-3),
        ("twin_strand", "construction", "single strand"),
    ):
        one = read_compare(EXPERIMENTS / f"compare/{name}.toml", bench)
        assert (one.by, one.levels[one.reference], one.plan.outcome) == (by, reference, "entered")
        assert [f.name for f in one.factors] == ["front_shape"]
    atlas = read_atlas(EXPERIMENTS / "atlas/softer.toml", bench)
    assert {r.name for r in atlas.ranges} == {"fracture_energy", "room", "mouth_gap", "unsupported_length"}
    assert 2 * len(atlas.study.angles) * atlas.sites * atlas.study.points <= 20_000


def test_units_become_si(tmp_path):
    more = (
        'reference_gf = 0.5\nreplicates = 4\n[[factor]]\nname = "room_mm"\nlevels = [1.0, 3]\n'
        '[[distribution]]\nname = "mouth_gap_mm"\nkind = "lognormal"\nmedian = 0.3\nlog_sd = 0.5\nsource = "s"\n'
        '[[shared_unknown]]\nname = "drive_stiffness_n_mm"\nkind = "uniform"\nlow = 0.1\nhigh = 0.5\nsource = "s"\n'
    )
    spec = read_compare(write(tmp_path, SMALL + more), bench)
    assert spec.reference == 0 and spec.factors[0].levels == (1e-3, 3e-3)
    assert dict(spec.distributions[0].parameters) == {"median": 3e-4, "log_sd": 0.5}
    assert dict(spec.shared_unknowns[0].parameters) == {"low": 100.0, "high": 500.0}


def test_what_is_shared_never_leaves_its_limits_whatever_is_drawn(tmp_path):
    text = SMALL + SHARED + 'kind = "lognormal"\nmedian = 300.0\nlog_sd = 0.38\n'
    shared = read_compare(write(tmp_path, text), bench).shared_unknowns[0]
    assert (shared.low, shared.high) == (0.1, 1000.0)
    assert shared.level(0.5) == pytest.approx(300.0) and shared.level(1.0) == 1000.0 and shared.level(0.0) == 0.1


ONE = SMALL.replace("[0.5, 2.0]", "[0.8]", 1)
LENGTHS = '[[factor]]\nname = "unsupported_length_mm"\nlevels = [4.0, 8, 16.0]\n'


def test_designs_may_be_the_levels_of_a_factor(tmp_path):
    text = ONE + 'by = "unsupported_length_mm"\nreference = 8.0\n' + LENGTHS + FRONT
    spec = read_compare(write(tmp_path, text), bench)
    assert (spec.by, spec.levels, spec.reference) == ("unsupported_length", (4e-3, 8e-3, 16e-3), 1)
    assert [f.name for f in spec.factors] == ["front_shape"]
    assert len(set(spec.study.tip_loads)) == 1 and len({id(w) for w in spec.study.wires}) == 1
    assert [design_words(spec, i) for i in (0, 2)] == ["unsupported length 4 mm", "unsupported length 16 mm"]
    words = read_compare(write(tmp_path, ONE + 'by = "front_shape"\n' + FRONT), bench)
    assert words.scale is None and words.reference == 1 and design_words(words, 1) == "front shape flat"


FRONT = '[[factor]]\nname = "front_shape"\nlevels = ["notch", "flat"]\n'


def test_designs_may_be_constructions_of_one_tip_load(tmp_path):
    spec = read_compare(EXPERIMENTS / "compare/twin_strand.toml", bench)
    assert (spec.by, spec.levels, spec.reference) == ("construction", ("single strand", "twin strand"), 0)
    one, other = spec.study.wires
    assert bench(one) == pytest.approx(bench(other), rel=1e-3) == pytest.approx(spec.study.tip_loads[0], rel=1e-3)
    ratios = [float(w.at("GJ", np.array([5e-3]))[0] / w.at("EI1", np.array([5e-3]))[0]) for w in (one, other)]
    assert ratios[0] != pytest.approx(ratios[1], rel=1e-3)  # construction, not softness
    behind = np.linspace(70e-3, 290e-3, 50)
    for key in ("EI1", "GJ", "EA", "radius"):
        np.testing.assert_allclose(one.at(key, behind), other.at(key, behind))


OTHER = '[[construction]]\npreset = "{}"\n'


@pytest.mark.parametrize(
    ("text", "field", "allowed"),
    [
        (ONE, "tip_loads_gf", "at least two tip loads"),
        (SMALL + 'by = "friction"\n' + FRONT, "tip_loads_gf", "one tip load, the same for all designs"),
        (ONE + 'by = "friction"\n' + FRONT, "comparison.by", "the name of a [[factor]] with at least two levels"),
        (ONE + 'by = "colour"\n', "comparison.by", "the name of a [[factor]]"),
        (ONE + 'by = "front_shape"\nreference = "sharp"\n' + FRONT, "comparison.reference", "notch, flat"),
        (ONE + 'by = "front_shape"\nreference_gf = 0.8\n' + FRONT, "comparison.reference_gf", "left out"),
        (SMALL + 'outcome = "opened_area"\nhalf_width = 0.05\n', "comparison.half_width", "left out with outcome"),
        (SMALL + "reference = 2.0\n", "comparison.reference", "by tip load it is reference_gf"),
        (ONE + 'by = "front_shape"\n' + FRONT + OTHER.format("intermediate"), "comparison.by", "left out with"),
        (ONE + "reference = 0.8\n" + OTHER.format("intermediate"), "comparison.reference", "[wire] is the reference"),
        (ONE + OTHER.format("nothing"), "construction[1].preset", "workhorse"),
        (ONE + "[[construction]]\n", "construction[1].preset", "exactly one of preset and file"),
        (ONE + OTHER.format("workhorse"), "construction[1].preset", "a name of its own"),
        (ONE + OTHER.format("stiff_tapered"), "construction[1].preset", "diameter at the tip is that of [wire], 0.356"),
        (ONE + OTHER.format("soft_twin_strand"), "wire.friction", "their own differ (0.04, 0.12)"),
    ],
)
def test_a_mistake_in_what_tells_designs_apart_is_one_sentence(tmp_path, text, field, allowed):
    path = write(tmp_path, text)
    with pytest.raises(InputError) as error:
        check_compare(path)
    said = str(error.value)
    assert said.startswith(str(path)) and field in said and allowed in said and "\n" not in said


NORMAL = 'kind = "normal"\nmean = {}\nsd = {}\n'
SHARED = 'replicates = 2\n[[shared_unknown]]\nname = "fracture_energy_j_m2"\nsource = "s"\n'
DISTRIBUTION = '[[distribution]]\nname = "room_mm"\nsource = "s"\n'


@pytest.mark.parametrize(
    ("more", "field", "allowed"),
    [
        ("margin = 0.0\n", "comparison.margin", "greater than 0"),
        ("reference_gf = 1.0\n", "comparison.reference_gf", "one of tip_loads_gf, 0.5, 2"),
        ('outcome = "cured"\n', "comparison.outcome", '"entered"'),
        ("replicates = 4\n", "comparison.replicates", "only with them"),
        ('[[factor]]\nname = "colour"\nlevels = [1.0]\n', "factor[1].name", "one of friction"),
        ('[[factor]]\nname = "room_mm"\nlevels = [0.1]\n', "factor[1].levels", "0.6 to"),
        ('[[factor]]\nname = "room_mm"\nlevels = ["wide"]\n', "factor[1].levels", "a number"),
        ('[[factor]]\nname = "front_shape"\nlevels = ["sharp"]\n', "factor[1].levels", "notch, flat"),
        ('[[factor]]\nname = "friction"\nlevels = [0.1, 0.1]\n', "factor[1].levels", "each level once"),
        ('[[factor]]\nname = "friction"\nlevels = [3.0]\n', "factor[1].levels", "0.005 to 1"),
        (DISTRIBUTION, "distribution[1].kind", "lognormal"),
        (DISTRIBUTION + 'kind = "normal"\nmean = 2.0\n', "distribution[1].sd", "mean and sd"),
        (DISTRIBUTION + 'kind = "uniform"\nlow = 3.0\nhigh = 2.0\n', "distribution[1].high", "greater than low"),
        (DISTRIBUTION + NORMAL.format(0.1, 0.01), "distribution[1].mean", "at most 0.05 lies outside 0.6 to "),
        (
            DISTRIBUTION.replace("room_mm", "youngs_modulus_mpa") + NORMAL.format(0.1, 5.0),
            "distribution[1].sd",
            "at most 0.05",
        ),
        (
            '[[factor]]\nname = "room_mm"\nlevels = [1.0]\n' + DISTRIBUTION + NORMAL.format(3.0, 0.5),
            "distribution",
            "no [[factor]]",
        ),
        (
            SHARED.replace("fracture_energy_j_m2", "room_mm")
            + NORMAL.format(3.0, 0.5)
            + DISTRIBUTION
            + NORMAL.format(3.0, 0.5),
            "distribution",
            "no [[shared_unknown]]",
        ),
        (
            DISTRIBUTION.replace("room_mm", "friction") + 'kind = "normal"\nmean = 0.1\nsd = 0.01\n',
            "name",
            "mouth_gap_mm",
        ),
        (
            'replicates = 2\n[[shared_unknown]]\nname = "front_shape"\nsource = "s"\n',
            "shared_unknown[1].choices",
            "notch, flat",
        ),
        (
            'replicates = 2\n[[shared_unknown]]\nname = "friction"\nsource = "s"\n' + NORMAL.format(0.5, 1.0),
            "shared_unknown[1].sd' is 1;",
            "at most 0.001 lies outside 0.005 to 1, where it is cut (0.62 of it does)",
        ),
        (SHARED + "choices = [10.0, 30.0]\nmedian = 99.0\n", "shared_unknown[1].median", "left out beside choices"),
        (SHARED + NORMAL.format(20.0, 1e-320), "shared_unknown[1].sd", "1e-09"),
        (SHARED.replace('source = "s"', 'source = " "') + NORMAL.format(20.0, 1.0), "shared_unknown[1].source", ""),
        (SHARED + NORMAL.format(2000.0, 1.0), "shared_unknown[1].mean' is 2000;", "0.1 to 1000"),
        (
            SHARED + 'kind = "uniform"\nlow = 1.0\nhigh = 1500.0\n',
            "shared_unknown[1].high' is 1500;",
            "0.1 to 1000, where it is cut (0.33 of it does)",
        ),
        (
            SHARED + 'kind = "lognormal"\nmedian = 35.0\nlog_sd = 2.0\n',
            "shared_unknown[1].log_sd' is 2;",
            "(0.049 of it does)",
        ),
        (
            'replicates = 2\n[[factor]]\nname = "friction"\nlevels = [0.1]\n'
            '[[shared_unknown]]\nname = "friction"\nchoices = [0.1, 0.2]\nsource = "s"\n',
            "shared_unknown",
            "no factor too",
        ),
    ],
)
def test_a_mistake_is_one_sentence(tmp_path, more, field, allowed):
    path = write(tmp_path, SMALL + more)
    with pytest.raises(InputError) as error:
        check_compare(path)
    text = str(error.value)
    assert text.startswith(str(path)) and field in text and allowed in text and "\n" not in text


RULE = '[[policy.rules]]\nwhen = "push_above"\npush_mn = 60.0\nthen = [{ withdraw_before_tear_mm = 2.0 }]\n'
POLICY = "[policy.stop]\nattempts = 3\nfeed_mm = 300.0\n" + RULE
LONG = "feed_extra_mm = 18.0\n"


def test_an_estimand_takes_a_policy_and_its_own_outcomes(tmp_path):
    one = read_compare(write(tmp_path, SMALL), bench)
    assert isinstance(one, CompareSpec) and one.plan.outcome == "entered"
    for estimand, outcome in (("procedure", "through"), ("damage", "opened_area")):
        text = LONG + SMALL + f'estimand = "{estimand}"\n' + POLICY + "[imaging]\nnoise_mm = 0.1\n"
        spec = read_compare(write(tmp_path, text), bench)
        assert isinstance(spec, ProceduresSpec) and (spec.estimand, spec.compare.plan.outcome) == (estimand, outcome)
        assert (spec.policy.feed, len(spec.policy.rules), spec.imaging.noise) == (0.3, 1, pytest.approx(1e-4))
    text = LONG + SMALL + 'estimand = "procedure"\noutcome = "entered"\n' + POLICY
    assert read_compare(write(tmp_path, text), bench).compare.plan.outcome == "entered"
    assert read_compare(EXPERIMENTS / "compare/procedure.toml", bench).estimand == "damage"


@pytest.mark.parametrize(
    ("text", "field", "allowed"),
    [
        (SMALL + 'estimand = "patient"\n', "comparison.estimand", '"procedure"'),
        (LONG + SMALL + 'estimand = "damage"\n', "policy", "a table, as for attempts"),
        (LONG + SMALL + POLICY, "policy", 'with comparison.estimand = "procedure"'),
        (LONG + SMALL + "[imaging]\nnoise_mm = 0.1\n", "imaging", 'with comparison.estimand = "procedure"'),
        (SMALL + 'outcome = "through"\n', "comparison.outcome", 'with estimand = "insertion" one of entered'),
        (
            LONG + SMALL + 'estimand = "damage"\noutcome = "entered"\n' + POLICY,
            "comparison.outcome",
            'with estimand = "damage" one of opened_area',
        ),
        ("feed_extra_mm = 8.0\n" + SMALL + 'estimand = "procedure"\n' + POLICY, "feed_extra_mm", "at least 11"),
        ("advance_past_tear_mm = 5.0\n" + LONG + SMALL + 'estimand = "procedure"\n' + POLICY, "advance_past", "rules"),
        (
            LONG + SMALL + 'estimand = "procedure"\n[[factor]]\nname = "force_cap_n"\nlevels = [0.05, 0.3]\n' + POLICY,
            "policy.rules[1].push_mn",
            "the lowest force_cap_n, 50 mN",
        ),
        (
            LONG
            + SMALL
            + 'estimand = "procedure"\nreplicates = 2\n[[shared_unknown]]\nname = "force_cap_n"\n'
            + 'choices = [0.05, 0.3]\nsource = "s"\n'
            + POLICY,
            "policy.rules[1].push_mn",
            "the lowest force_cap_n, 50 mN",
        ),
    ],
)
def test_a_mistake_in_an_estimand_is_one_sentence(tmp_path, text, field, allowed):
    path = write(tmp_path, text)
    with pytest.raises(InputError) as error:
        check_compare(path)
    said = str(error.value)
    assert said.startswith(str(path)) and field in said and allowed in said and "\n" not in said


@pytest.mark.parametrize(
    ("change", "field", "allowed"),
    [
        (("sites = 64", "sites = 96"), "atlas.sites", "a power of 2"),
        (("sites = 64", "sites = 16"), "atlas.sites", "at least 64 and at most 16384"),
        (("sites = 64", "sites = 64\nmargin = 0.0"), "atlas.margin", "greater than 0"),
        (("[1.0, 4.0]", "[4.0, 1.0]"), "atlas.ranges.room_mm", "the second greater"),
        (("[1.0, 4.0]", "[0.1, 4.0]"), "atlas.ranges.room_mm", "0.6 to"),
        (("room_mm = ", "colour = "), "atlas.ranges", "names among"),
        (("room_mm = [1.0, 4.0]\n", ""), "atlas.ranges", "at least two"),
        (("[0.5, 2.0]", "[0.5, 1.0, 2.0]"), "tip_loads_gf", "two tip loads"),
        (("angles_deg", "scrambles = 4\nangles_deg"), "scrambles", "left out"),
    ],
)
def test_a_mistake_in_an_atlas_is_one_sentence(tmp_path, change, field, allowed):
    path = write(tmp_path, ATLAS.replace(*change))
    with pytest.raises(InputError) as error:
        check_atlas(path)
    text = str(error.value)
    assert text.startswith(str(path)) and field in text and allowed in text and "\n" not in text


def test_each_command_names_the_other_s_files(tmp_path):
    run = CliRunner()
    plain = write(tmp_path, SMALL.replace("[comparison]\n", ""))
    for command, table in (("compare", "comparison"), ("atlas", "atlas")):
        result = run.invoke(app, [command, str(plain)])
        assert result.exit_code == 2 and f"field '{table}' is missing" in result.stderr
    assert run.invoke(app, ["compare", str(write(tmp_path, SMALL)), "--check"]).exit_code == 0
