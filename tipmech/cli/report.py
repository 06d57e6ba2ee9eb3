"""`tipmech report`: a finished study's folder as one document, HTML and on request PDF."""

from contextlib import nullcontext
from pathlib import Path

from ..checks import InputError
from ..show.report.document import report
from ..show.report.folder import read_finished
from ..show.report.page import html_of, save_page
from ..show.report.pdf import pdf_writer, save_pdf
from ..study.hold import held
from ..study.store import REPORT
from .terminal import finish, guard, print_json, progress

SUFFIXES = (".html", ".htm")


def run(folder: Path, out: Path | None, *, pdf: bool, as_json: bool, overwrite: bool) -> None:
    """Report of a folder; with CAUTION on the page as everywhere."""
    page = folder / f"{REPORT}.html" if out is None else out
    if page.suffix.lower() not in SUFFIXES:
        raise InputError(f"--out: {page} is no name of an HTML file; allowed: one that ends in .html")
    study = read_finished(folder)
    guard(page.parent, [page.name, *([page.with_suffix(".pdf").name] if pdf else [])], overwrite)
    if pdf:
        pdf_writer()  # refused before anything is written
    inside = page.parent.resolve() == folder.resolve()
    with held(folder) if inside else nullcontext(), progress("report", quiet=as_json):
        made = report(study)
        html = html_of(made)
        paths = [save_page(html, page)]
        if pdf:
            paths.append(save_pdf(html, page.with_suffix(".pdf")))
    if as_json:
        about = {"kind": study.kind, "name": made.title, "code": study.code, "report_code": study.own_code}
        print_json(
            {
                **about,
                "hash_agrees": study.hash_agrees,
                "figures": made.figures,
                "headings": made.headings,
                "files": paths,
            }
        )
        return
    finish(paths)
