"""The record on paper, laid out with the fields of EU MDR 2017/745 Annex XIII; what only the clinic knows is left blank."""

from collections.abc import Iterator, Mapping, Sequence
from hashlib import sha256
from pathlib import Path
from typing import Any

from print3d.checks.finding import VERDICTS, Verdict
from print3d.design.advice import Advice
from print3d.language.catalogue import lines
from print3d.output.page.options_in_words import unit_sign
from print3d.output.paper.findings import (
    findings_in_words,
    limit_in_words,
    measured_in_words,
    sources_in_words,
)
from print3d.output.paper.fit_sheet import angles
from print3d.output.paper.paper import NOTE, SMALL, Columns, Paper, Sign
from print3d.output.paper.sheet import SheetData, cautions
from print3d.output.paper.signs import dot, fails, holds, tick_box, warning
from print3d.output.record.record import record_data

MM3_PER_CM3 = 1000.0
SIGN_OF: Mapping[Verdict, Sign] = {"fails": fails, "watch": warning, "holds": holds}


def write_record_sheet(path: Path, data: SheetData) -> None:
    """Write the record as PDF; record.json and all other files of the set must lie beside it already."""
    record = record_data(data, path.parent)
    paper, words = data.paper("record.title"), data.words
    paper.items([words("record.no_declaration")], warning)
    _blanks(paper, data, "maker")
    _device(paper, data, record)
    _blanks(paper, data, "person", words("record.person.statement", code=data.case.header.code))
    _blanks(paper, data, "prescriber")
    _prescribed(paper, data)
    _requirements(paper, data)
    _heading(paper, data, "substances")
    paper.items(lines("record.substances.ticks", words.language), tick_box)
    paper.blanks(lines("record.substances.rows", words.language))
    _made(paper, data, record)
    _findings(paper, data)
    _told(paper, data)
    _case(paper, data, record)
    _files(paper, data, record, path.parent)
    _heading(paper, data, "after")
    paper.items(lines("record.after.rows", words.language), dot)
    paper.blanks(lines("record.after.signed", words.language))
    cautions(paper)
    data.save(paper, path)


def _heading(paper: Paper, data: SheetData, topic: str) -> None:
    paper.heading(data.words(f"record.{topic}.head"), keep_mm=16.0)


def _blanks(paper: Paper, data: SheetData, topic: str, statement: str | None = None) -> None:
    _heading(paper, data, topic)
    if statement is not None:
        paper.paragraph(statement)
    paper.blanks(lines(f"record.{topic}.rows", data.words.language))


def _device(paper: Paper, data: SheetData, record: Mapping[str, Any]) -> None:
    words, say = data.words, "record.device"
    _heading(paper, data, "device")
    rows = [
        (words(f"{say}.code"), data.case.header.code),
        (words(f"{say}.kind"), words.title(data.case)),
    ]
    for name, part in record["parts"].items():
        values = {
            "n": part["triangles"],
            "volume_cm3": part["volume_mm3"] / MM3_PER_CM3,
            "sha256": part["sha256"],
        }
        label = f"{words(f'{say}.part')}: {words.named('part', name)}"
        rows.append((label, words(f"{say}.triangles", **values)))
    paper.table(rows, Columns((38, 62)))


def _prescribed(paper: Paper, data: SheetData) -> None:
    """Angles held, stopped and free, the note, and limits that were lifted with the reason."""
    words, case = data.words, data.case
    _heading(paper, data, "prescribed")
    rows = [(what, design) for what, design, _ in angles(data)]
    if case.header.note:
        rows.append((words("record.prescribed.note"), case.header.note))
    lifted = words("record.prescribed.override")
    if case.override is None:
        rows.append((lifted, words("record.prescribed.none")))
    else:
        rows.append((lifted, ", ".join(case.override.allow) or words("record.prescribed.none")))
        rows.append((words("record.prescribed.reason"), case.override.reason))
    paper.table(rows, Columns((38, 62)))


def _requirements(paper: Paper, data: SheetData) -> None:
    words = data.words
    _heading(paper, data, "requirements")
    paper.items(lines("record.requirements.ticks", words.language), tick_box)
    if data.failing:
        paper.paragraph(words("record.requirements.known"))
        paper.items(findings_in_words(words, data.failing), fails)
    else:
        paper.items([words("record.requirements.none_known", n=len(data.findings))], holds)
    if data.watched:
        paper.paragraph(words("record.requirements.watch"))
        paper.items(findings_in_words(words, data.watched), warning)
    paper.space(1.5)
    paper.blanks(lines("record.requirements.rows", words.language))


