"""The report of a finished study of every kind: whole, in order, self-contained, its numbers those of the tables."""

import base64
import json
import re
import shutil
from collections.abc import Callable
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest
from study.made_up import by_force, coin, coin_with_failures, make_spec
from study.made_up_curl import curl_spec
from study.made_up_curl import with_failures as read_with_failures
from study.made_up_sensitivity import known_with_failures, sensitivity_spec
from study.test_run_attempts import coins_with_failures, spec_of
from typer.testing import CliRunner

import tipmech
from tipmech import CAUTION
from tipmech.checks import InputError
from tipmech.cli import app
from tipmech.show.curls import with_curls
from tipmech.show.report import credibility, pdf
from tipmech.show.report.dictionary import UNKNOWN, columns
from tipmech.show.report.document import report, report_of
from tipmech.show.report.folder import NEEDED, read_finished
from tipmech.show.report.numbers import chance, distribution_words, interval, number, place
from tipmech.show.report.page import html_of
from tipmech.show.report.parts import Grid, Picture, Text
from tipmech.show.report.repeat import programme
from tipmech.study import curl_tables
from tipmech.study.atlas import atlas_of
from tipmech.study.atlas_tables import reliability_table, share_table
from tipmech.study.compare_spec import CompareSpec, Plan, SharedUnknown
from tipmech.study.compare_tables import tables_of
from tipmech.study.factors import Factor
from tipmech.study.inputs import UNKNOWNS
from tipmech.study.run_atlas import AtlasSpec, Range, run_atlas
from tipmech.study.run_attempts import run_attempts
from tipmech.study.run_compare import run_compare
from tipmech.study.run_curl import run_curl
from tipmech.study.run_map import run_map
from tipmech.study.run_procedures import ProceduresSpec, run_procedures
from tipmech.study.run_sensitivity import run_sensitivity
from tipmech.study.run_threshold import ThresholdSpec, run_threshold
from tipmech.study.store import open_store, read_store
from tipmech.study.table import read_parquet

run = CliRunner()
ROOT = Path(tipmech.__file__).parents[1]
TITLE = 'made up <script>alert(1)</script> & "more"'
HEADINGS = (
    "About this report",
    "Question of interest",
    "Context of use",
    "Model risk",
    "The model in short",
    "Inputs",
    "What was computed",
    "Results",
    "Sensitivity",
    "Verification",
    "Code",
    "Calculation",
    "Numerical uncertainty",
    "Validation",
    "Evidence by category",
    "Uncertainty quantification",
    "Applicability",
    "Limitations",
    "How to repeat it",
    "Data dictionary",
)


def study(**options):
    return replace(make_spec(**{"scrambles": 4, "points": 2} | options), name=TITLE)


def a_map(folder: Path) -> None:
    result = with_curls(run_map(study(), folder, 1, evaluate=coin_with_failures))
    store = read_store(folder)
    store.put_table("cells", result.cells)
    store.put_table("incidence", result.incidence)


def a_threshold(folder: Path) -> None:
    run_threshold(ThresholdSpec(study(scrambles=2)), folder, 1, evaluate=by_force)


def attempts(folder: Path) -> None:
    spec = spec_of(scrambles=4, points=2)
    run_attempts(replace(spec, study=replace(spec.study, name=TITLE)), folder, 1, evaluate=coins_with_failures)


def a_comparison(folder: Path) -> None:
    shared = SharedUnknown("fracture_energy", "lognormal", (("median", 35.0), ("log_sd", 0.5)), (), "made up")
    factors = (Factor("friction", (0.05, 0.1)), Factor("room", (1e-3, 2e-3)))
    result = run_compare(CompareSpec(study(), factors, (), (shared,), 2), folder, 1, evaluate=coin_with_failures)
    for name, table in tables_of(result).items():
        read_store(folder).put_table(name, table)


