"""The record: all that is needed to make the same part again, as JSON."""

import json
import platform
from hashlib import sha256
from importlib.metadata import version
from pathlib import Path
from typing import Any

from print3d import __version__
from print3d.errors import InputError
from print3d.exports.findings_json import advice_as_data, finding_as_json, plans_as_data
from print3d.exports.handed import handed
from print3d.exports.sheets.sheet import SheetData
from print3d.exports.threemf import mesh_hash
from print3d.inputs.case import Case, Kinds, canonical_data, case_from_data
from print3d.inputs.materials import Material, Printer
from print3d.orthoses.built import Orthosis
from print3d.orthoses.registry import KINDS
from print3d.texts.catalogue import lines

FORMAT = 1
"""Raised when a reader of older records would misread a newer one."""
LIBRARIES = ("numpy", "scipy", "shapely", "cadquery")
"""Those whose arithmetic shapes the part."""
NAMES = ("record.json", "record.pdf")


def record_data(data: SheetData, folder: Path) -> dict[str, Any]:
    """Return the record of a case whose other files lie in `folder`, complete.

    `case` is the case as it was read, `remade_from` the same with every number that a clinic's own files answered.
    """
    case = data.case
    return {
        "format": FORMAT,
        "no_declaration": data.words("record.no_declaration"),
        "case": canonical_data(case),
        "remade_from": canonical_data(KINDS[case.orthosis.kind].explicit(case)),
        "material": case.material.model_dump(mode="json", exclude_none=True),
        "printer": case.printer.model_dump(mode="json", exclude_none=True),
        "versions": versions(),
        "parts": {
            name: {
                "sha256": mesh_hash(mesh),
                "triangles": len(mesh.faces),
                "volume_mm3": round(mesh.volume_mm3(), 3),
            }
            for name, mesh in data.meshes.items()
        },
        "files": file_hashes(folder),
        "findings": [finding_as_json(finding) for finding in data.findings],
        "holds": not data.failing,
        "advice": advice_as_data(data.advice),
        "print": plans_as_data(data.plans, case),
        "measure_again": list(data.warnings),
        "look_twice": list(data.remarks),
        "not_measured": list(data.estimates),
        "cautions": list(lines("cautions.all", data.words.language)),
    }


def versions() -> dict[str, str]:
    """Return the versions of program, language, libraries and system that made the part."""
    found = {"print3d": __version__, "python": platform.python_version()}
    found |= {name: version(name) for name in LIBRARIES}
    return {**found, "system": f"{platform.system()} {platform.machine()}"}


def file_hashes(folder: Path) -> dict[str, str]:
    """Return the SHA-256 of every file of a set but the record's own."""
    return {
        path.relative_to(folder).as_posix(): sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and path.name not in NAMES
    }


def write_record(path: Path, data: SheetData) -> None:
    """Write the record; the other files of the set must lie beside it already."""
    text = json.dumps(
        record_data(data, path.parent), indent=2, sort_keys=True, ensure_ascii=False, allow_nan=False
    )
    path.write_text(text + "\n", encoding="utf-8")


def read_record(path: Path) -> dict[str, Any]:
    """Read a record. Raises InputError if the file is none, or of a newer program."""
    try:
        record = json.loads(path.read_text(encoding="utf-8"))
        known = {"case", "remade_from", "material", "printer", "parts", "versions"} <= record.keys()
    except (OSError, ValueError, AttributeError) as error:
        raise InputError(
            f"{path}: cannot be read as a record ({error}); give the record.json of a build"
        ) from error
    if not known or record.get("format") != FORMAT:
        raise InputError(
            f"{path}: format = {record.get('format')}: no record of this program; accepted is format {FORMAT}, a record.json"
        )
    return dict(record)


def case_of_record(record: dict[str, Any], kinds: Kinds, source: Path) -> Case[Any]:
    """Return the case of a record, with the record's own material and printer in place of those on the shelf.

    Raises InputError if this version of the program does not take the case any more.
    """
    choice = record["remade_from"]["print"]
    shelves = (
        {choice["material"]: Material.model_validate(record["material"])},
        {choice["printer"]: Printer.model_validate(record["printer"])},
    )
    return case_from_data(record["remade_from"], kinds, source, shelves)


def differing_parts(record: dict[str, Any], orthosis: Orthosis, case: Case[Any]) -> list[str]:
    """Return the names of the parts, of the record or of the orthosis, whose shape is not the record's."""
    made = {part.name: mesh_hash(handed(part.mesh.mesh, case.case.side)) for part in orthosis.parts}
    known = {name: part["sha256"] for name, part in record["parts"].items()}
    return [name for name in {**known, **made} if made.get(name) != known.get(name)]
