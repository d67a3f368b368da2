"""STEP files (AP214) of the CAD solids, in millimetres, with product names; the same solids give the same bytes."""

import re
from collections.abc import Mapping
from itertools import count
from pathlib import Path

import cadquery as cq

from print3d.errors import ExportError
from print3d.geometry.mirror import Side
from print3d.language.message import message

HEADER = re.compile(r"FILE_NAME\(.*?\);", re.DOTALL)
NO_TIME = "2000-01-01T00:00:00"
"""The header must have a time; a real one would make every file differ."""
OCCURRENCE = re.compile(r"(NEXT_ASSEMBLY_USAGE_OCCURRENCE\(\s*)'\d+'")
"""The kernel numbers these through all files that one process writes."""


def write_step(path: Path, solids: Mapping[str, cq.Solid], *, product_name: str, side: Side) -> None:
    """Write the named solids as one STEP file: an assembly `product_name` with a product for each solid.

    side : a left hand's are mirrored (y -> -y)

    Raises ExportError if the file cannot be written.
    """
    assembly = cq.Assembly(name=_encoded(product_name))
    for name, solid in solids.items():
        assembly.add(solid.mirror("XZ") if side == "left" else solid, name=_encoded(name))
    try:
        assembly.export(str(path), exportType="STEP")
        text = path.read_text(encoding="ascii")
        path.write_text(_repeatable(text, product_name), encoding="ascii", newline="\n")
    except Exception as error:  # the kernel's exceptions have no common base
        raise ExportError(message("refusals.output.step", file=str(path), reason=str(error))) from error


def _encoded(name: str) -> str:
    r"""Write characters beyond ASCII as \X2\....\X0\, as ISO 10303-21 asks (its section on strings, from memory)."""
    return re.sub(
        r"[^ -~]+", lambda found: rf"\X2\{found[0].encode('utf-16-be').hex().upper()}\X0" + "\\", name
    )


def _repeatable(text: str, product_name: str) -> str:
    """Replace what differs between two files of the same solids: the time, and numbers that run on in a process."""
    title = _encoded(product_name.replace("\\", "\\\\").replace("'", "''"))
    header = f"FILE_NAME('{title}','{NO_TIME}',(''),(''),'Open CASCADE','print3d','');"
    numbers = count(1)
    text = HEADER.sub(lambda _: header, text, count=1)
    # guard: the same STEP bytes
    return OCCURRENCE.sub(lambda found: f"{found[1]}'{next(numbers)}'", text)