def procedures(folder: Path) -> None:
    own = study()
    spec = spec_of(scrambles=4, points=2)
    plan = CompareSpec(own, (Factor("friction", (0.05, 0.1)),), plan=Plan("opened_area"))
    compared = ProceduresSpec(plan, spec.policy, spec.imaging, spec.detector)
    for name, table in tables_of(run_procedures(compared, folder, 1, evaluate=coins_with_failures)).items():
        read_store(folder).put_table(name, table)


def an_atlas(folder: Path) -> None:
    axes = (Range("fracture_energy", 5.0, 150.0), Range("room", 0.8e-3, 5e-3))
    atlas = atlas_of(run_atlas(AtlasSpec(study(points=1), axes, 64), folder, 1, evaluate=coin), 8)
    read_store(folder).put_table("shares", share_table(atlas))
    read_store(folder).put_table("reliability", reliability_table(atlas))


def a_sensitivity_study(folder: Path) -> None:
    spec = sensitivity_spec()
    outcomes = ("extended", "max_push")
    named = replace(spec, study=replace(spec.study, name=TITLE))
    run_sensitivity(named, outcomes, folder, 1, evaluate=known_with_failures)


def what_a_curl_tells(folder: Path) -> None:
    spec = curl_spec(scrambles=4, points=2)
    named = replace(spec, study=replace(spec.study, name=TITLE))
    result = run_curl(named, folder, 1, evaluate=read_with_failures)
    for name, table in curl_tables.tables_of(result, curl_tables.Asked()).items():
        read_store(folder).put_table(name, table)


KINDS: dict[str, Callable[[Path], None]] = {
    "map": a_map,
    "threshold": a_threshold,
    "attempts": attempts,
    "compare": a_comparison,
    "procedures": procedures,
    "atlas": an_atlas,
    "sensitivity": a_sensitivity_study,
    "curl": what_a_curl_tells,
}
DRAWN = {  # figures that can be drawn from tables alone, and those that cannot
    "map": (["map.png", "incidence.png"], []),
    "threshold": (["threshold.png"], []),
    "attempts": (["attempts.png"], ["course.png"]),
    "compare": (["compare.png"], []),
    "procedures": (["compare.png"], []),
    "atlas": ([], ["atlas.png", "calibration.png"]),
    "sensitivity": (["sensitivity.png"], []),
    "curl": (["curl.png"], []),
}


@pytest.fixture(scope="module")
def folders(tmp_path_factory) -> dict[str, Path]:
    """A finished study of every kind, without figures."""
    root = tmp_path_factory.mktemp("studies")
    for kind, make in KINDS.items():
        make(root / kind)
    return {kind: root / kind for kind in KINDS}


@pytest.fixture(scope="module")
def pages(folders) -> dict[str, str]:
    return {kind: html_of(report_of(folder)) for kind, folder in folders.items()}


class Page(HTMLParser):
    """What a test asks of a page: headings, texts, links, images, tables, in order."""

    VOID = {"meta", "img", "br", "col", "link"}

    def __init__(self, text: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.headings: list[tuple[str, str]] = []
        self.attributes: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.cells: list[str] = []
        self.feed(text)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag, attrs):
        self.attributes.append((tag, dict(attrs)))
        if tag in ("h1", "h2", "h3"):
            self.headings.append((tag, ""))
        if tag in ("td", "th"):
            self.cells.append("")
        if tag == "br" and self.open[-1] in ("td", "th"):
            self.cells[-1] += "\n"
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        if self.open and self.open[-1] in ("h1", "h2", "h3"):
            self.headings[-1] = (self.headings[-1][0], self.headings[-1][1] + data)
        if self.open and self.open[-1] in ("td", "th"):
            self.cells[-1] += data
        if self.open and self.open[-1] not in ("style",):
            self.words.append(data)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.words).split())


@pytest.mark.parametrize("kind", KINDS)
def test_every_heading_is_there_once_and_in_order(pages, kind):
    page = Page(pages[kind])
    assert [words for _, words in page.headings] == [TITLE, *HEADINGS]
    levels = [int(tag[1]) for tag, _ in page.headings]
    assert levels[0] == 1 and all(b - a <= 1 for a, b in zip(levels, levels[1:], strict=False))
    ids = [a["id"] for _, a in page.attributes if "id" in a]
    assert len(ids) == len(set(ids))
    assert {a["href"] for tag, a in page.attributes if tag == "a"} <= {f"#{name}" for name in ids}


