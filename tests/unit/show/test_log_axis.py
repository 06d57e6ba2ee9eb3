"""Numbers along a logarithmic axis."""

import numpy as np
import pytest

from tipmech.show import style
from tipmech.show.log_axis import MOST, plain_numbers, ticks


@pytest.mark.parametrize("limits", [(0.97, 1.05), (0.65, 1.6), (0.9, 2.9), (1.7, 30.0), (0.02, 150.0), (1e-8, 1e6)])
@pytest.mark.parametrize("apart", [0.05, 0.13])
def test_there_are_some_and_they_stand_apart(limits, apart):
    low, high = limits
    found = np.array(ticks(low, high, apart))
    assert 2 <= len(found) <= MOST and low <= found[0] and found[-1] <= high
    assert np.diff(np.log(found)).min() >= apart * np.log(high / low)


@pytest.mark.parametrize("axis", ["x", "y"])
@pytest.mark.parametrize("limits", [(0.65, 1.6), (0.02, 150.0)])
def test_no_two_labels_of_a_drawn_axis_overlap(axis, limits):
    figure = style.new_figure(3.0, 3.0)
    ax = figure.add_subplot()
    ax.set(xscale="log", yscale="log", xlim=limits, ylim=limits)
    one = ax.xaxis if axis == "x" else ax.yaxis
    plain_numbers(one)
    style.tidy(ax)
    figure.draw_without_rendering()
    boxes = [label.get_window_extent() for label in one.get_ticklabels(which="both") if label.get_text()]
    assert len(boxes) > 1
    assert not any(a.overlaps(b) for a, b in zip(boxes[:-1], boxes[1:], strict=True))
