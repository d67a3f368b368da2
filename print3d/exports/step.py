"""STEP files of the CAD solids, in millimetres, with product names and no time stamp."""

import re
from collections.abc import Mapping
from pathlib import Path

import cadquery as cq

from print3d.errors import ExportError

TIME_STAMP = re.compile(r"'\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d'")
NO_TIME = "'2000-01-01T00:00:00'"


def write_step(path: Path, solids: Mapping[str, cq.Solid], *, product_name: str, mirror: bool) -> None:
    """Write the named solids as one STEP file.

    mirror : reflect them (y -> -y), for a left hand
    """
    assembly = cq.Assembly(name=product_name)
    for name, solid in solids.items():
        assembly.add(solid.mirror("XZ") if mirror else solid, name=name)
    try:
        assembly.export(str(path), exportType="STEP")
        text = path.read_text(encoding="utf-8")
    except Exception as error:  # the kernel's exceptions have no common base
        raise ExportError(f"{path}: the STEP file could not be written ({error})") from error
    path.write_text(TIME_STAMP.sub(NO_TIME, text, count=1), encoding="utf-8")
