import math
from pathlib import Path

import numpy as np
import pytest

from tipmech.files.common import InputError
from tipmech.files.wire import read_wire, write_wire
from tipmech.wire.design import Design, profile
from tipmech.wire.materials import MATERIALS, Hardening, Material, Superelastic
from tipmech.wire.parts import Coil, Jacket, Strand, Taper
from tipmech.wire.presets import FOLDER, PRESETS, preset_path
from tipmech.wire.tip import Bend, SecondBend, Surface, Tip

GOOD = preset_path("soft_twin_strand").read_text(encoding="utf-8")


@pytest.mark.parametrize("name", PRESETS)
def test_presets_are_valid_invented_and_long_enough(name: str) -> None:
    design = read_wire(name)
    assert "invented" in design.note
    p = profile(design)
    assert p.distance[-1] >= 80e-3
    assert p.name == design.name
    again = read_wire(preset_path(name))
    assert again == design


def test_every_preset_file_is_listed() -> None:
    assert sorted(p.stem for p in FOLDER.glob("*.toml")) == sorted(PRESETS)
    assert len(PRESETS) >= 6


def test_presets_are_ordered_by_class() -> None:
    at = np.array([5e-3])
    order = ["very_soft", "soft_twin_strand", "workhorse", "intermediate", "stiff_tapered"]
    bending = [profile(read_wire(name)).at("EI1", at)[0] for name in order]
    assert bending == sorted(bending)


def test_units_come_in_once(tmp_path: Path) -> None:
    design = read_wire("soft_twin_strand")
    core = design.parts[0]
    assert isinstance(core, Taper)
    assert core.diameters[0] == pytest.approx(0.03e-3)
    assert core.distances[-1] == pytest.approx(0.3)
    assert design.tip.diameter == pytest.approx(0.356e-3)


def test_a_design_survives_writing_and_reading(tmp_path: Path) -> None:
    own = Material("own_alloy", 210e9, 80e9, 8000.0, 0.008, "yield", (189e9, 231e9), 'measured "here"')
    core = Taper(own, (0.0, 20e-3, 0.1), (0.05e-3, 0.0612345e-3, 0.2e-3))
    coil = Coil(MATERIALS["steel_304"], 2e-3, 30e-3, 0.05e-3, 0.25e-3, 0.4e-3, 6, "left", 0.3e-3)
    closed = Coil(MATERIALS["steel_304"], 30e-3, 60e-3, 0.05e-3, 0.3e-3, 0.05e-3, initial_tension=4e-3)
    jacket = Jacket(MATERIALS["ptfe"], 2e-3, 60e-3, 0.40e-3, 0.36e-3, 0.44e-3)
    strand = Strand(MATERIALS["steel_304"], 70e-3, 80e-3, 0.03e-3, 1.5e-3, 0.2e-3, "left")
    waist = Taper(own, (0.1, 0.11, 0.12), (0.2e-3, 0.1e-3, 0.2e-3), may_thin=True)
    tip, surface = Tip("tapered", 0.3e-3, 0.05e-3, 2e-3, 0.2e-3), Surface("hydrophobic", 0.2)
    second = SecondBend(math.radians(20.0), 3e-3, 8e-3, math.radians(180.0))
    parts = (core, waist, strand, coil, closed, jacket)
    design = Design("a \\ b", parts, tip, surface, "bonded", Bend(math.radians(30.0), 2e-3), "note", second, True)
    write_wire(design, tmp_path / "w.toml")
    back = read_wire(tmp_path / "w.toml")
    assert back.coupling == "bonded" and back.may_gap and back.name == design.name and back.surface == surface
    assert back.bend.angle == pytest.approx(design.bend.angle)
    assert back.second_bend is not None
    assert vars(back.second_bend) == pytest.approx(vars(second))
    assert back.tip == tip
    for one, two in zip(back.parts, parts, strict=True):
        assert type(one) is type(two)
        for key, value in vars(two).items():
            if isinstance(value, float | tuple):
                assert getattr(one, key) == pytest.approx(value), key
            elif key != "material":
                assert getattr(one, key) == value, key
    assert profile(back).EI1 == pytest.approx(profile(design).EI1, rel=1e-10)
    assert back.parts[0].material.source == own.source
    with pytest.raises(InputError, match="exists"):
        write_wire(design, tmp_path / "w.toml")


LAWS = {
    "hardening": Hardening(2.5e9, "measured"),
    "perfectly plastic": Hardening(0.0, "measured"),
    "superelastic": Superelastic(0.5e9, 0.045, 30e9, 150e6, "measured"),
}


