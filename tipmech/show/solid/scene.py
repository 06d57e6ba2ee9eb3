"""Meshes put together to a scene: how solid each part is, a camera that sees the tear, pixels without a display.

Every view is a parallel projection: one scale all over the picture.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, cast

import numpy as np
from numpy.typing import NDArray

from ...insertion.opened import azimuth
from ...insertion.record import Record
from ..view import Array, frames_at, project
from .sheets import COLOUR, unit

if TYPE_CHECKING:
    from pyvista import Plotter, PolyData

SEE_THROUGH = {  # share of light that a part keeps
    "outer wall": 0.5, "media": 0.5, "adventitia": 0.4, "narrowing": 0.6, "cut-away side": 0.05, "support": 0.45,
    "inner layer": 0.7, "flap": 0.68, "plane": 0.62, "plug": 0.45,
}  # fmt: skip
RIMS = ("rim outside", "rim inside")
TURNED = np.radians(52.0)  # of the view from the lumen toward the side on which the wall is cut away,
ALONG = 0.22  # and a little from downstream, over the distance
FAR = 0.2  # m from the middle of the picture to the eye: beyond every scene
SHARPER = 2  # pixels drawn to one of the picture, either way
BEFORE, BEYOND, AROUND = 2.0e-3, 1.2e-3, 0.9e-3  # m shown before the tear, beyond the front, and round it all
CLOSE = 2.1e-3  # m, half the height of the near view
MOST = 13e-3  # m, half the height of the whole view at most: beyond it a wire is a thread
NEAR_BACK = 2.5e-3  # m of wire behind the tip that the near view is about


class CannotDraw(RuntimeError):
    """No picture can be drawn here, in one sentence."""


@dataclass(frozen=True)
class Eye:
    """A parallel view: middle of the picture (m), directions to the right, up and toward the eye, half its height
    (m)."""

    middle: Array
    right: Array
    up: Array
    toward: Array
    half: float

    def pixels(self, points: Array, size: tuple[int, int]) -> Array:
        """Places of points (n, 3) in a picture of size (width, height), from its upper left corner, (n, 2)."""
        apart = (np.asarray(points) - self.middle) * (0.5 * size[1] / self.half)
        return np.column_stack([0.5 * size[0] + apart @ self.right, 0.5 * size[1] - apart @ self.up])


def axes_at(record: Record, s: float) -> tuple[Array, Array, Array, Array]:
    """Point on the centreline at s (m), directions along it, toward the tear's azimuth there and a quarter turn on."""
    scene = record.case.scene
    point, along, first, second = (v[0] for v in frames_at(scene.centreline, np.array([s])))
    phi = float(azimuth(scene, np.array(s), 0.0))
    return point, along, np.cos(phi) * first + np.sin(phi) * second, np.cos(phi) * second - np.sin(phi) * first


def whole_view(record: Record, row: int, aspect: float) -> Eye:
    """View that holds tear, plane, front and the wire beyond the tear; aspect: width over height."""
    scene = record.case.scene
    tear, wire = scene.tear, record.positions[row]
    s, depth, lateral = project(scene, wire)
    ends = [tear.start - BEFORE, float(record.front[row]) + BEYOND, float(s[-1]) + BEYOND]
    if record.case.scene.channel.retrograde is not None:
        ends.append(float(np.nan_to_num(record.front_back[row], nan=tear.start)) - BEYOND)
    first, last = max(min(ends), tear.start - MOST), max(ends)
    point = frames_at(scene.centreline, np.linspace(first, last, 12))[0]
    wide = float(scene.lumen.at(tear.end)) + scene.wall.flap_thickness
    near = np.hypot(depth, lateral) < 1.5 * wide  # not what comes from afar in a tilted support
    shown = np.vstack([point, wire[(s > first) & (s < last) & near]])
    return _fitted(record, float(np.clip(0.5 * (tear.start + tear.end), first, last)), shown, wide + AROUND, aspect)


def near_view(record: Record, row: int, aspect: float) -> Eye:
    """View of the tip and what it touches."""
    wire = record.positions[row]
    arc = np.cumsum(np.linalg.norm(np.diff(wire[::-1], axis=0), axis=1))
    near = wire[::-1][: int(np.searchsorted(arc, NEAR_BACK)) + 2]
    s, _, _ = project(record.case.scene, near)
    eye = _fitted(record, float(np.mean(s)), near, 0.0, aspect)
    return Eye(eye.middle, eye.right, eye.up, eye.toward, max(CLOSE, eye.half + AROUND))


