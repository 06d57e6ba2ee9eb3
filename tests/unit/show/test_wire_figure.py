from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from matplotlib.axes import Axes

from tipmech import CAUTION
from tipmech.show.construction import FILLS, HATCHES, draw_construction, fill_keys, fills, part_words, parts_lines
from tipmech.show.lengths import FAR, LINEAR, distance_axis, scaled, spread_along, unscaled
from tipmech.show.style import new_figure, save, save_pages
from tipmech.show.wire import MOST, PAPER, WIDTH, WireEntry, draw_profiles, letters, wire_page, wire_sheets
from tipmech.show.wire_table import row_heights, row_labels, split_cells, table_cells
from tipmech.wire.design import Design, profile
from tipmech.wire.materials import MATERIALS, Material
from tipmech.wire.parts import Coil, Jacket, Ribbon, Strand, Taper
from tipmech.wire.tip import Bend, Surface, Tip

STEEL, PLATINUM = MATERIALS["steel_304"], MATERIALS["platinum_nickel_10"]


def entry(name: str) -> WireEntry:
    parts = (
        Ribbon(STEEL, 0.0, 5e-3, 0.1e-3, 0.03e-3),
        Taper(STEEL, (5e-3, 20e-3, 0.1), (0.05e-3, 0.06e-3, 0.2e-3)),
        Strand(STEEL, 5e-3, 10e-3, 0.03e-3, 1e-3, 0.05e-3),
        Coil(PLATINUM, 0.0, 30e-3, 0.06e-3, 0.296e-3, 0.072e-3),
        Jacket(MATERIALS["polyurethane_soft_filled"], 0.0, 0.1, 0.4e-3, 0.36e-3),
    )
    design = Design(name, parts, Tip("flat", 0.356e-3, 0.05e-3), Surface("bare"))
    bounds = (profile(design), profile(design, "sliding"), profile(design, "bonded"))
    return WireEntry(design, *bounds, (("tip load, gf", "1.2"), (f"only {name}", "3")))


@pytest.mark.parametrize("names", [["a"], ["a", "b", "c"]])
def test_figure_is_written_with_the_caution(tmp_path: Path, names: list[str]) -> None:
    from PIL import Image

    page = wire_page([entry(name) for name in names], [lambda ax: ax] * 4, note="made up")
    path = save(page, tmp_path / "wire.png")
    with Image.open(path) as image:
        assert image.size[0] > 1000 and image.size[1] > 700
        assert CAUTION in str(image.info)
    assert list(tmp_path.iterdir()) == [path]


def test_the_drawing_shows_every_part_and_the_tip() -> None:
    ax = draw_construction(new_figure(10.0, 2.0).add_subplot(), entry("a").design)
    # ribbon, core, strand, jacket above and below, and the coil's cut wires above and below
    assert len(ax.collections) == 1 + 1 + 1 + 2 + 2
    assert len(ax.patches) == 1
    assert ax.get_xlim()[1] == pytest.approx(100.0)
    assert "thickness drawn" in ax.get_title(loc="right") and ax.get_title(loc="left") == "a"
    listed = " ".join(ax.texts[0].get_text().split())
    for text in ("ribbon, steel 304, 0 to 5 mm;", "coil, platinum nickel 10, 0 to 30 mm;", "filled, 0 to 100 mm"):
        assert text in listed


def test_the_drawing_says_that_a_bent_tip_is_drawn_straight() -> None:
    design = replace(entry("a").design, bend=Bend(0.5, 2e-3))
    ax = draw_construction(new_figure(10.0, 2.0).add_subplot(), design)
    assert ax.get_title(loc="right").endswith("; drawn straight, its tip is bent")


def own(name: str, stiffness: float = 1.0) -> Material:
    return replace(STEEL, name=name, E=stiffness * STEEL.E)


def test_materials_of_a_user_are_told_apart_by_hatch() -> None:
    materials = [own(f"own {k}") for k in range(7)]
    designs = [_of_core(m) for m in (*materials, STEEL)]
    filled = fills(designs)
    assert len(set(filled.values())) == 8
    assert filled[STEEL].hatch == "" and all(filled[m].hatch in HATCHES for m in materials)
    assert [patch.get_label() for patch in fill_keys(filled)] == [*(m.name for m in materials), "steel 304"]
    ax = draw_construction(new_figure(10.0, 2.0).add_subplot(), designs[1], filled)
    assert ax.collections[0].get_hatch() == filled[materials[1]].hatch


