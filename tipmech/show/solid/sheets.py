"""Surfaces as arrays: grids of points with normals and quadrilaterals, joined to one mesh. Points in m, no plotter."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from ..view import Array, IntArray

if TYPE_CHECKING:
    from pyvista import PolyData

RGB = NDArray[np.uint8]
COLOUR = "colour"  # name of the colours of points in every mesh, (n, 3), 0 to 255
LEAST = 1e-15  # m2, a normal shorter than this is that of a cell with no area


class Sheet(NamedTuple):
    """points, normals : (n, 3), m and -; faces : (k, 4) indices of points; values : (n,) what is coloured by, if
    anything."""

    points: Array
    normals: Array
    faces: IntArray
    values: Array | None = None


@lru_cache(maxsize=64)
def grid_faces(rows: int, columns: int, closed: bool = False) -> IntArray:
    """Quadrilaterals of a grid of points counted row by row, (k, 4); closed: the last column meets the first."""
    number = np.arange(rows * columns).reshape(rows, columns)
    if closed:
        number = np.hstack([number, number[:, :1]])
    faces = np.stack([number[:-1, :-1], number[:-1, 1:], number[1:, 1:], number[1:, :-1]], axis=-1).reshape(-1, 4)
    faces.setflags(write=False)
    return faces


def cross(a: Array, b: Array) -> Array:
    """Cross products of vectors (..., 3): numpy's own takes three times as long for these sizes."""
    out = np.empty(np.broadcast_shapes(a.shape, b.shape))
    for k in range(3):
        i, j = (k + 1) % 3, (k + 2) % 3
        np.subtract(a[..., i] * b[..., j], a[..., j] * b[..., i], out=out[..., k])
    return out


def dot(a: Array, b: Array) -> Array:
    """Products of vectors (..., 3) with a last axis of one."""
    return np.asarray(np.einsum("...k,...k->...", a, b)[..., None])


def unit(vectors: Array) -> Array:
    """Vectors (..., 3) over their lengths; those without length stay as they are."""
    return np.asarray(vectors / np.maximum(np.sqrt(dot(vectors, vectors)), LEAST))


def grid_normals(points: Array, outward: Array) -> tuple[Array, bool]:
    """Unit normals of a grid of points (r, c, 3), in all on the side of `outward` (r, c, 3), and whether the faces of
    `grid_faces` look to the other side; where a cell has no area, `outward` itself."""
    normal = cross(_slopes(points.swapaxes(0, 1)).swapaxes(0, 1), _slopes(points))
    size = np.sqrt(dot(normal, normal))
    turned = float(np.vdot(normal, outward)) < 0.0
    flat = size < LEAST
    size[flat] = 1.0
    normal /= -size if turned else size
    np.copyto(normal, outward, where=flat)
    return normal, turned


def _slopes(points: Array) -> Array:
    """Central differences of points along the first axis, one-sided at the ends."""
    out = np.empty_like(points)
    np.subtract(points[2:], points[:-2], out=out[1:-1])
    np.subtract(points[1], points[0], out=out[0])
    np.subtract(points[-1], points[-2], out=out[-1])
    return out


def sheet(points: Array, outward: Array, keep: NDArray[np.bool_] | None = None, values: Array | None = None) -> Sheet:
    """Grid of points (r, c, 3) as a surface; keep : (r - 1, c - 1) cells to keep; values : (r, c)."""
    rows, columns = points.shape[:2]
    faces = grid_faces(rows, columns)
    if keep is not None:
        faces = faces[keep.reshape(-1)]
    normals, turned = grid_normals(points, outward)
    faces = faces[:, ::-1] if turned else faces
    return Sheet(points.reshape(-1, 3), normals.reshape(-1, 3), faces, None if values is None else values.reshape(-1))


