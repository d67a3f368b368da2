"""One case: who, which finger, what was measured, what is asked for, and how it is printed."""

import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import reduce
from operator import or_
from pathlib import Path
from typing import Annotated, Any, Literal, cast

from pydantic import Field, create_model

from print3d.inputs.folder_name import ACCEPTED, CODE, trouble_with
from print3d.inputs.materials import (
    Material,
    Printer,
    material_name,
    printer_name,
    read_materials,
    read_printers,
)
from print3d.inputs.measured import FingerName, Measured
from print3d.inputs.options import OrthosisOptions
from print3d.inputs.problems import Problem, refusal
from print3d.inputs.rules import joint_problems, override_problems, print_problems
from print3d.inputs.table import Accepts, Given, Section, section_for
from print3d.inputs.toml_file import read_toml
from print3d.inputs.validation import Validated, validate
from print3d.language.catalogue import Language
from print3d.language.message import Message

LETTER_SPARE_MM = 0.05
"""Letters stand out so much more than the printer's least: on a curved wall they lose a little; own choice."""

Kinds = Mapping[str, type[OrthosisOptions]]
Shelves = tuple[Mapping[str, Material], Mapping[str, Printer]]


class CaseHeader(Section):
    """Who and where; a code, never a name."""

    code: Annotated[str, Accepts(ACCEPTED)] = Field(
        pattern=f"^{CODE}$", description="Code of the case; it names the output folder"
    )
    side: Literal["left", "right"] = Field(description="Side of the hand")
    finger: FingerName = Field(description="Finger that the orthosis is for")
    language: Language = Field("en", description="Language of report, sheets and record")
    paper: Literal["a4", "letter"] = Field("a4", description="Paper of the sheets")
    note: str = Field("", max_length=500, description="Anything worth telling; no names")

    @classmethod
    def contradictions(cls, given: Given) -> list[Problem]:
        """Return a code that can name no folder."""
        code = given.get("code", "")
        # guard: code: of a case
        wanted = trouble_with(code) if code else ""
        return [Problem("code", code, wanted)] if wanted else []


class PrintChoice(Section):
    """What it is printed from, and by what."""

    material: str = Field(description="Name of a material")
    printer: str = Field(description="Name of a printer")
    price_per_kg: float | None = Field(
        None, ge=0, le=10_000, description="Price of the material, in any currency"
    )


class Override(Section):
    """Limits that the prescriber lifts, and why."""

    reason: Annotated[str, Accepts("a text in quotes of 3 to 500 characters that says why")] = Field(
        min_length=3, max_length=500, description="Why, in the prescriber's words"
    )
    allow: tuple[str, ...] = Field((), strict=False, description="Names of the limits that are lifted")


class CaseFile(Section):
    """The tables of a case file; the type of `orthosis` is filled in from the kinds there are (`case_file_model`)."""

    case: CaseHeader = Field(description="Who and where")
    measured: Measured = Field(default_factory=Measured, description="What was measured")
    orthosis: OrthosisOptions = Field(description="What is asked for")
    print: PrintChoice = Field(description="How it is printed")
    override: Override | None = Field(None, description="Limits that the prescriber lifts")


@dataclass(frozen=True)
class Case:
    """A complete, valid case.

    source : the file it came from, for messages
    material, printer : what `print` names, with all figures
    """

    source: Path
    header: CaseHeader
    measured: Measured
    orthosis: OrthosisOptions
    print: PrintChoice
    override: Override | None
    material: Material
    printer: Printer

    def allows(self, override: str) -> bool:
        """Whether the prescriber lifted a limit."""
        return self.override is not None and override in self.override.allow

    @property
    def material_name(self) -> Message:
        """What the material is called."""
        return material_name(self.print.material, self.material)

    @property
    def printer_name(self) -> Message:
        """What the printer is called."""
        return printer_name(self.print.printer, self.printer)


def read_case(path: Path, kinds: Kinds) -> Case:
    """Read a case file. Materials and printers beside its folder (`../materials`, `../printers`) go first.

    Raises InputError with every problem of the file, one line each.
    """
    return case_from_data(read_toml(path), kinds, path)


def case_from_data(
    data: Mapping[str, Any], kinds: Kinds, source: Path, shelves: Shelves | None = None
) -> Case:
    """Make a case from the tables of a case file; `source` is named in messages.

    shelves : materials and printers to choose from; those of the program and of the case's folder if None

    Raises InputError with every problem, one line each.
    """
    shelf = source.resolve().parent.parent
    materials, printers = shelves or (read_materials(shelf / "materials"), read_printers(shelf / "printers"))
    model = case_file_model(kinds)
    result: Validated[CaseFile] = validate(model, data)
    options = section_for(model.model_fields["orthosis"], data.get("orthosis"))
    problems = [
        *result.problems,
        *joint_problems(result.given),
        *override_problems(result.given, cast("type[OrthosisOptions] | None", options)),
        *print_problems(result.given, materials, printers),
    ]
    if result.table is None or problems:
        raise refusal(source, problems)
    file, printer = result.table, printers[result.table.print.printer]
    case = Case(
        source,
        file.case,
        file.measured,
        _legible(file.orthosis, printer),
        file.print,
        file.override,
        materials[file.print.material],
        printer,
    )
    return replace(case, orthosis=case.orthosis.completed(case))


def _legible(options: OrthosisOptions, printer: Printer) -> OrthosisOptions:
    """The options with letters as deep as the printer needs them, where the file leaves their depth open."""
    marking, least = options.marking, printer.min_text_depth_mm.value + LETTER_SPARE_MM
    if marking.style == "none" or "depth_mm" in marking.model_fields_set or marking.depth_mm >= least:
        return options
    return options.model_copy(update={"marking": marking.model_copy(update={"depth_mm": least})})


def case_file_model(kinds: Kinds) -> type[CaseFile]:
    """Return the model of a case file whose [orthosis] is any of the kinds, told apart by `kind`."""
    options = reduce(or_, kinds.values())
    field = Field(description="What is asked for", discriminator="kind" if len(kinds) > 1 else None)
    return create_model("CaseFile", __base__=CaseFile, orthosis=(options, field))


def canonical_data(case: Case) -> dict[str, Any]:
    """Return the case as the tables of a file, every default written out."""
    tables: dict[str, Section | None] = {
        "case": case.header,
        "measured": case.measured,
        "orthosis": case.orthosis,
        "print": case.print,
        "override": case.override,
    }
    return {
        name: table.model_dump(mode="json", exclude_none=True)
        for name, table in tables.items()
        if table is not None
    }


def canonical_text(case: Case) -> str:
    """Return the case as sorted JSON: the same text for the same case, whatever its file looked like."""
    return json.dumps(canonical_data(case), sort_keys=True, indent=2, ensure_ascii=False) + "\n"
