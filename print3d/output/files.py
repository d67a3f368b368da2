"""Which files a build writes, by format, and how."""

from collections.abc import Callable
from functools import partial
from pathlib import Path

from print3d.built import Built
from print3d.errors import ExportError
from print3d.forms.orthosis import part_name
from print3d.geometry.mesh import Mesh
from print3d.language.catalogue import lines
from print3d.language.message import message
from print3d.output.fileset import file_set
from print3d.output.findings_json import write_findings
from print3d.output.formats import OF_FINDINGS
from print3d.output.place import kept_as, write_stamp
from print3d.output.record.record import stamp_of
from print3d.output.title import title_of

Writer = Callable[[Path], None]


def _silent(_: str) -> None:
    """Tell nobody."""


def write_files(
    built: Built, folder: Path, formats: frozenset[str], progress: Callable[[str], None] = _silent
) -> list[str]:
    """Write files, and the stamp of the part, into a folder that is there; return their names."""
    files = writers(built, formats)
    for name, write_one in files.items():
        progress(f"write {name}")
        write_one(folder / name)
    write_stamp(folder, stamp_of(built))
    return list(files)


def write_set(
    built: Built,
    folder: Path,
    formats: frozenset[str],
    progress: Callable[[str], None] = _silent,
    name: str | None = None,
) -> tuple[Path, ...]:
    """Write files as one set to `folder`/`name`, by default the folder of the visit; return where they are.

    Raises InputError if a part of another shape stands there, and ExportError if it cannot be written, or if a file says whether
    the checks hold and none was run.
    """
    _refuse_unchecked(built, formats)
    place, stamp = name or built.case.mark.place, stamp_of(built)
    with file_set(folder, place, partial(kept_as, stamp, built.case.source)) as new_files:
        names = write_files(built, new_files, formats, progress)
    return tuple(folder / place / each for each in names)


def _refuse_unchecked(built: Built, formats: frozenset[str]) -> None:
    """Raise ExportError if a format says whether the checks hold and they were not run."""
    asked = sorted(formats & OF_FINDINGS)
    if asked and not built.is_checked:
        code = built.case.header.code
        raise ExportError(message("refusals.output.unchecked", code=code, formats=", ".join(asked)))


def writers(built: Built, formats: frozenset[str]) -> dict[str, Writer]:
    """Return file name -> writer for the asked formats."""
    makers = {
        "stl": _stl,
        "3mf": _three_mf,
        "step": _step,
        "png": _pictures,
        "json": _json,
        "html": _report,
        "pattern": _pattern,
        "sheets": _sheets,
        "record": _record,  # last: it holds the hashes of all others
    }
    return {
        name: write for key, maker in makers.items() if key in formats for name, write in maker(built).items()
    }


def _stl(built: Built) -> dict[str, Writer]:
    stems = _stems(built, built.case.orthosis.kind)
    return {f"{stems[name]}.stl": partial(_write_stl, mesh) for name, mesh in built.meshes.items()}


def _stems(built: Built, stem: str) -> dict[str, str]:
    """File name of each part without its ending: `stem`, with the part's name where there are several."""
    names = [part.name for part in built.modelled.parts]
    if len(names) == 1:
        return {names[0]: stem}
    return {name: f"{stem}_{name}" for name in names}


def _write_stl(mesh: Mesh, path: Path) -> None:
    from print3d.output.mesh.stl import write_stl

    write_stl(path, mesh)


def _three_mf(built: Built) -> dict[str, Writer]:
    def write(path: Path) -> None:
        from print3d.output.mesh.threemf import write_3mf
        from print3d.printing.bed_layout import places_on_bed

        case = built.case
        places = places_on_bed(built.plans, case.printer.bed_mm)
        title, material = title_of(case), case.material.title
        says = {"Title": title, "Description": " ".join(lines("cautions.all", case.header.language))}
        write_3mf(path, built.meshes, says=says, material_name=material, on_bed=places)

    return {f"{built.case.orthosis.kind}.3mf": write}


def _step(built: Built) -> dict[str, Writer]:
    def write(path: Path) -> None:
        from print3d.output.mesh.step import write_step
        from print3d.shell.solid import build_solid

        solids = {part.name: build_solid(part.definition) for part in built.modelled.parts}
        write_step(path, solids, product_name=title_of(built.case), side=built.side)

    return {f"{built.case.orthosis.kind}.step": write}


def _pictures(built: Built) -> dict[str, Writer]:
    from print3d.output.pictures.of_case import picture_names

    return {f"{name}.png": partial(_write_picture, built) for name in picture_names(built)}


def _write_picture(built: Built, path: Path) -> None:
    from print3d.output.pictures.caution import with_caution
    from print3d.output.pictures.of_case import pictures_of

    path.write_bytes(with_caution(pictures_of(built)[path.stem], built.case.header.language))


def _report(built: Built) -> dict[str, Writer]:
    def write(path: Path) -> None:
        from print3d.output.page.report import report_page
        from print3d.output.pictures.of_case import pictures_of

        path.write_text(report_page(built, pictures_of(built)), encoding="utf-8", newline="\n")

    return {"report.html": write}


def _json(built: Built) -> dict[str, Writer]:
    return {"findings.json": lambda path: write_findings(path, built)}


def _pattern(built: Built) -> dict[str, Writer]:
    def write_sheet(path: Path) -> None:
        from print3d.output.paper.pattern_sheet import write_pattern_sheet

        write_pattern_sheet(path, built)

    def write_drawing(part: str, path: Path) -> None:
        from print3d.output.paper.pattern_drawing import write_dxf, write_svg
        from print3d.output.paper.pattern_sheet import flat_parts

        flat, language = flat_parts(built)[part], built.case.header.language
        title = f"{title_of(built.case)}, {part_name(part).said(language)}"
        write = write_svg if path.suffix == ".svg" else write_dxf
        write(path, flat, (title, *lines("cautions.all", language)))

    drawings = {
        f"{stem}.{ending}": partial(write_drawing, part)
        for part, stem in _stems(built, "pattern").items()
        for ending in ("svg", "dxf")
    }
    return {"pattern.pdf": write_sheet, **drawings}


def _sheets(built: Built) -> dict[str, Writer]:
    def print_sheet(path: Path) -> None:
        from print3d.output.paper.print_sheet import write_print_sheet

        write_print_sheet(path, built)

    def wear_sheet(path: Path) -> None:
        from print3d.output.paper.wear_sheet import write_wear_sheet

        write_wear_sheet(path, built)

    def fit_sheet(path: Path) -> None:
        from print3d.output.paper.fit_sheet import write_fit_sheet

        write_fit_sheet(path, built)

    return {"print_sheet.pdf": print_sheet, "wear_and_care.pdf": wear_sheet, "fit_check.pdf": fit_sheet}


def _record(built: Built) -> dict[str, Writer]:
    def write_json(path: Path) -> None:
        from print3d.output.record.record import write_record

        write_record(path, built)

    def write_sheet(path: Path) -> None:
        from print3d.output.record.record_sheet import write_record_sheet

        write_record_sheet(path, built)

    return {"record.json": write_json, "record.pdf": write_sheet}
