"""The page's keys: which goes down, and the end of the one that moves the wire, however its key is let go."""

from collections.abc import Callable
from typing import Any

from nicegui.element import Element

from .keys import EVERYWHERE, HELD_STEPS, of_key


class Keyboard(Element, component="keyboard.js"):
    """Hears keys; letters typed into a field are no keys of the page, but for those in `EVERYWHERE`.

    A move lasts as long as its key is held: it ends when the key goes up, with whatever modifier and wherever the focus
    is by then, when the window or the tab loses the focus or is hidden, and when the browser is no longer heard of.

    Parameters
    ----------
    on_ask : callable
        called with what a key that goes down asks for (`keys.of_key`)
    on_let_go : callable
        called when the key that moves the wire is no longer held
    """

    def __init__(self, on_ask: Callable[[str], None], on_let_go: Callable[[], None]) -> None:
        super().__init__()
        self._on_ask, self._on_let_go = on_ask, on_let_go
        self._moving: str | None = None
        self.props["everywhere"] = list(EVERYWHERE)
        self.on("down", lambda event: self._down(event.args))
        self.on("up", lambda event: self._up(event.args))
        self.on("release", self.let_go)

    def _down(self, key: dict[str, Any]) -> None:
        asked = of_key(str(key["key"]), shift=bool(key["shift"]))
        if asked is None:
            return
        self._moving = str(key["code"]) if asked in HELD_STEPS else None
        self._on_ask(asked)

    def _up(self, key: dict[str, Any]) -> None:
        if key["code"] == self._moving:
            self.let_go()

    def let_go(self) -> None:
        """End what a held key does; does nothing where none is held."""
        if self._moving is not None:
            self._moving = None
            self._on_let_go()
