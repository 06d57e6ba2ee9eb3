"""The wire as on a screen: projected along one direction of view, without vessel, channel or depth."""

from dataclasses import dataclass
from functools import lru_cache
from math import radians

import numpy as np

from ..insertion.imaging import Imaging
from ..insertion.projection import View, image_matrix, project
from ..insertion.record import Record
from ..vessel.scene import Scene
from .looks import SCREEN_HALF as HALF
from .paths import Array, Paint, box, line

MM = 1e3
CRANIAL = radians(25.0)  # of the detector: that of the pictures (files/imaging.py)


@dataclass(frozen=True)
class Screen:
    """A direction of view: to the patient's left (+) or right (-), degrees."""

    lao_deg: float

    def paint(self, record: Record) -> Paint:
        """Shapes at the last row of a record, mm at the patient."""
        matrix, middle = _matrix(record.case.scene, self.lao_deg)
        at = (project(record.positions[-1], matrix) - middle) * MM
        return {
            "ground": {"d": box((-HALF[0], HALF[0]), (-HALF[1], HALF[1]))},
            "wire": {"d": line(at[:, 0], -at[:, 1])},
            "scale": {"d": line(np.array([0.0, 5.0]) - HALF[0] + 0.5, np.full(2, HALF[1] - 0.5))},
            "label_scale": {"x": -HALF[0] + 5.9, "y": HALF[1] - 0.2},
        }

    @property
    def words(self) -> str:
        """The view in words."""
        return View(radians(self.lao_deg), CRANIAL).name


@lru_cache(maxsize=64)
def _matrix(scene: Scene, lao_deg: float) -> tuple[Array, Array]:
    """Model axes to image axes, and the image of the middle of the tear, m."""
    matrix = image_matrix(scene, Imaging().orientation, View(radians(lao_deg), CRANIAL))
    middle, _, _, _ = scene.centreline.frame(np.array([0.5 * (scene.tear.start + scene.tear.end)]))
    return matrix, project(middle[0], matrix)
