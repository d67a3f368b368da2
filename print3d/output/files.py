"""Which files a build writes, by format, and how."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property, partial
from pathlib import Path
from typing import TYPE_CHECKING

from print3d.checks.finding import Finding
from print3d.checks.limits import limits_of_case
from print3d.checks.stiffness import is_in_effort, shown_in_effort
from print3d.design.advice import Advice
from print3d.forms.orthosis import Orthosis, part_name
from print3d.geometry.mesh import Mesh
from print3d.geometry.mirror import handed
from print3d.inputs.case import Case
from print3d.language.catalogue import text
from print3d.output.findings_json import advice_as_data, plans_as_data, write_findings
from print3d.output.paper.words import Words
from print3d.printing.plan import PrintPlan, plan_print

if TYPE_CHECKING:
    from print3d.output.paper.sheet import SheetData
from print3d.output.pictures.scene import Scene

Writer = Callable[[Path], None]
PICTURED = ("wall", "gap", "stress")
"""Maps that are also pictures."""


@dataclass(frozen=True, eq=False)
class Draft:
    """What is to be written.

    warnings, remarks, estimates : as in a `Result`
    advice : what to change for findings that fail
    """

    case: Case
    orthosis: Orthosis
    findings: Sequence[Finding]
    warnings: Sequence[str] = ()
    remarks: Sequence[str] = ()
    estimates: Sequence[str] = ()
    advice: Sequence[Advice] = ()

    @property
    def plans(self) -> list[PrintPlan]:
        """How each part is best printed."""
        return [plan_print(part, self.case.printer, self.case.material) for part in self.orthosis.parts]

    def meshes(self) -> dict[str, Mesh]:
        """Return the parts by name, for the hand of the case."""
        side = self.case.header.side
        return {part.name: handed(part.shell.mesh, side) for part in self.orthosis.parts}

    @cached_property
    def scene(self) -> "Scene":
        """What pictures of maps and the report's viewer draw, made once for all of them."""
        from print3d.output.pictures.scene import build_scene

        effort = shown_in_effort(self.orthosis, limits_of_case(self.case))
        return build_scene(self.case.header, self.orthosis, self.findings, effort)

    @cached_property
    def views(self) -> bytes:
        """The orthosis on its limb from four sides, as PNG."""
        from print3d.output.pictures.views import views_picture

        head, meshes = self.case.header, list(self.meshes().values())
        limb = handed(self.orthosis.limb.skin_mesh(), head.side)
        return views_picture(meshes, limb, title=self.title, side=head.side, language=head.language)

    @cached_property
    def pictures(self) -> dict[str, bytes]:
        """Every picture as PNG, by name."""
        from print3d.output.pictures.map_pictures import free_end_picture, map_pictures

        head, language = self.case.header, self.case.header.language
        titles = {
            name: f"{text(f'report.picture.title_{name}', language)}: {head.code}"
            for name in ("wall", "gap", "stress", "free_end")
        }
        made = {
            "views": self.views,
            **map_pictures(
                self.scene, {name: titles[name] for name in PICTURED if name in self.scene.scales}, language
            ),
        }
        end = free_end_picture(self.scene, title=titles["free_end"], language=language)
        return made if end is None else {**made, "free_end": end}

    @property
    def title(self) -> str:
        """What the set is called: code, side, finger, kind."""
        return Words(self.case.header.language).title(self.case)


def writers(draft: Draft, formats: frozenset[str]) -> dict[str, Writer]:
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
        name: write for key, maker in makers.items() if key in formats for name, write in maker(draft).items()
    }


def _stl(draft: Draft) -> dict[str, Writer]:
    meshes, stems = draft.meshes(), _stems(draft, draft.orthosis.kind)
    return {f"{stems[name]}.stl": partial(_write_stl, mesh) for name, mesh in meshes.items()}


def _stems(draft: Draft, stem: str) -> dict[str, str]:
    """File name of each part without its ending: `stem`, with the part's name where there are several."""
    names = [part.name for part in draft.orthosis.parts]
    if len(names) == 1:
        return {names[0]: stem}
    return {name: f"{stem}_{name}" for name in names}


def _write_stl(mesh: Mesh, path: Path) -> None:
    from print3d.output.mesh.stl import write_stl

    write_stl(path, mesh)


