"""Frames into a file: MP4 for browsers (H.264, by the ffmpeg that imageio-ffmpeg brings) or GIF."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import ceil
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

import numpy as np

from ... import CAUTION
from ...whole import whole_file

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from PIL.Image import Image

Progress = Callable[[int, int], None]
"""Called with (frames drawn, frames in all)."""
QUALITY = 21  # constant rate factor of H.264: text of 8 points stays clean (looked at), some 2 MB a minute
COLOURS, SAMPLES = 256, 6  # of a GIF's one palette, and frames that it is taken from


@dataclass(frozen=True)
class Format:
    """Kind of file: its suffix, frames a second, pixels per inch of the figure."""

    suffix: str
    rate: int
    dpi: int


MP4 = Format(".mp4", 30, 100)
GIF = Format(".gif", 10, 75)  # GIFs count time in hundredths of a second; smaller, as every one of its pixels is stored


class Film(Protocol):
    """Something that can draw itself on its figure as it looks at any time of the film."""

    figure: Figure
    seconds: float

    def begin(self) -> None:
        """Draw what stands still, at the figure's final resolution."""

    def draw(self, at: float) -> None:
        """Draw the frame at a time of the film, s."""


def count(film: Film, form: Format) -> int:
    """Number of a film's frames in a format."""
    return max(1, ceil(film.seconds * form.rate - 1e-9))


def size(film: Film, form: Format) -> tuple[int, int]:
    """Width and height in pixels; even, as H.264 stores colours of two by two pixels."""
    wide, tall = (int(round(inch * form.dpi)) for inch in film.figure.get_size_inches())
    return wide + wide % 2, tall + tall % 2


def write(film: Film, path: Path | str, form: Format, on_progress: Progress | None = None) -> Path:
    """Draw a film frame by frame into a file, under a temporary name first, and return the path."""
    path, total = Path(path), count(film, form)
    wide, tall = size(film, form)
    film.figure.set_dpi(form.dpi)
    film.figure.set_size_inches(wide / form.dpi, tall / form.dpi)
    film.begin()
    with whole_file(path) as temporary:
        (_gif if form is GIF else _mp4)(film, temporary, form, total, on_progress or (lambda done, of: None))
    return path


def _mp4(film: Film, path: Path, form: Format, total: int, on_progress: Progress) -> None:
    from imageio_ffmpeg import write_frames

    options = ["-f", "mp4", "-crf", str(QUALITY), "-preset", "superfast", "-movflags", "+faststart"]
    out = write_frames(
        path, size(film, form), pix_fmt_in="rgba", pix_fmt_out="yuv420p", fps=form.rate, codec="libx264", quality=None,
        macro_block_size=2, ffmpeg_log_level="error", output_params=[*options, "-metadata", f"comment={CAUTION}"],
    )  # fmt: skip
    out.send(None)
    try:
        for k in range(total):
            film.draw(k / form.rate)
            out.send(_pixels(film))
            on_progress(k + 1, total)
    finally:
        out.close()


def _gif(film: Film, path: Path, form: Format, total: int, on_progress: Progress) -> None:
    from PIL import Image as images

    def image(k: int) -> Image:
        film.draw(k / form.rate)
        return images.fromarray(_pixels(film)).convert("RGB")

    tried = [np.asarray(image(k)) for k in sorted({round(v) for v in np.linspace(0, total - 1, SAMPLES)})]
    palette = images.fromarray(np.concatenate(tried)).quantize(COLOURS, method=images.Quantize.MAXCOVERAGE)
    drawn = []
    for k in range(total):
        drawn.append(image(k).quantize(palette=palette, dither=images.Dither.NONE))
        on_progress(k + 1, total)
    first, *rest = drawn
    first.save(
        path, format="GIF", save_all=True, append_images=rest, duration=1000 // form.rate, loop=0,
        comment=CAUTION.encode(),
    )  # fmt: skip


def _pixels(film: Film) -> np.ndarray[tuple[int, ...], np.dtype[np.uint8]]:
    """What the figure's canvas shows, shape (height, width, 4)."""
    return np.asarray(film.figure.canvas.buffer_rgba())  # type: ignore[attr-defined]