@pytest.mark.parametrize("kind", KINDS)
def test_nothing_is_referred_to_outside_the_page(pages, kind):
    page = Page(pages[kind])
    assert {tag for tag, _ in page.attributes}.isdisjoint({"script", "link", "iframe", "object", "base", "svg"})
    for tag, attributes in page.attributes:
        for name in ("src", "href", "srcset", "action", "style"):
            value = attributes.get(name) or ""
            assert value == "" or value.startswith(("data:image/png;base64,", "#", "width: ")), (tag, value[:60])
    assert not re.search(r"(?<!\w)url\(|@import", pages[kind])
    assert not re.search(r"(src|href)\s*=\s*.?https?:", pages[kind])


@pytest.mark.parametrize("kind", KINDS)
def test_figures_are_embedded_with_words_or_said_to_be_missing(pages, folders, kind):
    page = Page(pages[kind])
    images = [a for tag, a in page.attributes if tag == "img"]
    drawn, missing = DRAWN[kind]
    assert len(images) == len(drawn)
    for image in images:
        assert len(image["alt"] or "") > 60
        assert base64.b64decode(image["src"].split(",")[1]).startswith(b"\x89PNG")
    for name in missing:
        assert f"Figure missing: {name} is not in the folder" in page.text
    assert page.text.count("Figure missing") == len(missing)
    assert page.text.count("drawn for this report from the folder's tables") == len(drawn)
    assert report_of(folders[kind]).figures == tuple(drawn)


@pytest.mark.parametrize("kind", KINDS)
def test_a_title_stays_text_and_the_caution_stands_at_both_ends(pages, kind):
    assert "<script" not in pages[kind] and "&lt;script&gt;" in pages[kind]
    page = Page(pages[kind])
    assert page.text.count(CAUTION) == 2
    assert page.text.index(CAUTION) < 200 and page.text.rindex(CAUTION) > len(page.text) - 250
    assert "No conformity with either is claimed" in page.text
    assert "not a medical device, and it must not inform" in page.text


@pytest.mark.parametrize("kind", KINDS)
def test_tables_have_heads_and_every_one_a_source(folders, pages, kind):
    heads = [a for tag, a in Page(pages[kind]).attributes if tag == "th"]
    assert heads and all(a.get("scope") in ("row", "col") for a in heads)
    grids = [b for s in report_of(folders[kind]).sections for b in s.blocks if isinstance(b, Grid)]
    assert grids and all(g.source and g.rows and g.caption for g in grids)


@pytest.mark.parametrize("kind", KINDS)
def test_every_column_of_every_table_has_a_meaning(folders, kind):
    study = read_finished(folders[kind])
    assert set(study.tables) >= set(NEEDED[kind])
    for name, table in study.tables.items():
        found = columns(kind, name, table)
        assert [c for key, names in found.items() if key[0] == UNKNOWN for c in names] == [], name
        assert sorted(c for names in found.values() for c in names) == sorted(table)


def test_the_numbers_of_a_map_are_those_of_its_table(folders, pages):
    cells, table = Page(pages["map"]).cells, read_parquet(folders["map"] / "cells.parquet")
    for k in range(len(table["n"])):
        cell = {name: column[k] for name, column in table.items()}
        at = [i for i, words in enumerate(cells) if words == place(cell)][0]
        assert cells[at + 1] == f"{cell['n_solved']}/{cell['n']}"
        for shift, name in enumerate(("reached", "entered", "entered_curled", "extended"), start=2):
            value, ends = cells[at + shift].split("\n")
            assert float(value) == pytest.approx(cell[f"p_{name}"], abs=0.005)
            low, high = map(float, ends.split(" to "))
            assert low == pytest.approx(min(cell[f"p_{name}_low"], cell[f"p_{name}_wilson_low"]), abs=0.005)
            assert high == pytest.approx(max(cell[f"p_{name}_high"], cell[f"p_{name}_wilson_high"]), abs=0.005)
            assert cells[at + shift] == chance(cell, name)


