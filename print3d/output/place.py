"""What stands at a place already: a part that may be on a hand never gives way unseen to another.

    outputs/PY-014                 the set of the visit, as it was built last
    outputs/PY-014/earlier/first   the one whose place it took, when that was asked for

Every set has a stamp (`record.Stamp`): mark and shape of its parts, and what they were made from. Older sets have their record.
"""

import json
import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import TypeVar

from print3d.built import Built
from print3d.errors import ExportError, InputError
from print3d.inputs.case import Case
from print3d.inputs.model_case import ModelCase
from print3d.inputs.part_mark import FIRST_REVISION, LAST_VISIT, PartMark, by_age, revision_after
from print3d.inputs.problems import in_words, refused
from print3d.inputs.tables import dotted_values
from print3d.language.message import Message, message
from print3d.output.fileset import EARLIER, names_of_set
from print3d.output.record.record import FORMAT, Stamp, differing_parts, read_record, stamp_of

STAMP = ".print3d-part.json"
TO_PRINT = {".stl", ".3mf", ".step"}
"""Endings of files that a part is printed from."""
SHAPELESS = {"case.note", "case.language", "case.paper", "print.price_per_kg"}
"""Keys that change no shape."""

AnyCase = TypeVar("AnyCase", Case, ModelCase)
Made = TypeVar("Made")


def write_stamp(folder: Path, stamp: Stamp) -> None:
    """Write the stamp of a set into its folder."""
    text = json.dumps(stamp, indent=1, sort_keys=True, ensure_ascii=False, allow_nan=False)
    (folder / STAMP).write_text(text + "\n", encoding="utf-8")


def shape_for_place(case: Case, out: Path, shape: Callable[[Case], Built], *, is_replacing: bool) -> Built:
    """Shape a case as `for_place` says."""
    return for_place(case, out, (shape, stamp_of), is_replacing=is_replacing)


def for_place(
    case: AnyCase,
    out: Path,
    make: tuple[Callable[[AnyCase], Made], Callable[[Made], Stamp]],
    *,
    is_replacing: bool,
) -> Made:
    """Make what a case asks for, marked with the revision that stands at its place in the output folder.

    Of another shape than what stands there it gets the next revision if it may replace that; else raises InputError.

    make : from a case what it asks for, and from that its stamp
    """
    (shape, stamp_of_made), place = make, out / case.mark.place
    there = latest_at(place)
    made = shape(case if there is None else replace(case, revision=there["revision"]))
    if there is None or is_same(there, stamp := stamp_of_made(made)):
        return made
    if not is_replacing:
        raise other_shape(place, there, stamp, case.source)
    return shape(replace(case, revision=revision_after(there["revision"])))


def no_part(place: Path) -> None:
    """Raise ExportError if a part stands where a study, a form or a class set would go."""
    # guard: a study takes no part's place
    if standing_at(place) is not None:
        raise ExportError(message("refusals.place.part", place=str(place)))


def kept_as(new: Stamp, source: Path, place: Path) -> str | None:
    """Return under which name the set at a place is kept when a new one comes.

    None if there is none, or the new one is the same.

    Raises InputError if the new one is neither the same nor a later revision.
    """
    latest, standing = latest_at(place), standing_at(place)
    if latest is None:
        return None
    is_later = by_age(new["revision"]) > by_age(latest["revision"])
    # guard: a part of another shape stays
    if not is_later and not is_same(latest, new):
        raise other_shape(place, latest, new, source)
    if standing is None or is_same(standing, new):
        return None
    return standing["revision"] or FIRST_REVISION


def is_same(there: Stamp, new: Stamp) -> bool:
    """Whether two parts are of one shape and carry the same letters."""
    return there["revision"] == new["revision"] and not differing_parts(there, new)


def latest_at(place: Path) -> Stamp | None:
    """Return the stamp of the latest revision that stands at a place or is kept there."""
    stamps = [standing_at(place)]
    if (place / EARLIER).is_dir():
        stamps += [standing_at(each) for each in sorted((place / EARLIER).iterdir())]
    return max(filter(None, stamps), key=lambda each: by_age(each["revision"]), default=None)


def standing_at(folder: Path) -> Stamp | None:
    """Return the stamp of the set in a folder, or None where nothing to print lies.

    Where nothing tells of what shape that is, it has no parts.
    """
    for path in (folder / STAMP, folder / "record.json"):
        if path.is_file():
            try:
                return read_record(path)
            # guard: a damaged stamp
            except InputError:
                return _unknown(folder)
    is_printable = any(Path(name).suffix in TO_PRINT for name in names_of_set(folder))
    return _unknown(folder) if is_printable else None


def _unknown(folder: Path) -> Stamp:
    kept = folder.parent.name == EARLIER and folder.name != FIRST_REVISION
    revision = folder.name if kept and re.fullmatch("[a-z]{1,9}", folder.name) else ""
    return {
        "format": FORMAT, "mark": "", "revision": revision, "step": None, "remade_from": {}, "material": {}, "printer": {},
        "versions": {}, "parts": {},
    }  # fmt: skip


def other_shape(place: Path, there: Stamp, new: Stamp, source: Path) -> InputError:
    """Return the refusal of a part where one of another shape stands: what differs, and how both can be kept."""
    header = new["remade_from"]["case"]
    mark = PartMark(str(header["code"]), int(header["visit"]), there["revision"])
    corrected = replace(mark, revision=revision_after(there["revision"]))
    values = {
        "place": str(place),
        "mark": str(mark),
        "differs": list(differences(there, new)) or [message("refusals.place.unknown")],
        "kept": str(place / EARLIER / (there["revision"] or FIRST_REVISION)),
        "corrected": str(corrected),
    }
    visit = free_visit(place.parent, mark)
    if visit is None:
        wanted = message("refusals.place.last", **values)
    else:
        wanted = message("refusals.place.taken", visit=visit, **values)
    return refused(source, wanted, "case.visit", mark.visit)


def free_visit(out: Path, mark: PartMark) -> int | None:
    """Return the next visit that has no folder yet, or None after the last."""
    later = range(mark.visit + 1, LAST_VISIT + 1)
    return next((visit for visit in later if not (out / replace(mark, visit=visit).place).exists()), None)


def differences(there: Stamp, new: Stamp) -> Iterator[Message]:
    """Yield what one part was made from and the other was not: keys of the case, else figures, else versions."""
    for tables in (("remade_from",), ("material", "printer"), ("versions",)):
        then, now = (_keys(each, tables) for each in (there, new))
        differ = [key for key in {**now, **then} if then.get(key) != now.get(key) and key not in SHAPELESS]
        if not then:
            return
        if "orthosis.kind" in differ:  # its options are others then
            differ = [key for key in differ if not key.startswith("orthosis.") or key == "orthosis.kind"]
        for key in differ:
            values = {"there": _shown(then.get(key)), "now": _shown(now.get(key))}
            yield message("refusals.place.differs", key=key, **values)
        if differ:
            return


def _keys(stamp: Stamp, tables: tuple[str, ...]) -> dict[str, object]:
    """Values by dotted key, as JSON holds them."""
    plain = json.loads(json.dumps(stamp))
    return {
        key: value
        for name in tables
        for key, value in dotted_values(plain[name], "" if name == "remade_from" else f"{name}.")
    }


def _shown(value: object) -> str:
    return "-" if value is None else in_words(value)
