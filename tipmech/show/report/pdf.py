"""Writes the document as PDF by WeasyPrint, the extra `pdf`: it sets this HTML and its style sheet for paper.

Chosen because it repeats the heads of tables over pages, numbers pages, writes headings as bookmarks and tags for
readers of screens; xhtml2pdf and fpdf2 know too little of CSS for the tables. It is Python over the text library Pango,
which Linux mostly has.
"""

from pathlib import Path
from typing import Any

from ...checks import InputError
from ...whole import whole_file

HOW = "allowed: without --pdf (any browser prints the HTML page to PDF), or pip install 'tipmech[pdf]'"


def pdf_writer() -> Any:
    """The library.

    Raises
    ------
    InputError
        where it is not installed, or finds no Pango
    """
    try:
        import weasyprint
    except ModuleNotFoundError:
        raise InputError(f"--pdf: WeasyPrint is not installed; {HOW}") from None
    except OSError as error:
        why = str(error).splitlines()[0]
        raise InputError(
            f"--pdf: WeasyPrint finds no Pango, the system's text library ({why}); {HOW} and Pango"
        ) from None
    return weasyprint


def save_pdf(html: str, path: Path | str) -> Path:
    """Write the document as PDF under a temporary name first; returns the path. Nothing from elsewhere is fetched."""
    path, library = Path(path), pdf_writer()
    fetcher = library.urls.URLFetcher(allowed_protocols=("data",), fail_on_errors=True)
    with whole_file(path) as temporary:
        library.HTML(string=html, url_fetcher=fetcher).write_pdf(temporary, pdf_variant="pdf/ua-1")
    return path