def test_what_was_not_solved_is_counted_everywhere(folders, pages):
    rows = read_parquet(folders["map"] / "rows.parquet")
    holes = int(np.sum(rows["label"] == 0))
    assert holes > 0
    text = Page(pages["map"]).text
    assert f"{holes} of {len(rows['label'])} insertions" in text
    assert "Cells with unsolved insertions: bounds" in text
    quantiles = [b for s in report_of(folders["map"]).sections for b in s.blocks if isinstance(b, Grid)]
    audit = next(g for g in quantiles if g.caption.startswith("Energy audit"))
    assert [row[0] for row in audit.rows] == ["solved", "not solved"]
    assert audit.rows[0][2] == "0.1 %" and audit.rows[0][1] == str(len(rows["label"]) - holes)


@pytest.mark.parametrize(
    ("kind", "table", "column", "factor"),
    [
        ("threshold", "cells", "scale_median", 1e3),
        ("attempts", "pairs", "n", 1.0),
        ("compare", "trends", "per_doubling", 1.0),
        ("compare", "sizes", "discordant", 1.0),
        ("procedures", "sizes", "spread", 1e6),
        ("procedures", "cells", "attempts", 1.0),
        ("atlas", "reliability", "brier", 1.0),
        ("sensitivity", "indices", "total", 1.0),
        ("curl", "tells", "likelihood_negative", 1.0),
    ],
)
def test_numbers_of_the_other_kinds_stand_on_their_pages(folders, pages, kind, table, column, factor):
    found = read_parquet(folders[kind] / f"{table}.parquet")
    values = found[column][found["arm"] == -1] if table == "trends" else found[column]
    shown = {part for cell in Page(pages[kind]).cells for part in re.split(r"\n| mm²| \(", cell)}
    for value in values:
        word = number(float(value) * factor)
        assert word in shown or f"+{word}" in shown, word


def test_what_a_study_varies_is_not_called_fixed(pages, folders):
    for kind, names in (
        ("compare", ("friction of the surface", "fracture energy G_c")),
        ("atlas", ("fracture energy G_c",)),
    ):
        grids = [b for s in report_of(folders[kind]).sections for b in s.blocks if isinstance(b, Grid)]
        fixed = next(g for g in grids if g.caption == "Fixed in this study")
        for name in names:
            row = next(r for r in fixed.rows if r[0].startswith(name))
            assert "varied in this study" in row[1]
        scattered = next(g for g in grids if g.caption.startswith("Scattering"))
        assert "varied" in next(r for r in scattered.rows if r[0].startswith("lateral room"))[1]


@pytest.mark.parametrize(
    ("by", "levels", "question", "named"),
    [
        ("construction", ("plain", "twisted"), "Do wires of different construction", "twisted"),
        ("friction", (0.05, 0.2), "Does the friction change the planned outcome", "friction 0.05"),
    ],
)
def test_designs_that_are_no_tip_loads_are_named(tmp_path, by, levels, question, named):
    one = study(loads=(1e-2,))
    two = replace(one, tip_loads=one.tip_loads * 2, factors=one.factors * 2, wires=one.wires * 2)
    result = run_compare(CompareSpec(two, by=by, levels=levels), tmp_path, 1, evaluate=coin)
    for name, table in tables_of(result).items():
        read_store(tmp_path).put_table(name, table)
    page = Page(html_of(report_of(tmp_path)))
    assert question in page.text and page.cells.count(named) >= 1 and "Figure missing" not in page.text
    designs = next(
        b for s in report_of(tmp_path).sections for b in s.blocks if isinstance(b, Grid) and "design" in b.head
    )
    assert [row[0] for row in designs.rows] == read_finished(tmp_path).designs
    assert ("Trend over friction" in page.text) == (by == "friction")


