"""Made-up insertions whose screens are read, with known sensitivity and specificity, in place of the mechanics."""

import time
from dataclasses import replace

import numpy as np
from study.made_up import EXTENDED, NEVER, TRUE, UNSOLVED, make_spec

from tipmech.insertion.case import Case
from tipmech.insertion.imaging import Imaging
from tipmech.insertion.seen import Detector
from tipmech.study.looks import Look, Reading
from tipmech.study.run_curl import CurlSpec, run_curl

PREVALENCE, SENSITIVITY, SPECIFICITY = 0.4, 0.7, 0.9
LOOKS = 4
SPREAD = 0.5  # of the scores about 1


def curl_spec(**options) -> CurlSpec:
    study = make_spec(angles=(0.3, 0.8), **{"scrambles": 16, "points": 8} | options)
    return CurlSpec(study, Imaging(), Detector())


def known(spec: CurlSpec, case: Case) -> Reading:
    """In the false lumen with PREVALENCE from the first look on; a curl seen at the second look with the stated
    chances, independently for every wire, angle and point."""
    key = [case.seed, int(1e10 * case.profile.EI1[0]), int(1e3 * case.tip_shape.angle)]
    false, seen, size = np.random.default_rng(key).random(3)
    inside = bool(false < PREVALENCE)
    positive = seen < (SENSITIVITY if inside else 1.0 - SPECIFICITY)
    outcome = EXTENDED if inside else TRUE
    score = 1.0 + SPREAD * size if positive else 1.0 - SPREAD * (1.0 - 0.999 * size)
    looks = [
        Look(1e-3 * k, score if k == 2 else 0.25 * score, 0.9 if size < 0.5 else 0.3, inside, inside, positive)
        for k in range(1, LOOKS + 1)
    ]
    return Reading(outcome, tuple(looks))


def with_failures(spec: CurlSpec, case: Case) -> Reading:
    """Every tenth insertion is not solved: half of them before a look; some never reach the tear."""
    u = np.random.default_rng(case.seed + 1).random()
    if u < 0.1:
        return Reading(UNSOLVED, known(spec, case).looks[:2] if u < 0.05 else ())
    if u > 0.9:
        return Reading(NEVER, (Look(float("nan"), 0.0, 0.9, False, False, False),))
    return known(spec, case)


def perfect(spec: CurlSpec, case: Case) -> Reading:
    """A curl is seen in the false lumen always, elsewhere never."""
    reading = known(spec, case)
    looks = tuple(replace(look, score=2.0 if look.in_false else 0.0) for look in reading.looks)
    return Reading(reading.outcome, looks)


def forbidden(spec: CurlSpec, case: Case) -> Reading:
    raise AssertionError("a finished point was computed again")


def slowly(spec: CurlSpec, case: Case) -> Reading:
    time.sleep(0.02)
    return known(spec, case)


def run_slowly(spec: CurlSpec, out, code: str) -> None:
    from tipmech.study import store

    store.code_version = lambda *more: code
    run_curl(spec, out, workers=2, evaluate=slowly)
