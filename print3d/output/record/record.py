"""The record: all that is needed to make the same part again, as JSON."""

import json
import platform
import re
from collections.abc import Iterator, Mapping
from dataclasses import replace
from hashlib import sha256
from importlib.metadata import version
from pathlib import Path
from typing import TypedDict, cast

from print3d import __version__
from print3d.built import Built
from print3d.checks.finding import finding_as_data
from print3d.guidance.hazards import Hazard, hazards
from print3d.inputs.case import Case, canonical_data
from print3d.inputs.case_file import Choice, Kinds, case_from_data
from print3d.inputs.libraries import Libraries
from print3d.inputs.materials import Material, Printer
from print3d.inputs.problems import MISSING, Problem, refusal, refused
from print3d.inputs.table import Section
from print3d.inputs.tables import Tables
from print3d.inputs.toml_file import read_text
from print3d.inputs.validation import validate
from print3d.kept import kept
from print3d.kinds.registry import KINDS
from print3d.language.catalogue import lines
from print3d.language.message import message
from print3d.output.estimates import one_by_one
from print3d.output.findings_json import PartData, advice_as_data, parts_as_data, plans_as_data
from print3d.output.measures import confirmed_lines
from print3d.output.paper.sheet import words_of

FORMAT = 3
"""Raised when a reader of older records would misread a newer one."""
READ = (1, 2, FORMAT)
"""Up to format 2 every part was of a first visit; format 1 calls parts by English names instead of ids; all else is the same."""
LIBRARIES = ("numpy", "scipy", "shapely", "cadquery")
"""Those whose arithmetic shapes the part."""
NAMES = ("record.json", "record.pdf")
LARGEST_BYTES = 10_000_000
"""A record has about 50 kB; this much is some other file."""


class Stamp(TypedDict):
    """What tells a part from all others: its mark, its shape, and what it was made from."""

    format: int
    mark: str
    revision: str
    step: int | None
    remade_from: Tables
    material: dict[str, object]
    printer: dict[str, object]
    versions: dict[str, str]
    parts: dict[str, PartData]


class Record(Stamp):
    """What a record holds."""

    no_declaration: str
    case: Tables
    files: dict[str, str]
    findings: list[dict[str, object]]
    holds: bool
    advice: list[dict[str, object]]
    print: list[dict[str, object]]
    measure_again: list[str]
    confirmed: list[str]
    look_twice: list[str]
    not_measured: list[str]
    hazards: list[dict[str, object]]
    cautions: list[str]


@kept
def stamp_of(built: Built) -> Stamp:
    """Return what tells the part of a case from all others."""
    return {**stamp_to_be(built.case), "parts": parts_as_data(built.meshes)}


def stamp_to_be(case: Case) -> Stamp:
    """Return the stamp of a case that is not built."""
    return {
        "format": FORMAT,
        "mark": str(case.mark),
        "revision": case.revision,
        "step": case.step,
        "remade_from": canonical_data(KINDS[case.orthosis.kind].explicit(case)),
        "material": case.material.model_dump(mode="json", exclude_none=True),
        "printer": case.printer.model_dump(mode="json", exclude_none=True),
        "versions": versions(),
        "parts": {},
    }


def record_data(built: Built, folder: Path) -> Record:
    """Return the record of a case whose other files lie in `folder`, complete.

    `case` is the case as it was read, `remade_from` the same with every number that a clinic's own files answered.
    """
    case, language = built.case, built.case.header.language
    return {
        **stamp_of(built),
        "no_declaration": words_of(built)("record.no_declaration"),
        "case": canonical_data(case),
        "files": file_hashes(folder),
        "findings": [finding_as_data(finding, language) for finding in built.findings],
        "holds": not built.failing,
        "advice": advice_as_data(built),
        "print": plans_as_data(built),
        "measure_again": [each.said(language) for each in built.warnings],
        "confirmed": [each.said(language) for each in confirmed_lines(case)],
        "look_twice": [each.said(language) for each in built.remarks],
        "not_measured": [each.said(language) for each in one_by_one(built.estimates)],
        "hazards": [_hazard_as_data(each, built) for each in hazards()],
        "cautions": list(lines("cautions.all", language)),
    }


