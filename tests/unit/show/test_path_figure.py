from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tipmech import CAUTION
from tipmech.rod.build import Section, straight
from tipmech.rod.continuation import trace
from tipmech.rod.loads import Force
from tipmech.rod.solve import Control
from tipmech.rod.structure import Structure
from tipmech.rod.supports import clamp
from tipmech.show.paths import Curve, Panel, draw_panel, path_figure
from tipmech.show.style import new_figure, save


def column_panel() -> Panel:
    """A column in a plane, past its bifurcation point."""
    section = Section(1.0, 1.0, 1.0, 1e5, 1e5, 1e5)
    s = Structure(straight(1.0, 20, section), [clamp(0)], loads=[Force(-1, (0.0, 0.0, -1.0))], plane="y")
    return Panel([Curve(trace(s, step=0.5, until=4.0), Control.of_node(s, -1, "z"), "x")], "t", "down", "force, N", 2.0)


def test_stable_and_unstable_parts_meet_at_the_special_point() -> None:
    panel = column_panel()
    path = panel.curves[0].path
    assert [point.kind for point in path.specials] == ["bifurcation"]
    ax = draw_panel(new_figure(5.0, 4.0).add_subplot(), panel)
    lines = {line.get_linestyle(): line for line in ax.lines if len(line.get_xdata()) > 2}
    assert set(lines) == {"-", "--"}
    load = 2.0 * path.specials[0].factor
    assert lines["-"].get_ydata()[-1] == lines["--"].get_ydata()[0] == pytest.approx(load)
    (marker,) = [line for line in ax.lines if line.get_marker() == "D"]
    np.testing.assert_allclose(marker.get_xdata(), -0.5e-5 * load * 1e3, rtol=1e-3)  # -P L/EA, mm
    assert [text.get_text() for text in ax.texts] == [f"{load:.4g}"]
    assert ax.get_xlabel() == "down, mm" and ax.get_ylabel() == "force, N"
    words = [text.get_text() for text in ax.get_legend().get_texts()]
    assert words == ["x", "stable", "unstable", "bifurcation point"]


def test_curves_are_told_apart_in_grey_by_their_marks() -> None:
    panel = column_panel()
    ax = draw_panel(new_figure(5.0, 4.0).add_subplot(), replace(panel, curves=[panel.curves[0]] * 3))
    long = [line for line in ax.lines if len(line.get_xdata()) > 2]
    looks = {(line.get_color(), line.get_marker()) for line in long}
    assert len(long) == 6 and len(looks) == 3 == len({marker for _, marker in looks})
    keys = ax.get_legend().get_lines()[:3]
    assert {(line.get_color(), line.get_marker()) for line in keys} == looks


def test_without_a_potential_stability_is_not_claimed() -> None:
    s = Structure(
        straight(1.0, 20, Section(1.0, 1.0, 1.0, 1e5, 1e5, 1e5)),
        [clamp(0)],
        loads=[Force(-1, (1.0, 0.0, 0.0), follower=True)],
    )
    path = trace(s, step=0.5, until=2.0)
    ax = draw_panel(
        new_figure(5.0, 4.0).add_subplot(), Panel([Curve(path, Control.of_node(s, -1, "x"))], "t", "across")
    )
    assert {line.get_linestyle() for line in ax.lines if len(line.get_xdata()) > 2} == {":"}
    assert "not known" in ax.get_legend().get_texts()[0].get_text()


def test_figure_is_written_with_the_caution(tmp_path: Path) -> None:
    from PIL import Image

    with Image.open(save(path_figure([column_panel()] * 2), tmp_path / "a.png")) as image:
        assert image.size[0] > 1500 and CAUTION in str(image.info)


def test_no_panel_is_refused() -> None:
    with pytest.raises(ValueError, match="at least one"):
        path_figure([])
