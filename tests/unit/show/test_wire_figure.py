from pathlib import Path

import pytest

from tipmech import CAUTION
from tipmech.show.style import save
from tipmech.show.wire import WireEntry, part_words, wire_page
from tipmech.wire.design import Design, profile
from tipmech.wire.materials import MATERIALS
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
    from tipmech.show.style import new_figure
    from tipmech.show.wire import SHOWN, draw_section

    ax = draw_section(new_figure(10.0, 2.0).add_subplot(), entry("a").design)
    # ribbon, core, strand, jacket above and below, and the coil's cut wires above and below
    assert len(ax.collections) == 1 + 1 + 1 + 2 + 2
    assert len(ax.patches) == 1
    assert ax.get_xlim()[1] == SHOWN
    assert "thickness drawn" in ax.get_title(loc="right")
    for text in ("ribbon steel_304 0-5;", "coil platinum_nickel_10 0-30;", "jacket polyurethane_soft_filled 0-100 mm"):
        assert text in ax.get_title(loc="left")


def test_a_part_is_named_by_kind_material_and_range() -> None:
    name, part = entry("a").design.named_parts()[3]
    assert part_words(name, part) == "coil, platinum nickel 10, 0 to 30 mm"


def test_no_design_is_refused() -> None:
    with pytest.raises(ValueError, match="at least one"):
        wire_page([])
