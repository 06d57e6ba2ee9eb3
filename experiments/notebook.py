"""Run docs/notebook.ipynb from its first cell to its last in a fresh kernel and write it back with its outputs.

    python -m experiments.notebook [--check]

--check: run it, write nothing; fails on the first cell that does. Needs the packages of requirements-dev.lock. Edit the
notebook in any editor of notebooks, then run this: times, cell numbers and names of machines do not stay in the file.
"""

import argparse
from collections.abc import Sequence
from pathlib import Path

import nbformat
from nbclient import NotebookClient

from tipmech.whole import whole_file

NOTEBOOK = Path(__file__).parent.parent / "docs" / "notebook.ipynb"
SECONDS = 1800  # of one cell at most: a minute on free cores, more where others work or kernels compile


def carried_out(path: Path = NOTEBOOK) -> nbformat.NotebookNode:
    """The notebook with the outputs of a run in a fresh kernel, started in its folder.

    Raises
    ------
    CellExecutionError
        where a cell fails
    """
    notebook = nbformat.read(path, as_version=4)
    notebook.metadata = {"kernelspec": {"name": "python3", "display_name": "Python 3", "language": "python"}}
    client = NotebookClient(
        notebook, timeout=SECONDS, record_timing=False, resources={"metadata": {"path": str(path.parent)}}
    )
    client.execute()
    notebook.metadata.pop("language_info", None)
    return notebook


def main(arguments: Sequence[str] | None = None) -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--check", action="store_true", help="write nothing")
    args = parser.parse_args(arguments)
    notebook = carried_out()
    if not args.check:
        with whole_file(NOTEBOOK) as temporary:
            nbformat.write(notebook, temporary)


if __name__ == "__main__":
    main()
