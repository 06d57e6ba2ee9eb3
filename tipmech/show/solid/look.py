"""Colours of the meshes: bending strain of the wire, travel at which the plane was opened; how solid each part is."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .. import style
from ..view import Array

STRAIN, OPENED = "bending_strain", "opened_at_travel_m"  # names of what is coloured by, in the meshes
OPENED_CMAP, OPENED_FROM, OPENED_TO = "magma_r", 0.2, 0.72  # part of the map: the first opening is the lightest
FREE_ROOM = "#eceff2"  # room of the wire that was not paid for
LEAST_STRAIN, LEAST_TRAVEL = 1e-4, 1e-4  # -, m: a scale is at least as long


def strain_colours(strain: Array | None, most: float = 0.0) -> NDArray[np.uint8]:
    """RGB of bending strains, 0 to `most` (0: the largest of them)."""
    from matplotlib import colormaps

    assert strain is not None
    share = strain / max(most or float(np.max(strain)), LEAST_STRAIN)
    return _bytes(colormaps[style.WIRE_CMAP](np.clip(share, 0.0, 1.0)))


def opened_colours(travel: Array | None, most: float = 0.0) -> NDArray[np.uint8]:
    """RGB of the travel (m) at which a place was opened: 0 as the false lumen elsewhere, later ones darker up to
    `most` (0: the latest of them), nan as room that was not paid for."""
    from matplotlib import colormaps
    from matplotlib.colors import to_rgba

    assert travel is not None
    latest = most or float(np.nanmax(travel, initial=0.0))
    share = np.clip(np.nan_to_num(travel) / max(latest, LEAST_TRAVEL), 0.0, 1.0)
    shades = colormaps[OPENED_CMAP](OPENED_FROM + (OPENED_TO - OPENED_FROM) * share)
    shades[travel == 0.0] = to_rgba(style.FALSE_LUMEN)
    shades[np.isnan(travel)] = to_rgba(FREE_ROOM)
    return _bytes(shades)


def _bytes(shades: Array) -> NDArray[np.uint8]:
    """RGB as bytes."""
    return np.round(255.0 * np.asarray(shades)[:, :3]).astype(np.uint8)
