"""The drawings of the bench tests in a tube."""

from math import radians

import matplotlib.pyplot as plt
import numpy as np
import pytest

from tipmech.bench.tip_shape import one_bend
from tipmech.bench.torque import torque_response
from tipmech.bench.track import trackability
from tipmech.bench.tube import Piece, Route, bend
from tipmech.profile import uniform
from tipmech.show.bench.torque import draw_lag, draw_torque
from tipmech.show.bench.track import draw_track, draw_track_stiffness, draw_track_way

WIRE = uniform(5e-8, 0.3)
ROUTE = Route((Piece(10e-3), bend(15e-3, radians(60.0))))


def test_torque_figures_show_every_wire_and_every_jump() -> None:
    results = [
        ("one", torque_response(WIRE, ROUTE, friction=0.1)),
        ("two", torque_response(WIRE, ROUTE, shape=one_bend(radians(150.0), 5e-3), friction=0.0)),
    ]
    assert results[1][1].jumps
    _, axes = plt.subplots(1, 2)
    ax = draw_torque(axes[0], results)
    assert [text.get_text() for text in ax.texts] == ["one", "two"]
    assert [t.get_text() for t in ax.get_legend().get_texts()] == ["no lag", "whip begins: the tip jumps"]
    marks = [line for line in ax.lines if line.get_markerfacecolor() == "white"]
    assert len(marks) == 1 and len(marks[0].get_xdata()) == len(results[1][1].jumps)
    assert ax.get_xlabel() == "rotation of the proximal end, deg" and ax.get_ylabel() == "rotation of the tip, deg"
    both = draw_torque(plt.subplots()[1], results, straight=[("one", results[0][1]), ("two", None)])
    assert len(both.lines) == len(ax.lines) + 1
    assert "thin: straight tip" in [t.get_text() for t in both.get_legend().get_texts()]
    lag = draw_lag(axes[1], results)
    assert np.max(lag.lines[2].get_ydata()) == pytest.approx(np.degrees(results[1][1].lag))
    plt.close("all")


def test_track_figures_show_pushes_in_millinewtons() -> None:
    track = trackability(WIRE, friction=0.1, frictions=(0.1, 0.2), scales=(1.0, 2.0), ways=(5e-3, 10e-3))
    _, axes = plt.subplots(1, 3)
    for ax, draw in zip(axes, (draw_track, draw_track_stiffness, draw_track_way), strict=True):
        drawn = draw(ax, [("one", track), ("two", track)])
        assert drawn.get_ylabel().startswith("push") and drawn.get_ylabel().endswith(", mN")
        assert [text.get_text() for text in drawn.texts] == ["one", "two"]
    np.testing.assert_allclose(axes[0].lines[0].get_ydata(), track.over_friction[:, 0] * 1e3)
    np.testing.assert_allclose(axes[2].lines[0].get_xdata(), [5.0, 10.0])
    _, one = plt.subplots()
    assert len(draw_track_stiffness(one, [("one", track)], detail=False).lines) == 1
    plt.close("all")
