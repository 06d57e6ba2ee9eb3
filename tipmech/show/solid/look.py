"""Colours of the meshes: bending strain of the wire, travel at which the plane was opened; how solid each part is."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from ...insertion.classify import travel as travel_of
from ...insertion.record import Record
from .. import style
from ..view import Array, bending

if TYPE_CHECKING:
    from matplotlib.colors import Colormap

STRAIN, OPENED = "bending_strain", "opened_at_travel_m"  # names of what is coloured by, in the meshes
OPENED_CMAP, OPENED_FROM, OPENED_TO = "magma_r", 0.2, 0.72  # part of the map: the first opening is the lightest
FREE_ROOM = "#eceff2"  # room of the wire that was not paid for
LEAST_STRAIN, LEAST_TRAVEL = 1e-4, 1e-4  # -, m: a scale is at least as long


def strain_colours(strain: Array | None, most: float = 0.0) -> NDArray[np.uint8]:
    """RGB of bending strains, 0 to `most` (0: the largest of them), by their square root as in all drawings."""
    from matplotlib import colormaps

    assert strain is not None
    share = strain / max(most or float(np.max(strain)), LEAST_STRAIN)
    return _bytes(colormaps[style.WIRE_CMAP](np.sqrt(np.clip(share, 0.0, 1.0))))


def opened_colours(travel: Array | None, most: float = 0.0) -> NDArray[np.uint8]:
    """RGB of the travel (m) at which a place was opened: 0 as the false lumen elsewhere, later ones darker up to
    `most` (0: the latest of them), nan as room that was not paid for."""
    from matplotlib.colors import to_rgba

    assert travel is not None
    latest = most or float(np.nanmax(travel, initial=0.0))
    share = np.clip(np.nan_to_num(travel) / max(latest, LEAST_TRAVEL), 0.0, 1.0)
    shades = opened_map()(share)
    shades[travel == 0.0] = to_rgba(style.FALSE_LUMEN)
    shades[np.isnan(travel)] = to_rgba(FREE_ROOM)
    return _bytes(shades)


def opened_map() -> Colormap:
    """Colours of the opened plane, the first opening the lightest."""
    from matplotlib import colormaps
    from matplotlib.colors import ListedColormap

    return ListedColormap(colormaps[OPENED_CMAP](np.linspace(OPENED_FROM, OPENED_TO, 256)))


def strain_most(record: Record, row: int) -> float:
    """Largest bending strain of the wire at an increment, -."""
    arc = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(record.positions[row], axis=0), axis=1))])
    strain = bending(record.case, record.quaternions[row]) * record.case.profile.at("radius", arc[-1] - arc)
    return max(float(np.max(strain)), LEAST_STRAIN)


def travel_most(record: Record, row: int) -> float:
    """Travel of the hand up to an increment, m; 0: nothing has been opened by then."""
    return float(travel_of(record)[row]) if record.opened_area[row] > 0.0 else 0.0


def _bytes(shades: Array) -> NDArray[np.uint8]:
    """RGB as bytes."""
    return np.round(255.0 * np.asarray(shades)[:, :3]).astype(np.uint8)