def _made(paper: Paper, data: SheetData, record: Mapping[str, Any]) -> None:
    words, case, say = data.words, data.case, "record.made"
    known = dict(record["versions"])
    system = f"Python {known.pop('python')}, {known.pop('system')}"
    program = f"print3d {known.pop('print3d')}"
    material = words.named("material", case.print.material, case.material.title)
    figures = {"density": case.material.density_g_per_cm3.value, "heat": case.material.heat_ceiling_c.value}
    settings = {"layer_mm": case.printer.layer_mm.value, "tolerance_mm": case.printer.tolerance_mm.value}
    process = words.named("process", case.printer.process)
    _heading(paper, data, "made")
    rows = [
        (words(f"{say}.program"), program),
        (words(f"{say}.libraries"), ", ".join(f"{name} {each}" for name, each in known.items())),
        (words(f"{say}.system"), system),
        (words(f"{say}.material"), f"{material}; {words(f'{say}.density', **figures)}"),
        (words(f"{say}.printer"), f"{process}; {words(f'{say}.printed', **settings)}"),
    ]
    for plan in data.plans:
        x, y, z = plan.size_mm
        lies = words("sheets.print.on_bed", position=plan.position(words.language), x=x, y=y, z=z)
        rows.append((f"{words('sheets.print.position')}: {words.named('part', plan.part)}", lies))
    paper.table(rows, Columns((38, 62)))
    paper.paragraph(words(f"{say}.finish"))
    paper.paragraph(words("record.again"))


def _findings(paper: Paper, data: SheetData) -> None:
    words = data.words
    _heading(paper, data, "findings")
    rows, signs = [], []
    ordered = sorted(data.findings, key=lambda each: VERDICTS.index(each.verdict))
    for finding, source in zip(ordered, sources_in_words(words, ordered), strict=True):
        found, limit = measured_in_words(words, finding), limit_in_words(words, finding)
        verdict = words(f"common.finding.{finding.verdict}")
        rows.append(("", f"{finding.said(words.language)}: {verdict}", found, limit, source))
        signs.append(SIGN_OF[finding.verdict])
    columns = ["", *lines("record.findings.columns", words.language)]
    paper.table(rows, Columns((4, 38, 13, 17, 30), head=columns, style=NOTE, signs=signs))
    if data.advice:
        paper.paragraph(words("record.findings.change"))
        paper.items([_change(data, each) for each in data.advice], dot, NOTE)


def _change(data: SheetData, advice: Advice) -> str:
    """One change that was tried, as a sentence."""
    words = data.words
    values = {
        "option": advice.option,
        "now": _value(advice.now),
        "then": _value(advice.then),
        "measured": float(advice.measured),
    }
    what, unit = advice.finding.said(words.language), unit_sign(advice.finding.unit)
    return words("record.findings.would_hold", what=what, unit=unit, **values)


def _told(paper: Paper, data: SheetData) -> None:
    for key, told in (("warnings", data.warned), ("remarks", data.remarked), ("estimates", data.estimated)):
        if told:
            paper.heading(data.words(f"record.told.{key}"))
            paper.paragraph("; ".join(told) + ".", NOTE)


def _case(paper: Paper, data: SheetData, record: Mapping[str, Any]) -> None:
    words = data.words
    _heading(paper, data, "case")
    head = [words("record.case.key"), words("record.case.value")]
    paper.table(list(_keys(record["case"])), Columns((45, 55), head=head, style=SMALL))


def _keys(table: Mapping[str, Any], before: str = "") -> Iterator[tuple[str, str]]:
    """Dotted keys with their values as a case file writes them; sorted by table."""
    for key, value in table.items():
        if isinstance(value, Mapping):
            yield from _keys(value, f"{before}{key}.")
        else:
            yield f"{before}{key}", _value(value)


def _value(value: object) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, Sequence) and not isinstance(value, str):
        return ", ".join(_value(each) for each in value)
    return f"{value:g}" if isinstance(value, float) else str(value)


def _files(paper: Paper, data: SheetData, record: Mapping[str, Any], folder: Path) -> None:
    words = data.words
    _heading(paper, data, "files")
    head = [words("record.files.name"), words("record.files.sha256")]
    hashes = dict(record["files"])
    beside = folder / "record.json"
    if beside.is_file():
        hashes[beside.name] = sha256(beside.read_bytes()).hexdigest()
    paper.table(list(hashes.items()), Columns((30, 70), head=head, style=SMALL))
