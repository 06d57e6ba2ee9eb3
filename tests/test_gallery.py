"""The gallery and the documents: linked files are there, pictures have their commands, commands their pictures."""

import re
from pathlib import Path

import pytest

import tipmech
from experiments.gallery import DOCS, PAGE, TEXT, page_text
from tipmech import CAUTION
from tipmech.cli import app

ROOT = Path(tipmech.__file__).parent.parent
FIGURES = DOCS / "figures"
PAGES = [ROOT / "README.md", *sorted(DOCS.rglob("*.md"))]
COMMAND = re.compile(r"tipmech [a-z]+ \S|python (-m )?(experiments|tests)[./]\S")
LINK, IMAGE = re.compile(r"\]\(([^)#\s]+)[^)]*\)"), re.compile(r"!\[[^\]]*\]\(([^)]+)\)")
FENCE = "```"


def sections(text: str) -> list[str]:
    """Parts of a document from heading to heading; a sign of headings within code is none."""
    out, code = [""], False
    for line in text.splitlines():
        code ^= line.startswith(FENCE)
        if line.startswith("#") and not code:
            out.append("")
        out[-1] += line + "\n"
    return out


def test_headings_are_told_from_comments_in_code() -> None:
    assert [part.splitlines()[0] for part in sections(f"# a\n{FENCE}\n# b\n{FENCE}\n## c\n")[1:]] == ["# a", "## c"]


@pytest.mark.parametrize("path", PAGES, ids=lambda p: str(p.relative_to(ROOT)))
def test_every_linked_file_is_there(path: Path) -> None:
    prose = re.sub(rf"{FENCE}.*?{FENCE}", "", path.read_text(encoding="utf-8"), flags=re.DOTALL)
    links = [link for link in LINK.findall(prose) if "://" not in link]
    missing = [link for link in links if not (path.parent / link).exists()]
    assert not missing


@pytest.mark.parametrize("path", PAGES, ids=lambda p: str(p.relative_to(ROOT)))
def test_every_picture_has_its_command_beside_it(path: Path) -> None:
    bare = [IMAGE.findall(part) for part in sections(path.read_text(encoding="utf-8")) if not COMMAND.search(part)]
    assert not [image for images in bare for image in images]


@pytest.mark.parametrize("path", PAGES, ids=lambda p: str(p.relative_to(ROOT)))
def test_commands_name_files_that_are_there(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    files = re.findall(r"experiments[/\\][\w/\\]+\.(?:toml|py)", text)
    modules = re.findall(r"-m ((?:experiments|tests)(?:\.\w+)+)", text)
    missing = [name for name in files if not (ROOT / name.replace("\\", "/")).is_file()]
    missing += [name for name in modules if not (ROOT / f"{name.replace('.', '/')}.py").is_file()]
    assert not missing


def test_the_gallery_shows_every_figure_and_says_what_it_is() -> None:
    text = TEXT.read_text(encoding="utf-8")
    shown = {Path(link).name for link in LINK.findall(text) if link.startswith("figures/")}
    assert shown == {path.name for path in FIGURES.iterdir()}
    assert CAUTION in text and "invented" in text


def test_the_table_names_every_command() -> None:
    table = next(part for part in sections(TEXT.read_text(encoding="utf-8")) if part.startswith("## Every command"))
    known = {one.name or one.callback.__name__ for one in app.registered_commands if one.callback is not None}
    assert known and set(re.findall(r"`tipmech (\w+)`", table)) == known


def test_the_page_is_that_of_the_text_and_loads_nothing_from_elsewhere() -> None:
    page = PAGE.read_text(encoding="utf-8")
    assert page == page_text(TEXT.read_text(encoding="utf-8")), "run `python -m experiments.gallery`"
    assert "://" not in page and CAUTION in page
    targets = re.findall(r'(?:src|href)="([^"#]+)"', page)
    assert len(targets) > len(list(FIGURES.iterdir()))
    assert not [target for target in targets if not (DOCS / target).is_file()]
    assert '<iframe src="figures/solid_balloon_tear.html"' in page
    assert "<script" not in page


def test_nothing_moves_on_the_page_until_it_is_opened() -> None:
    page = PAGE.read_text(encoding="utf-8")
    films = re.findall(r'<img [^>]*src="figures/([^"]+\.gif)"', page)
    assert sorted(films) == sorted(path.name for path in FIGURES.glob("*.gif"))
    shut = re.sub(r"<details><summary>.*?</details>", "", page, flags=re.DOTALL)
    assert not re.search(r'src="[^"]+\.gif"', shut)
    assert "<details open" not in page
