"""Findings as JSON, for programs and for the record."""

import json
from collections.abc import Mapping, Sequence
from math import isfinite
from pathlib import Path
from types import MappingProxyType
from typing import Any

from print3d import __version__
from print3d.checks.finding import Finding, finding_as_data, numbers_of
from print3d.design.advice import Advice
from print3d.errors import ExportError
from print3d.geometry.mesh import Mesh
from print3d.inputs.case import Case
from print3d.language.message import message
from print3d.output.mesh.threemf import mesh_hash
from print3d.printing.plan import PrintPlan

LAYOUT = "print3d findings 2"
"""Name and version of the layout; described by `findings_schema`."""
FRAME = (
    "places are (x, y, z) mm in the limb frame of the right hand; the files of a left hand have y reversed"
)


def plans_as_data(plans: Sequence[PrintPlan], case: Case) -> list[dict[str, Any]]:
    """Return how each part is best printed as plain data, its cost by the price of the case."""
    return [plan.as_data(case.print.price_per_kg) for plan in plans]


def advice_as_data(advice: Sequence[Advice]) -> list[dict[str, Any]]:
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
        for each in advice
    ]


def write_findings(
    path: Path,
    case: Case,
    findings: Sequence[Finding],
    meshes: Mapping[str, Mesh],
    more: Mapping[str, Any] = MappingProxyType({}),
) -> None:
    """Write every finding, the verdict, lifted limits with their reason, the hashes of the parts, and what `more` holds.

    Raises ExportError if a finding holds a number that is not finite.
    """
    for finding in findings:
        if not all(map(isfinite, numbers_of(finding))):
            raise ExportError(
                message(
                    "refusals.output.not_finite",
                    file=str(path),
                    finding=finding.what,
                    numbers=str([float(each) for each in numbers_of(finding)]),
                )
            )
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
        "holds": all(finding.holds for finding in findings),
        "findings": [finding_as_data(finding, case.header.language) for finding in findings],
        "parts": {
            name: {
                "sha256": mesh_hash(mesh),
                "triangles": len(mesh.faces),
                "volume_mm3": round(mesh.volume_mm3(), 3),
            }
            for name, mesh in meshes.items()
        },
        **more,
    }
    text = json.dumps(data, indent=2, sort_keys=True, ensure_ascii=False, allow_nan=False)
    path.write_text(text + "\n", encoding="utf-8")
