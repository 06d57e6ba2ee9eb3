"""A figure drawn once, over which each frame draws only what moves.

To draw a figure anew takes a tenth of a second and more; to restore its pixels and draw some ten artists over them
takes a hundredth.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable
from typing import TYPE_CHECKING, Any, cast

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.transforms import Bbox

BESIDE = 1.12  # of an axes' size, kept of a panel with what stands just outside it


class Stage:
    """A figure's fixed pixels, and panels kept until what they show changes."""

    def __init__(self, figure: Figure) -> None:
        self.figure = figure
        self.canvas = cast(Any, figure.canvas)  # of style.new_figure: Agg's
        self.canvas.draw()
        self.renderer = self.canvas.get_renderer()
        self.fixed = self.canvas.copy_from_bbox(figure.bbox)
        self.kept: dict[Axes | Figure, tuple[Hashable, Any]] = {}

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
