"""The record: the same part from it, the fields of EU MDR 2017/745 Annex XIII, and what it does not claim."""

import json
from dataclasses import replace
from hashlib import sha256
from pathlib import Path

import pytest

from print3d.built import shape_case
from print3d.errors import InputError
from print3d.inputs.case import Case
from print3d.kinds.dorsal_blocking.asked import asked_pose
from print3d.kinds.dorsal_blocking.kind import KIND
from print3d.kinds.registry import KINDS
from print3d.language.catalogue import LANGUAGES, lines
from print3d.language.message import as_it_stands
from print3d.limb.estimates import Estimate
from print3d.limb.hand import HandPose
from print3d.output.files import writers
from print3d.output.mesh.stl import write_stl
from print3d.output.record.record import case_of_record, differing_parts, read_record, stamp_of, write_record
from print3d.output.record.record_sheet import write_record_sheet
from tests.output.paper.conftest import FINDINGS, OVERRIDE, Pdf
from tests.shaped import changed, shaped

OPTIONS = {name: kind.options for name, kind in KINDS.items()}


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    """A whole set with STL and record, of a left hand."""
    folder = tmp_path_factory.mktemp("set")
    estimates = {"": {"web_girth_mm": Estimate(60.0, 2.0, False, as_it_stands("estimated"), "")}}
    built = changed(
        shaped("figure_of_eight"),
        findings=FINDINGS,
        warnings=(as_it_stands("measure again"),),
        estimates=estimates,
        advice=(),
    )
    made = writers(built, frozenset(("stl", "pattern", "sheets", "record", "json")))
    for name, write in made.items():
        write(folder / name)
    return folder, list(made)


def pose_of(case: Case) -> HandPose:
    return asked_pose(case, KIND.own(case))


def test_a_part_made_again_from_its_record_has_identical_bytes(written, tmp_path: Path) -> None:
    folder, _ = written
    record = read_record(folder / "record.json")
    case = case_of_record(record, OPTIONS, tmp_path / "elsewhere" / "record.json")
    built = shape_case(case)
    assert differing_parts(record, stamp_of(built)) == []
    (mesh,) = built.meshes.values()
    write_stl(tmp_path / "again.stl", mesh)
    assert (tmp_path / "again.stl").read_bytes() == (folder / "figure_of_eight.stl").read_bytes()
    assert sha256((tmp_path / "again.stl").read_bytes()).hexdigest() == record["files"]["figure_of_eight.stl"]


@pytest.mark.slow(in_ci=True)
def test_a_regimen_that_a_clinic_changes_later_does_not_change_the_part(sheet_data, tmp_path: Path) -> None:
    data = sheet_data("dorsal_blocking_short")
    assert data.case.orthosis.protocol is not None
    write_record(tmp_path / "record.json", data)
    record = read_record(tmp_path / "record.json")
    case = case_of_record(record, OPTIONS, tmp_path / "record.json")
    assert case.orthosis.protocol is None
    assert record["case"]["orthosis"]["protocol"] == data.case.orthosis.protocol
    assert pose_of(case) == pose_of(data.case)
    assert differing_parts(record, stamp_of(shape_case(case))) == []


def test_another_part_is_told_from_the_record(written) -> None:
    record = read_record(written[0] / "record.json")
    case = case_of_record(record, OPTIONS, Path("record.json"))
    other = replace(case, orthosis=case.orthosis.model_copy(update={"pip_flexion_deg": 11.0}))
    assert differing_parts(record, stamp_of(shape_case(other))) == ["figure-of-eight_ring"]


def test_the_material_of_the_record_counts_not_that_of_the_shelf(written) -> None:
    record = read_record(written[0] / "record.json")
    record["material"]["density_g_per_cm3"]["value"] = 0.5
    record["remade_from"]["print"]["material"] = "our_own_powder"
    case = case_of_record(record, OPTIONS, Path("record.json"))
    assert case.material.density_g_per_cm3.value == 0.5
    assert case.print.material == "our_own_powder"


def test_the_record_is_written_last_and_hashes_every_other_file(written) -> None:
    folder, names = written
    record = read_record(folder / "record.json")
    assert names[-2:] == ["record.json", "record.pdf"]
    assert set(record["files"]) == set(names) - {"record.json", "record.pdf"}
    for name, digest in record["files"].items():
        assert sha256((folder / name).read_bytes()).hexdigest() == digest
    shown = Pdf(folder / "record.pdf").text().replace(" ", "")
    assert sha256((folder / "record.json").read_bytes()).hexdigest() in shown
    assert all(digest in shown for digest in record["files"].values())