def _fitted(record: Record, s: float, points: Array, beside: float, aspect: float) -> Eye:
    """View from the lumen, past the side that is cut away, with the vessel from right to left as at s."""
    _, along, depth, lateral = axes_at(record, s)
    toward = unit(-np.cos(TURNED) * depth + np.sin(TURNED) * lateral + ALONG * along)
    up = unit(-depth - float(-depth @ toward) * toward)
    right = np.cross(up, toward)
    flat = np.column_stack([points @ right, points @ up])
    low, high = flat.min(axis=0) - beside, flat.max(axis=0) + beside
    half = max(0.5 * (high[1] - low[1]), 0.5 * (high[0] - low[0]) / aspect)
    centre = 0.5 * (low + high)
    middle = centre[0] * right + centre[1] * up + float(points.mean(axis=0) @ toward) * toward
    return Eye(middle, right, up, toward, min(half, MOST))


def build(parts: Mapping[str, PolyData], eye: Eye, size: tuple[int, int]) -> Plotter:
    """Scene of meshes by name, looked at from an eye, not yet drawn; size in pixels."""
    import pyvista

    quiet()
    plotter: Any = pyvista.Plotter(off_screen=True, window_size=list(size))
    plotter.set_background("white")
    for name, part in parts.items():
        add_part(plotter, name, part)
    look_from(plotter, eye)
    return cast("Plotter", plotter)


def add_part(plotter: Plotter, name: str, part: PolyData) -> None:
    """Add a mesh to a scene, as solid as its name says; one of the same name goes."""
    rim = name in RIMS
    options: dict[str, Any] = {"culling": "back"} if rim else {"specular": 0.15, "ambient": 0.18}
    plotter.add_mesh(
        part, scalars=COLOUR, rgb=True, opacity=SEE_THROUGH.get(name, 1.0), lighting=not rim, smooth_shading=True,
        split_sharp_edges=False, name=name, show_scalar_bar=False, **options,
    )  # fmt: skip


def look_from(plotter: Plotter, eye: Eye) -> None:
    """Set a scene's camera."""
    camera = plotter.camera
    camera.parallel_projection = True
    camera.focal_point = eye.middle
    camera.position = eye.middle + FAR * eye.toward
    camera.up = eye.up
    camera.parallel_scale = eye.half
    plotter.reset_camera_clipping_range()


def drawn(plotter: Plotter, eye: Eye, size: tuple[int, int]) -> NDArray[np.uint8]:
    """Pixels of a scene from an eye, (height, width, 3), drawn finer and averaged.

    Raises
    ------
    CannotDraw
        where the machine draws nothing
    """
    from PIL import Image

    check_can_draw()
    look_from(plotter, eye)
    plotter.window_size = [SHARPER * size[0], SHARPER * size[1]]
    raw = np.asarray(plotter.screenshot(return_img=True))
    if raw.min() == raw.max():
        raise CannotDraw(NO_DRAWING)
    image = Image.fromarray(raw[..., :3]).resize(size, Image.Resampling.LANCZOS)
    return np.asarray(image)


NO_DRAWING = (
    "no picture of a scene can be drawn here: there is neither a graphics card's OpenGL by EGL or a display, nor a "
    "software one (Mesa's EGL or OSMesa)"
)


def check_can_draw() -> None:
    """Refuse, before VTK would end the process, where it has no OpenGL to draw with.

    Raises
    ------
    CannotDraw
        in one sentence
    """
    if not _has_context():
        raise CannotDraw(NO_DRAWING)


def _has_context() -> bool:
    """Whether VTK gets an OpenGL context without a window on a display."""
    import vtkmodules.vtkRenderingOpenGL2  # noqa: F401 (makes the window below one that draws)
    from vtkmodules.vtkRenderingCore import vtkRenderWindow

    quiet()
    window: Any = vtkRenderWindow()
    window.SetOffScreenRendering(True)
    window.Initialize()
    able = bool(window.IsCurrent())
    window.Finalize()
    return able


def quiet() -> None:
    """Keep VTK from writing to stderr that there is no display: it then draws without one."""
    from vtkmodules.vtkCommonCore import vtkLogger

    vtkLogger.SetStderrVerbosity(vtkLogger.VERBOSITY_ERROR)