def test_other_code_is_told_and_reading_does_not_need_the_same(folders, tmp_path):
    folder = tmp_path / "m"
    shutil.copytree(folders["map"], folder)
    same = report_of(folder)
    assert "The same code computed the study" in html_of(same)
    manifest = json.loads((folder / "manifest.json").read_text(encoding="utf-8"))
    manifest["code"] = "0.0.9+0123456789"
    del manifest["spec"]["numerics"]["tolerance"], manifest["spec"]["shared"]["static_ratio"]
    (folder / "manifest.json").write_text(json.dumps(manifest), encoding="utf-8")
    text = Page(html_of(report_of(folder))).text
    assert "Code 0.0.9+0123456789 computed the study. Other code" in text
    assert "DOES NOT agree with" in text
    assert "not recorded by the code that computed the study" in text


def test_figures_of_the_folder_are_taken_as_they_are(folders, tmp_path):
    folder = tmp_path / "a"
    shutil.copytree(folders["atlas"], folder)
    image = tmp_path / "one.png"
    from tipmech.show.style import new_figure, save

    save(new_figure(2.0, 1.0), image)
    shutil.copy(image, folder / "atlas.png")
    (folder / "calibration.png").write_text("no picture")
    blocks = [b for s in report_of(folder).sections for b in s.blocks]
    picture = next(b for b in blocks if isinstance(b, Picture))
    assert base64.b64decode(picture.data) == image.read_bytes() and picture.wide
    assert "atlas.png, taken as it lies in the folder" in picture.caption
    assert any(isinstance(b, Text) and "calibration.png is no PNG" in b.words for b in blocks)


@pytest.mark.parametrize("kind", KINDS)
def test_the_programme_of_a_report_computes_the_same_study(folders, kind, tmp_path, monkeypatch):
    """Run with made-up outcomes in place of the mechanics: the manifest alone gives the same hash."""
    study = read_finished(folders[kind])
    words = programme(study).replace("FOLDER", str(folders[kind])).replace('"again")', f'"{tmp_path / "again"}", 1)')
    evaluators = {
        "map": coin,
        "threshold": by_force,
        "attempts": coins_with_failures,
        "compare": coin,
        "procedures": coins_with_failures,
        "atlas": coin,
        "curl": read_with_failures,
    }
    evaluate = evaluators.get(kind, known_with_failures)
    space: dict[str, object] = {"__name__": "__main__", "evaluate": evaluate}
    monkeypatch.setattr("builtins.print", lambda same: space.update(same=same))
    exec(words.replace(", 1)", ", 1, evaluate=evaluate)"), space)
    assert space["same"] is True


def refused(arguments, *words):
    result = run.invoke(app, ["report", *map(str, arguments)])
    assert result.exit_code == 2 and result.stdout == "", result.output
    assert len(result.stderr.strip().splitlines()) == 1
    for word in words:
        assert word in result.stderr, result.stderr


def test_folders_without_a_finished_study_are_refused(folders, tmp_path):
    refused([tmp_path / "none"], "no such folder")
    refused([tmp_path], "not a study's result folder")
    open_store(tmp_path / "begun", "map", make_spec())
    refused([tmp_path / "begun"], "begun", "not finished")
    open_store(tmp_path / "other", "something", make_spec())
    refused([tmp_path / "other"], "kind something", "map, threshold")
    for name, words in (("cells.parquet", "lacks cells.parquet"), ("manifest.json", "not a study's result folder")):
        shutil.copytree(folders["map"], tmp_path / name)
        (tmp_path / name / name).unlink()
        refused([tmp_path / name], words)
    shutil.copytree(folders["map"], tmp_path / "cut")
    content = (tmp_path / "cut" / "rows.parquet").read_bytes()
    (tmp_path / "cut" / "rows.parquet").write_bytes(content[:-200])
    refused([tmp_path / "cut"], "rows.parquet", "damaged")
    refused([folders["map"], "--out", tmp_path / "page.txt"], "page.txt", ".html")
    assert not list(tmp_path.glob("*.html")) and not (folders["map"] / "report.html").exists()


