"""The sheet for whoever prints and finishes the part, up to the moment it touches skin."""

from itertools import zip_longest
from pathlib import Path

from print3d.built import Built
from print3d.forms.limb_of_case import case_label
from print3d.language.catalogue import lines, number
from print3d.output.paper.bed_drawing import draw_on_bed
from print3d.output.paper.drawing import NOTE
from print3d.output.paper.findings import findings_in_words
from print3d.output.paper.paper import Columns, Paper
from print3d.output.paper.print_numbers import PrintNumbers, print_numbers
from print3d.output.paper.sheet import cautions, wall_in_words, words_of, write_on_one_page
from print3d.output.paper.signs import dot, fails, holds, tick_box
from print3d.output.paper.straps import write_straps
from print3d.output.paper.which_hand import draw_which_hand
from print3d.output.paper.words import Words
from print3d.printing.plan import PrintPlan

FINISH_OF = {
    "extrusion": "after_extrusion",
    "powder_bed_laser": "after_powder",
    "powder_bed_multi_jet": "after_powder",
    "resin": "after_resin",
}
BLANK = "____________"
LEAST_MARK_MM2 = 0.5
"""Marks of supports smaller than this are not mentioned; own choice."""


def write_print_sheet(path: Path, built: Built) -> None:
    """Write the sheet for the printer, by the print plan of every part."""
    write_on_one_page(path, built, "sheets.print.title", _fill)


def _fill(paper: Paper, built: Built) -> None:
    words, case = words_of(built), built.case
    parts = print_numbers(built)
    draw_which_hand(paper, built, words("sheets.print.lead"))
    paper.heading(words("sheets.print.what"))
    columns = [words(f"sheets.print.{name}") for name in ("part", "size", "volume", "mass")]
    paper.table([_what(words, each) for each in parts], Columns((38, 29, 19, 14), head=columns))
    paper.paragraph(words("sheets.print.side_files", side=words.named("side", case.header.side)))
    settings = _settings(built)
    half = -(-len(settings) // 2)
    beside = [
        (*left, *right) for left, right in zip_longest(settings[:half], settings[half:], fillvalue=("", ""))
    ]
    paper.table(beside, Columns((20, 30, 30, 20)))
    with paper.together():
        paper.heading(words("sheets.print.how"))
        rows = [_how(built, each) for each in parts]
        names = [words.named("part", each.part) for each in parts]
        head = ["", *names] if len(parts) > 1 else None
        of_parts = [(label, *(row[label] for row in rows)) for label in rows[0]]
        paper.table(of_parts, Columns((34, *[66 / len(parts)] * len(parts)), head=head))
    for name, each in zip(names, parts, strict=True):
        with paper.together():
            if len(parts) > 1:
                paper.paragraph(name, NOTE)
            draw_on_bed(paper, words, each.mesh, each.plan.bed_from_limb, 1.0 / len(parts))
    write_straps(paper, words, built)
    paper.heading(words("sheets.print.after"))
    paper.items(lines(f"sheets.print.{FINISH_OF[case.printer.process]}", words.language), dot)
    paper.heading(words("sheets.print.inspect"))
    label = case_label(case).removesuffix("→").strip()
    values = {
        "label": label,
        "tolerance_mm": case.printer.tolerance_mm.value,
        "wall": wall_in_words(built),
    }
    paper.items(lines("sheets.print.checks", words.language, **values), tick_box)
    if built.failing:
        paper.heading(words("sheets.print.not_held"))
        paper.items(findings_in_words(words, built.failing), fails)
    else:
        paper.items([words("sheets.print.all_hold", n=len(built.findings))], holds)
    paper.space(3.0)
    paper.blanks(lines("sheets.print.signed", words.language), columns=2)
    cautions(paper)


def _what(words: Words, each: PrintNumbers) -> tuple[str, str, str, str]:
    size = " x ".join(number(side, words.language) for side in each.size_mm)
    volume, mass = (
        number(amount, words.language, decimals=2) for amount in (each.volume_cm3, each.plan.mass_g)
    )
    return words.named("part", each.part), size, volume, mass


def _settings(built: Built) -> list[tuple[str, str]]:
    """Material and machine, each with the number that matters for the part."""
    words, case = words_of(built), built.case
    language, material, printer = words.language, case.material, case.printer
    found = {
        "material": words.named("material", case.print.material, material.title),
        "printer": words.named("process", printer.process),
        "layer": f"{number(printer.layer_mm.value, language, decimals=2)} mm",
        "wall": wall_in_words(built),
        "fill": words("sheets.print.solid"),
        "tolerance": f"± {number(printer.tolerance_mm.value, language)} mm",
        "heat": f"{number(material.heat_ceiling_c.value, language, decimals=0)} °C",
    }
    return [(words(f"sheets.print.{key}"), value) for key, value in found.items()]


def _how(built: Built, each: PrintNumbers) -> dict[str, str]:
    """Position, supports and time as planned; room to write the time where the printer's file does not tell its pace."""
    words, plan = words_of(built), each.plan
    x, y, z = plan.size_mm
    position = words("sheets.print.on_bed", position=plan.position(words.language), x=x, y=y, z=z)
    if built.case.printer.process.startswith("powder"):
        position += f"; {words('sheets.print.any_position')}"
    rows = {"position": position, "supports": _supports(words, plan), "layers": str(plan.layers)}
    if plan.seconds is None:
        rows["time"] = f"{words('sheets.print.time_by_hand')}: {BLANK}"
    else:
        hours, minutes = divmod(round(plan.seconds / 60.0), 60)
        rows["time"] = words("sheets.print.minutes", hours=hours, minutes=minutes)
    rows["strength"] = f"{number(100.0 * plan.strength, words.language, decimals=0)} %"
    price = built.case.print.price_per_kg
    if price is not None:
        rows["price"] = number(plan.cost(price), words.language, decimals=2)
    return {words(f"sheets.print.{key}"): value for key, value in rows.items()}


def _supports(words: Words, plan: PrintPlan) -> str:
    if plan.supports.volume_mm3 <= 0.0:
        return words("sheets.print.supports_none")
    if plan.supports.skin_mm2 < LEAST_MARK_MM2:
        return words("sheets.print.supports_mass", mass_g=plan.support_mass_g)
    return words("sheets.print.supports_skin", mass_g=plan.support_mass_g, area_mm2=plan.supports.skin_mm2)
