"""Findings as JSON, for programs and for the record."""

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

from print3d import __version__
from print3d.checks.finding import Finding
from print3d.errors import ExportError
from print3d.exports.threemf import mesh_hash
from print3d.geometry.mesh import Mesh
from print3d.inputs.case import Case


def finding_as_json(finding: Finding) -> dict[str, Any]:
    """Return a finding with its verdict and margin as plain data."""
    return {**asdict(finding), "holds": finding.holds, "margin": finding.margin}


def write_findings(
    path: Path, case: Case[Any], findings: Sequence[Finding], meshes: Mapping[str, Mesh]
) -> None:
    """Write every finding, the verdict, lifted limits with their reason, and the hashes of the parts.

    Raises ExportError if a finding is not a finite number.
    """
    for finding in findings:
        if not math.isfinite(finding.measured):
            raise ExportError(
                f"{path}: the finding {finding.what!r} is {finding.measured}, not a finite number"
            )
    data = {
        "case": case.case.code,
        "override": None if case.override is None else case.override.model_dump(mode="json"),
        "version": __version__,
        "holds": all(finding.holds for finding in findings),
        "findings": [finding_as_json(finding) for finding in findings],
        "parts": {
            name: {
                "sha256": mesh_hash(mesh),
                "triangles": len(mesh.faces),
                "volume_mm3": round(mesh.volume_mm3(), 3),
            }
            for name, mesh in meshes.items()
        },
    }
    text = json.dumps(data, indent=2, sort_keys=True, ensure_ascii=False, allow_nan=False)
    path.write_text(text + "\n", encoding="utf-8")
