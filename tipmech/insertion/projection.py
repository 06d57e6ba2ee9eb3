"""Directions of view in the patient, and the parallel projection of points into an image.

Patient axes are those of DICOM: x toward the patient's left, y toward the back, z toward the head. A view is named by
where the detector stands: left (LAO, positive) or right (RAO) of the chest, toward the head (cranial, positive) or the
feet (caudal), both 0 in front of the chest (DICOM PS3.3, C.8.7.5.1.2: "like longitude" and "like latitude").
"""

from dataclasses import dataclass
from math import cos, degrees, pi, radians, sin

import numpy as np
from numpy.typing import NDArray

from ..checks import check_range
from ..vessel.scene import Scene

Array = NDArray[np.float64]


@dataclass(frozen=True)
class View:
    """Direction of view. lao: LAO > 0, RAO < 0, rad; cranial: cranial > 0, caudal < 0, rad.

    Raises
    ------
    FieldError
        if lao is beyond +-180 degrees or cranial beyond +-90 degrees
    """

    lao: float = 0.0
    cranial: float = 0.0

    def __post_init__(self) -> None:
        check_range(self.lao, name="lao", low=-pi, high=pi)
        check_range(self.cranial, name="cranial", low=-pi / 2, high=pi / 2)

    @property
    def name(self) -> str:
        """The view in words: "RAO 30, cranial 25" (degrees)."""
        across, along = round(degrees(self.lao), 1), round(degrees(self.cranial), 1)
        first = "AP" if across == 0.0 else f"{'LAO' if across > 0.0 else 'RAO'} {abs(across):g}"
        if along == 0.0:
            return first if across == 0.0 else f"{first}, straight"
        return f"{first}, {'cranial' if along > 0.0 else 'caudal'} {abs(along):g}"


@dataclass(frozen=True)
class Orientation:
    """How the modelled vessel lies in the patient: an assumption (J), no anatomy of anyone.

    axis : View
        direction in which the vessel runs at the middle of the tear, as the place of a detector that it points at
        (there it is seen end-on). The default is that of a left anterior descending type vessel: leftward, forward and
        down, end-on in LAO 45, caudal 30, and unshortened in RAO 30, cranial 25
    roll : float
        direction of azimuth 0 in the image of that detector, from its right toward its top, rad. The default puts
        azimuth 0, the outer side of a bend, away from the heart
    """

    axis: View = View(radians(45.0), radians(-30.0))
    roll: float = pi / 2


def view_matrix(view: View) -> Array:
    """Patient axes -> image axes: rows are the image's right, its top and the direction to the detector.

    Theory (71). The patient's left is to the right of a frontal image, as in the usual display.

    Returns
    -------
    ndarray, shape (3, 3)
        a rotation
    """
    a, b = view.lao, view.cranial
    return np.array(
        [
            [cos(a), sin(a), 0.0],
            [-sin(a) * sin(b), cos(a) * sin(b), cos(b)],
            [sin(a) * cos(b), -cos(a) * cos(b), sin(b)],
        ]
    )


def view_along(direction: Array) -> View:
    """View whose detector stands in `direction`, shape (3,), patient axes."""
    x, y, z = np.asarray(direction, dtype=float) / np.linalg.norm(direction)
    return View(float(np.arctan2(x, -y)), float(np.arcsin(np.clip(z, -1.0, 1.0))))


def patient_matrix(scene: Scene, orientation: Orientation) -> Array:
    """Model axes -> patient axes, such that the vessel at the middle of the tear lies as `orientation` says.

    Theory (72).

    Returns
    -------
    ndarray, shape (3, 3)
        a rotation
    """
    _, tangent, first, second = scene.centreline.frame(np.array([0.5 * (scene.tear.start + scene.tear.end)]))
    here = np.stack([first[0], second[0], tangent[0]])
    right, top, ahead = view_matrix(orientation.axis)
    c, s = cos(orientation.roll), sin(orientation.roll)
    there = np.stack([c * right + s * top, c * top - s * right, ahead])
    return np.asarray(there.T @ here)


def image_matrix(scene: Scene, orientation: Orientation, view: View) -> Array:
    """Model axes -> image axes (right, top, to the detector), shape (3, 3)."""
    return np.asarray(view_matrix(view) @ patient_matrix(scene, orientation))


def project(points: Array, matrix: Array) -> Array:
    """Parallel projection: image coordinates (right, top) of points, m; magnification 1 (lengths are at the patient).

    Parameters
    ----------
    points : ndarray, shape (..., 3)
        model coordinates, m
    matrix : ndarray, shape (3, 3)
        of `image_matrix`
    """
    return np.asarray(points @ matrix[:2].T)


def foreshortening(points: Array, matrix: Array) -> float:
    """Length of a line of points (n, 3) in the image over its own: 1 = seen across, 0 = seen end-on."""
    own = np.linalg.norm(np.diff(points, axis=0), axis=1).sum()
    return float(np.linalg.norm(np.diff(project(points, matrix), axis=0), axis=1).sum() / own)
