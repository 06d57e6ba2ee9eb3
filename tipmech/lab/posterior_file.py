"""A calibrated wire as a file: weighted samples of scale and end condition, with the wire they belong to. Floor 6.

Parquet: columns ln_scale, ln_scale_width (of the node's cell), end_c (nan where the bench's end condition is known),
weight; the wire file's text and the calibration's facts in its metadata. `posterior_profiles` is the way in for every
later computation.
"""

import json
from collections.abc import Mapping
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np

from .. import CAUTION, __version__
from ..bench.measured import END_RANGE, FREE_C
from ..checks import InputError
from ..files.common import validate
from ..files.wire import WireFile, design_of, write_wire
from ..profile import Profile
from ..whole import whole_file
from ..wire.design import Design, profile
from .posterior import Array, Posterior, spread_quantiles

FORMAT = 1
COLUMNS = ("ln_scale", "ln_scale_width", "weight")
KEY = b"tipmech_calibration"
LEAST_WEIGHT = 1e-9  # of the whole: lighter nodes are left out of the file


def write_posterior(posterior: Posterior, design: Design, path: Path, facts: Mapping[str, Any]) -> Path:
    """Write a posterior and its wire, under a temporary name first; return the path.

    Parameters
    ----------
    facts : mapping
        plain data kept with the samples: bench, measurements, priors
    """
    import pyarrow as pa
    import pyarrow.parquet as pq

    keep = posterior.weight.ravel() > LEAST_WEIGHT
    end = np.broadcast_to(posterior.end[:, None], posterior.x.shape).ravel()
    c = np.full_like(end, np.nan) if posterior.end_known else FREE_C * np.exp(END_RANGE * end)
    weight = posterior.weight.ravel()[keep]
    table = pa.table(
        {
            "ln_scale": posterior.x.ravel()[keep],
            "ln_scale_width": posterior.width.ravel()[keep],
            "end_c": c[keep],
            "weight": weight / np.sum(weight),
        }
    )
    about = {"format": FORMAT, "tipmech_version": __version__, "caution": CAUTION, "wire": wire_text(design), **facts}
    table = table.replace_schema_metadata({KEY: json.dumps(about).encode()})
    with whole_file(path) as temporary:
        pq.write_table(table, temporary)
    return path


def read_posterior(path: str | Path) -> tuple[Design, Array, Array, Array]:
    """Wire, ln scale, widths of its cells and weights of a posterior file.

    Raises
    ------
    InputError
        when the file is not there or is not one written by `tipmech calibrate`
    """
    import pyarrow.parquet as pq
    from pyarrow import ArrowException

    if not Path(path).is_file():
        raise InputError(f"{path}: there is no such file; allowed: posterior.parquet, written by tipmech calibrate")
    try:
        table = pq.read_table(path)
    except (ArrowException, OSError):
        raise InputError(f"{path}: is not a Parquet file; allowed: posterior.parquet of tipmech calibrate") from None
    about = (table.schema.metadata or {}).get(KEY)
    if about is None or not set(COLUMNS) <= set(table.column_names):
        raise InputError(f"{path}: holds no calibrated wire; allowed: posterior.parquet of tipmech calibrate")
    held = json.loads(about)
    if held.get("format") != FORMAT:
        raise InputError(f"{path}: has format {held.get('format')}; allowed: {FORMAT}, that of this version")
    x, width, weight = (np.asarray(table.column(name).to_numpy()) for name in COLUMNS)
    return wire_of(path, held["wire"]), x, width, weight


def posterior_profiles(path: str | Path, n: int, seed: int) -> list[Profile]:
    """Draw wires from a calibration: members of the softness family, one from each of n equal shares of probability.

    Parameters
    ----------
    path : path
        posterior.parquet of `tipmech calibrate`
    n : int
        number of wires
    seed : int
        places each draw within its share; the same seed gives the same wires

    Returns
    -------
    list of Profile
        in increasing scale, each as likely as the others

    Raises
    ------
    InputError
        as `read_posterior`
    """
    if n < 1:
        raise ValueError(f"n is {n}; it must be at least 1")
    design, x, width, weight = read_posterior(path)
    place = np.random.default_rng(seed).random(n)
    base = profile(design)
    levels = [float(v) for v in (np.arange(n) + place) / n]
    return [base.softened(float(np.exp(v))) for v in spread_quantiles(x, width, weight, levels)]


def wire_text(design: Design) -> str:
    """Text of a design's wire file."""
    with TemporaryDirectory() as folder:
        file = Path(folder) / "wire.toml"
        write_wire(design, file)
        return file.read_text(encoding="utf-8")


def wire_of(path: str | Path, text: str) -> Design:
    """Design of a wire file's text; `path` names the file it came from in messages."""
    import tomllib

    return design_of(path, validate(path, tomllib.loads(text), WireFile))