def _hazard_as_data(hazard: Hazard, built: Built) -> dict[str, object]:
    """Return one hazard, what was done against it in this design, and what is left to people."""
    language = built.case.header.language
    return {
        "name": hazard.name,
        "what": hazard.what.said(language),
        "done": [each.said(language) for each in hazard.done(built.findings)],
        "left": hazard.left.said(language),
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


def write_record(path: Path, built: Built) -> None:
    """Write the record; the other files of the set must lie beside it already."""
    text = json.dumps(
        record_data(built, path.parent), indent=2, sort_keys=True, ensure_ascii=False, allow_nan=False
    )
    path.write_text(text + "\n", encoding="utf-8")


def read_record(path: Path) -> Record:
    """Read a record or a stamp.

    Raises InputError if it is none, of a newer program, or lacks what a remake needs.
    """
    try:
        record = json.loads(read_text(path, "JSON", LARGEST_BYTES))
        found = record.get("format", MISSING)
    except (
        ValueError,
        RecursionError,
        # guard: odd records
        AttributeError,
    ) as error:
        raise refused(path, message("refusals.record.unreadable", reason=str(error))) from error
    if found not in READ:
        formats = " or ".join(map(str, READ))
        raise refused(path, message("refusals.record.format", format=formats), "format", found)
    record = {"revision": "", "step": None, **record, "parts": _by_id(record.get("parts"))}
    problems = list(_record_problems(record))
    if problems:
        raise refusal(path, problems)
    return cast("Record", record)


def _record_problems(record: Mapping[str, object]) -> Iterator[Problem]:
    """Yield what is not as a build writes it."""
    for key in ("remade_from", "material", "printer", "parts"):
        if not isinstance(record.get(key), dict):
            yield Problem(key, record.get(key, MISSING), message("refusals.record.table", key=key))
    for name, part in _inner(record, "parts").items():
        if not isinstance(part, dict) or not isinstance(part.get("sha256"), str):
            yield Problem(f"parts.{name}", part, message("refusals.record.hash"))
    for what in ("material", "printer"):
        named = _inner(_inner(record, "remade_from"), "print").get(what, MISSING)
        if not isinstance(named, str):
            yield Problem(f"remade_from.print.{what}", named, message("refusals.record.name"))
    revision, step = record["revision"], record["step"]
    # guard: odd revisions
    if not isinstance(revision, str) or not re.fullmatch("[a-z]{0,9}", revision):
        yield Problem("revision", revision, message("refusals.record.revision"))
    if step is not None and (isinstance(step, bool) or not isinstance(step, int) or step < 1):
        yield Problem("step", step, message("refusals.record.step"))


def _inner(table: Mapping[str, object], key: str) -> Mapping[str, object]:
    """Return a table inside a table, empty where there is none."""
    inner = table.get(key)
    return inner if isinstance(inner, dict) else {}


def case_of_record(record: Record, kinds: Kinds, source: Path) -> Case:
    """Return the case of a record, with the record's own material and printer in place of those on the shelf.

    Raises InputError if this version of the program does not take the case, its material or its printer any more.
    """
    names, problems = record["remade_from"]["print"], list[Problem]()
    choice = (
        {names["material"]: _of_record(record["material"], "material", Material, problems)},
        {names["printer"]: _of_record(record["printer"], "printer", Printer, problems)},
    )
    if problems:
        raise refusal(source, problems)
    case = case_from_data(record["remade_from"], kinds, source, Libraries(), cast("Choice", choice))
    return replace(case, revision=record["revision"], step=record["step"])


def _of_record(
    figures: Mapping[str, object], what: str, model: type[Section], problems: list[Problem]
) -> Section | None:
    result = validate(model, figures)
    problems += [each.at(what) for each in result.problems]
    return result.table


def differing_parts(record: Stamp, other: Stamp) -> list[str]:
    """Return the names of the parts, of one or of the other, whose shape is not the same in both."""
    known, made = ({name: part["sha256"] for name, part in each["parts"].items()} for each in (record, other))
    return [name for name in {**known, **made} if made.get(name) != known.get(name)]


def _by_id(parts: object) -> object:
    """Return parts by id; a record of format 1 calls them by their English names."""
    if not isinstance(parts, dict):
        return parts
    return {name.lower().replace(" ", "_"): part for name, part in parts.items()}
