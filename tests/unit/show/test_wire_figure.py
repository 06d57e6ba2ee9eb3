from dataclasses import replace
from pathlib import Path

import pytest

from tipmech import CAUTION
from tipmech.show.construction import FILLS, HATCHES, SHOWN, draw_construction, fill_keys, fills, part_words
from tipmech.show.style import new_figure, save
from tipmech.show.wire import MOST, WireEntry, letters, row_labels, table_cells, wire_page
from tipmech.wire.design import Design, profile
from tipmech.wire.materials import MATERIALS, Material
from tipmech.wire.parts import Coil, Jacket, Ribbon, Strand, Taper
from tipmech.wire.tip import Surface, Tip

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
    assert ax.get_xlim()[1] == SHOWN
    assert "thickness drawn" in ax.get_title(loc="right") and ax.get_title(loc="left") == "a"
    listed = " ".join(ax.texts[0].get_text().split())
    for text in ("ribbon, steel 304, 0 to 5 mm;", "coil, platinum nickel 10, 0 to 30 mm;", "filled, 0 to 100 mm"):
        assert text in listed


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
    assert table_cells([entry("a")])[0] == ["", "a"]
    assert table_cells([entry("a"), entry("b")])[0] == ["", "A a", "B b"]
    assert [legend.get_title().get_text() for legend in wire_page([entry("a")]).legends] == ["Materials"]
    texts = [text.get_text() for text in wire_page([entry("a"), entry("b")]).axes[2].texts]
    assert texts == ["A", "B"]


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
