"""Write docs/gallery.html from docs/gallery.md: the gallery for a reader who has a browser and nothing else.

    python -m experiments.gallery

Pictures, films and scenes are those beside it, by relative links; nothing is loaded from elsewhere. A scene that turns
is embedded where the text links it; a film, which goes round and round, plays only while its line is open. A test
compares the page with the text: run this after every change.
"""

import argparse
import re
from collections.abc import Sequence
from html import escape
from pathlib import Path

from markdown_it import MarkdownIt

from tipmech import CAUTION
from tipmech.whole import whole_file

DOCS = Path(__file__).parent.parent / "docs"
TEXT, PAGE = DOCS / "gallery.md", DOCS / "gallery.html"
LOOK = """
body { max-width: 1080px; margin: 0 auto; padding: 12px 18px 90px; font: 16px/1.5 sans-serif; color: #22272e; }
img, iframe { max-width: 100%; height: auto; border: 1px solid #cfd4da; background: white; }
iframe { width: 100%; height: 70vh; }
pre { background: #f3f4f6; padding: 10px 12px; overflow-x: auto; } code { font: 14px/1.4 monospace; }
blockquote { margin: 0; padding: 2px 14px; border-left: 4px solid #b4574b; background: #f7efe9; }
table { border-collapse: collapse; display: block; overflow-x: auto; }
th, td { border: 1px solid #cfd4da; padding: 4px 8px; text-align: left; }
h3 { margin: 2.2em 0 0.3em; } a { color: #1f5fa8; }
summary { cursor: pointer; padding: 6px 0; }
nav { columns: 2; column-gap: 30px; } nav a { display: block; } nav .h2 { font-weight: bold; }
p, li, td { overflow-wrap: anywhere; } @media (max-width: 600px) { nav { columns: 1; } }
footer { position: fixed; left: 0; right: 0; bottom: 0; padding: 8px 18px; background: #f7efe9; font-size: 14px; }
"""
SCENE = re.compile(r'<p><a href="(figures/[^"]+\.html)">(.*?)</p>', re.DOTALL)
FILM = re.compile(r'<p>(<img src="[^"]+\.gif" alt="([^"]*)"[^>]*>)</p>')
HEADING = re.compile(r"<(h[23])>(.*?)</\1>")


def page_text(text: str) -> str:
    """The page of a gallery's text."""
    body = MarkdownIt("commonmark").enable("table").render(text)
    body = SCENE.sub(
        r'<p><a href="\1">\2</p>\n<iframe src="\1" title="scene that turns" loading="lazy"></iframe>', body
    )
    body = FILM.sub(r"<details><summary>\2 (a film: plays while this is open)</summary>\n\1\n</details>", body)
    body = body.replace("<img ", '<img loading="lazy" ')
    places: list[str] = []

    def placed(match: re.Match[str]) -> str:
        tag, words = match.groups()
        place = f"at-{len(places)}"
        places.append(f'<a class="{tag}" href="#{place}">{words}</a>')
        return f'<{tag} id="{place}">{words}</{tag}>'

    body = HEADING.sub(placed, body)
    start = body.index("<h2")
    return (
        f'<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8" />\n<title>tipmech: gallery</title>\n'
        f'<meta name="viewport" content="width=device-width, initial-scale=1" />\n'
        f'<meta name="description" content="{escape(CAUTION)}" />\n<style>{LOOK}</style></head>\n<body>\n'
        f"{body[:start]}<nav>{' '.join(places)}</nav>\n{body[start:]}"
        f"<footer>{escape(CAUTION)}</footer>\n</body></html>\n"
    )


def main(arguments: Sequence[str] | None = None) -> None:
    """Command line."""
    argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter).parse_args(
        arguments
    )
    text = page_text(TEXT.read_text(encoding="utf-8"))
    with whole_file(PAGE) as temporary:
        temporary.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
