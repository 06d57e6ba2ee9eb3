"""Tables of a finished atlas: shares of the signs, calibration of the surfaces."""

from typing import Any

import numpy as np

from .atlas import EVENT_WORDS, EVENTS, SIGN_WORDS, Atlas, Sign, signs
from .run_atlas import SHAPES
from .table import Table, from_rows, select


def share_table(atlas: Atlas) -> Table:
    """Share of the atlas's volume with each sign, by end condition, every place by itself."""
    out = []
    for flat, volume in enumerate(atlas.volume):
        found = signs(atlas, volume)
        row: dict[str, Any] = {"front_shape": SHAPES[flat]}
        row |= {SIGN_WORDS[s].replace(" ", "_"): float(np.mean(found == int(s))) for s in Sign}
        out.append(row)
    return from_rows(out)


def no_news(reliability: Table) -> str:
    """Sentence about what hangs on surfaces that predict no better than the overall shares; "" where nothing does."""
    lost = []
    for name in EVENTS:
        mine = select(reliability, reliability["event"] == name)
        _, first = np.unique(mine["tip_load"], return_index=True)
        if np.sum(mine["brier"][first]) >= np.sum(mine["brier_of_the_share"][first]):
            lost.append(name)
    if not lost:
        return ""
    words = " and those of ".join(EVENT_WORDS[name] for name in lost)
    hangs = "every sign" if EVENTS[0] in lost else "whether entry is lowered or traded for curl"
    return (
        f"On sites left out of the fit the surfaces of {words} predict no better than the designs' overall shares: "
        f"{hangs} is undecided."
    )


def reliability_table(atlas: Atlas) -> Table:
    """Calibration of every surface by bins, with its Brier score and that of the overall share."""
    out = []
    for (name, design), surface in atlas.surfaces.items():
        c = surface.calibration
        for k in range(len(c.count)):
            out.append(
                {
                    "event": name,
                    "tip_load": atlas.result.spec.study.tip_loads[design],
                    "degree": surface.degree,
                    "penalty": surface.penalty,
                    "brier": c.brier,
                    "brier_of_the_share": c.base,
                    "predicted": float(c.predicted[k]),
                    "seen": float(c.seen[k]),
                    "seen_low": float(c.low[k]),
                    "seen_high": float(c.high[k]),
                    "n": int(c.count[k]),
                }
            )
    return from_rows(out)
