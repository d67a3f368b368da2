"""The record on paper, laid out with the fields of EU MDR 2017/745 Annex XIII.

What only the clinic knows is left blank.
"""

from collections.abc import Mapping, Sequence
from hashlib import sha256
from pathlib import Path

from print3d.built import Built
from print3d.checks.finding import VERDICTS, Verdict
from print3d.design.advice import Advice
from print3d.guidance.hazards import hazards
from print3d.inputs.tables import dotted_values
from print3d.language.catalogue import lines
from print3d.output.page.options_in_words import unit_sign
from print3d.output.paper.drawing import NOTE, SMALL, Sign
from print3d.output.paper.findings import (
    findings_in_words,
    limit_in_words,
    measured_in_words,
    sources_in_words,
)
from print3d.output.paper.fit_sheet import angles
from print3d.output.paper.paper import Columns, Paper
from print3d.output.paper.sheet import (
    begin,
    cautions,
    confirmed_in_words,
    estimates_in_words,
    remarks_in_words,
    save,
    warnings_in_words,
    words_of,
)
from print3d.output.paper.signs import dot, fails, holds, tick_box, warning
from print3d.output.record.record import Record, record_data
from print3d.output.title import title_of

MM3_PER_CM3 = 1000.0
"""10 mm to the centimetre."""
SIGN_OF: Mapping[Verdict, Sign] = {"fails": fails, "watch": warning, "holds": holds}


def write_record_sheet(path: Path, built: Built) -> None:
    """Write the record as PDF; record.json and all other files of the set must lie beside it already."""
    record = record_data(built, path.parent)
    paper, words = begin(built, "record.title"), words_of(built)
    paper.items([words("record.no_declaration")], warning)
    _blanks(paper, built, "maker")
    _device(paper, built, record)
    _blanks(paper, built, "person", words("record.person.statement", code=built.case.header.code))
    _blanks(paper, built, "prescriber")
    _prescribed(paper, built)
    _requirements(paper, built)
    _heading(paper, built, "substances")
    paper.items(lines("record.substances.ticks", words.language), tick_box)
    paper.blanks(lines("record.substances.rows", words.language))
    _made(paper, built, record)
    _findings(paper, built)
    _hazards(paper, built)
    _notes(paper, built)
    _case(paper, built, record)
    _files(paper, built, record, path.parent)
    _heading(paper, built, "after")
    paper.items(lines("record.after.rows", words.language), dot)
    paper.blanks(lines("record.after.signed", words.language))
    cautions(paper)
    save(paper, built, path)


def _heading(paper: Paper, built: Built, topic: str) -> None:
    paper.heading(words_of(built)(f"record.{topic}.head"))


def _blanks(paper: Paper, built: Built, topic: str, statement: str | None = None) -> None:
    _heading(paper, built, topic)
    if statement is not None:
        paper.paragraph(statement)
    paper.blanks(lines(f"record.{topic}.rows", words_of(built).language))


