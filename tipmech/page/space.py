"""The process that draws a wire of one tab in three dimensions: rows in, pictures (JPEG) out, one JSON document a line.

`python -m tipmech.page.space` reads from standard input and ends with it. Of rows that come faster than they are drawn
only the last is. Meshes are those of show/solid; what stands still is made once a case, what was opened only when it
changes.
"""

import json
import os
import sys
import threading
import time
from base64 import b64encode
from collections.abc import Callable
from dataclasses import replace
from io import BytesIO
from math import radians
from queue import Queue
from typing import TYPE_CHECKING, Any

import numpy as np
from scipy.spatial.transform import Rotation

from ..insertion.case import Case
from ..insertion.record import Record
from ..insertion.record_file import case_from_json
from ..show.solid.parts import flap_parts, opened_parts, vessel_parts, wire_parts
from ..show.solid.scene import NO_DRAWING, RIMS, CannotDraw, Eye, add_part, build, look_from, whole_view
from .looks import SPACE_SIZE, STRAIN
from .rest import at_rest
from .row import row_record

if TYPE_CHECKING:
    from pyvista import PolyData

SHOWN = 10e-3  # m of vessel shown beyond the tear
PACE = 1.0 / 9.0  # s between pictures, at least: what is left of two processors is the solver's and the browser's
QUALITY = 82  # of JPEG: 15 to 30 kB a picture
CUT_AWAY = "cut-away side"  # not drawn: the wire lies behind it
SEEN_THROUGH = {"flap": 0.6, "support": 0.45}  # share of light that a part keeps
WIDE = 1.15  # of the view that holds tear, front and wire


class Space:
    """A scene that lives: parts are exchanged as rows come in."""

    def __init__(self) -> None:
        self._plotter: Any = None
        self._record: Record | None = None
        self._case: Case | None = None
        self._opened: tuple[bytes, ...] = ()
        self._turned = (0.0, 0.0, 1.0)

    def take_case(self, case: Case) -> None:
        """Put another case in place, its wire as laid."""
        self._case = replace(case, stop=replace(case.stop, advance_past_tear=SHOWN))
        self._record = at_rest(self._case)
        if self._plotter is not None:
            self._plotter.close()
        self._plotter, self._opened = None, ()

    def take_row(self, data: dict[str, Any]) -> None:
        """Take a row of the record (`row.row_data`)."""
        if self._case is not None:
            self._record = row_record(self._case, data)

    def turn(self, azimuth: float, elevation: float, zoom: float) -> None:
        """Turn the view about the vertical and the horizontal (degrees) from the first one, and enlarge it."""
        self._turned = (azimuth, elevation, zoom)

    def picture(self) -> bytes:
        """The scene as JPEG.

        Raises
        ------
        CannotDraw
            where the machine draws nothing
        """
        record = self._record
        assert record is not None
        if self._plotter is None:
            self._start(record)
        else:
            self._exchange(record)
        look_from(self._plotter, self._eye(record))
        try:
            self._plotter.render()
            raw = self._plotter.screenshot(return_img=True)
        except (RuntimeError, AttributeError) as error:
            raise CannotDraw(f"{NO_DRAWING} ({error})") from None
        return _jpeg(np.asarray(raw))

    def _start(self, record: Record) -> None:
        """Scene of all parts. One light, few see-through parts, edges not smoothed: of a processor that draws in place
        of a graphics card this takes a third of the time of a still picture's scene (180 to 60 ms)."""
        from pyvista import Light

        parts = vessel_parts(record.case) | self._moving(record, everything=True)
        parts.pop(CUT_AWAY, None)
        self._plotter = build(parts, whole_view(record, 0, SPACE_SIZE[0] / SPACE_SIZE[1]), SPACE_SIZE)
        self._plotter.disable_anti_aliasing()
        self._plotter.remove_all_lights()
        self._plotter.add_light(Light(light_type="headlight"))
        for name, actor in self._plotter.actors.items():
            actor.prop.opacity = SEEN_THROUGH.get(name, 1.0)

    def _exchange(self, record: Record) -> None:
        """Exchange the parts that moved; those of them that are no longer there are hidden."""
        parts = self._moving(record, everything=False)
        actors = self._plotter.actors
        for name, part in parts.items():
            if name in actors:
                actors[name].mapper.SetInputData(part)
            else:
                add_part(self._plotter, name, part)
        for name in RIMS:
            if name in actors:
                actors[name].SetVisibility(name in parts)

    def _moving(self, record: Record, *, everything: bool) -> dict[str, "PolyData"]:
        """Parts that moved since they were last asked for, or all."""
        parts = wire_parts(record, -1, strain=STRAIN) | flap_parts(record, -1)
        opened = (record.front.tobytes(), record.margins.tobytes(), record.holes.tobytes())
        if everything or opened != self._opened:
            self._opened = opened
            parts |= opened_parts(record, -1)
        return parts

    def _eye(self, record: Record) -> Eye:
        """The view as it has been turned."""
        eye = whole_view(record, -1, SPACE_SIZE[0] / SPACE_SIZE[1])
        azimuth, elevation, zoom = self._turned
        turn = Rotation.from_rotvec(radians(azimuth) * eye.up) * Rotation.from_rotvec(radians(elevation) * eye.right)
        right, up, toward = turn.apply(np.stack([eye.right, eye.up, eye.toward]))
        return Eye(eye.middle, right, up, toward, WIDE * eye.half / zoom)


def _jpeg(pixels: np.ndarray[Any, Any]) -> bytes:
    from PIL import Image

    out = BytesIO()
    Image.fromarray(pixels[..., :3]).save(out, "JPEG", quality=QUALITY)
    return out.getvalue()


def handle(space: Space, command: dict[str, Any]) -> bool:
    """Take a command; returns whether a picture is to be drawn."""
    kind = command.get("do")
    if kind == "case":
        space.take_case(case_from_json(command["case"]))
    elif kind == "row":
        space.take_row(command["row"])
    elif kind == "turn":
        space.turn(command["azimuth"], command["elevation"], command["zoom"])
    return kind in ("row", "turn")


def run(queue: "Queue[dict[str, Any] | None]", emit: Callable[[dict[str, Any]], None]) -> None:
    """Draw until None comes."""
    space, began = Space(), 0.0
    while True:
        commands = [queue.get()]
        time.sleep(max(0.0, began + PACE - time.monotonic()))
        while not queue.empty():
            commands.append(queue.get())
        wanted, number = False, 0
        for command in commands:
            if command is None:
                return
            wanted = handle(space, command) or wanted
            number = command.get("number", number)
        if not wanted:
            continue
        began = time.monotonic()
        try:
            picture = b64encode(space.picture()).decode()
            emit({"kind": "picture", "number": number, "jpeg": picture})
        except Exception as error:  # the page goes on without it, and says so
            emit({"kind": "no_picture", "text": str(error)[:400]})


def main() -> int:
    """Run until standard input ends. A processor that draws does so in one thread: more take a fifth more of it."""
    os.environ.setdefault("LP_NUM_THREADS", "0")
    out = sys.stdout
    sys.stdout = sys.stderr

    def emit(message: dict[str, Any]) -> None:
        try:
            out.write(json.dumps(message) + "\n")
            out.flush()
        except BrokenPipeError:
            os._exit(0)  # whoever listened is gone

    queue: Queue[dict[str, Any] | None] = Queue()

    def read() -> None:
        for text in sys.stdin:
            queue.put(json.loads(text))
        queue.put(None)

    threading.Thread(target=read, daemon=True).start()
    run(queue, emit)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
