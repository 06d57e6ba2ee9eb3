"""A figure drawn once, over which each frame draws only what moves.

To draw a figure anew takes a tenth of a second and more; to restore its pixels and draw some twenty artists over them
takes two hundredths. A text takes as long as five lines: it is drawn once, then its pixels are kept; a number is put
together of kept digits.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable
from typing import TYPE_CHECKING, Any, cast

from matplotlib.transforms import Bbox

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

DIGIT, SIGN = 0.64, 0.38  # of the size of type, cell of a digit and of a point or minus (DejaVu Sans: 0.64, 0.32, 0.36)
OVER = 2.0  # pixels by which signs reach beyond their place to the left and above
BESIDE = 1.12  # of an axes' size, kept of a panel with what stands just outside it


class Stage:
    """A figure's fixed pixels, and panels kept until what they show changes."""

    def __init__(self, figure: Figure) -> None:
        self.figure = figure
        self.canvas = cast(Any, figure.canvas)  # of style.new_figure: Agg's
        self.canvas.draw()
        self.renderer = self.canvas.get_renderer()
        self.fixed = self.canvas.copy_from_bbox(figure.bbox)
        self.texts: dict[Hashable, Any] = {}
        self.kept: dict[Axes | Figure, tuple[Hashable, Any]] = {}

    def say(self, x: float, y: float, text: str, box: tuple[float, float], **look: Any) -> None:
        """Text at a place of the figure (shares of its size); `box`: width and height kept of it, inch."""
        key = (x, y, text, tuple(sorted(look.items())))
        pixels = self.texts.get(key)
        if pixels is None:
            wide, tall = (size * self.figure.dpi for size in box)
            left, top = x * self.figure.bbox.width, y * self.figure.bbox.height
            self.draw(self.figure, lambda: _add(self.figure, x, y, text, look))
            corners = left - OVER, top - tall, left + wide, top + OVER
            pixels = self.canvas.copy_from_bbox(Bbox.from_extents(*corners))
            self.texts[key] = pixels
        self.canvas.restore_region(pixels)

    def number(self, x: float, y: float, text: str, size: float, **look: Any) -> None:
        """A number that ends at x, as `say` says a text; size: of its type, points."""
        wide = self.figure.bbox.width / self.figure.dpi
        for sign in reversed(text):
            step = (DIGIT if sign.isdigit() else SIGN) * size / 72.0
            x -= step / wide
            self.say(x, y, sign, (step, 1.35 * size / 72.0), fontsize=size, **look)

    def clear(self) -> None:
        """Begin a frame: nothing but what stands still."""
        self.canvas.restore_region(self.fixed)

    def draw(self, holder: Axes | Figure, make: Callable[[], None]) -> None:
        """Draw the artists that `make` adds to axes or figure, in their order, and take them away again."""
        before = set(holder.get_children())
        make()
        added = [artist for artist in holder.get_children() if artist not in before]
        for artist in sorted(added, key=lambda one: one.zorder):
            artist.draw(self.renderer)
        for artist in added:
            artist.remove()

    def keep(self, holder: Axes | Figure, key: Hashable, make: Callable[[], None], box: Bbox | None = None) -> None:
        """As `draw`, but from the pixels of the frame before where the key is the same; `box`: of what is drawn, in
        pixels, if it is not the axes' own."""
        was, pixels = self.kept.get(holder, (None, None))
        if was != key or pixels is None:
            self.draw(holder, make)
            pixels = self.canvas.copy_from_bbox(box or holder.bbox.expanded(BESIDE, BESIDE))
            self.kept[holder] = key, pixels
        self.canvas.restore_region(pixels)


def _add(figure: Figure, x: float, y: float, text: str, look: dict[str, Any]) -> None:
    figure.text(x, y, text, va="top", **look)


def decimals(value: float, places: int) -> str:
    """A number with so many decimals, a zero without a sign."""
    return f"{round(value, places) + 0.0:.{places}f}"
