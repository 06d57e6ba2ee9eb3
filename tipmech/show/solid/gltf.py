"""A scene as one binary glTF 2.0 file (.glb): lengths in m as that standard has them, a named mesh for each part."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from ... import CAUTION, __version__
from ...whole import whole_file
from .scene import RIMS, SEE_THROUGH
from .sheets import COLOUR

if TYPE_CHECKING:
    from pyvista import PolyData

ROUGHNESS = 0.7  # -, of all surfaces: a little gloss


def glb_bytes(parts: Mapping[str, PolyData], title: str) -> bytes:
    """Meshes by name as a binary glTF file, the caution in its asset's `copyright` and `extras`."""
    import trimesh

    scene = trimesh.Scene()
    for name, part in parts.items():
        scene.add_geometry(_geometry(name, part), node_name=name, geom_name=name)

    def finish(tree: dict[str, Any]) -> None:
        tree["asset"] |= {
            "generator": f"tipmech {__version__}",
            "copyright": CAUTION,
            "extras": {"title": title, "caution": CAUTION, "data": "vessel, tear and wire are invented"},
        }

    return bytes(trimesh.exchange.gltf.export_glb(scene, include_normals=True, tree_postprocessor=finish))


def _geometry(name: str, part: PolyData) -> Any:
    """One part, its quadrilaterals cut in two."""
    from trimesh import Trimesh
    from trimesh.visual import TextureVisuals
    from trimesh.visual.material import PBRMaterial

    quads = np.asarray(part.regular_faces)
    faces = np.concatenate([quads[:, [0, 1, 2]], quads[:, [0, 2, 3]]])
    clear = SEE_THROUGH.get(name, 1.0)
    material = PBRMaterial(
        name=name, baseColorFactor=[255, 255, 255, round(255 * clear)], metallicFactor=0.0, roughnessFactor=ROUGHNESS,
        alphaMode="BLEND" if clear < 1.0 else "OPAQUE", doubleSided=name not in RIMS,
    )  # fmt: skip
    visual = TextureVisuals(material=material)
    opaque = np.full((part.n_points, 1), 255, dtype=np.uint8)
    visual.vertex_attributes["color"] = np.hstack([np.asarray(part.point_data[COLOUR]), opaque])
    points, normals = np.asarray(part.points), np.asarray(part.point_data.active_normals)
    return Trimesh(points, faces, vertex_normals=normals, visual=visual, process=False, validate=False)


def save_glb(data: bytes, path: Path | str) -> Path:
    """Write a file of `glb_bytes` under a temporary name first."""
    path = Path(path)
    with whole_file(path) as temporary:
        temporary.write_bytes(data)
    return path