def _device(paper: Paper, built: Built, record: Record) -> None:
    words, say = words_of(built), "record.device"
    _heading(paper, built, "device")
    rows = [
        (words(f"{say}.code"), str(built.case.mark)),
        (words(f"{say}.kind"), title_of(built.case)),
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


def _prescribed(paper: Paper, built: Built) -> None:
    """Angles held, stopped and free, the note, and limits that were lifted with the reason."""
    words, case = words_of(built), built.case
    _heading(paper, built, "prescribed")
    rows = [(what, design) for what, design, _ in angles(built)]
    if case.header.note:
        rows.append((words("record.prescribed.note"), case.header.note))
    lifted = words("record.prescribed.override")
    if case.override is None:
        rows.append((lifted, words("record.prescribed.none")))
    else:
        rows.append((lifted, ", ".join(case.override.allow) or words("record.prescribed.none")))
        rows.append((words("record.prescribed.reason"), case.override.reason))
    paper.table(rows, Columns((38, 62)))


def _requirements(paper: Paper, built: Built) -> None:
    words = words_of(built)
    _heading(paper, built, "requirements")
    paper.items(lines("record.requirements.ticks", words.language), tick_box)
    if built.failing:
        paper.paragraph(words("record.requirements.known"))
        paper.items(findings_in_words(words, built.failing), fails)
    else:
        paper.items([words("record.requirements.none_known", n=len(built.findings))], holds)
    if built.watched:
        paper.paragraph(words("record.requirements.watch"))
        paper.items(findings_in_words(words, built.watched), warning)
    paper.space(1.5)
    paper.blanks(lines("record.requirements.rows", words.language))


def _made(paper: Paper, built: Built, record: Record) -> None:
    words, case, say = words_of(built), built.case, "record.made"
    known = dict(record["versions"])
    system = f"Python {known.pop('python')}, {known.pop('system')}"
    program = f"print3d {known.pop('print3d')}"
    material = words.named("material", case.print.material, case.material.title)
    figures = {"density": case.material.density_g_per_cm3.value, "heat": case.material.heat_ceiling_c.value}
    settings = {"layer_mm": case.printer.layer_mm.value, "tolerance_mm": case.printer.tolerance_mm.value}
    process = words.named("process", case.printer.process)
    _heading(paper, built, "made")
    rows = [
        (words(f"{say}.program"), program),
        (words(f"{say}.libraries"), ", ".join(f"{name} {each}" for name, each in known.items())),
        (words(f"{say}.system"), system),
        (words(f"{say}.material"), f"{material}; {words(f'{say}.density', **figures)}"),
        (words(f"{say}.printer"), f"{process}; {words(f'{say}.printed', **settings)}"),
    ]
    for plan in built.plans:
        x, y, z = plan.size_mm
        lies = words("sheets.print.on_bed", position=plan.position(words.language), x=x, y=y, z=z)
        rows.append((f"{words('sheets.print.position')}: {words.named('part', plan.part)}", lies))
    paper.table(rows, Columns((38, 62)))
    paper.paragraph(words(f"{say}.finish"))
    paper.paragraph(words("record.again"))


def _findings(paper: Paper, built: Built) -> None:
    words = words_of(built)
    _heading(paper, built, "findings")
    rows, signs = [], []
    ordered = sorted(built.findings, key=lambda each: VERDICTS.index(each.verdict))
    for finding, source in zip(ordered, sources_in_words(words, ordered), strict=True):
        found, limit = measured_in_words(words, finding), limit_in_words(words, finding)
        verdict = words(f"common.finding.{finding.verdict}")
        rows.append(("", f"{finding.said(words.language)}: {verdict}", found, limit, source))
        signs.append(SIGN_OF[finding.verdict])
    columns = ["", *lines("record.findings.columns", words.language)]
    paper.table(rows, Columns((4, 38, 13, 17, 30), head=columns, style=NOTE, signs=signs))
    if built.advice:
        paper.paragraph(words("record.findings.change"))
        paper.items([_change(built, each) for each in built.advice], dot, NOTE)


def _change(built: Built, advice: Advice) -> str:
    """One change that was tried, as a sentence."""
    words = words_of(built)
    values = {
        "option": advice.option,
        "now": _value(advice.now),
        "then": _value(advice.then),
        "measured": float(advice.measured),
    }
    what, unit = advice.finding.said(words.language), unit_sign(advice.finding.unit)
    return words("record.findings.would_hold", what=what, unit=unit, **values)


def _hazards(paper: Paper, built: Built) -> None:
    """Each way to get hurt, what was done against it, and what is left to people."""
    words = words_of(built)
    _heading(paper, built, "hazards")
    rows = [
        (
            each.what.said(words.language),
            "; ".join(dict.fromkeys(done.said(words.language) for done in each.done(built.findings))),
            each.left.said(words.language),
        )
        for each in hazards()
    ]
    paper.table(
        rows, Columns((28, 42, 30), head=list(lines("record.hazards.columns", words.language)), style=NOTE)
    )


def _notes(paper: Paper, built: Built) -> None:
    notes = {
        "warnings": warnings_in_words(built),
        "confirmed": confirmed_in_words(built),
        "remarks": remarks_in_words(built),
        "estimates": estimates_in_words(built),
    }
    for key, texts in notes.items():
        if texts:
            paper.heading(words_of(built)(f"record.told.{key}"))
            paper.paragraph("; ".join(texts) + ".", NOTE)


def _case(paper: Paper, built: Built, record: Record) -> None:
    words = words_of(built)
    _heading(paper, built, "case")
    head = [words("record.case.key"), words("record.case.value")]
    rows = [(key, _value(value)) for key, value in dotted_values(record["case"])]
    paper.table(rows, Columns((45, 55), head=head, style=SMALL))


def _value(value: object) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, Sequence) and not isinstance(value, str):
        return ", ".join(_value(each) for each in value)
    return f"{value:g}" if isinstance(value, float) else str(value)


def _files(paper: Paper, built: Built, record: Record, folder: Path) -> None:
    words = words_of(built)
    _heading(paper, built, "files")
    head = [words("record.files.name"), words("record.files.sha256")]
    hashes = dict(record["files"])
    beside = folder / "record.json"
    if beside.is_file():
        hashes[beside.name] = sha256(beside.read_bytes()).hexdigest()
    paper.table(list(hashes.items()), Columns((30, 70), head=head, style=SMALL))
