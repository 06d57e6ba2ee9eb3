"""The caution stands in the README, in every figure's note, and in every HTML or PDF the tool writes."""

import ast
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from curl_record import curl_record
from study.made_up import CURLED, by_force, coin, make_spec
from study.made_up_curl import curl_spec
from study.made_up_curl import known as known_curl
from study.made_up_sensitivity import known, sensitivity_spec
from study.test_run_attempts import SPEC, coins, course_on, spec_of
from synthetic import make_case, make_outcome, make_record
from unit.files.test_calibration_files import made_up_picture
from unit.show.test_design_figures import front, stack, tornado
from unit.show.test_path_figure import column_panel
from unit.show.test_wire_figure import entry

import tipmech
from tipmech import CAUTION
from tipmech.insertion.imaging import Imaging
from tipmech.insertion.opened import areas, opened
from tipmech.insertion.seen import Detector, look_from_all
from tipmech.show import design, style, wire
from tipmech.show.atlas import atlas_figure, reliability_figure
from tipmech.show.attempts import attempts_figure
from tipmech.show.calibration import calibration_figure
from tipmech.show.compare import compare_figure
from tipmech.show.course import course_figure
from tipmech.show.cross import cross_figure, save_cross
from tipmech.show.curl import curl_figure
from tipmech.show.curls import incidence_figure
from tipmech.show.design import front_figure, stackup_figure, tornado_figure
from tipmech.show.explain import explanation_figure
from tipmech.show.film import movie
from tipmech.show.film.insertion import InsertionFilm
from tipmech.show.film.twin import TwinFilm
from tipmech.show.maps import map_figure
from tipmech.show.opened import opened_figure, save_opened
from tipmech.show.pair import Run, pair_strip, save_pair
from tipmech.show.paths import path_figure
from tipmech.show.regime import fold_figure, regime_figure
from tipmech.show.section import save_section, section_figure
from tipmech.show.seen import save_seen, seen_figure
from tipmech.show.sensitivity import sensitivity_figure
from tipmech.show.strip import film_strip, save_strip
from tipmech.show.thresholds import threshold_figure
from tipmech.show.wire import wire_page
from tipmech.study.atlas import atlas_of
from tipmech.study.compare_spec import CompareSpec
from tipmech.study.compare_tables import tables_of
from tipmech.study.curl_tables import Asked
from tipmech.study.curl_tables import tables_of as curl_tables_of
from tipmech.study.flip import explain
from tipmech.study.overlay import Overlay, job_of, overlay
from tipmech.study.run_atlas import AtlasSpec, Range, run_atlas
from tipmech.study.run_attempts import run_attempts
from tipmech.study.run_compare import run_compare
from tipmech.study.run_curl import run_curl
from tipmech.study.run_map import run_map
from tipmech.study.run_sensitivity import run_sensitivity
from tipmech.study.run_threshold import ThresholdSpec, run_threshold

ROOT = Path(tipmech.__file__).parent.parent
SHOW = Path(tipmech.__file__).parent / "show"


def one_line(text: str) -> str:
    return " ".join(text.split())


def test_the_readme_says_it() -> None:
    readme = ROOT / "README.md"
    assert readme.is_file(), "README.md is missing"
    assert CAUTION in one_line(readme.read_text(encoding="utf-8"))


def _map(folder: Path):
    return run_map(make_spec(loads=(1e-2,), angles=(0.5,), scrambles=2, points=1), folder / "m", 1, evaluate=coin)


def _threshold(folder: Path):
    spec = ThresholdSpec(make_spec(loads=(1e-2,), angles=(0.5,), scrambles=2, points=1))
    return run_threshold(spec, folder / "t", 1, evaluate=by_force)


def _attempts(folder: Path):
    spec = spec_of(loads=(1e-2,), scrambles=2, points=1)
    return run_attempts(spec, folder / "a", 1, evaluate=coins)


def _sensitivity(folder: Path):
    return run_sensitivity(
        sensitivity_spec(trajectories=2, base_points=2), ("entered",), folder / "s", 1, evaluate=known
    )


def _curl(folder: Path):
    result = run_curl(curl_spec(scrambles=2, points=1), folder / "c", 1, evaluate=known_curl)
    return curl_figure(result, curl_tables_of(result, Asked()))


def _compared(folder: Path):
    spec = CompareSpec(make_spec(scrambles=4, points=2))
    result = run_compare(spec, folder / "c", 1, evaluate=coin)
    return result, tables_of(result)


def _atlas(folder: Path):
    axes = (Range("fracture_energy", 5.0, 150.0), Range("room", 0.8e-3, 5e-3))
    return atlas_of(run_atlas(AtlasSpec(make_spec(points=1), axes, 64), folder / "l", 1, evaluate=coin), 8)


def _looks():
    return look_from_all(make_record(), Imaging(), Detector())


def _overlaid() -> Overlay:
    thresholds = {name: np.array([0.01, 0.02]) for name in ("simulated", "scale", "predicted")}
    return Overlay(overlay([job_of(make_case(), make_outcome(), "made up")], workers=1).runs, thresholds)


def _pair() -> tuple[Run, Run]:
    one = Run("one", make_record(), make_outcome())
    return one, one


def _film() -> InsertionFilm:
    return InsertionFilm(make_record(), make_outcome(), "", speed=50.0)