def strip(one: Array, other: Array, keep: NDArray[np.bool_] | None = None) -> Sheet:
    """Flat-shaded band between two lines of points, each (n, 3); keep : (n - 1,) cells to keep."""
    corners = np.stack([one[:-1], one[1:], other[1:], other[:-1]], axis=1)
    if keep is not None:
        corners = corners[keep]
    normal = cross(corners[:, 2] - corners[:, 0], corners[:, 3] - corners[:, 1])
    size = np.sqrt(dot(normal, normal))[:, 0]
    corners, normal = corners[size > LEAST], normal[size > LEAST] / size[size > LEAST][:, None]
    count = len(corners)
    return Sheet(corners.reshape(-1, 3), np.repeat(normal, 4, axis=0), np.arange(4 * count).reshape(count, 4))


def slab(top: Array, bottom: Array, outward: Array, keep: NDArray[np.bool_] | None = None) -> list[Sheet]:
    """Body between two grids of points (r, c, 3): both faces and the four edges; keep: see `sheet`."""
    edges = [(top[0], bottom[0]), (top[-1], bottom[-1]), (top[:, 0], bottom[:, 0]), (top[:, -1], bottom[:, -1])]
    return [sheet(top, outward, keep), sheet(bottom, -outward, keep), *(strip(one, other) for one, other in edges)]


def tube(line: Array, radius: Array, first: Array, second: Array, sides: int, cap: bool = False) -> Sheet:
    """Round tube about a line (n, 3) with radius (n,), its rings in the planes of the axes `first`, `second` (n, 3).

    The normals are those of a cylinder: radii change slowly along a wire. cap : both ends are closed.
    """
    turn = np.linspace(0.0, 2.0 * np.pi, sides, endpoint=False)
    normals = np.cos(turn)[:, None] * first[:, None, :] + np.sin(turn)[:, None] * second[:, None, :]
    points = (line[:, None, :] + radius[:, None, None] * normals).reshape(-1, 3)
    normals, faces = normals.reshape(-1, 3), grid_faces(len(line), sides, closed=True)
    if not cap:
        return Sheet(points, normals, faces)
    return joined([Sheet(points, normals, faces), *(_disc(line, radius, first, second, k, sides) for k in (0, -1))])


def _disc(line: Array, radius: Array, first: Array, second: Array, k: int, sides: int) -> Sheet:
    """Flat end of a tube, as quadrilaterals about its middle."""
    turn = np.linspace(0.0, 2.0 * np.pi, sides, endpoint=False)
    rim = line[k] + radius[k] * (np.cos(turn)[:, None] * first[k] + np.sin(turn)[:, None] * second[k])
    normal = np.cross(first[k], second[k]) * (1.0 if k else -1.0)
    number = np.arange(0, sides, 2)
    faces = np.column_stack([np.full(len(number), sides), number, number + 1, (number + 2) % sides])
    return Sheet(np.vstack([rim, line[k]]), np.tile(normal, (sides + 1, 1)), faces)


def joined(sheets: Sequence[Sheet]) -> Sheet:
    """Several surfaces as one."""
    if len(sheets) == 1:
        return sheets[0]
    starts = np.cumsum([0, *(len(part.points) for part in sheets[:-1])])
    values = None
    if all(part.values is not None for part in sheets):
        values = np.concatenate([part.values for part in sheets if part.values is not None])
    return Sheet(
        np.concatenate([part.points for part in sheets]),
        np.concatenate([part.normals for part in sheets]),
        np.concatenate([part.faces + start for part, start in zip(sheets, starts, strict=True)]),
        values,
    )


def mesh(surface: Sheet, colour: str | RGB, name: str = "") -> PolyData:
    """A surface as a mesh with normals and colours.

    Parameters
    ----------
    surface : Sheet
        its values, if any, are kept under `name`
    colour : str or ndarray of uint8, shape (n, 3)
        one colour, or one for each point
    """
    import pyvista
    from matplotlib.colors import to_rgb

    points: Any = surface.points.astype(np.float32)
    faces: Any = surface.faces
    out: PolyData = pyvista.PolyData.from_regular_faces(points, faces)
    normals: Any = surface.normals.astype(np.float32)
    out.point_data.active_normals = normals
    if isinstance(colour, str):
        one = np.round(255.0 * np.array(to_rgb(colour))).astype(np.uint8)
        colour = np.broadcast_to(one, (len(surface.points), 3)).copy()
    out.point_data[COLOUR] = colour
    if surface.values is not None:
        out.point_data[name] = surface.values
    return out
