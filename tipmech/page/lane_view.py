"""One wire on the page: its contest of forces, its section, its numbers."""

from collections.abc import Callable
from typing import Any

from nicegui import ui

from ..show import style
from .board import Board, Words
from .drawing import Drawing
from .looks import CHART_BOX, ENERGIES, FORCES, LIMITS, NUMBERS, STRAIN, STRAIN_COLOURS, chart_shapes, section_shapes

STRAIN_WORDS = "bending strain of the wire's outer fibre, beyond its shaped form"
WIRE_WORDS = "Magenta outline: in the false lumen. True diameter, equal scales."
START_BOX = "10 -2.25 15 9"
START_WIDTH = 0.356  # mm, until the first frame says it


class LaneView:
    """What is shown of one wire.

    Parameters
    ----------
    board : Board
        what takes its changes
    number : int
        1 or 2
    on_painted : callable, optional
        called with the number of a frame once its section has been drawn
    """

    def __init__(self, board: Board, number: int, on_painted: Callable[[int], None] | None) -> None:
        self._board = board
        with (
            ui.element("section").classes("lane").props(f'aria-label="wire {number}" data-lane="{number}"') as self.root
        ):
            with ui.element("div").classes("lane-head"):
                self._title = Words(board).classes("lane-title")
                self.regime = Words(board, "The solver is being started.").classes("regime").props('data-say="regime"')
            with ui.element("div").classes("lane-main"):
                self._contest()
                with ui.element("div").classes("panel"):
                    self._section = Drawing(
                        board,
                        section_shapes(START_WIDTH),
                        "section through the tear with the wire",
                        START_BOX,
                        on_painted,
                    ).classes("section")
                    _scale()
                    ui.label(WIRE_WORDS).classes("hint")
            with ui.element("div").classes("numbers"):
                self._numbers = {name: _number(board, words, unit, name) for name, words, unit in NUMBERS}

    def _contest(self) -> None:
        with ui.element("div").classes("panel contest"):
            self.leads = Words(self._board).classes("leads").props('data-say="leads"')
            self._chart = Drawing(self._board, chart_shapes(), "forces over the travel of the hand", CHART_BOX).classes(
                "chart"
            )
            with ui.element("div").classes("key"):
                for _, words, colour, dashes in FORCES:
                    _key(words, colour, dashes, 2.0)
                for _, words, colour in LIMITS:
                    _key(f"what {words} (model)", colour, "1 3", 1.5)
            self.limits = Words(self._board).classes("hint").props('data-say="limits"')

    def show(self, data: dict[str, Any], number: int) -> None:
        """Show a frame's data of this wire."""
        self._section.reshape(section_shapes(data["diameter_mm"]))
        self._section.draw(data["section"], data["box"], number)
        if data["chart"]:
            self._chart.draw(data["chart"])
        self._title.say(data["title"])
        self.regime.say(data["regime"])
        self.leads.say(data["leads"])
        self.limits.say(data["limits"])
        for name, _, unit in NUMBERS:
            self._numbers[name].say(f"{data['numbers'][name]:z.2f} {unit}")


def _number(board: Board, words: str, unit: str, name: str) -> Words:
    """A number with its name."""
    with ui.element("div").classes("number"):
        ui.label(words).classes("hint")
        return Words(board, f"0 {unit}").classes("value").props(f'data-number="{name}"')


def _scale() -> None:
    """The colours of the wire, each with the strain up to which it goes."""
    with ui.element("div").classes("key"):
        for k, colour in enumerate(STRAIN_COLOURS, start=1):
            last = k == len(STRAIN_COLOURS)
            end = f"{STRAIN * ((k - last) / len(STRAIN_COLOURS)) ** 2:.1%}"
            with ui.element("span").classes("key-line"):
                ui.element("span").classes("swatch").style(f"background: {colour}")
                ui.label(f"{'over' if last else 'to'} {end}")
        ui.label(STRAIN_WORDS).classes("hint")


def _key(words: str, colour: str, dashes: str, width: float) -> None:
    """A line of the chart's key."""
    with ui.element("span").classes("key-line"):
        sample = {"stroke": colour, "stroke-width": width, "stroke-dasharray": dashes}
        with ui.element("svg").props('viewBox="0 0 26 8" width="26" height="8" aria-hidden="true"'):
            line = ui.element("path")
            line.props["d"] = "M0 4H26"
            for name, value in sample.items():
                line.props[name] = value
        ui.label(words)


class EnergyTable:
    """Where the work of the hand went, a column a wire."""

    def __init__(self, board: Board) -> None:
        with ui.element("table").classes("energies"), ui.element("tbody"):
            self._cells: list[list[Words]] = []
            for _, words in ENERGIES:
                with ui.element("tr"):
                    with ui.element("th").props('scope="row"'):
                        ui.label(words)
                    row = []
                    for _ in range(2):
                        with ui.element("td"):
                            row.append(Words(board))
                    self._cells.append(row)

    def show(self, lanes: list[dict[str, Any]]) -> None:
        """Show energies (microjoules) of the wires."""
        for row, (name, _) in zip(self._cells, ENERGIES, strict=True):
            for k, cell in enumerate(row):
                cell.say(f"{lanes[k]['energies'][name]:z.2f}" if k < len(lanes) else "")


COLOURS = {"primary": style.SERIES[0], "secondary": style.MUTED, "accent": style.SERIES[4]}
