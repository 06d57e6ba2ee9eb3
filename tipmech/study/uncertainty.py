"""Numerical uncertainty printed on every map: measured once for each code version by experiments/stability, stored."""

import json
from pathlib import Path
from typing import Any

from .version import code_version

STORED = Path(__file__).parent / "stability.json"
NOT_MEASURED = "Numerical uncertainty of this version has not been measured."


def uncertainty_text(path: Path = STORED, code: str | None = None) -> str:
    """One line on how far thresholds and outcomes hang on the solver's settings, with the code version it is of.

    Parameters
    ----------
    path : Path
        summary written by experiments/stability/summary.py
    code : str, optional
        version of the code whose results are shown; the present one if left out

    Returns
    -------
    str
        worst of the numerical settings, each changed alone; says so where it was measured with other code, or not at
        all
    """
    if not path.is_file():
        return NOT_MEASURED
    summary = json.loads(path.read_text(encoding="utf-8"))
    text = _line(summary)
    if summary["code"] == (code_version() if code is None else code):
        return text
    return f"{NOT_MEASURED} Of another version: {text}"


def _line(summary: dict[str, Any]) -> str:
    """The worst numerical setting in each figure, and the floor beside it."""
    thresholds, outcomes = summary["thresholds"], summary["outcomes"]
    numeric = [key for key, s in thresholds["settings"].items() if s["numeric"]]
    shifts, classes = thresholds["settings"], outcomes["settings"]
    worst = {q: _most(shifts, numeric, q) for q in ("q50", "q80", "q90")}
    sizes = "/".join("?" if v is None else f"{100.0 * v:.1f}" for v in worst.values())
    agreement, kappa = (_least(classes, numeric, name) for name in ("agreement", "kappa"))
    return (
        f"Numerical uncertainty (code {summary['code']}): of any one solver setting halved or doubled, the curling "
        f"threshold shifts by at most {sizes} % in 50/80/90 % of {thresholds['one_crossing']} cases; classes of "
        f"{outcomes['touched_and_solved']} insertions agree in at least {agreement}, kappa at least {kappa}."
    )


def _most(settings: dict[str, Any], keys: list[str], name: str) -> float | None:
    values = [settings[k][name] for k in keys if settings[k][name] is not None]
    return max(values) if values else None


def _least(settings: dict[str, Any], keys: list[str], name: str) -> str:
    values = [settings[k][name] for k in keys if settings[k][name] is not None]
    return f"{min(values):.3f}" if values else "?"
