"""Drawings of the static bench tests: what is drawn is what was found, in users' units."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from tipmech.bench.bend import bend
from tipmech.bench.column import column
from tipmech.bench.flexure import flexure
from tipmech.bench.lateral import lateral
from tipmech.bench.prolapse import prolapse
from tipmech.files.wire import read_wire
from tipmech.profile import uniform
from tipmech.show.bench.bend import draw_bend, draw_springback
from tipmech.show.bench.column import draw_column
from tipmech.show.bench.flexure import draw_flexure
from tipmech.show.bench.lateral import draw_lateral
from tipmech.show.bench.marks import finish
from tipmech.show.bench.prolapse import draw_prolapse
from tipmech.show.style import new_figure
from tipmech.wire.presets import preset_path

MN = 1e-3
SOFT, STIFF = uniform(5e-8, 50e-3), uniform(1e-7, 50e-3)
DRAWINGS: list[Callable[..., Any]] = [
    draw_lateral, draw_flexure, draw_column, draw_prolapse, draw_bend, draw_springback,
]  # fmt: skip


def axes() -> Any:
    return new_figure(5.0, 4.0).add_subplot()


def lines(ax: Any, dash: str) -> list[Any]:
    return [line for line in ax.lines if line.get_linestyle() == dash and len(line.get_xdata()) > 2]


def words(ax: Any) -> str:
    keys = ax.get_legend().get_texts() if ax.get_legend() else []
    return "\n".join(text.get_text() for text in (*ax.texts, *keys))


def test_lateral() -> None:
    soft, stiff = lateral(SOFT), lateral(STIFF)
    ax = draw_lateral(axes(), [("soft", soft), ("stiff", stiff)])
    full, dashed = lines(ax, "-"), lines(ax, "--")
    for k, test in enumerate((soft, stiff)):
        np.testing.assert_allclose(full[k].get_ydata(), test.across.force / MN)
        np.testing.assert_allclose(full[k].get_xdata(), test.across.deflection * 1e3)
        np.testing.assert_allclose(dashed[k].get_ydata(), test.normal.force / MN)
    assert full[0].get_marker() != full[1].get_marker()
    assert words(ax).startswith("soft\nstiff\n") and "10 mm free" in ax.get_title(loc="left")
    crosses = [line for line in ax.lines if line.get_marker() == "x" and len(line.get_xdata()) == 2]
    np.testing.assert_allclose(crosses[0].get_ydata(), np.array([soft.force_45_normal, soft.force_90_normal]) / MN)
    assert ax.get_xlabel() == "deflection of the tip, mm" and ax.get_ylabel() == "force, mN"


def test_free_lengths_are_told_apart() -> None:
    ax = draw_lateral(axes(), [("a", lateral(SOFT, 5e-3)), ("a", lateral(SOFT, 20e-3))])
    assert "a 5 mm" in words(ax) and "a 20 mm" in words(ax) and "free" not in ax.get_title(loc="left")


def test_flexure() -> None:
    test = flexure(SOFT, 10e-3)
    ax = draw_flexure(axes(), [("soft", test)])
    np.testing.assert_allclose(lines(ax, "-")[0].get_ydata(), test.apparent * 1e6)
    np.testing.assert_allclose(lines(ax, ":")[0].get_ydata(), 0.05)
    assert ax.get_yscale() == "log" and "span L = 10 mm" in ax.get_title(loc="left") and "N mm²" in ax.get_ylabel()


def test_column() -> None:
    test = column(SOFT)
    ax = draw_column(axes(), [("soft", test)])
    np.testing.assert_allclose(lines(ax, "-")[0].get_ydata(), test.clamped / MN)
    np.testing.assert_allclose(lines(ax, "--")[0].get_ydata(), test.pinned / MN)
    assert "mN" in ax.get_ylabel() and ax.get_xscale() == ax.get_yscale() == "log"


def test_prolapse() -> None:
    test = prolapse(SOFT)
    ax = draw_prolapse(axes(), [("soft", test)])
    np.testing.assert_allclose(lines(ax, "-")[0].get_ydata(), test.push / MN)
    np.testing.assert_allclose(lines(ax, "--")[0].get_ydata(), test.axial / MN)
    assert ax.get_ylim()[0] == 0.0 and "soft" in words(ax) and "20 mm" in ax.get_title(loc="left")


def test_bends() -> None:
    tests = [(name, bend(read_wire(preset_path(name)))) for name in ("very_soft", "slippery_jacketed")]
    ax = draw_bend(axes(), tests)
    drawn = [line for line in ax.lines if len(line.get_xdata()) > 2]
    assert len(drawn) == sum(len(test.parts) for _, test in tests) == 6
    np.testing.assert_allclose(drawn[0].get_ydata(), tests[0][1].limit_radius[0] * 1e3)
    for word in ("core 1", "ribbon 1", "coil 1", "jacket 1", "very_soft"):
        assert word in words(ax)
    two_coils = bend(read_wire(preset_path("stranded_shaped")))
    ax = draw_bend(axes(), [("", two_coils)])
    drawn = [line for line in ax.lines if len(line.get_xdata()) > 2]
    # the pattern of a dash has no public getter
    assert len({str(line._unscaled_dash_pattern) for line in drawn}) == len(two_coils.parts) == 3
    assert "coil 1" in words(ax) and "coil 2" in words(ax)
    ax = draw_springback(axes(), tests)
    np.testing.assert_allclose(ax.lines[1].get_ydata(), 90.0 * tests[1][1].kept)
    assert words(ax) == "very_soft\nslippery_jacketed" and ax.get_xlabel() == "radius of the mandrel, mm"


def test_without_detail_a_wire_has_one_line() -> None:
    for draw, test in ((draw_column, column(SOFT)), (draw_prolapse, prolapse(SOFT))):
        assert len(draw(axes(), [("soft", test)], detail=False).lines) == 1
    ax = draw_bend(axes(), [("a", bend(read_wire(preset_path("workhorse"))))], detail=False)
    assert len(ax.lines) == 1 and "first part" in ax.get_title(loc="left")


def test_wires_far_apart_have_logarithmic_forces() -> None:
    near, far = lateral(SOFT), lateral(uniform(1e-6, 50e-3))
    assert draw_lateral(axes(), [("a", near), ("b", near)]).get_yscale() == "linear"
    assert draw_lateral(axes(), [("a", near), ("b", far)]).get_yscale() == "log"


def test_a_wire_without_this_test_keeps_the_colours_of_the_others() -> None:
    test = column(SOFT)
    ax = draw_column(axes(), [("A", None), ("B", test)])
    alone = draw_column(axes(), [("A", test), ("B", test)])
    assert ax.lines[0].get_color() == alone.lines[2].get_color() != alone.lines[0].get_color()
    assert ax.lines[0].get_marker() == alone.lines[2].get_marker()


def test_names_stand_on_their_lines_apart_from_each_other() -> None:
    ax = axes()
    x = np.linspace(0.0, 1.0, 50)
    named = [(name, ax.plot(x, slope * x)[0]) for name, slope in (("A", 1.0), ("B", 1.0), ("C", -0.5))]
    finish(ax, "lines", "x", "y", named)
    at = {text.get_text(): np.array(text.get_position()) for text in ax.texts}
    for name, slope in (("A", 1.0), ("B", 1.0), ("C", -0.5)):
        assert at[name][1] == pytest.approx(slope * at[name][0], abs=1e-6)
    assert np.hypot(*(at["A"] - at["B"])) > 0.05  # two lines that coincide


@pytest.mark.parametrize("draw", DRAWINGS, ids=lambda draw: draw.__name__)
def test_no_result_is_refused(draw: Callable[..., Any]) -> None:
    with pytest.raises(ValueError, match="at least one"):
        draw(axes(), [])
