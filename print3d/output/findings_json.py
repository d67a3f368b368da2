"""Findings as JSON, for programs and for the record."""

import json
from collections.abc import Mapping
from math import isfinite
from pathlib import Path
from typing import TypedDict

from print3d import __version__
from print3d.built import Built
from print3d.checks.finding import finding_as_data, numbers_of
from print3d.errors import ExportError
from print3d.geometry.mesh import Mesh
from print3d.language.message import message
from print3d.output.mesh.threemf import mesh_hash

LAYOUT = "print3d findings 2"
"""Name and version of the layout; described by `findings_schema`."""
FRAME = "places are (x, y, z) mm in the limb frame of the asked hand, as in its files: x distal, z dorsal; y is radial on a right hand, ulnar on a left one"


class PartData(TypedDict):
    """Hash and size of a part."""

    sha256: str
    triangles: int
    volume_mm3: float


def plans_as_data(built: Built) -> list[dict[str, object]]:
    """Return how each part is best printed as plain data, its cost by the price of the case."""
    return [plan.as_data(built.case.print.price_per_kg) for plan in built.plans]


def advice_as_data(built: Built) -> list[dict[str, object]]:
    """Return what to change as plain data."""
    return [
        {
            "finding": each.finding.key,
            "part": each.finding.about.part or None,
            "joint": each.finding.about.joint or None,
            "of": dict(each.finding.about.of),
            "option": each.option,
            "now": each.now,
            "then": each.then,
            "measured": each.measured,
            "unit": each.finding.unit,
        }
        for each in built.advice
    ]


def parts_as_data(meshes: Mapping[str, Mesh]) -> dict[str, PartData]:
    """Return hash and size of each part."""
    return {
        name: {
            "sha256": mesh_hash(mesh),
            "triangles": len(mesh.faces),
            "volume_mm3": round(mesh.volume_mm3(), 3),
        }
        for name, mesh in meshes.items()
    }


def write_findings(path: Path, built: Built) -> None:
    """Write every finding, the verdict, lifted limits with their reason, the hashes of the parts, print plans and advice.

    Raises ExportError if a finding holds a number that is not finite.
    """
    for finding in built.findings:
        if not all(map(isfinite, numbers_of(finding))):
            raise ExportError(
                message(
                    "refusals.output.not_finite",
                    file=str(path),
                    finding=finding.what,
                    numbers=str([float(each) for each in numbers_of(finding)]),
                )
            )
    case = built.case
    data = {
        "layout": LAYOUT,
        "language": case.header.language,
        "case": case.header.code,
        "side": case.header.side,
        "finger": case.header.finger,
        "kind": case.orthosis.kind,
        "frame": FRAME,
        "override": None if case.override is None else case.override.model_dump(mode="json"),
        "version": __version__,
        "holds": built.holds,
        "findings": [finding_as_data(finding, built.case.header.language) for finding in built.findings],
        "parts": parts_as_data(built.meshes),
        "print": plans_as_data(built),
        "advice": advice_as_data(built),
    }
    text = json.dumps(data, indent=2, sort_keys=True, ensure_ascii=False, allow_nan=False)
    path.write_text(text + "\n", encoding="utf-8")