@pytest.mark.parametrize(
    ("content", "message"),
    [("no json", "cannot be read as a record"), ("[]", "cannot be read"), ("{}", "no record of this program"),
     (json.dumps({"format": 4, "case": 0, "remade_from": 0, "material": 0, "printer": 0, "parts": 0, "versions": 0}), "format = 4")],
)  # fmt: skip
def test_what_is_no_record_is_refused(tmp_path: Path, content: str, message: str) -> None:
    (tmp_path / "record.json").write_text(content)
    with pytest.raises(InputError, match=message):
        read_record(tmp_path / "record.json")
    with pytest.raises(InputError, match=r"missing\.json"):
        read_record(tmp_path / "missing.json")


@pytest.mark.parametrize(
    ("key", "value"),
    [("revision", "../a"), ("revision", 5), ("revision", "A"), ("step", 0), ("step", "2"), ("step", True)],
)
def test_an_odd_revision_or_step_is_refused(written, tmp_path: Path, key: str, value: object) -> None:
    """They name folders."""
    record = {**read_record(written[0] / "record.json"), key: value}
    (tmp_path / "record.json").write_text(json.dumps(record))
    with pytest.raises(InputError, match=key):
        read_record(tmp_path / "record.json")


@pytest.mark.parametrize("older", [1, 2])
def test_an_older_record_gives_the_same_part(written, tmp_path: Path, older: int) -> None:
    """It knows no visit, revision or step; in format 1 parts have English names."""
    record: dict[str, object] = {**read_record(written[0] / "record.json"), "format": older}
    for key in ("mark", "revision", "step"):
        del record[key]
    del record["remade_from"]["case"]["visit"]
    if older == 1:
        (part,) = record["parts"].values()
        record["parts"] = {"Figure-of-eight ring": part}
    (tmp_path / "record.json").write_text(json.dumps(record))
    read = read_record(tmp_path / "record.json")
    case = case_of_record(read, OPTIONS, tmp_path / "record.json")
    assert str(case.mark) == "PY-055"
    assert differing_parts(read, stamp_of(shape_case(case))) == []


@pytest.mark.slow(in_ci=True)
def test_visit_revision_and_step_come_back_from_the_record(sheet_data, tmp_path: Path) -> None:
    built = sheet_data("pip_extension")
    header = built.case.header.model_copy(update={"visit": 3})
    built = changed(shape_case(replace(built.case, header=header, revision="b", step=4)), findings=FINDINGS)
    write_record(tmp_path / "record.json", built)
    record = read_record(tmp_path / "record.json")
    case = case_of_record(record, OPTIONS, tmp_path / "record.json")
    assert str(case.mark) == record["mark"] == "PY-014.3b/4"
    assert differing_parts(record, stamp_of(shape_case(case))) == []
    assert differing_parts(record, stamp_of(shape_case(replace(case, step=5)))) == ["volar_pip_orthosis"]


ANNEX_XIII = (
    "name and address of the manufacturer", "place of manufacture", "authorised representative", "sole use of the person",
    "prescriber", "institution", "what was prescribed", "annex i", "not fully met, with the reasons", "medicinal substance",
    "human blood or plasma", "human or animal origin", "at least 10 years", "serious incident", "signature",
)  # fmt: skip
"""What section 1 and 5 of Annex XIII ask for (Regulation (EU) 2017/745, in our own words)."""


def test_the_record_has_the_fields_of_annex_xiii_and_claims_nothing(written) -> None:
    text = Pdf(written[0] / "record.pdf").text().lower()
    assert [words for words in ANNEX_XIII if words not in text] == []
    assert text.index("no declaration of conformity") < text.index("1 maker")
    assert "py-055" in text


@pytest.mark.parametrize("language", LANGUAGES)
def test_overrides_failures_and_cautions_are_printed(sheet_data, tmp_path: Path, language) -> None:
    data = sheet_data("pip_extension", language)
    data = changed(data, case=replace(data.case, override=OVERRIDE))
    write_record(tmp_path / "record.json", data)
    write_record_sheet(tmp_path / "record.pdf", data)
    record = read_record(tmp_path / "record.json")
    assert record["case"]["override"] == OVERRIDE.model_dump(mode="json")
    assert record["holds"] is False
    assert record["cautions"] == list(lines("cautions.all", language))
    text = Pdf(tmp_path / "record.pdf").text()
    found = FINDINGS[0].said(language)
    for words in (OVERRIDE.reason.strip(), "wrist_flexion", found, *lines("cautions.all", language)):
        assert " ".join(words.split()) in text
