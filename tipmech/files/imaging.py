"""The table [imaging] of a case file: how the insertion is looked at, and from when on a curl counts as seen.

Defaults are those of `insertion/imaging.py` and `insertion/seen.py`, in users' units; basis in docs/parameters.md.
"""

from math import radians
from typing import Annotated

from pydantic import Field

from ..insertion.case import Case
from ..insertion.imaging import Imaging, frame_count
from ..insertion.projection import Orientation, View
from ..insertion.seen import Detector
from .common import FieldError, Model

MM = 1e-3


class ViewTable(Model):
    """[[imaging.views]]: one direction of view; LAO and cranial are positive, RAO and caudal negative."""

    lao_deg: float = Field(ge=-180, le=180)
    cranial_deg: float = Field(default=0.0, ge=-90, le=90)


class ImagingTable(Model):
    """[imaging]: views, frames, pixels, noise; how the vessel lies in the patient; thresholds of a seen curl."""

    views: Annotated[tuple[ViewTable, ...], Field(min_length=1, max_length=2)] = (
        ViewTable(lao_deg=-30.0, cranial_deg=25.0),
        ViewTable(lao_deg=45.0, cranial_deg=25.0),
    )
    frames_per_s: float = Field(default=15.0, ge=0.5, le=120)
    pixel_mm: float = Field(default=0.2, ge=0.02, le=1)
    noise_mm: float = Field(default=0.1, ge=0, le=1)
    radiopaque_mm: float = Field(default=30.0, ge=2, le=400)
    hand_rate_mm_s: Annotated[float, Field(ge=0.01, le=100)] | None = None
    turn_rate_deg_s: float = Field(default=90.0, ge=1, le=1440)
    linger_s: float = Field(default=1.0, ge=0, le=60)
    seed: int = Field(default=0, ge=0, lt=2**63)
    axis_lao_deg: float = Field(default=45.0, ge=-180, le=180)
    axis_cranial_deg: float = Field(default=-30.0, ge=-90, le=90)
    roll_deg: float = Field(default=90.0, ge=-360, le=360)
    tip_mm: float = Field(default=1.0, ge=0.2, le=5)
    behind_mm: float = Field(default=8.0, ge=1, le=50)
    reach_mm: float = Field(default=10.0, ge=1, le=100)
    turned_deg: float = Field(default=90.0, ge=10, le=175)
    ahead_diameters: float = Field(default=1.0, ge=0.1, le=20)
    apart_pixels: float = Field(default=1.0, ge=0.1, le=20)
    hold_frames: int = Field(default=2, ge=1, le=100)
    threshold: float = Field(default=1.0, gt=0, le=10)


def imaging_of(table: ImagingTable, case: Case) -> tuple[Imaging, Detector]:
    """Imaging and detector in SI of a checked table; `FieldError` where the moves take too many frames."""
    imaging, detector = looks_of(table)
    rate = case.drive.rate if imaging.hand_rate is None else imaging.hand_rate
    pace = {"advance": rate, "withdraw": rate, "turn": imaging.turn_rate}
    try:
        spent = (max(abs(m.amount) / pace[m.kind], abs(m.turn) / imaging.turn_rate) for m in case.moves)
        frame_count(sum(spent), imaging)
    except FieldError as error:
        raise FieldError("imaging.frames_per_s", error.value, error.allowed) from None
    return imaging, detector


def looks_of(table: ImagingTable) -> tuple[Imaging, Detector]:
    """Imaging and detector in SI of a checked table, whatever the moves."""
    imaging = Imaging(
        views=tuple(View(radians(v.lao_deg), radians(v.cranial_deg)) for v in table.views),
        frame_rate=table.frames_per_s,
        pixel=table.pixel_mm * MM,
        noise=table.noise_mm * MM,
        radiopaque=table.radiopaque_mm * MM,
        hand_rate=None if table.hand_rate_mm_s is None else table.hand_rate_mm_s * MM,
        turn_rate=radians(table.turn_rate_deg_s),
        linger=table.linger_s,
        orientation=Orientation(
            View(radians(table.axis_lao_deg), radians(table.axis_cranial_deg)), radians(table.roll_deg)
        ),
        seed=table.seed,
    )
    detector = Detector(
        tip=table.tip_mm * MM,
        behind=table.behind_mm * MM,
        reach=table.reach_mm * MM,
        turned=radians(table.turned_deg),
        ahead=table.ahead_diameters,
        apart=table.apart_pixels,
        hold=table.hold_frames,
        threshold=table.threshold,
    )
    return imaging, detector
