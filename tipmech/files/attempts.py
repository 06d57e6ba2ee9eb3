"""Files for `tipmech attempts`: a study file with a [policy], or a case file with one.

`check_*` reads and checks a file; `read_*` also finds the softness factor of every tip load, which runs the bench.
"""

from dataclasses import replace
from pathlib import Path

from ..insertion.policy import Policy
from ..study.run_attempts import AttemptsSpec
from ..study.spec import Bench
from .common import STUDY_FIELDS, fail, named, read_toml
from .imaging import looks_of
from .scene import CaseFile, read_case
from .scene_tables import CASE_SEEDS
from .study import check_study, spec_of
from .study_tables import MOST_POINTS, SEEDS, AttemptsTables, LocalStudyTable

POLICY_ALLOWED = (
    "a [policy] table, which makes a file one for `tipmech attempts` (as experiments/attempts/policy.toml; a map's "
    "file goes to `tipmech map`, a case file without one to `tipmech advance`)"
)


def check_attempts(
    path: str | Path, *, seed: int | None = None, samples: int | None = None
) -> tuple[CaseFile, Policy] | None:
    """Read and check a file, and `seed` and `samples` asked for in place of its own.

    Returns case and policy of a case file, with this seed; None for a study file.

    Raises
    ------
    InputError
        one sentence: file, field, value, what is allowed
    """
    tables = read_toml(path)
    if "policy" not in tables:
        fail(path, "policy", None, POLICY_ALLOWED)
    if set(STUDY_FIELDS) & set(tables):
        asked_of_study(path, check_study_attempts(path), seed=seed, samples=samples)
        return None
    asked = read_case(path)
    policy = asked.policy
    if policy is None:
        fail(path, "policy", None, POLICY_ALLOWED)
    if samples is not None:
        fail(path, "--samples", samples, "nothing here: a case file is one procedure (a study file has samples)")
    if seed is not None:
        _check_seed(path, seed, CASE_SEEDS)
        asked = replace(asked, case=replace(asked.case, seed=seed))
    return asked, policy


def check_study_attempts(path: str | Path) -> AttemptsTables:
    """Read and check a study file with a policy, wire and geometry included, without running the bench."""
    return check_study(path, AttemptsTables)


def asked_of_study(
    path: str | Path, tables: AttemptsTables, *, seed: int | None, samples: int | None
) -> AttemptsTables:
    """Tables of a study file with `seed` and `samples` in place of its own, checked."""
    asked: dict[str, int] = {}
    if seed is not None:
        asked["seed"] = _check_seed(path, seed, SEEDS)
    if samples is not None:
        points, rest = divmod(samples, tables.scrambles)
        if rest or points < 1 or points & (points - 1) or points > MOST_POINTS:
            some = ", ".join(str(tables.scrambles * k) for k in (1, 2, 4))
            most = tables.scrambles * MOST_POINTS
            words = f"{some}, ... {most}: the file's {tables.scrambles} scrambles times a power of 2"
            fail(path, "--samples", samples, words)
        asked["points_per_scramble"] = points
    return tables.model_copy(update=asked)


def _check_seed(path: str | Path, seed: int, seeds: int) -> int:
    """A seed asked for in place of the file's, in the same range."""
    if not 0 <= seed < seeds:
        fail(path, "--seed", seed, f"a whole number from 0 to {seeds - 1}")
    return seed


def read_attempts(
    path: str | Path, bench: Bench | None = None, *, seed: int | None = None, samples: int | None = None
) -> AttemptsSpec:
    """Spec of a file of attempts; `bench` as for `read_map`.

    seed, samples : in place of the file's seed, and of its points in all (the scrambles stay)
    """
    tables = asked_of_study(path, check_study_attempts(path), seed=seed, samples=samples)
    local = tables.local or LocalStudyTable()
    study = spec_of(path, tables, bench, None, tables.presentation, local)
    imaging, detector = looks_of(tables.imaging)
    with named(path):
        return AttemptsSpec(study, tables.policy.policy(), imaging, detector)