@pytest.mark.parametrize("law", LAWS.values(), ids=LAWS)
def test_an_own_materials_law_survives_writing_and_reading(tmp_path: Path, law: Hardening | Superelastic) -> None:
    own = Material("own_alloy", 60e9, 23e9, 6500.0, 0.01, "limit", (54e9, 66e9), "measured", law)
    core = Taper(own, (0.0, 0.1), (0.12e-3, 0.2e-3))
    design = Design("own", (core,), Tip("dome", 0.12e-3, 0.02e-3), Surface("bare"))
    write_wire(design, tmp_path / "w.toml")
    back = read_wire(tmp_path / "w.toml").parts[0].material.law
    assert type(back) is type(law)
    assert repr(back) == repr(law)  # numbers of few digits come back exactly
    assert len(profile(read_wire(tmp_path / "w.toml")).laws) == 1


OWN = """
[[material]]
name = "own"
youngs_modulus_GPa = 60
shear_modulus_GPa = 23
density_g_per_cm3 = 6.5
yield_strain_percent = 1.0
source = "measured"
"""
FLAT = "plateau_slope_GPa = 0.5\ntransformation_strain_percent = 5\nmartensite_modulus_GPa = 30\n"


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ("hardening_modulus_GPa = -1", r"'material\[1\]\.hardening_modulus_GPa' is -1; allowed: .* at least 0"),
        (
            "hardening_modulus_GPa = 60",
            r"'material\[1\]\.hardening_modulus_GPa' is 60 GPa; allowed: less than E",
        ),
        (f"hardening_modulus_GPa = 1\n{FLAT}", r"'material\[1\]\.plateau_slope_GPa' is 0\.5; allowed: none beside"),
        (FLAT, r"'material\[1\]\.unloading_stress_MPa' is missing; allowed: a value"),
        (f"{FLAT}unloading_stress_MPa = 700", r"'material\[1\]\.unloading_stress_MPa' is 700 MPa; allowed: .*600 MPa"),
        (
            f"{FLAT.replace('30', '61')}unloading_stress_MPa = 100",
            r"'material\[1\]\.martensite_modulus_GPa' is 61 GPa; allowed: less than E",
        ),
        (
            f"{FLAT.replace('0.5', '31')}unloading_stress_MPa = 100",
            r"'material\[1\]\.plateau_slope_GPa' is 31 GPa; allowed: at most martensite_modulus \(30 GPa",
        ),
        (
            f"{FLAT.replace('= 5', '= 50')}unloading_stress_MPa = 100",
            r"'material\[1\]\.transformation_strain_percent' is 50; allowed: .* at most 20",
        ),
    ],
)
def test_wrong_laws_get_one_sentence(tmp_path: Path, fields: str, words: str) -> None:
    path = tmp_path / "wire.toml"
    path.write_text(GOOD + OWN + fields + "\n", encoding="utf-8")
    with pytest.raises(InputError, match=words) as caught:
        read_wire(path)
    assert str(caught.value).startswith(f"{path}: ")
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('material = "nothing"', "", "name"),
        ('"steel_304"', '"stell"', r"field 'core\[1\]\.material' is 'stell'; allowed: one of steel_304"),
        ("diameter_mm = 0.356", "diameter_mm = nan", r"field 'tip\.diameter_mm' is nan; allowed: .* at least 0\.1"),
        ("diameter_mm = 0.356", "diameter_mm = 3.56", r"'tip\.diameter_mm' is 3\.56; allowed: .* at most 2"),
        (
            "diameter_mm = 0.356",
            "diameter_mm = 0.5",
            r"field 'tip\.diameter_mm' is 0\.5 mm; allowed: at most .*0\.356 mm",
        ),
        ("diameter_mm = 0.356", "diametre_mm = 0.356", r"'tip\.diametre_mm'"),
        ('kind = "hydrophilic"', 'kind = "wet"', r"'surface\.kind' is 'wet'; allowed: one of \"bare\""),
        ('kind = "hydrophilic"', 'kind = "bare"\nfriction = -0.1', r"'surface\.friction' is -0\.1"),
        ("[0.0, 15.0, 40.0,", "[0.0, 15.0, 5.0,", r"'core\[1\]\.distance_mm' is \(0.*each larger than the one before"),
        (
            "[0.03, 0.034, 0.10,",
            "[0.03, -0.034, 0.10,",
            r"'core\[1\]\.diameter_mm\[2\]' is -0\.034; allowed: .* at least 0\.005",
        ),
        ("[0.03, 0.034, 0.10,", "[0.03, 0.10,", r"'core\[1\]\.diameter_mm'.*6 values"),
        (
            "[0.03, 0.034, 0.10,",
            "[0.126, 0.13, 0.14,",
            r"'strand\[1\]\.offset_mm' is 0\.033 mm, an overlap of 0\.04[0-9]+ mm with core 1 at 15 mm from the tip; "
            r"allowed: parts one inside "
            r"the other \(core 1 fills the diameters 0 mm to 0\.1[0-9]+ mm, strand 1 fills .* 0\.036 mm to 0\.096 mm\)",
        ),
        (
            "[0.03, 0.034, 0.10,",
            "[0.30, 0.034, 0.10,",
            r"'core\[1\]\.diameter_mm' is 0\.034 mm at 15 mm from the tip; .*tapers the wrong way: 0\.3 mm .*may_thin",
        ),
        (
            "corner_radius_mm = 0.178",
            "corner_radius_mm = 0.178\nlength_mm = 2.0",
            r"'tip\.length_mm' is 2 mm; allowed: a tip with end = \"tapered\"",
        ),
        (
            'end = "dome"',
            'end = "tapered"\nlength_mm = 1.0',
            r"'tip\.end_diameter_mm' is missing; allowed: a length: .*needs it",
        ),
        (
            'end = "dome"',
            'end = "tapered"\nlength_mm = 1.0\nend_diameter_mm = 0.36',
            r"'tip\.end_diameter_mm' is 0\.36 mm; allowed: greater than 0 and less than diameter \(0\.356 mm\)",
        ),
        (
            'end = "dome"\ndiameter_mm = 0.356\ncorner_radius_mm = 0.178',
            'end = "tapered"\nlength_mm = 1.0\nend_diameter_mm = 0.2\ndiameter_mm = 0.356\ncorner_radius_mm = 0.05',
            r"'coil\[1\]\.mean_diameter_mm' is so that the part is 0\.356 mm wide at 0 mm from the tip; allowed: parts "
            r"inside the tapered tip \(0\.2 mm there\)",
        ),
        (
            "[[core]]",
            "[bend]\nangle_deg = 30\nlength_mm = 3\n[second_bend]\nangle_deg = 20\nlength_mm = 2\n"
            "distance_mm = 2\n[[core]]",
            r"'second_bend\.distance_mm' is 2 mm; allowed: at least the length of the first bend \(3 mm\)",
        ),
        (
            "[[core]]",
            "[second_bend]\nangle_deg = 20\nlength_mm = 2\ndistance_mm = 299\n[[core]]",
            r"'second_bend\.distance_mm' is 299 mm, which ends the bend at 301 mm; allowed: .*on the wire, 300 mm long",
        ),
        (
            "pitch_mm = 0.066",
            "pitch_mm = 0.066\ninitial_tension_mN = 5.0",
            r"'coil\[1\]\.initial_tension_mN' is 5; allowed: 0 for a coil whose turns do not touch",
        ),
        (
            "pitch_mm = 0.066",
            "pitch_mm = 0.0552\ninitial_tension_mN = 500.0",
            r"'coil\[1\]\.initial_tension_mN' is 500; allowed: at most [0-9.]+ mN, at which the wire yields in shear",
        ),
        ("pitch_mm = 0.066", "pitch_mm = 0.05", r"'coil\[1\]\.pitch_mm' is 0\.05; allowed: at least 0\.05509 mm"),
        ("end_mm = 15.0", "end_mm = 0.0", r"'strand\[1\]\.end_mm' is 0; allowed: .* greater than 0"),
        (
            "[[core]]",
            "[bend]\nangle_deg = 40\nlength_mm = 0.001\n[[core]]",
            r"'bend\.length_mm' is 0\.001 mm; allowed: at least 0\.1243 mm for 40 deg: .*would fold into itself",
        ),
        ("[0.0, 15.0, 40.0,", "[2.0, 15.0, 40.0,", r"'core' is missing, as is a ribbon, from 0 mm to 2 mm; .*may_gap"),
        ('coupling = "sliding"', 'coupling = "glued"', '"sliding", "bonded"'),
    ],
)
def test_wrong_files_get_one_sentence(tmp_path: Path, old: str, new: str, words: str) -> None:
    text = GOOD.replace(old, new, 1) if old in GOOD else 'note = ""\n'
    path = tmp_path / "wire.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=words) as caught:
        read_wire(path)
    assert str(caught.value).startswith(f"{path}: ")
    assert "\n" not in str(caught.value)


def test_neither_file_nor_preset() -> None:
    with pytest.raises(InputError, match="one of very_soft"):
        read_wire("verysoft")
    with pytest.raises(InputError, match="no such file"):
        read_wire("missing.toml")
