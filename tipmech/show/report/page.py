"""Writes a report as one HTML document: the template set with the report's parts, every text escaped."""

from pathlib import Path

from jinja2 import Environment, StrictUndefined

from ... import CAUTION, __version__
from ...whole import whole_file
from .parts import Report

TEMPLATE = Path(__file__).with_name("report.html")


def html_of(report: Report) -> str:
    """The document as text; it refers to nothing outside itself."""
    environment = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    template = environment.from_string(TEMPLATE.read_text(encoding="utf-8"))
    return template.render(report=report, caution=CAUTION, version=__version__)


def save_page(html: str, path: Path | str) -> Path:
    """Write the document under a temporary name first; returns the path."""
    path = Path(path)
    with whole_file(path) as temporary:
        temporary.write_text(html, encoding="utf-8")
    return path
