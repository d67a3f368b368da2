"""One case: who, which finger, what was measured, what is asked for, and how it is printed."""

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field

from print3d.inputs.folder_name import ACCEPTED, CODE, trouble_with
from print3d.inputs.libraries import Libraries
from print3d.inputs.materials import Material, Printer, material_name, printer_name
from print3d.inputs.measured import FingerName, Measured, with_finger
from print3d.inputs.options import OrthosisOptions
from print3d.inputs.part_mark import FIRST_VISIT, LAST_VISIT, PartMark
from print3d.inputs.problems import Problem
from print3d.inputs.table import Accepts, GivenValues, Section
from print3d.inputs.tables import Tables
from print3d.language.catalogue import Language
from print3d.language.message import Message, message


class CaseHeader(Section):
    """Who and where; a code, never a name."""

    code: Annotated[str, Accepts(ACCEPTED)] = Field(
        pattern=f"^{CODE}$", description="Code of the case; it names the output folder"
    )
    visit: int = Field(
        FIRST_VISIT,
        ge=FIRST_VISIT,
        le=LAST_VISIT,
        description="Visit; from the second on part of label and folder",
    )
    side: Literal["left", "right"] = Field(description="Side of the hand")
    finger: FingerName = Field(description="Finger that the orthosis is for")
    language: Language = Field("en", description="Language of report, sheets and record")
    paper: Literal["a4", "letter"] = Field("a4", description="Paper of the sheets")
    protected: bool | None = Field(
        None,
        description="Whether it never comes off but in therapy; pip_extension alone takes both, true if left out; rings never are, others always",
    )
    note: str = Field("", max_length=500, description="Anything worth telling; no names")

    @classmethod
    def contradictions(cls, given: GivenValues) -> list[Problem]:
        """Return a code that can name no folder."""
        code = given.get("code", "")
        # guard: code: of a case
        wanted = trouble_with(code) if code else None
        return [Problem("code", code, wanted)] if wanted is not None else []


class PrintChoice(Section):
    """What it is printed from, and by what."""

    material: str = Field(description="Name of a material")
    printer: str = Field(description="Name of a printer")
    price_per_kg: float | None = Field(
        None, ge=0, le=10_000, description="Price of the material, in any currency"
    )


class Override(Section):
    """Limits that the prescriber lifts, and why."""

    reason: Annotated[str, Accepts(message("refusals.accepts.reason"))] = Field(
        min_length=3, max_length=500, description="Why, in the prescriber's words"
    )
    allow: tuple[str, ...] = Field((), strict=False, description="Names of the limits that are lifted")


@dataclass(frozen=True)
class Case:
    """A complete, valid case.

    source : the file it came from, for messages
    material, printer : what `print` names, with all figures
    libraries : where the clinic keeps what is its own
    notes : what the file calls by an old name
    revision, step : as in its mark; no case file says them
    """

    source: Path
    header: CaseHeader
    measured: Measured
    orthosis: OrthosisOptions
    print: PrintChoice
    override: Override | None
    material: Material
    printer: Printer
    libraries: Libraries = Libraries()
    notes: tuple[Message, ...] = ()
    revision: str = ""
    step: int | None = None

    @property
    def mark(self) -> PartMark:
        """What tells its part from all others."""
        return PartMark(self.header.code, self.header.visit, self.revision, self.step)

    def allows(self, override: str) -> bool:
        """Whether the prescriber lifted a limit."""
        return self.override is not None and override in self.override.allow

    @property
    def confirmed(self) -> frozenset[str]:
        """Measures that were taken again, a finger's with its name."""
        return frozenset(with_finger(key, self.header.finger) for key in self.measured.confirmed)

    @property
    def is_protected(self) -> bool:
        """Whether its wearer never takes it off alone, since a joint in it must not move.

        Where the case leaves it open, it is so.
        """
        protects = self.orthosis.protects
        return protects == "always" or (protects == "by_case" and self.header.protected is not False)

    @property
    def material_name(self) -> Message:
        """What the material is called."""
        return material_name(self.print.material, self.material)

    @property
    def printer_name(self) -> Message:
        """What the printer is called."""
        return printer_name(self.print.printer, self.printer)


def canonical_data(case: Case) -> Tables:
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