def test_a_material_of_a_user_with_a_shipped_name_is_still_the_user_s() -> None:
    mine = own("steel_304", 0.9)
    filled = fills([_of_core(mine), _of_core(STEEL)])
    assert filled[mine] != filled[STEEL] and filled[mine].hatch


def _of_core(material: Material) -> Design:
    core = Taper(material, (0.0, 20e-3, 0.1), (0.05e-3, 0.06e-3, 0.2e-3))
    return Design("core", (core,), Tip("dome", 0.05e-3, 0.025e-3), Surface("bare"))


def test_names_of_forty_characters_stay_within_their_places() -> None:
    names = [f"{'Wire with a name of forty characters':38s}{k:2d}" for k in range(7)]
    page = wire_page([entry(name) for name in names], note="made up")
    page.canvas.draw()
    width = page.get_size_inches()[0] * page.dpi
    boxes = [text.get_window_extent() for text in page.legends[0].get_texts()]
    assert len(boxes) == 7
    for k, one in enumerate(boxes):
        assert 0.0 < one.x0 and one.x1 < width
        assert not any(one.overlaps(two) for two in boxes[k + 1 :])
    (table,) = (ax.tables[0] for ax in page.axes if ax.tables)
    for cell in table.get_celld().values():
        text, frame = cell.get_text().get_window_extent(), cell.get_window_extent()
        assert text.width <= frame.width and text.height <= frame.height
    keys = [text.get_text() for text in page.legends[1].get_texts()]
    assert keys == ["steel 304", "platinum nickel 10", "polyurethane soft filled"]


def test_several_wires_are_lettered_one_is_not() -> None:
    assert letters(1) == [""] and letters(3) == ["A", "B", "C"] and len(letters(MOST)) == MOST
    (table,) = (ax.tables[0] for ax in wire_page([entry("a"), entry("b")]).axes if ax.tables)
    assert [table[0, k].get_text().get_text() for k in range(3)] == ["", "A a", "B b"]
    assert [legend.get_title().get_text() for legend in wire_page([entry("a")]).legends] == ["Materials"]
    texts = [text.get_text() for text in wire_page([entry("a"), entry("b")]).axes[2].texts]
    assert texts == ["A", "B"]


def test_distances_are_to_scale_over_the_tip_and_logarithmic_beyond() -> None:
    s = np.array([-0.5, 0.0, 12.0, LINEAR, 41.0, 300.0, 3000.0])
    np.testing.assert_allclose(unscaled(scaled(s)), s, rtol=1e-12)
    np.testing.assert_array_equal(scaled(s[:4]), s[:4])
    assert scaled(300.0) - scaled(150.0) == pytest.approx(scaled(120.0) - scaled(60.0))
    assert np.all(np.diff(spread_along(10.0, 300.0, 50)) > 0.0) and spread_along(10.0, 300.0, 50)[-1] == 300.0
    ax = new_figure(4.0, 2.0).add_subplot()
    distance_axis(ax, 0.0, 300.0)
    assert list(ax.get_xticks())[-1] == 300.0 and max(FAR) > 300.0


def test_drawing_and_charts_reach_the_end_of_the_longest_wire() -> None:
    long = entry("long")
    core = Taper(STEEL, (100e-3, 110e-3, 0.3), (0.3e-3, 0.33e-3, 0.33e-3))
    parts = (*long.design.parts, core)
    design = replace(long.design, parts=parts, tip=replace(long.design.tip, diameter=0.356e-3))
    stock = profile(design)
    page = wire_page([entry("short"), replace(long, design=design, simulated=stock, lower=stock, upper=stock)])
    short, drawn, bending, twisting = page.axes[:4]
    for ax in (short, drawn, bending, twisting):
        assert ax.get_xlim()[1] == pytest.approx(300.0)
    widths = [path.vertices[:, 0].max() for shape in drawn.collections for path in shape.get_paths()]
    assert max(widths) == pytest.approx(300.0)
    line = max(bending.lines, key=lambda one: one.get_linewidth())
    assert line.get_color() and max(np.max(one.get_xdata()) for one in bending.lines) == pytest.approx(300.0)


def test_parts_of_one_kind_carry_their_number() -> None:
    inner = Coil(PLATINUM, 0.0, 30e-3, 0.03e-3, 0.20e-3, 0.031e-3)
    one = entry("a").design
    listed = " ".join(parts_lines(replace(one, parts=(*one.parts[:2], one.parts[3], inner)), 10.0))
    assert "coil 1, platinum nickel 10" in listed and "coil 2, platinum nickel 10" in listed
    assert listed.startswith("ribbon, steel 304")


