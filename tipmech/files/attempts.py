"""Files for `tipmech attempts`: a study file with a [policy], or a case file with one.

`check_*` reads and checks a file; `read_*` also finds the softness factor of every tip load, which runs the bench.
"""

from dataclasses import replace
from pathlib import Path

from ..insertion.policy import Policy
from ..study.run_attempts import AttemptsSpec
from ..study.spec import Bench
from .common import fail, named, read_toml
from .imaging import looks_of
from .scene import CaseFile, read_case
from .study import check_study, spec_of
from .study_tables import AttemptsTables, LocalStudyTable

STUDY_FIELDS = {"angles_deg", "tip_loads_gf", "scrambles"}  # one of them makes a file a study's
POLICY_ALLOWED = (
    "a [policy] table, which makes a file one for `tipmech attempts` (as experiments/attempts/policy.toml; a map's "
    "file goes to `tipmech map`, a case file without one to `tipmech advance`)"
)


def check_attempts(
    path: str | Path, *, seed: int | None = None, samples: int | None = None
) -> tuple[CaseFile, Policy] | None:
    """Read and check a file: case and policy of a case file (with `seed` in place of its own); None for a study file.

    Raises
    ------
    InputError
        one sentence: file, field, value, what is allowed
    """
    tables = read_toml(path)
    if "policy" not in tables:
        fail(path, "policy", None, POLICY_ALLOWED)
    if STUDY_FIELDS & set(tables):
        check_study_attempts(path)
        return None
    asked = read_case(path)
    policy = asked.policy
    if policy is None:
        fail(path, "policy", None, POLICY_ALLOWED)
    if samples is not None:
        fail(path, "--samples", samples, "nothing here: a case file is one procedure (a study file has samples)")
    if seed is not None:
        asked = replace(asked, case=replace(asked.case, seed=seed))
    return asked, policy


def check_study_attempts(path: str | Path) -> AttemptsTables:
    """Read and check a study file with a policy, wire and geometry included, without running the bench."""
    return check_study(path, AttemptsTables)


def read_attempts(
    path: str | Path, bench: Bench | None = None, *, seed: int | None = None, samples: int | None = None
) -> AttemptsSpec:
    """Spec of a file of attempts; `bench` as for `read_map`.

    seed, samples : in place of the file's seed, and of its points in all (the scrambles stay)
    """
    tables = check_study_attempts(path)
    asked: dict[str, int] = {} if seed is None else {"seed": seed}
    if samples is not None:
        points, rest = divmod(samples, tables.scrambles)
        if rest or points < 1 or points & (points - 1):
            fail(path, "--samples", samples, f"{tables.scrambles} scrambles times a power of 2: 1, 2, 4, 8, ...")
        asked["points_per_scramble"] = points
    tables = tables.model_copy(update=asked)
    local = tables.local or LocalStudyTable()
    study = spec_of(path, tables, bench, None, tables.presentation, local)
    imaging, detector = looks_of(tables.imaging)
    with named(path):
        return AttemptsSpec(study, tables.policy.policy(), imaging, detector)
