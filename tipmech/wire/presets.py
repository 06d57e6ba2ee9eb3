"""The shipped example wires: names, classes and files. They are read by files/wire.py like any other wire file.

Every one is invented: plausible dimensions for a generic class, no existing product, no measured wire.
"""

from pathlib import Path

FOLDER = Path(__file__).parent / "presets"

PRESETS: dict[str, str] = {
    "very_soft": "a very soft wire: core ends short of the tip, a superelastic ribbon and the coil carry",
    "soft_twin_strand": "a soft wire with a twin-strand core",
    "workhorse": "a workhorse wire: steel core to the tip, hydrophobic coating",
    "slippery_jacketed": "a slippery wire: polymer jacket and hydrophilic coating to the tip",
    "intermediate": "an intermediate wire",
    "stiff_tapered": "a stiff wire with a tapered tip",
    "stranded_shaped": "a wire with a stranded coil over an inner one and a tip with two bends",
}
"""Preset -> the generic class it stands for (invented examples)."""


def preset_path(name: str) -> Path:
    """File of a preset.

    Raises
    ------
    KeyError
        when there is no preset of this name
    """
    if name not in PRESETS:
        raise KeyError(f"there is no preset {name!r}; presets: {', '.join(PRESETS)}")
    return FOLDER / f"{name}.toml"
