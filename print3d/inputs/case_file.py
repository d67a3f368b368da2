"""From a case file to a case: its tables, the kinds of orthosis there are, and every problem at once."""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from functools import reduce
from operator import or_
from pathlib import Path
from typing import Protocol, cast, runtime_checkable

from pydantic import Field, create_model

from print3d.inputs.case import Case, CaseHeader, Override, PrintChoice
from print3d.inputs.finger_words import with_fingers_named
from print3d.inputs.libraries import Libraries
from print3d.inputs.materials import Material, Printer, read_materials, read_printers
from print3d.inputs.measured import Measured
from print3d.inputs.old_keys import renewed
from print3d.inputs.options import OrthosisOptions
from print3d.inputs.problems import Problem, refusal
from print3d.inputs.rules import (
    confirmed_problems,
    joint_problems,
    override_problems,
    print_problems,
    protected_problems,
    spell_problems,
    unmeasured_problems,
)
from print3d.inputs.table import Section, section_for
from print3d.inputs.toml_file import read_toml
from print3d.inputs.validation import Validated, validate

LETTER_SPARE_MM = 0.05
"""Letters stand out this much more than the printer's least: on a curved wall they lose a little; own choice."""

Kinds = Mapping[str, type[OrthosisOptions]]
"""Options of every kind of orthosis, by its name."""
Choice = tuple[Mapping[str, Material], Mapping[str, Printer]]
"""Materials and printers by name."""


@runtime_checkable
class Completing(Protocol):
    """Options with defaults that depend on the rest of the case; a kind that has such ones says which."""

    def completed(self, case: Case) -> OrthosisOptions:
        """Return the options with those defaults filled in."""


class CaseFile(Section):
    """The tables of a case file; the type of `orthosis` is filled in from the kinds there are (`case_file_model`)."""

    case: CaseHeader = Field(description="Who and where")
    measured: Measured = Field(default_factory=Measured, description="What was measured")
    orthosis: OrthosisOptions = Field(description="What is asked for")
    print: PrintChoice = Field(description="How it is printed")
    override: Override | None = Field(None, description="Limits that the prescriber lifts")


def read_case(path: Path, kinds: Kinds, libraries: Libraries | None = None) -> Case:
    """Read a case file.

    libraries : the clinic's own; those beside the folder of the file if None

    Raises InputError with every problem of the file.
    """
    return case_from_data(read_toml(path), kinds, path, libraries)


def case_from_data(
    data: Mapping[str, object],
    kinds: Kinds,
    source: Path,
    libraries: Libraries | None = None,
    choice: Choice | None = None,
) -> Case:
    """Make a case from the tables of a case file.

    source : named in messages
    libraries : as for `read_case`
    choice : materials and printers to choose from; those of the program and of the libraries if None

    Raises InputError with every problem.
    """
    own = Libraries.beside(source) if libraries is None else libraries
    materials, printers = choice or (read_materials(own.materials), read_printers(own.printers))
    model = case_file_model(kinds)
    named = with_fingers_named(data)
    today = renewed(named.data)
    result: Validated[CaseFile] = validate(model, today.data)
    options = cast(
        "type[OrthosisOptions] | None",
        section_for(model.model_fields["orthosis"], today.data.get("orthosis")),
    )
    problems = [
        *today.problems,
        *result.problems,
        # guard: a finger that nobody measured
        *_unmeasured(result, today.data),
        *confirmed_problems(result.given),
        *joint_problems(result.given),
        *protected_problems(result.given, options),
        *spell_problems(result.given, options),
        *override_problems(result.given, options),
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
        own,
        (*named.notes, *today.notes),
    )
    asked = case.orthosis
    return replace(case, orthosis=asked.completed(case)) if isinstance(asked, Completing) else case


def _unmeasured(result: Validated[CaseFile], data: Mapping[str, object]) -> Iterator[Problem]:
    """Yield the fingers that nobody measured; of a file with other problems the case's own alone."""
    finger, raw = result.given.get("case.finger"), data.get("measured", {})
    if finger is None or not isinstance(raw, Mapping):
        return
    asked = None if result.table is None else result.table.orthosis
    yield from unmeasured_problems(raw, finger, (finger,) if asked is None else asked.fingers_around(finger))


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