def test_the_hard_axis_is_drawn_where_it_differs() -> None:
    ax = new_figure(6.0, 4.0).add_subplot()
    one = entry("a")
    draw_profiles(ax, [one], "EI1", "Bending stiffness EI")
    (dashed,) = (line for line in ax.lines if line.get_linestyle() == "--" and line.get_linewidth() > 1.0)
    seen = np.isfinite(dashed.get_ydata())
    assert np.max(dashed.get_xdata()[seen]) == pytest.approx(5.0, abs=0.01)  # the ribbon's end
    at = np.array([2e-3])
    np.testing.assert_allclose(dashed.get_ydata()[seen][10], 1e6 * one.simulated.at("EI2", at)[0], rtol=1e-6)
    assert "about the hard axis" in [text.get_text() for text in ax.get_legend().get_texts()]
    twisted = new_figure(6.0, 4.0).add_subplot()
    draw_profiles(twisted, [one], "GJ", "Torsional stiffness GJ")
    assert not [line for line in twisted.lines if line.get_linestyle() == "--" and line.get_linewidth() > 1.0]


@pytest.mark.parametrize("count", [1, 7])
def test_sheets_are_a4_and_hold_all_of_it(tmp_path: Path, count: int) -> None:
    rows = tuple((f"figure {k}", str(k)) for k in range(60))
    entries = [replace(entry(f"w{k}"), figures=rows) for k in range(count)]
    drawn = []

    def panel(ax: Axes) -> Axes:
        drawn.append(ax.get_figure())
        return ax

    sheets = wire_sheets(entries, [panel] * 7, "\n".join(f"line {k}." for k in range(90)))
    assert len(drawn) == 7
    for k, sheet in enumerate(sheets):
        np.testing.assert_allclose(sheet.get_size_inches(), (WIDTH, PAPER))
        texts = [text.get_text() for text in sheet.texts]
        assert any(f"page {k + 1} of {len(sheets)}" in text for text in texts) and any(
            CAUTION in text for text in texts
        )
        for ax in sheet.axes:
            box = ax.get_position()
            assert box.y0 > 0.0 and box.y1 < 1.0 and box.x0 > 0.0 and box.x1 < 1.0
    told = " ".join(text.get_text() for sheet in sheets for text in sheet.texts)
    assert all(f"line {k}." in told for k in range(90))
    labels = [
        cell.get_text().get_text()
        for sheet in sheets for ax in sheet.axes for table in ax.tables
        for (row, column), cell in table.get_celld().items() if column == 0 and row > 0
    ]  # fmt: skip
    assert sorted(labels) == sorted(label for label, _ in rows)
    path = save_pages(sheets, tmp_path / "wire.pdf")
    data = path.read_bytes()
    assert data.count(b"/Type /Page\n") + data.count(b"/Type /Page ") == len(sheets) and list(tmp_path.iterdir()) == [
        path
    ]


def test_rows_that_do_not_fit_on_a_sheet_go_on_the_next() -> None:
    cells = table_cells(["a"], [[(f"row {k}", "1") for k in range(9)]], 10.0)
    height = row_heights(cells)[0]
    sheets = split_cells(cells, 4.5 * height)
    assert [len(sheet) for sheet in sheets] == [4, 4, 4]
    assert all(sheet[0] == cells[0] for sheet in sheets)
    assert split_cells([], 1.0) == []


def test_rows_of_one_wire_stand_behind_their_neighbours() -> None:
    rows = [
        [("load", "1"), ("coil 1", "2"), ("bend", "3")],
        [("load", "1"), ("coil 1", "2"), ("coil 2", "2"), ("bend", "4")],
    ]
    assert row_labels(rows) == ["load", "coil 1", "coil 2", "bend"]


def test_a_part_is_named_by_kind_material_and_range() -> None:
    name, part = entry("a").design.named_parts()[3]
    assert part_words(name, part) == "coil, platinum nickel 10, 0 to 30 mm"


def test_no_design_is_refused() -> None:
    with pytest.raises(ValueError, match="at least one"):
        wire_page([])
    with pytest.raises(ValueError, match="at most 8"):
        wire_page([entry("a")] * (MOST + 1))


def test_every_shipped_material_has_a_fill_of_its_own() -> None:
    assert set(FILLS) == set(MATERIALS)
    assert len(set(FILLS.values())) == len(FILLS)
