"""Colours that tell things apart do so in grey print and for colour-blind readers, or something else tells them apart.

Colour differences are distances in CAM02-UCS (1 is about a threshold side by side), dichromacy is simulated at full
severity; grey is the difference in lightness J'.
"""

from itertools import combinations

import numpy as np
import pytest
from colorspacious import cspace_convert, deltaE
from matplotlib import colormaps
from matplotlib.colors import to_rgb

from tipmech.show import style
from tipmech.show.draw import ATTACHED

EYES = (None, "deuteranomaly", "protanomaly", "tritanomaly")
APART, IN_GREY = 10.0, 5.0  # of areas that meet in a drawing: assumed, several thresholds
CHANNELS = {"true lumen": style.TRUE_LUMEN, "false lumen": style.FALSE_LUMEN}
DRAWN = CHANNELS | {"flap": style.FLAP, "inner layer": ATTACHED, "wire": style.WIRE}


def seen(colour: str, eye: str | None) -> np.ndarray:
    rgb = np.array(to_rgb(colour))
    if eye is None:
        return rgb
    return np.clip(cspace_convert(rgb, {"name": "sRGB1+CVD", "cvd_type": eye, "severity": 100}, "sRGB1"), 0.0, 1.0)


def least(one: str, two: str) -> float:
    """Least difference of two colours over all eyes."""
    return min(float(deltaE(seen(one, eye), seen(two, eye), input_space="sRGB1")) for eye in EYES)


def lightness(colour: str) -> float:
    return float(cspace_convert(np.array(to_rgb(colour)), "sRGB1", "CAM02-UCS")[0])


def test_the_measure_knows_a_pair_that_the_colour_blind_confuse() -> None:
    assert least("#ff0000", "#ff0000") == pytest.approx(0.0, abs=1e-6)
    assert least("#c2185b", "#2e8b57") < 5.0 < abs(lightness("#000000") - lightness("#ffffff"))


@pytest.mark.parametrize(("one", "two"), list(combinations(DRAWN, 2)))
def test_what_meets_in_a_drawing_is_told_apart_by_every_eye_and_in_grey(one: str, two: str) -> None:
    a, b = DRAWN[one], DRAWN[two]
    assert least(a, b) > APART and abs(lightness(a) - lightness(b)) > IN_GREY


def test_outcomes_of_like_colour_or_like_grey_have_hatches_of_their_own() -> None:
    for one, two in combinations(style.LABEL_COLOURS, 2):
        a, b = style.LABEL_COLOURS[one], style.LABEL_COLOURS[two]
        if least(a, b) < APART or abs(lightness(a) - lightness(b)) < IN_GREY:
            assert style.LABEL_HATCHES[one] != style.LABEL_HATCHES[two], (one, two)


def test_the_wire_s_scale_runs_one_way_in_lightness_for_every_eye() -> None:
    shades = colormaps[style.WIRE_CMAP](np.linspace(0.0, 1.0, 40))[:, :3]
    for eye in EYES:
        light = cspace_convert([seen(tuple(rgb), eye) for rgb in shades], "sRGB1", "CAM02-UCS")[:, 0]
        assert np.all(np.diff(light) > 0.0)
