"""[policy] in users' units, and every mistake in it as one sentence."""

from math import pi, radians
from pathlib import Path

import pytest

from tipmech.checks import InputError
from tipmech.files.attempts import check_attempts, check_study_attempts, read_attempts
from tipmech.insertion.policy import Action

GOOD = """
title = "made up"
tip_loads_gf = [1.0]
angles_deg = [30.0]
scrambles = 4
points_per_scramble = 2
feed_extra_mm = 16.0
[wire]
preset = "workhorse"
[policy]
look_every_mm = 0.5
[policy.stop]
attempts = 5
feed_mm = 200.0
[[policy.rules]]
when = "curl_seen"
then = [{ redirect_deg = 90.0 }]
[[policy.rules]]
when = "push_above"
push_mn = 80.0
then = [{ withdraw_mm = 2.0, turn_deg = 45.0 }, { strokes = 3, stroke_mm = 1.0, back_mm = 0.5 }]
[[policy.rules]]
when = "advance_past_tear"
past_mm = 12.0
then = [{ withdraw_until = "no_curl_seen", most_mm = 9.0 }, { withdraw_before_tear_mm = 3.0 }, { turn_deg = -30.0 }]
"""

# (what is replaced, by what, words of the sentence)
BAD = [
    ("feed_mm = 200.0\n", "", ("policy.stop.feed_mm' is missing", "never ends")),
    ("attempts = 5\n", "", ("policy.rules[1].then' is 'withdraw_until_straight, turn'", "this policy never ends")),
    ("attempts = 5", "attempts = 0", ("policy.stop.attempts", "at least 1")),
    ("feed_mm = 200.0", "feed_mm = 0.1", ("policy.stop.feed", "at least 0.0005")),
    ('when = "curl_seen"', 'when = "curl_true"', ("policy.rules[1].true_state' is false", "no operator sees")),
    ('when = "curl_seen"', 'when = "curl"', ("policy.rules[1].when' is 'curl'", '"curl_seen"')),
    ('when = "curl_seen"', 'when = "buckled_seen"', ("policy.rules[1].beyond_deg' is missing", "buckled_seen")),
    ("push_mn = 80.0", "past_mm = 80.0", ("policy.rules[2].push_mn' is missing", "push_above")),
    ("push_mn = 80.0", "push_mn = 300.0", ("policy.rules[2].push_mn' is 300", "force_cap_n, 300 mN")),
    ("past_mm = 12.0", "past_mm = 17.0", ("policy.rules[3].past_mm' is 17", "feed_extra_mm, 16")),
    ("past_mm = 12.0", "past_mm = 12.0\npush_mn = 3.0", ("policy.rules[3].push_mn' is 3", "nothing here")),
    (
        "redirect_deg = 90.0",
        "redirect_deg = 90.0, turn_deg = 3.0",
        ("rules[1].then[1]' is a table with redirect_deg and turn_deg;", "exactly"),
    ),
    ("then = [{ redirect_deg = 90.0 }]", "then = []", ("policy.rules[1].then' is []", "1 to 20 entries")),
    ("redirect_deg = 90.0", "redirect_degrees = 90.0", ("redirect_degrees", "no field of this name")),
    (", stroke_mm = 1.0", "", ("policy.rules[2].then[2].stroke_mm' is missing", "strokes is given")),
    ("back_mm = 0.5", "back_mm = 1.5", ("policy.rules[2].then[2].back_mm' is 1.5", "at most stroke_mm, 1")),
    ("turn_deg = -30.0", "turn_deg = -30.0, most_mm = 2.0", ("most_mm' is 2", "only beside withdraw_until")),
    ("[policy.stop]", "true_lumen_mm = 12.0\n[policy.stop]", ("feed_extra_mm' is 16", "at least 18")),
    (
        "feed_extra_mm = 16.0",
        "feed_extra_mm = 16.0\nadvance_past_curl_mm = 1.0",
        ("advance_past_curl_mm", "nothing here"),
    ),
    (
        'when = "push_above"\npush_mn = 80.0',
        'when = "curl_seen"',
        ("policy.rules[2].when' is 'curl_seen'", "never acts"),
    ),
    (
        'when = "push_above"\npush_mn = 80.0',
        'when = "true_lumen_past_tear"\ntrue_state = true\npast_mm = 5.0',
        ("policy.rules[2].level' is 0.005", "has succeeded"),
    ),
    (
        '[[policy.rules]]\nwhen = "curl_seen"',
        '[[policy.rules]]\nwhen = "push_above"\npush_mn = 70.0\nthen = [{ withdraw_mm = 2.0 }]\n\n'
        '[[policy.rules]]\nwhen = "curl_seen"',
        ("policy.rules[3].when' is 'push_above'", "at a lower level first"),
    ),
    (GOOD[GOOD.index("[[policy.rules]]") :], "", ("field 'policy.rules' is missing", "an array of 1 to 20 entries")),
    ("tip_loads_gf = [1.0]\n", "", ("tip_loads_gf", "at least one tip load")),
    ("[policy]", "[policies]", ("field 'policy' is missing", "tipmech attempts")),
]


