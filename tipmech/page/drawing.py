"""A drawing on the page: an SVG of named shapes, of which only what changes is sent."""

from collections.abc import Callable
from typing import Any

from nicegui.element import Element

from .board import Board
from .paths import Paint, Shape


class Drawing(Element, component="drawing.js"):
    """An SVG of shapes.

    Parameters
    ----------
    board : Board
        what takes its changes
    shapes : list of Shape
        in drawing order
    label : str
        what is to be seen, for those who do not see it
    box : str
        viewBox until another is sent
    on_painted : callable, optional
        called with the number of a frame once the browser has drawn it
    """

    def __init__(
        self,
        board: Board,
        shapes: list[Shape],
        label: str,
        box: str,
        on_painted: Callable[[int], None] | None = None,
    ) -> None:
        super().__init__()
        self._board = board
        self.props["shapes"] = [shape._asdict() for shape in shapes]
        self.props["label"] = label
        self.props["first"] = box
        if on_painted is not None:
            self.on("painted", lambda event: on_painted(int(event.args)))

    def draw(self, news: Paint, box: str | None = None, number: int = 0) -> None:
        """Show what changed, from the board's next `send` on; number : of the frame, for `on_painted` (0: none)."""
        self._board.call(self, "draw", news, box, number)

    def reshape(self, shapes: list[Shape]) -> None:
        """Other looks for the shapes, by name."""
        now: list[dict[str, Any]] = [shape._asdict() for shape in shapes]
        if now != self.props["shapes"]:
            self.props["shapes"] = now
            self.update()
