"""Command `class-set`: the models of a whole class from one list."""

import json
import sys
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from print3d.cli.console import FAILS, HOLDS, REFUSED, AsJson, complain, out_option, outputs_of, progress_of
from print3d.errors import InputError, Sayable
from print3d.inputs.folder_name import trouble_with
from print3d.inputs.libraries import Libraries
from print3d.inputs.problems import Problem, refused, unknown_name
from print3d.language.catalogue import Language
from print3d.language.message import message

if TYPE_CHECKING:
    from print3d.training.class_set import ClassSet


def class_set(
    list_file: Annotated[Path, typer.Argument(metavar="LIST", help="CSV or TOML, a model case in each row.")],
    out: Annotated[Path | None, out_option("Files go to a folder of the list's name")] = None,
    material: Annotated[str, typer.Option(help="Of rows that name none.")] = "petg",
    printer: Annotated[str, typer.Option(help="Of rows that name none.")] = "extrusion",
    workers: Annotated[int | None, typer.Option(min=1, help="Processes; as many as there are cores.")] = None,
    language: Annotated[Language, typer.Option(help="Of the teacher's sheet.")] = "en",
    as_json: AsJson = False,
) -> None:
    """Build the models of a list on all cores, packed on beds, with a teacher's sheet.

    A row that fails is reported and stops no other. Exit 0: all rows hold, 1: a check fails, 2: a row has no model.
    """
    from print3d.inputs.class_list import read_class_list
    from print3d.output.fileset import file_set, refuse_unwritable
    from print3d.output.place import no_part
    from print3d.output.training.class_files import write_class_set
    from print3d.training.class_set import build_class_set

    out = out or outputs_of(list_file)
    name = list_file.stem
    if wanted := trouble_with(name):
        raise refused(list_file, message("refusals.cli.folder_name", what=wanted))
    _refuse_unknown(list_file, material, printer)
    rows = read_class_list(list_file, {"print": {"material": material, "printer": printer}})
    refuse_unwritable(out, name)
    with progress_of(list_file.name, quiet=as_json) as progress:
        built = build_class_set(rows, progress, workers)
        with file_set(out, name, no_part) as folder:
            files = write_class_set(folder, built, language)
    for outcome in built.outcomes:
        if not outcome.is_built:
            complain(lines_of(outcome.refused, language))
        if outcome.mistake:
            print(outcome.mistake, file=sys.stderr)
    if as_json:
        print(json.dumps(_report(built, [str(out / name / file) for file in files], language), indent=2))
    else:
        _show(built, [str(out / name / file) for file in files], language)
    raise typer.Exit(_code(built))


def _refuse_unknown(list_file: Path, material: str, printer: str) -> None:
    """Raise InputError for a material or printer of all rows that neither the program nor the clinic has."""
    from print3d.inputs.materials import read_materials, read_printers

    own, unknown = Libraries.beside(list_file), list[Problem]()
    materials, printers = read_materials(own.materials), read_printers(own.printers)
    if material not in materials:
        unknown.append(unknown_name("--material", material, message("refusals.no_such.material"), materials))
    if printer not in printers:
        unknown.append(unknown_name("--printer", printer, message("refusals.no_such.printer"), printers))
    if unknown:
        raise InputError(*unknown)


def _code(built: "ClassSet") -> int:
    if not all(outcome.is_built for outcome in built.outcomes):
        return REFUSED
    return HOLDS if built.holds else FAILS


def _show(built: "ClassSet", files: list[str], language: Language) -> None:
    done = [outcome for outcome in built.outcomes if outcome.is_built]
    processes = {outcome.process for outcome in done}
    beds = sum(len(plates) for plates in built.plates.values())
    print(f"{len(done)} of {len(built.outcomes)} models, {beds} plates, built in {len(processes)} processes")
    for outcome in built.outcomes:
        if not outcome.is_built:
            print(f"  x no model | {outcome.code}")
            continue
        sign = "x fails" if outcome.failed else "+ holds"
        title = outcome.title.said(language) if outcome.title else ""
        print(f"  {sign} | {outcome.code} | {title} | {built.plate_of(outcome)} | {outcome.seconds:.1f} s")
        for finding in outcome.failed:
            print(f"      {finding.said(language)}: {finding.measured:.2f} {finding.unit}")
    for file in files:
        print(f"  wrote {file}")


def lines_of(problems: Iterable[Sayable], language: Language) -> str:
    """Return why a row gave no model, a line for each problem."""
    return "\n".join(each.said(language) for each in problems)


def _report(built: "ClassSet", files: list[str], language: Language) -> dict[str, object]:
    from print3d.checks.finding import finding_as_data

    return {
        "holds": built.holds,
        "rows": [
            {
                "code": outcome.code, "place": outcome.place, "error": lines_of(outcome.refused, language), "problems": [each.as_data() for each in outcome.refused], "failed": [finding_as_data(each, language) for each in outcome.failed],
                "plate": built.plate_of(outcome), "seconds": round(outcome.seconds, 2), "process": outcome.process,
            }
            for outcome in built.outcomes
        ],
        "files": files,
    }  # fmt: skip
