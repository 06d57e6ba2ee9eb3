"""What became of the points that a vessel was given by: the smoothed line beside them."""

from typing import Any

from ..vessel.path import Fit, tightest_bend

MM = 1e3


def line_facts(fit: Fit) -> dict[str, Any]:
    """The smoothed line as plain data, SI; a straight one has no tightest bend."""
    radius, at = tightest_bend(fit.line)
    bent = radius < float("inf")
    return {
        "tightest_bend_radius_m": radius if bent else None,
        "tightest_bend_at_m": at if bent else None,
        "points_off_at_most_m": fit.farthest,
        "points_off_rms_m": fit.rms,
        "arcs": len(fit.line.lengths),
    }


def line_rows(fit: Fit) -> list[tuple[str, str]]:
    """Rows of a printed table, in mm."""
    radius, at = tightest_bend(fit.line)
    bend = f"radius {radius * MM:.2f} mm, {at * MM:.1f} mm from its start" if radius < float("inf") else "none"
    off = f"{fit.farthest * MM:.3f} mm at most, {fit.rms * MM:.3f} mm root mean square"
    return [("tightest bend of the line through the points", bend), ("points off that line", off)]
