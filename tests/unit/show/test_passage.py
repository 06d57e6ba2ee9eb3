"""How far from its opening a wire passes the flap, read off a record."""

from dataclasses import replace

import numpy as np
import pytest
from synthetic import make_record

from tipmech.show.passage import off_opening, off_words, round_edge, through_flap
from tipmech.show.view import project


def test_a_crossing_behind_the_lip_is_told_by_its_distance_and_one_at_a_hole_is_not():
    record = make_record()
    assert off_opening(record) == 0.0 and through_flap(record) == 0
    lip, at = record.case.scene.tear.end, 23e-3
    s = project(record.case.scene, record.positions)[0]
    record = replace(record, side=np.where(s < at, 0, 2))
    node = float(np.max(np.diff(s[-1][s[-1] > lip])))
    assert off_opening(record) == pytest.approx(at - lip, abs=node)
    assert off_opening(record) > round_edge(record) == pytest.approx(0.1e-3 + 0.178e-3)
    assert off_words(record, 1e-3) == "1.00 mm (unpressed round an edge: 0.28)"
    assert through_flap(record) > 0
    holed = replace(record, holes=np.array([[at, 0.0, 0.2e-3, 0.0]]))
    assert off_opening(holed) < node and through_flap(holed) == 0
