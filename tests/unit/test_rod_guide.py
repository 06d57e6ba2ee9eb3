"""The example of the engineer's guide runs."""

from pathlib import Path

import pytest

GUIDE = Path(__file__).parents[2] / "docs" / "guide-engineer.md"


def test_the_guides_example_runs(capsys: pytest.CaptureFixture[str]) -> None:
    section = GUIDE.read_text(encoding="utf-8").split("## 5. Use the rod by itself")[1]
    code = section.split("```python")[1].split("```")[0]
    exec(compile(code, str(GUIDE), "exec"), {})
    printed = capsys.readouterr().out
    assert "converged True" in printed and "bifurcation" in printed and "complete: True" in printed