def written(folder: Path, text: str) -> Path:
    path = folder / "p.toml"
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.parametrize(("old", "new", "words"), BAD, ids=[" ".join(b[1].split())[:40] or b[0] for b in BAD])
def test_a_mistake_is_one_sentence(old, new, words, tmp_path):
    assert old in GOOD
    text = GOOD.replace(old, new) if old != "[policy]" else GOOD.replace("policy", "policies")
    with pytest.raises(InputError) as error:
        check_attempts(written(tmp_path, text))
    sentence = str(error.value)
    assert "\n" not in sentence and "p.toml" in sentence
    for word in words:
        assert word in sentence, sentence


def test_a_feed_that_does_not_reach_the_tear_is_refused_where_the_way_is_known(tmp_path):
    short = GOOD.replace("feed_mm = 200.0", "feed_mm = 3.0")
    check_attempts(written(tmp_path, short))  # the way is drawn, 2 mm at least
    with pytest.raises(InputError, match=r"policy.stop.feed_mm' is 3; allowed: at least 3.5, the way to the tear"):
        check_attempts(written(tmp_path, 'presentation = "local"\n' + short))


def test_the_tables_become_si(tmp_path):
    policy = check_study_attempts(written(tmp_path, GOOD)).policy.policy()
    assert (policy.look_every, policy.feed, policy.attempts) == (pytest.approx(0.5e-3), pytest.approx(0.2), 5)
    curl, push, past = policy.rules
    assert curl.then == (Action("withdraw_until_straight", 0.4), Action("turn", pi / 2))
    assert push.level == pytest.approx(0.08)
    assert push.then[0] == Action("withdraw", 2e-3, turn=radians(45.0))
    assert push.then[1] == Action("strokes", 1e-3, back=0.5e-3, count=3)
    assert past.level == pytest.approx(12e-3)
    kinds = [a.kind for a in past.then]
    assert kinds == ["withdraw_until_no_curl_seen", "withdraw_before_tear", "turn"]
    assert past.then[0].amount == pytest.approx(9e-3)


def test_seed_and_samples_can_be_asked_for(tmp_path):
    def bench(profile):
        return 2.0 * float(profile.EI1[0]) / 10e-3**2

    path = written(tmp_path, GOOD)
    own = read_attempts(path, bench).study
    other = read_attempts(path, bench, seed=9, samples=16).study
    assert (own.seed, own.count, other.seed, other.count) == (1, 8, 9, 16)
    with pytest.raises(
        InputError, match=r"'--samples' is 12; allowed: 4, 8, 16, \.\.\. 16384: the file's 4 scrambles times"
    ):
        read_attempts(path, bench, samples=12)


CASE = """
seed = 4
[wire]
preset = "workhorse"
[vessel]
lumen_diameter_mm = 3.0
[tear]
start_mm = 20.0
[[moves]]
advance_mm = 22.0
[drive]
force_cap_n = 0.2
[policy.stop]
attempts = 2
feed_mm = 60.0
[[policy.rules]]
when = "push_above"
push_mn = 150.0
then = [{ redirect_deg = 90.0 }]
"""


def test_a_case_file_with_a_policy_is_one_procedure(tmp_path):
    path = written(tmp_path, CASE)
    asked, policy = check_attempts(path)
    assert (asked.case.seed, policy.attempts, asked.policy) == (4, 2, policy)
    assert check_attempts(path, seed=8)[0].case.seed == 8
    with pytest.raises(InputError, match="'--samples' is 3; allowed: nothing here: a case file is one procedure"):
        check_attempts(path, samples=3)
    with pytest.raises(InputError, match=r"push_mn' is 150; allowed: less than .*drive.force_cap_n, 120 mN"):
        check_attempts(written(tmp_path, CASE.replace("0.2", "0.12")))
    late = CASE + '[[policy.rules]]\nwhen = "advance_past_tear"\npast_mm = 40.0\nthen = [{ withdraw_mm = 2.0 }]\n'
    with pytest.raises(InputError, match=r"rules\[\d\].past_mm' is 40; allowed: at most what .* beyond the tear"):
        check_attempts(written(tmp_path, late))
    with pytest.raises(InputError, match=r"stop.feed_mm' is missing.*never ends"):
        check_attempts(written(tmp_path, CASE.replace("feed_mm = 60.0", "")))
    with pytest.raises(InputError, match=r"stop.feed_mm' is 7; allowed: at least 8, the way to the tear"):
        check_attempts(written(tmp_path, CASE.replace("feed_mm = 60.0", "feed_mm = 7.0")))
    with pytest.raises(InputError, match="'policy.rules' is missing; allowed: an array of 1 to 20 entries"):
        check_attempts(written(tmp_path, CASE[: CASE.index("[[policy.rules]]")]))
    without = CASE[: CASE.index("[policy.stop]")]
    with pytest.raises(InputError, match="'policy' is missing"):
        check_attempts(written(tmp_path, without))
