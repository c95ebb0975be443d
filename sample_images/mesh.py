"""Builds Mitsuba meshes from arrays."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from sample_images.scene import Spec, mitsuba

if TYPE_CHECKING:
    import numpy.typing as npt

    Array = npt.NDArray[Any]


def mesh(
    name: str, vertices: Array, normals: Array, faces: npt.NDArray[np.integer], bsdf: Spec,
    colours: Array | None = None,
) -> Any:  # noqa: ANN401 - Mitsuba's objects are untyped  # fmt: skip
    """Return a mesh in world coordinates [mm], with a colour for each vertex as "vertex_colour"."""
    mi = mitsuba()
    properties = mi.Properties()
    properties["mesh_bsdf"] = mi.load_dict(bsdf)
    shape = mi.Mesh(
        name, len(vertices), len(faces), has_vertex_normals=True, props=properties
    )  # fmt: skip
    parameters = mi.traverse(shape)
    parameters["vertex_positions"] = vertices.astype(np.float32).ravel()
    parameters["vertex_normals"] = normals.astype(np.float32).ravel()
    parameters["faces"] = faces.astype(np.uint32).ravel()
    if colours is not None:
        shape.add_attribute("vertex_colour", 3, colours.astype(np.float32).ravel())
    parameters.update()
    return shape
