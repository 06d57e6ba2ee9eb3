"""The choice of a wire: a preset as designed, or scaled to a tip load; the second wire can be left out."""

from collections.abc import Callable

from nicegui import ui

from ..wire.presets import PRESETS
from .controls import TIP_LOAD, Wire
from .dial import Dial

NONE = "no second wire"


class WireView:
    """Choice of one wire.

    Parameters
    ----------
    number : int
        1 or 2; the second can be none
    on_set : callable
        called after every change
    """

    def __init__(self, number: int, on_set: Callable[[], None]) -> None:
        self._on_set, self._quiet = on_set, False
        names = {name: name.replace("_", " ") for name in PRESETS}
        options = names if number == 1 else {NONE: NONE, **names}
        first = "workhorse" if number == 1 else NONE
        with ui.element("div").classes("wire").props(f'role="group" aria-label="wire {number}" data-wire="{number}"'):
            self._preset = ui.select(options, value=first, label=f"wire {number}", on_change=self._changed)
            self._preset.props(f'dense outlined options-dense aria-label="wire {number}"')
            self._words = ui.label(PRESETS["workhorse"] if number == 1 else "").classes("hint")
            self._scaled = ui.checkbox("scale it to a tip load", value=False, on_change=self._changed).props("dense")
            self._load = Dial(TIP_LOAD, lambda value: self._changed())
        self._follow()

    @property
    def wire(self) -> Wire | None:
        """The wire chosen."""
        if self._preset.value in (NONE, None):
            return None
        return Wire(str(self._preset.value), self._load.value if self._scaled.value else None)

    def set(self, wire: Wire | None) -> None:
        """Show a wire without reporting it."""
        self._quiet = True
        self._preset.value = NONE if wire is None else wire.preset
        self._scaled.value = wire is not None and wire.tip_load_gf is not None
        if wire is not None and wire.tip_load_gf is not None:
            self._load.set(wire.tip_load_gf)
        self._quiet = False
        self._follow()

    def own_loads(self, loads: dict[str, float]) -> None:
        """Say what the preset has as designed."""
        if self._preset.value in loads:
            self._words.text = f"{PRESETS[str(self._preset.value)]}; as designed {loads[self._preset.value]:.2f} gf"

    def _changed(self) -> None:
        self._follow()
        if not self._quiet:
            self._on_set()

    def _follow(self) -> None:
        """What cannot be used is greyed."""
        there = self.wire is not None
        self._scaled.set_enabled(there)
        self._load.enable(there and bool(self._scaled.value))
        self._words.text = PRESETS.get(str(self._preset.value), "")
