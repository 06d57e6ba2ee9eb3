"""What changes with every frame: calls of components' own methods, all of a frame in one message.

A change of a text or a property in the framework's own tree renders the whole tree anew in the browser (20 to 40 ms of
this page); a component's method changes its own few nodes.
"""

from typing import Any

from nicegui.element import Element


class Board(Element, component="board.js"):
    """Collects calls and hands them to the browser together."""

    def __init__(self) -> None:
        super().__init__()
        self._calls: list[tuple[int, str, tuple[Any, ...]]] = []

    def call(self, element: Element, method: str, *args: Any) -> None:
        """Have a component's method called at the next `send`."""
        self._calls.append((element.id, method, args))

    def send(self) -> None:
        """Send what was collected."""
        if self._calls:
            self.run_method("carry", self._calls)
            self._calls = []


class Words(Element, component="words.js"):
    """A text that changes often.

    Parameters
    ----------
    board : Board
        what takes its changes
    first : str
        text until another is said
    """

    def __init__(self, board: Board, first: str = "") -> None:
        super().__init__()
        self._board, self._said = board, first
        self.props["first"] = first

    def say(self, text: str) -> None:
        """Show another text from the board's next `send` on."""
        if text != self._said:
            self._said = text
            self._board.call(self, "say", text)


class Picture(Element, component="picture.js"):
    """A picture that changes often; the attribute `data-pictures` counts them.

    Parameters
    ----------
    board : Board
        what takes its changes
    size : tuple of int
        width and height, pixels
    label : str
        what is to be seen, for those who do not see it
    """

    def __init__(self, board: Board, size: tuple[int, int], label: str) -> None:
        super().__init__()
        self._board = board
        self.props["width"], self.props["height"] = size
        self.props["label"] = label

    def show(self, url: str) -> None:
        """Show another picture from the board's next `send` on."""
        self._board.call(self, "show", url)
