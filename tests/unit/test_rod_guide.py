"""The examples of the engineer's guide run and print what its text says."""

from pathlib import Path

import pytest

GUIDE = Path(__file__).parents[2] / "docs" / "guide-engineer.md"


def run(number: int, capsys: pytest.CaptureFixture[str]) -> str:
    section = GUIDE.read_text(encoding="utf-8").split("## 5. Use the rod by itself")[1]
    code = section.split("```python")[number].split("```")[0]
    exec(compile(code, str(GUIDE), "exec"), {})
    return capsys.readouterr().out


def test_the_guides_example_runs(capsys: pytest.CaptureFixture[str]) -> None:
    printed = run(1, capsys)
    assert "converged True" in printed and "bifurcation" in printed and "complete: True" in printed


def test_the_guides_frame_snaps(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """Limit points 18.549 and -9.400 EI/L2 = 1855 and -940 N: planar Reissner equations, shooting (validation)."""
    monkeypatch.chdir(tmp_path)
    printed = run(2, capsys)
    assert "complete: True" in printed
    assert "limit point at 1854 N: 269 mm right, 488 mm down, counts (0, 1), narrow True" in printed
    assert "limit point at -938 N: 902 mm right, 582 mm down, counts (1, 0), narrow True" in printed
    assert (tmp_path / "results" / "lee.png").stat().st_size > 0


def test_the_guides_cantilever_swings(capsys: pytest.CaptureFixture[str]) -> None:
    """pi2 EI/4 L2, and 3.516 and 22.03 sqrt(EI/m)/L2: Euler, Blevins (validation)."""
    printed = run(3, capsys)
    assert "buckles at 0.0969 N, middle at 0.293 of the tip's way" in printed  # 1 - cos(pi/4)
    assert "natural frequencies [ 352.  352. 2199. 2199.] Hz" in printed
    assert "300 steps, completed True" in printed and "energy left after three periods: 0.99" in printed
