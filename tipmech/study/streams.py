"""Random numbers of a study beside those of its scrambles: streams that no scramble can have.

Scramble k of a study is seeded by (seed, k), a point by (seed, 7, index). A stream has a spawn key, which is mixed in
behind the whole pool of the seed sequence: none of these ever does that.
"""

from enum import IntEnum

import numpy as np


class Use(IntEnum):
    """What a stream is for; numbers must stay, for results follow from them."""

    SITES = 1  # places of an atlas's sites
    SHARED = 2  # draws of the unknowns that a comparison's designs share
    FOLDS = 3  # cross-validation of an atlas's surfaces
    DRAWS = 4  # sites drawn again
    PLACES = 5  # places at which an atlas is looked at


def stream(seed: int, use: Use) -> np.random.Generator:
    """Generator of a study's seed for one use."""
    return np.random.default_rng(np.random.SeedSequence(seed, spawn_key=(int(use),)))