def _three_mf(draft: Draft) -> dict[str, Writer]:
    from print3d.output.mesh.threemf import write_3mf

    def write(path: Path) -> None:
        from print3d.printing.bed_layout import places_on_bed

        case = draft.case
        places = places_on_bed(draft.plans, case.header.side, case.printer.bed_mm)
        material = case.material.title
        write_3mf(path, draft.meshes(), title=draft.title, material_name=material, on_bed=places)

    return {f"{draft.orthosis.kind}.3mf": write}


def _step(draft: Draft) -> dict[str, Writer]:
    def write(path: Path) -> None:
        from print3d.output.mesh.step import write_step
        from print3d.shell.solid import build_solid

        solids = {part.name: build_solid(part.definition) for part in draft.orthosis.parts}
        write_step(path, solids, product_name=draft.title, mirror=draft.case.header.side == "left")

    return {f"{draft.orthosis.kind}.step": write}


def _pictures(draft: Draft) -> dict[str, Writer]:
    maps = [name for name in PICTURED if name != "stress" or is_in_effort(draft.findings)]
    names = ["views", *maps, *(["free_end"] if draft.orthosis.freed else [])]
    return {f"{name}.png": partial(_write_picture, draft) for name in names}


def _write_picture(draft: Draft, path: Path) -> None:
    path.write_bytes(draft.pictures[path.stem])


def _report(draft: Draft) -> dict[str, Writer]:
    def write(path: Path) -> None:
        from print3d.output.page.report import ReportData, report_page

        data = ReportData(
            draft.title, draft.case, draft.orthosis, draft.findings, draft.meshes(), draft.scene, draft.pictures,
            draft.warnings, draft.remarks, draft.advice, draft.plans,
        )  # fmt: skip
        path.write_text(report_page(data), encoding="utf-8", newline="\n")

    return {"report.html": write}


def _json(draft: Draft) -> dict[str, Writer]:
    def write(path: Path) -> None:
        more = {"print": plans_as_data(draft.plans, draft.case), "advice": advice_as_data(draft.advice)}
        write_findings(path, draft.case, draft.findings, draft.meshes(), more)

    return {"findings.json": write}


def _sheet_data(draft: Draft) -> "SheetData":
    from print3d.output.paper.sheet import SheetData

    told = draft.warnings, draft.remarks, draft.estimates, draft.advice
    return SheetData(draft.case, draft.orthosis, draft.findings, draft.meshes(), *told)


def _pattern(draft: Draft) -> dict[str, Writer]:
    from print3d.output.paper.pattern_sheet import FlatParts

    flat, language = FlatParts(draft.orthosis, draft.case.header.side), draft.case.header.language

    def write_sheet(path: Path) -> None:
        from print3d.output.paper.pattern_sheet import write_pattern_sheet

        write_pattern_sheet(path, _sheet_data(draft), flat.by_name)

    def write_drawing(part: str, path: Path) -> None:
        from print3d.output.paper.pattern_drawing import write_dxf, write_svg

        if path.suffix == ".svg":
            write_svg(path, flat.by_name[part], f"{draft.title}, {part_name(part).said(language)}")
        else:
            write_dxf(path, flat.by_name[part])

    drawings = {
        f"{stem}.{ending}": partial(write_drawing, part)
        for part, stem in _stems(draft, "pattern").items()
        for ending in ("svg", "dxf")
    }
    return {"pattern.pdf": write_sheet, **drawings}


def _sheets(draft: Draft) -> dict[str, Writer]:
    def print_sheet(path: Path) -> None:
        from print3d.output.paper.print_sheet import write_print_sheet

        write_print_sheet(path, _sheet_data(draft))

    def wear_sheet(path: Path) -> None:
        from print3d.output.paper.wear_sheet import write_wear_sheet

        write_wear_sheet(path, _sheet_data(draft))

    def fit_sheet(path: Path) -> None:
        from print3d.output.paper.fit_sheet import write_fit_sheet

        write_fit_sheet(path, _sheet_data(draft))

    return {"print_sheet.pdf": print_sheet, "wear_and_care.pdf": wear_sheet, "fit_check.pdf": fit_sheet}


def _record(draft: Draft) -> dict[str, Writer]:
    def write_json(path: Path) -> None:
        from print3d.output.record.record import write_record

        write_record(path, _sheet_data(draft))

    def write_sheet(path: Path) -> None:
        from print3d.output.record.record_sheet import write_record_sheet

        write_record_sheet(path, _sheet_data(draft))

    return {"record.json": write_json, "record.pdf": write_sheet}