FIGURES: dict[str, Callable[[Path], object]] = {
    "calibration_figure": lambda folder: calibration_figure(made_up_picture()),
    "map_figure": lambda folder: map_figure(_map(folder)),
    "incidence_figure": lambda folder: incidence_figure(_map(folder)),
    "threshold_figure": lambda folder: threshold_figure(_threshold(folder)),
    "attempts_figure": lambda folder: attempts_figure(_attempts(folder)),
    "compare_figure": lambda folder: compare_figure(*_compared(folder)),
    "atlas_figure": lambda folder: atlas_figure(_atlas(folder)),
    "reliability_figure": lambda folder: reliability_figure(_atlas(folder)),
    "sensitivity_figure": lambda folder: sensitivity_figure(_sensitivity(folder)),
    "curl_figure": _curl,
    "course_figure": lambda folder: course_figure(course_on(curl_record(), 1), SPEC.policy, "made up"),
    "section_figure": lambda folder: section_figure(make_case()),
    "explanation_figure": lambda folder: explanation_figure(explain(make_case(), lambda case: CURLED), "made up"),
    "regime_figure": lambda folder: regime_figure(_overlaid()),
    "fold_figure": lambda folder: fold_figure(_overlaid()),
    "path_figure": lambda folder: path_figure([column_panel()]),
    "film_strip": lambda folder: film_strip(make_record(), make_outcome()),
    "cross_figure": lambda folder: cross_figure(make_record(), make_outcome()),
    "opened_figure": lambda folder: opened_figure(
        make_record(), make_outcome(), opened(make_record()), areas(make_record())
    ),
    "pair_strip": lambda folder: pair_strip(_pair()),
    "seen_figure": lambda folder: seen_figure(make_record(), make_outcome(), _looks(), Imaging()),
}
FILES: dict[str, Callable[[Path], Path]] = {
    "save_section": lambda folder: save_section(make_case(), folder / "section.png"),
    "save_strip": lambda folder: save_strip(make_record(), make_outcome(), folder / "strip.png"),
    "save_seen": lambda folder: save_seen(make_record(), make_outcome(), _looks(), Imaging(), folder / "seen.png"),
    "save_cross": lambda folder: save_cross(make_record(), make_outcome(), folder / "cross.png"),
    "save_opened": lambda folder: save_opened(
        make_record(), make_outcome(), opened(make_record()), areas(make_record()), folder / "opened.png"
    ),
    "save_pair": lambda folder: save_pair(_pair(), folder / "pair.png"),
    "TwinFilm": lambda folder: movie.write(TwinFilm(_pair(), "", speed=50.0), folder / "twin.gif", movie.GIF),
    "InsertionFilm": lambda folder: movie.write(_film(), folder / "film.gif", movie.GIF),
    "wire_page": lambda folder: style.save(wire_page([entry("a")]), folder / "wire.png"),
    "tornado_figure": lambda folder: tornado_figure("a", [tornado()], folder / "tornado.png", "made up"),
    "front_figure": lambda folder: front_figure("a", front(), folder / "front.png", "made up"),
    "stackup_figure": lambda folder: stackup_figure("a", stack(), folder / "stackup.png", "made up"),
}


@pytest.mark.parametrize("name", FIGURES)
def test_every_figure_has_it_in_its_note(name: str, tmp_path: Path) -> None:
    figure = FIGURES[name](tmp_path)
    assert CAUTION in one_line(" ".join(t.get_text() for t in figure.texts))


@pytest.mark.parametrize("name", FILES)
def test_every_picture_file_carries_it(name: str, tmp_path: Path) -> None:
    from PIL import Image

    with Image.open(FILES[name](tmp_path)) as image:
        assert CAUTION in str(image.info)


@pytest.mark.parametrize(
    "name", ["InsertionFilm", "TwinFilm", "wire_page", "tornado_figure", "front_figure", "stackup_figure"]
)
def test_pictures_that_are_only_written_have_it_in_their_note_too(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Their notes are seen as they are written: the shared note function is called with the figure."""
    noted = []
    original = style.add_note

    def seen(figure: object, text: str = "") -> float:
        height = original(figure, text)
        noted.append(one_line(" ".join(t.get_text() for t in figure.texts)))
        return height

    monkeypatch.setattr(style, "add_note", seen)
    monkeypatch.setattr(wire, "add_note", seen)
    monkeypatch.setattr(design, "add_note", seen)
    FILES[name](tmp_path)
    assert noted
    assert all(CAUTION in note for note in noted)


@pytest.mark.parametrize("suffix", ["pdf", "svg"])
def test_saved_documents_carry_it(suffix: str, tmp_path: Path) -> None:
    path = style.save(section_figure(make_case()), tmp_path / f"section.{suffix}")
    data = path.read_bytes()
    start = CAUTION.split(";")[0]
    assert start.encode() in data or start.encode("utf-16-be") in data


def public_makers(path: Path) -> set[str]:
    """Functions of a module of `show` that make a figure or write a file: they call new_figure, save or animate."""
    found = set()
    for node in ast.parse(path.read_text(encoding="utf-8")).body:
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
            calls = {n.func.id for n in ast.walk(node) if isinstance(n, ast.Call) and isinstance(n.func, ast.Name)}
            attributes = {
                n.func.attr for n in ast.walk(node) if isinstance(n, ast.Call) and isinstance(n.func, ast.Attribute)
            }
            if calls & {"new_figure", "save"} or attributes & {"write_html", "write_text", "savefig"}:
                found.add(node.name)
    return found


def test_no_maker_of_figures_is_left_out() -> None:
    makers = {name for path in SHOW.glob("*.py") if path.name != "style.py" for name in public_makers(path)}
    assert makers
    assert makers <= set(FIGURES) | set(FILES), "a new figure: add it to this test"


def test_nothing_else_writes_html_or_pdf_without_it() -> None:
    """Any module that writes HTML or PDF takes the caution from the package."""
    for path in sorted((ROOT / "tipmech").rglob("*.py")):
        text = path.read_text(encoding="utf-8")
        if (".html" in text or "PdfPages" in text) and path.name != "style.py":
            assert "CAUTION" in text, path
