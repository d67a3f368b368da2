"""3MF files: millimetres, named objects, material name, the same bytes for the same bodies.

lib3mf draws random identifiers; they are set from the content instead (uuid5 of the mesh bytes).

Meshes keep their frame; the build places them on the bed, inside the positive octant: 3MF Core 1.4.0 puts the origin at the bottom,
front, left corner of the build space.
"""

import ctypes
import hashlib
import io
import uuid
from collections.abc import Mapping
from pathlib import Path
from types import ModuleType
from typing import TYPE_CHECKING

import numpy as np

from print3d.errors import ExportError
from print3d.geometry.frames import rigid
from print3d.geometry.mesh import Mesh
from print3d.geometry.types import Floats
from print3d.language.message import message

if TYPE_CHECKING:
    from lib3mf import Model, Position, Transform, Triangle

NAMESPACE = uuid.UUID("6f1d0c1e-8f7b-5a52-9a55-3f6f0b5d7c11")
COLOUR = (214, 222, 230, 255)
"""Display colour of the material in a viewer: a light grey."""


def mesh_hash(mesh: Mesh) -> str:
    """Return the SHA-256 of a mesh's vertices (float32, as files hold them) and faces."""
    digest = hashlib.sha256(mesh.vertices.astype("<f4").tobytes())
    digest.update(mesh.faces.astype("<u4").tobytes())
    return digest.hexdigest()


def write_3mf(
    path: Path,
    objects: Mapping[str, Mesh],
    *,
    says: Mapping[str, str],
    material_name: str,
    on_bed: Mapping[str, Floats] | None = None,
) -> None:
    """Write the named meshes as one 3MF file.

    says : what stands in the file by names of the core specification, such as Title and Description
    on_bed : transform (4, 4) of each from its frame to the bed; without, all stand on the bed as they stand to each other

    Raises ExportError if a mesh is not closed or does not face outward, which 3MF asks of a model.
    """
    import lib3mf
    from lib3mf import get_wrapper

    wrapper = get_wrapper()
    model = wrapper.CreateModel()
    model.SetUnit(lib3mf.ModelUnit.MilliMeter)
    group = model.GetMetaDataGroup()
    for name, words in {**says, "Application": "print3d"}.items():
        group.AddMetaData("", name, words, "xs:string", True)
    materials = model.AddBaseMaterialGroup()
    material = materials.AddMaterial(material_name, wrapper.RGBAToColor(*COLOUR))
    places = _together(objects) if on_bed is None else on_bed
    content = "".join(name + mesh_hash(mesh) + str(places[name].tolist()) for name, mesh in objects.items())
    content += "".join(says.values()) + material_name
    model.SetBuildUUID(str(uuid.uuid5(NAMESPACE, content)))
    for name, mesh in objects.items():
        body = model.AddMeshObject()
        body.SetName(name)
        body.SetGeometry(*_geometry(lib3mf, mesh))
        body.SetUUID(str(uuid.uuid5(NAMESPACE, "object" + name + mesh_hash(mesh))))
        if not body.IsManifoldAndOriented():
            raise ExportError(message("refusals.output.open_body", file=str(path), body=name))
        if mesh.volume_mm3() <= 0.0:  # lib3mf does not tell a body from one turned inside out
            raise ExportError(message("refusals.output.inward_body", file=str(path), body=name))
        body.SetObjectLevelProperty(materials.GetResourceID(), material)
        item = model.AddBuildItem(body, _transform(lib3mf, places[name]))
        item.SetUUID(str(uuid.uuid5(NAMESPACE, "item" + name + content)))
    # guard: full disk: 3MF by way of memory
    path.write_bytes(_package(lib3mf, model))


def _together(objects: Mapping[str, Mesh]) -> dict[str, Floats]:
    """The same shift for all meshes, by which they stand on the bed, in its front left corner."""
    low = np.min([mesh.vertices.min(axis=0) for mesh in objects.values()], axis=0)
    return dict.fromkeys(objects, rigid(np.eye(3), -low))


def _transform(lib3mf: ModuleType, place: Floats) -> "Transform":
    """A transform (4, 4) as lib3mf takes it: 4 rows of 3, for points that are rows."""
    transform = lib3mf.Transform()
    for number, row in enumerate(place[:3].T):
        transform.Fields[number][:] = row.tolist()
    return transform


def _geometry(lib3mf: ModuleType, mesh: Mesh) -> "tuple[ctypes.Array[Position], ctypes.Array[Triangle]]":
    """Positions and triangles as the ctypes arrays that lib3mf takes."""
    positions = (lib3mf.Position * len(mesh.vertices))()
    triangles = (lib3mf.Triangle * len(mesh.faces))()
    np.frombuffer(positions, dtype=np.float32)[:] = mesh.vertices.astype(np.float32).ravel()
    np.frombuffer(triangles, dtype=np.uint32)[:] = mesh.faces.astype(np.uint32).ravel()
    return positions, triangles


def _package(lib3mf: ModuleType, model: "Model") -> bytes:
    """Return the finished file; written by lib3mf itself, a full disk would end the whole process (seen with 2.5)."""
    package = io.BytesIO()
    write = lib3mf.WriteCallback(
        lambda address, size, _: package.write(ctypes.string_at(address, size)) and None
    )
    seek = lib3mf.SeekCallback(lambda position, _: package.seek(position) and None)
    model.QueryWriter("3mf").WriteToCallback(write, seek, None)
    return package.getvalue()
