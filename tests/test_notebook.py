"""The notebook runs from first cell to last in a fresh kernel; its file holds outputs and no path of a machine."""

import json
import re

import pytest

from experiments.notebook import NOTEBOOK, carried_out
from tipmech import CAUTION

LARGEST = 1_500_000  # bytes
PATHS = re.compile(r"/(?:home|work|tmp|opt|root|Users|var|usr)/|[A-Z]:\\\\")


def cells(kind: str) -> list[dict]:
    return [cell for cell in json.loads(NOTEBOOK.read_text(encoding="utf-8"))["cells"] if cell["cell_type"] == kind]


def test_the_file_holds_the_outputs_of_one_run() -> None:
    code = cells("code")
    assert [cell["execution_count"] for cell in code] == list(range(1, len(code) + 1))
    kinds = [output["output_type"] for cell in code for output in cell["outputs"]]
    assert "error" not in kinds
    pictures = [o for cell in code for o in cell["outputs"] if "image/png" in o.get("data", {})]
    assert len(pictures) >= 6
    streams = {o["name"] for cell in code for o in cell["outputs"] if o["output_type"] == "stream"}
    assert streams == {"stdout"}, "a warning stands in the notebook"


def test_the_file_is_small_and_names_no_machine() -> None:
    text = NOTEBOOK.read_text(encoding="utf-8")
    assert len(text.encode()) < LARGEST
    outputs = [{k: v for k, v in o.get("data", {}).items() if k != "image/png"} | {"text": o.get("text")}
               for cell in cells("code") for o in cell["outputs"]]  # fmt: skip
    assert not PATHS.search(json.dumps(outputs))
    assert "language_info" not in json.loads(text)["metadata"]


def test_it_begins_with_the_caution_and_speaks_to_each_of_the_three() -> None:
    words = ["".join(cell["source"]) for cell in cells("markdown")]
    assert CAUTION in words[0] and "invented" in words[0]
    for number, user in enumerate(("engineer", "researcher", "teacher"), start=1):
        assert any(text.startswith(f"## {number}. The {user}") for text in words)


@pytest.mark.slow
def test_it_runs_in_a_fresh_kernel() -> None:
    done = carried_out()
    code = [cell for cell in done.cells if cell.cell_type == "code"]
    assert all(cell.execution_count for cell in code)
    assert sum("image/png" in output.get("data", {}) for cell in code for output in cell.outputs) >= 6