def test_a_report_is_written_once(folders, tmp_path):
    page = tmp_path / "deep" / "page.html"
    asked = ["report", str(folders["map"]), "--out", str(page)]
    first = run.invoke(app, [*asked, "--json"])
    assert first.exit_code == 0, first.output
    answer = json.loads(first.stdout)
    assert answer["kind"] == "map" and answer["name"] == TITLE and answer["files"] == [str(page)]
    assert answer["headings"] == list(HEADINGS) and answer["figures"] == ["map.png", "incidence.png"]
    before = page.read_bytes()
    refused(asked[1:], "already holds page.html", "--overwrite")
    assert page.read_bytes() == before
    again = run.invoke(app, [*asked, "--overwrite"])
    assert again.exit_code == 0 and str(page) in again.stdout and CAUTION in again.stdout
    assert page.read_bytes() == before
    assert [p.name for p in page.parent.iterdir()] == ["page.html"]


def test_the_page_lies_in_the_folder_where_nothing_is_asked(folders, tmp_path):
    shutil.copytree(folders["threshold"], tmp_path / "t")
    assert run.invoke(app, ["report", str(tmp_path / "t")]).exit_code == 0
    assert CAUTION in (tmp_path / "t" / "report.html").read_text(encoding="utf-8")


def has_pdf() -> bool:
    try:
        pdf.pdf_writer()
    except InputError:
        return False
    return True


@pytest.mark.skipif(not has_pdf(), reason="the extra pdf (WeasyPrint with Pango) is not installed")
def test_a_pdf_beside_the_page(folders, tmp_path):
    asked = ["report", str(folders["threshold"]), "--out", str(tmp_path / "page.html"), "--pdf"]
    assert run.invoke(app, asked).exit_code == 0
    assert (tmp_path / "page.pdf").read_bytes().startswith(b"%PDF")
    (tmp_path / "page.html").unlink()
    refused(asked[1:], "already holds page.pdf")


def test_without_the_library_a_pdf_is_refused_before_anything_is_written(folders, tmp_path, monkeypatch):
    monkeypatch.setitem(__import__("sys").modules, "weasyprint", None)
    refused([folders["map"], "--out", tmp_path / "page.html", "--pdf"], "WeasyPrint is not installed", "tipmech[pdf]")
    assert not list(tmp_path.iterdir())


def test_the_counts_of_checks_are_those_of_the_documentation():
    text = (ROOT / "docs" / "validation.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\| [^|]+ \| [^|]+ \|(?: [^|]* \|){3} ([^|]*) \| (yes|NO|-) \|", text, re.MULTILINE)
    assert len(rows) == credibility.CHECK_ROWS
    assert sum(passed != "-" for _, passed in rows) == credibility.JUDGED


def test_numbers_and_distributions_in_words():
    assert [number(v) for v in (0.0, 1.23456, 1234.6, -0.5, float("nan"))] == ["0", "1.23", "1230", "−0.5", "–"]
    assert number(8.52e-5) == "8.52·10⁻⁵" and number(4.2e7) == "4.2·10⁷"
    assert interval(float("nan"), 2.0) == "open to 2" and interval(0.1, 0.2) == "0.1 to 0.2"
    words = {x.name: distribution_words(x) for x in UNKNOWNS}
    assert words["mouth_gap"] == "lognormal, median 0.25 mm, log-sd 0.6; cut to 0.02 to 1.2 mm"
    assert words["thickness"] == "0 with probability 0.5, else lognormal, median 0.8 mm, log-sd 0.5"
    assert words["pressure"] == "uniform, −1.3 to 1.3 kPa"
    assert words["flap_thickness"].startswith("normal, mean 0.348 mm, sd 0.084 mm")


def test_a_report_of_a_folder_is_that_of_its_study(folders):
    assert html_of(report(read_finished(folders["atlas"]))) == html_of(report_of(folders["atlas"]))
