"""A scene as text inside a page: JSON of what is where, and compressed arrays.

    base64( zlib( length of JSON, 4 bytes, little-endian | JSON, UTF-8 | arrays ) )

Every array is whole numbers, column after column: each less the one before it, zigzag (0, -1, 1, -2 ...: 0, 1, 2, 3 ...), and
cut into three planes of bytes, the low ones first, so that they compress well. Coordinates are counted in steps of `step` from
`low`, a map's values in steps of its decimals from `fieldLows`; a map's 0 stands for no value.
"""

import base64
import json
import zlib
from collections.abc import Mapping

import numpy as np

from print3d.geometry.mesh import Mesh
from print3d.geometry.types import Floats, Ints
from print3d.output.pictures.joint_chain import FreeJoint
from print3d.output.pictures.scene import Scene, SceneBody

FORMAT = "print3d scene 2"
STEP_MM = 0.01
"""Coordinates are rounded to this on a page."""
PLANES = 3
"""Bytes of a packed whole number; three reach 16 million steps."""


def packed(scene: Scene) -> str:
    """Return the scene as base64 text."""
    blob, bodies = bytearray(), []
    for body in scene.bodies:
        entry, arrays = _entry(body, {name: 10.0**-scale.decimals for name, scale in scene.scales.items()})
        at = {}
        for name, columns in arrays.items():
            at[name] = [len(blob), *columns.shape]
            blob += planes(columns)
        bodies.append({**entry, "at": at})
    head = {
        "format": FORMAT,
        "side": scene.side,
        "look": scene.look,
        "bodies": bodies,
        "joints": {each.key: _hinge(each) for each in scene.hinges},
        "scales": {name: vars(scale) for name, scale in scene.scales.items()},
    }
    text = json.dumps(head, ensure_ascii=False, sort_keys=True, separators=(",", ":")).encode()
    whole = len(text).to_bytes(4, "little") + text + bytes(blob)
    return base64.b64encode(zlib.compress(whole, 9)).decode()


def planes(columns: Ints) -> bytes:
    """Return whole numbers (columns, n) as bytes."""
    step = np.diff(columns, axis=1, prepend=0)
    zigzag = np.where(step < 0, -2 * step - 1, 2 * step).astype(np.uint32).ravel()
    return b"".join(((zigzag >> (8 * plane)) & 0xFF).astype(np.uint8).tobytes() for plane in range(PLANES))


def _entry(body: SceneBody, step_of: Mapping[str, float]) -> tuple[dict[str, object], dict[str, Ints]]:
    mesh, order = neighbours_together(body.mesh)
    low = mesh.vertices.min(axis=0)
    arrays = {"points": np.round((mesh.vertices - low).T / STEP_MM).astype(np.int64), "faces": mesh.faces.T}
    lows = {}
    for name, values in body.fields.items():
        known = np.isfinite(values[order])
        lows[name] = float(values[order][known].min(initial=0.0)) if known.any() else 0.0
        steps = np.round((np.where(known, values[order], lows[name]) - lows[name]) / step_of[name]) + 1
        arrays[f"field {name}"] = np.where(known, steps, 0).astype(np.int64)[None]
    entry = {
        "name": body.name,
        "role": body.role,
        "chain": body.chain,
        "low": [float(each) for each in low],
        "step": STEP_MM,
        "fieldLows": lows,
        "fieldSteps": {name: step_of[name] for name in lows},
        "drift": None if body.drift is None else vars(body.drift),
    }
    return entry, arrays


def neighbours_together(mesh: Mesh) -> tuple[Mesh, Ints]:
    """Return the mesh numbered along a curve that fills space, and the old number of each vertex.

    Faces and vertices are numbered so.
    """
    middles = mesh.corners().mean(axis=1)
    faces = mesh.faces[np.argsort(_morton(middles), kind="stable")]
    seen, first = np.unique(faces.ravel(), return_index=True)
    order = seen[np.argsort(first)]
    number = np.empty(len(mesh.vertices), dtype=np.int64)
    number[order] = np.arange(len(order))
    return Mesh(mesh.vertices[order], number[faces]), order


def _morton(points: Floats) -> Ints:
    """Interleave the bits of three coordinates (Morton 1966)."""
    low, size = points.min(axis=0), max(float(np.ptp(points, axis=0).max()), 1e-9)
    cell = ((points - low) / size * 1023).astype(np.int64)
    code = np.zeros(len(points), dtype=np.int64)
    for bit in range(10):
        for axis in range(3):
            code |= ((cell[:, axis] >> bit) & 1) << (3 * bit + axis)
    return code


def _hinge(hinge: FreeJoint) -> dict[str, object]:
    return {
        "finger": hinge.ray,
        "joint": hinge.joint,
        "centre": [float(each) for each in hinge.centre],
        "axis": [float(each) for each in hinge.axis],
        "built": hinge.built_deg,
        "from": hinge.from_deg,
        "to": hinge.to_deg,
        "freeTo": hinge.free_to_deg,
    }
