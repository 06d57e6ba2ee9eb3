"""What all tests have in common."""

from collections.abc import Iterator
from functools import lru_cache

import pytest

from tipmech.study.inputs import Unknown


@pytest.fixture(scope="session", autouse=True)
def quantiles_once() -> Iterator[None]:
    """Made-up studies spend nine tenths of their time on quantiles, of points that designs, arms and tests have in
    common: each is found once. A quantile hangs on the unknown and the probability alone."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Unknown, "value", lru_cache(maxsize=2**18)(Unknown.value))
        yield
