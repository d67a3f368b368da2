"""What sheets say of wearing follows from the design: every kind, form, held angle, protected or not, in both languages.

Sentences are asked by their keys, and what must never be said is looked for in the text of the finished sheets.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import pytest

from print3d import flow
from print3d.built import Built, shape_case
from print3d.inputs.case_file import case_from_data
from print3d.inputs.toml_file import read_toml
from print3d.kinds.registry import KINDS
from print3d.language.catalogue import LANGUAGES, catalogue
from print3d.limb.joint_id import JointId
from print3d.mechanics.loads import pull_of_case
from print3d.output.paper.fit_sheet import write_fit_sheet
from print3d.output.paper.wear_sheet import write_wear_sheet
from print3d.output.paper.wearing import Wearing
from print3d.output.paper.words import Words
from tests.conftest import CASES, in_ci
from tests.output.paper.conftest import FINDINGS, Pdf
from tests.shaped import changed, shaped
from tests.taped import taped

OFF = ("free.off", "skin_free.look", "skin_free.mark", "skin_free.swelling", "urgent.free")
"""A wearer who may take it off hears all of these, one who may not none."""
ON = ("protected.stays_on", "skin_protected.look")
STRAPPED = ("urgent.protected_strapped", "skin_protected.mark_strapped", "skin_protected.swelling_strapped")


@dataclass(frozen=True)
class Row:
    """One design and what its wearer must read; whatever else the table names must not be said.

    protected : as the case file says
    held : joint -> angle, over those of the worked case
    """

    name: str
    protected: bool | None
    says: tuple[str, ...]
    held: dict[str, float] = field(default_factory=dict)

    def __str__(self) -> str:
        angles = "".join(f" {joint} {angle:g}" for joint, angle in self.held.items())
        return f"{self.name}{angles} protected={self.protected}"


STAYS_ON = (*ON, *STRAPPED)
UNSTRAPPED = (*ON, "urgent.protected", "skin_protected.mark", "skin_protected.swelling")
BENT = ("protected.in_hand", "both.not_forced")
TABLE = [
    *(
        row
        for protected in (True, None)
        for row in (
            Row("pip_extension", protected, (*STAYS_ON, "protected.kept", "protected.on_table")),
            Row("pip_extension", protected, (*STAYS_ON, "protected.kept", *BENT), {"pip": 35.0}),
        )
    ),
    Row("pip_extension", False, OFF),
    Row("pip_extension", False, (*OFF, "both.not_forced"), {"pip": 35.0}),
    Row("pip_extension_series", False, (*OFF, "both.not_forced")),
    Row("mallet", None, (*STAYS_ON, "protected.kept", "protected.never_drop", "protected.on_table"), {"dip": 0.0}),
    Row("mallet", None, (*STAYS_ON, "protected.kept", "protected.never_drop", *BENT), {"dip": -5.0}),
    Row("mallet_with_pip_block", None, (*STAYS_ON, "protected.kept", "protected.never_drop", "protected.stop_extension", "protected.in_hand"), {"dip": 0.0}),
    Row("mallet_with_pip_block", None, (*STAYS_ON, "protected.kept", "protected.never_drop", "protected.stop_extension", *BENT), {"dip": -5.0}),
    Row("mallet_with_pip_block_two_piece", None, (*STAYS_ON, "protected.kept", "protected.never_drop", "protected.stop_extension", "protected.in_hand", "urgent.ring_protected")),
    Row("figure_of_eight", None, ("free.off", "skin_free.look", "skin_free.mark", "skin_free.swelling", "urgent.ring")),
    Row("figure_of_eight_reverse", False, ("free.off", "skin_free.look", "skin_free.mark", "skin_free.swelling", "urgent.ring")),
    Row("relative_motion_extension", None, (*UNSTRAPPED, "protected.difference_extended", "protected.in_hand")),
    Row("relative_motion_flexion", None, (*UNSTRAPPED, "protected.difference_flexed", "protected.in_hand")),
    Row("dorsal_blocking_short", True, (*STAYS_ON, "protected.stop_extension", "protected.in_hand")),
    Row("dorsal_blocking", None, (*STAYS_ON, "protected.kept", "protected.stop_extension", "protected.in_hand")),
    Row("dorsal_blocking_left", None, (*STAYS_ON, "protected.kept", "protected.stop_extension", *BENT)),
]  # fmt: skip
CONDITIONAL = {key for row in TABLE for key in row.says}
LONG = (
    "dorsal_blocking",
    "dorsal_blocking_left",
    "relative_motion_flexion",
    "mallet_with_pip_block_two_piece",
)

TAKES_OFF = {
    "en": ("leave the orthosis off", "and look at the skin all around", "may take it off", "taken off: marks", "take it off, hold", "Take it off at once", "Puts it on and takes it off"),
    "de": ("Orthese weglassen", "So ablegen", "dürfen sie ablegen", "dann abgelegt", "ablegen, Hand", "Sofort ablegen", "Legt allein an"),
}  # fmt: skip
"""What no wearer of a protected orthosis may read."""
STRAIGHTENS = {
    "en": (r"\bstraight\b", r"flat on", r"straight(er|en)"),
    "de": (r"[Gg]estreckt", r"\b[Gg]erade", r"flach auf", r"\bstrecken"),
}
"""What no wearer of a PIP that is held bent may read."""


def as_designed(row: Row, language: str) -> Built:
    """A worked case with the angles of a row, protected as it says."""
    built = shaped(row.name)
    header = built.case.header.model_copy(
        update={"protected": row.protected, "language": language, "note": ""}
    )
    finger = built.case.header.finger
    held = {**built.modelled.held, **{JointId(finger, joint): angle for joint, angle in row.held.items()}}  # type: ignore[arg-type]
    return changed(
        built,
        case=replace(built.case, header=header),
        modelled=replace(built.modelled, held=held),
        findings=FINDINGS,
        advice=(),
    )


def keys_of(built: Built) -> set[str]:
    wearing = Wearing(built, Words(built.case.header.language))
    said = (*wearing.special(), *wearing.urgent(), *wearing.skin())
    return {each.key.removeprefix("sheets.wear.") for each in said}


def forbidden(built: Built, text: str) -> Iterator[str]:
    """Yield what the sheets of a design must not say and do say."""
    language = built.case.header.language
    if built.case.is_protected:
        yield from (words for words in TAKES_OFF[language] if words in text)
    if any(joint.joint == "pip" and abs(angle) > 0.5 for joint, angle in built.modelled.held.items()):
        yield from (pattern for pattern in STRAIGHTENS[language] if re.search(pattern, text))


def sheets(built: Built, folder: Path) -> str:
    """The text of wear sheet and fit sheet."""
    texts = []
    for write in (write_wear_sheet, write_fit_sheet):
        write(folder / "sheet.pdf", built)
        texts.append(Pdf(folder / "sheet.pdf").text())
    return " ".join(texts)


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize(
    "row", [in_ci(row) if row.name in LONG else row for row in TABLE], ids=lambda row: str(row)
)
def test_the_sheets_say_what_the_design_holds_and_nothing_against_it(row: Row, language, tmp_path) -> None:
    built = as_designed(row, language)
    said = keys_of(built)
    assert said & CONDITIONAL == set(row.says)
    text = sheets(built, tmp_path)
    assert list(forbidden(built, text)) == []
    assert Wearing(built, Words(language)).handling().said(language) in text


def test_every_kind_has_its_rows() -> None:
    assert {shaped(row.name).case.orthosis.kind for row in TABLE if row.name not in LONG} == set(KINDS)


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_sentence_against_the_design_is_found(language, tmp_path) -> None:
    """The sheet of the same finger held straight, or of a wearer who may take it off, fails for one that is bent or protected."""
    bent, free = Row("pip_extension", True, (), {"pip": 35.0}), Row("pip_extension", False, ())
    straight = sheets(as_designed(Row("pip_extension", True, ()), language), tmp_path)
    off = sheets(as_designed(free, language), tmp_path)
    assert list(forbidden(as_designed(bent, language), straight))
    found = set(forbidden(as_designed(bent, language), off))
    assert len(found & set(TAKES_OFF[language])) >= 5


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_other_word_of_the_catalogue_takes_a_protected_orthosis_off(language) -> None:
    said = {
        key: " ".join((template,) if isinstance(template, str) else template)
        for key, template in catalogue(language).items()
    }
    off = {key for key, words in said.items() if any(each in words for each in TAKES_OFF[language])}
    assert off
    assert [key for key in off if "free" not in key] == []
    flat = {key for key, words in said.items() if re.search("flat on a|flach auf (dem|einem) Tisch", words)}
    assert flat == {"sheets.wear.protected.on_table"}


def forms() -> Iterator[tuple[str, dict[str, Any]]]:
    """Yield a worked case of every kind with every choice of its form."""
    for name, kind in KINDS.items():
        case = next(
            path.stem
            for path in sorted(CASES.glob("*.toml"))
            if read_toml(path)["orthosis"]["kind"] == name and path.stem != "dorsal_blocking"
        )
        for key in ("form", "pieces", "blocks", "fingers"):
            if key in kind.options.model_fields and name != "dorsal_blocking":
                field_schema = kind.options.model_json_schema()["properties"][key]
                yield from ((case, {key: value}) for value in field_schema["enum"])


@pytest.mark.slow(in_ci=True)
@pytest.mark.parametrize(("name", "options"), list(forms()), ids=str)
def test_the_form_changes_nothing_of_what_must_be_said(name, options, tmp_path) -> None:
    data = read_toml(CASES / f"{name}.toml")
    data["orthosis"] = {"kind": data["orthosis"]["kind"], **options, "straps": {"style": "wrap"}}
    if data["orthosis"]["kind"] in ("figure_of_eight", "relative_motion"):
        del data["orthosis"]["straps"]
    data["measured"] = taped(data["measured"])
    built = shape_case(
        case_from_data(data, {kind: each.options for kind, each in KINDS.items()}, CASES / "made.toml")
    )
    built = changed(built, findings=FINDINGS, advice=())
    said = keys_of(built)
    assert set(ON) <= said if built.case.is_protected else "free.off" in said
    assert list(forbidden(built, sheets(built, tmp_path))) == []


@pytest.mark.parametrize("name", ["pip_extension_series", "figure_of_eight", "mallet"])
def test_sheets_name_the_hours_for_which_the_pressure_is_judged(name, tmp_path) -> None:
    built = changed(shaped(name), findings=FINDINGS, advice=())
    hours = pull_of_case(built.case).wear_hours
    text = sheets(built, tmp_path)
    assert f"Planned wear: {hours:g} hours a day" in text
    assert ("day and night" if hours == 24 else f"worn {hours:g} hours a day") in text


@pytest.mark.parametrize(
    ("name", "said", "is_protected"),
    [("pip_extension", True, True), ("pip_extension", None, True), ("pip_extension", False, False),
     ("mallet", None, True), ("mallet", True, True), ("figure_of_eight", None, False), ("figure_of_eight", False, False)],
)  # fmt: skip
def test_a_case_is_protected_unless_it_says_otherwise(name, said, is_protected) -> None:
    case = flow.read(CASES / f"{name}.toml")
    assert (
        replace(case, header=case.header.model_copy(update={"protected": said})).is_protected is is_protected
    )
