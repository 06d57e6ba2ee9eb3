"""Views in the patient: the convention, the assumed orientation, and what turning all together leaves."""

from dataclasses import replace
from math import pi, radians

import numpy as np
import pytest
from curl_record import curl_record
from scipy.spatial.transform import Rotation
from synthetic import make_case

from tipmech.checks import FieldError
from tipmech.insertion.imaging import Imaging, frames
from tipmech.insertion.projection import (
    Orientation,
    View,
    foreshortening,
    image_matrix,
    patient_matrix,
    project,
    view_along,
    view_matrix,
)
from tipmech.vessel.scene import Centreline

LEFT, BACK, HEAD = np.eye(3)  # patient axes of DICOM: x to the left, y to the back, z to the head


@pytest.mark.parametrize(
    ("view", "right", "top", "detector"),
    [
        (View(0.0, 0.0), LEFT, HEAD, -BACK),  # in front of the chest
        (View(pi / 2, 0.0), BACK, HEAD, LEFT),  # left lateral: the detector at the patient's left
        (View(-pi / 2, 0.0), -BACK, HEAD, -LEFT),
        (View(0.0, pi / 2), LEFT, BACK, HEAD),  # from the head
        (View(0.0, -pi / 2), LEFT, -BACK, -HEAD),
    ],
)
def test_views_along_the_axes(view, right, top, detector):
    np.testing.assert_allclose(view_matrix(view), np.stack([right, top, detector]), atol=1e-15)


def test_the_matrix_is_two_turns_of_the_frontal_view():
    """LAO turns the gantry about the body's long axis, cranial tilts it about its own horizontal one."""
    for lao, cranial in np.random.default_rng(0).uniform(-1.4, 1.4, (20, 2)):
        spun = Rotation.from_rotvec(lao * HEAD).as_matrix() @ view_matrix(View()).T
        tilt = Rotation.from_rotvec(-cranial * spun[:, 0]).as_matrix()
        np.testing.assert_allclose(view_matrix(View(lao, cranial)), (tilt @ spun).T, atol=1e-12)
        back = view_along(3.0 * view_matrix(View(lao, cranial))[2])
        assert (back.lao, back.cranial) == pytest.approx((lao, cranial))


def test_names_and_ranges():
    assert View(radians(-30), radians(25)).name == "RAO 30, cranial 25"
    assert View(radians(45), radians(-20)).name == "LAO 45, caudal 20"
    assert View().name == "AP" and View(0.0, radians(30)).name == "AP, cranial 30"
    assert View(radians(90), 0.0).name == "LAO 90, straight"
    with pytest.raises(FieldError, match="cranial"):
        View(0.0, 2.0)


@pytest.mark.parametrize("line", [Centreline.straight(50e-3), Centreline.s_curve(10e-3, 12e-3, 0.9, 20e-3)])
def test_the_assumed_vessel_is_end_on_and_unshortened_where_stated(line):
    scene = make_case(line).scene
    point, tangent, first, _ = line.frame(np.array([21e-3]))  # the middle of the tear
    piece = point + np.linspace(-1e-3, 1e-3, 5)[:, None] * tangent
    turn = Orientation()
    assert foreshortening(piece, image_matrix(scene, turn, View(radians(45), radians(-30)))) < 1e-12
    assert foreshortening(piece, image_matrix(scene, turn, View(radians(-30), radians(25)))) > 0.9999
    outward = patient_matrix(scene, turn) @ first[0]
    np.testing.assert_allclose(outward, view_matrix(turn.axis)[1], atol=1e-12)  # away from the heart: forward, up
    assert outward @ -BACK > 0.3 and outward @ HEAD > 0.8


def test_patient_and_gantry_turned_together_leave_the_image():
    record = curl_record(plane=0.7)
    scene, view, turn = record.case.scene, View(radians(-25), radians(20)), Orientation()
    plain = project(record.positions[-1], image_matrix(scene, turn, view))
    by = radians(37.0)
    spun = Orientation(View(turn.axis.lao + by, turn.axis.cranial), turn.roll)
    moved = project(record.positions[-1], image_matrix(scene, spun, View(view.lao + by, view.cranial)))
    np.testing.assert_allclose(moved, plain, atol=1e-15)
    alone = project(record.positions[-1], image_matrix(scene, turn, View(view.lao + by, view.cranial)))
    assert np.abs(alone - plain).max() > 1e-3


def test_vessel_and_roll_turned_together_leave_the_frames():
    """The wire turned about the vessel's axis, the vessel turned back in the patient: the same frames."""
    by, imaging = 1.1, Imaging(frame_rate=5.0)
    plain = frames(curl_record(plane=0.3), imaging, imaging.views[0])
    turned = replace(imaging, orientation=Orientation(roll=imaging.orientation.roll - by))
    moved = frames(curl_record(plane=0.3 + by), turned, imaging.views[0])
    assert len(plain.lines) > 10
    for a, b in zip(plain.lines, moved.lines, strict=True):
        assert a.shape == b.shape
        # a point within round-off of a pixel's edge may fall on either side
        assert np.mean(np.abs(a - b) > 1e-9) < 0.01
