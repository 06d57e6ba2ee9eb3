"""Pages made of blocks one below the other: one long picture, or sheets of paper. Lengths in inches."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from .style import new_figure

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


@dataclass(frozen=True)
class Sheet:
    """A figure on which places are counted from its upper left corner."""

    figure: Figure

    @classmethod
    def of(cls, width: float, height: float) -> Sheet:
        """Empty sheet."""
        return cls(new_figure(width, height))

    @property
    def width(self) -> float:
        """Width."""
        return float(self.figure.get_size_inches()[0])

    @property
    def height(self) -> float:
        """Height."""
        return float(self.figure.get_size_inches()[1])

    def place(self, left: float, top: float, width: float, tall: float) -> Axes:
        """Axes with their upper left corner at (left, top)."""
        w, h = self.width, self.height
        return self.figure.add_axes((left / w, (h - top - tall) / h, width / w, tall / h))

    def at(self, left: float, top: float) -> tuple[float, float]:
        """Place in the figure's own coordinates."""
        return left / self.width, 1.0 - top / self.height


@dataclass(frozen=True)
class Block:
    """A piece of a page.

    height : what it takes
    draw : draws it on a sheet from a height below the sheet's upper edge on; told whether the next block of the sheet
        is of another kind
    kind : blocks of one kind belong together: an axis is labelled under the last of them
    """

    height: float
    draw: Callable[[Sheet, float, bool], None]
    kind: str


def lay(sheet: Sheet, blocks: Sequence[Block], top: float) -> None:
    """Draw blocks one below the other, from a height below the sheet's upper edge on."""
    for k, block in enumerate(blocks):
        block.draw(sheet, top, k + 1 == len(blocks) or blocks[k + 1].kind != block.kind)
        top += block.height


def packed(blocks: Sequence[Block], room: float) -> list[list[Block]]:
    """Blocks in order on as few sheets as hold them, `room` high each; one higher than that has its own."""
    sheets: list[list[Block]] = []
    left = 0.0
    for block in blocks:
        if not sheets or block.height > left:
            sheets.append([])
            left = room
        sheets[-1].append(block)
        left -= block.height
    return sheets
