"""Findings as JSON, for programs and for the record."""

import json
from collections.abc import Mapping
from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np

from print3d import __version__
from print3d.built import Built
from print3d.checks.finding import finding_as_json
from print3d.errors import ExportError
from print3d.geometry.mesh import Mesh
from print3d.language.message import message
from print3d.output.mesh.threemf import mesh_hash

FRAME = "places are (x, y, z) mm in the limb frame of the asked hand, as in its files: x distal, z dorsal; y is radial on a right hand, ulnar on a left one"


def plans_as_data(built: Built) -> list[dict[str, Any]]:
    """Return how each part is best printed as plain data, its cost by the price of the case."""
    return [plan.as_data(built.case.print.price_per_kg) for plan in built.plans]


def advice_as_data(built: Built) -> list[dict[str, Any]]:
    """Return what to change as plain data."""
    return [asdict(each) for each in built.advice]


def parts_as_data(meshes: Mapping[str, Mesh]) -> dict[str, Any]:
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
        numbers = np.hstack(
            [finding.measured, finding.limit, (0.0,) if finding.where is None else finding.where]
        )
        if not np.isfinite(numbers).all():
            raise ExportError(
                message(
                    "refusals.output.not_finite",
                    file=str(path),
                    finding=finding.what,
                    numbers=str(numbers.tolist()),
                )
            )
    case = built.case
    data = {
        "case": case.header.code,
        "side": case.header.side,
        "finger": case.header.finger,
        "kind": case.orthosis.kind,
        "frame": FRAME,
        "override": None if case.override is None else case.override.model_dump(mode="json"),
        "version": __version__,
        "holds": built.holds,
        "findings": [finding_as_json(finding) for finding in built.findings],
        "parts": parts_as_data(built.meshes),
        "print": plans_as_data(built),
        "advice": advice_as_data(built),
    }
    text = json.dumps(data, indent=2, sort_keys=True, ensure_ascii=False, allow_nan=False)
    path.write_text(text + "\n", encoding="utf-8")
