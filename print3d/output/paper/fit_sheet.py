"""The check list of the fitting: what the design says, and room for what is found on the hand."""

from pathlib import Path

from print3d.language.catalogue import lines, text
from print3d.output.paper.findings import findings_in_words
from print3d.output.paper.paper import NOTE, Columns, Paper
from print3d.output.paper.sheet import SheetData, cautions
from print3d.output.paper.signs import dot, fails, holds, tick_box, warning
from print3d.output.paper.words import Words, free_joints, held_joints, stopped_joints

HAND_MM = 6.5
"""A row that is written into by hand."""
MOST_LISTED = 6


def write_fit_sheet(path: Path, data: SheetData) -> None:
    """Write the sheet for the therapist."""
    paper, words, head = data.paper("sheets.fit.title"), data.words, data.case.header
    side, finger = words.named("side", head.side), words.named("finger", head.finger)
    paper.paragraph(words("sheets.fit.lead"))
    _ticks(paper, "before", code=head.code, side=side, finger=finger)
    paper.heading(words("sheets.fit.on"), keep_mm=25.0)
    columns = [words(f"sheets.fit.{name}") for name in ("what", "design", "found")]
    paper.table(angles(data), Columns((42, 33, 25), head=columns, least_mm=HAND_MM))
    _ticks(paper, "contact")
    _ticks(paper, "wearer")
    _from_checks(paper, data)
    paper.heading(words("sheets.fit.change"), keep_mm=30.0)
    for _ in range(2):
        paper.need(8.0)
        paper.y -= 8.0
        paper.line([(paper.left, paper.y), (paper.left + paper.room, paper.y)])
    paper.space(2.0)
    paper.blanks(lines("sheets.fit.review", words.language), label_share=0.5)
    cautions(paper)
    data.save(paper, path)


def _ticks(paper: Paper, key: str, **values: object) -> None:
    paper.heading(text(f"sheets.fit.{key}", paper.language))
    paper.items(lines(f"sheets.fit.{key}_rows", paper.language, **values), tick_box)


def flexion_in_words(words: Words, angle: float, joint: str = "") -> str:
    """Return an angle as flexion, extension (of the wrist) or hyperextension (of a finger joint)."""
    if abs(angle) < 0.05:
        return words("sheets.fit.zero")
    how = "flexion" if angle > 0 else "extension" if joint == "wrist" else "hyperextension"
    return words(f"sheets.fit.{how}", angle=abs(angle))


def angles(data: SheetData) -> list[tuple[str, str, str]]:
    """Every angle that is held, stopped or free, as the design has it."""
    words, rows = data.words, list[tuple[str, str, str]]()
    for joint, angle in held_joints(data.orthosis, data.case):
        name = words("sheets.fit.held", joint=words.named("joint", joint))
        rows.append((name, flexion_in_words(words, angle, joint), ""))
    for group in stopped_joints(data.orthosis):
        if group.stop is not None:
            name = words(f"sheets.fit.stops_{group.stop.blocked}", joint=group.name(words))
            rows.append((name, flexion_in_words(words, group.stop.at_deg), ""))
    for each in data.orthosis.differences:
        how = "more_extended" if each.more_extended_deg > 0 else "more_flexed"
        name = words("sheets.fit.difference", finger=words.named("finger", each.finger))
        rows.append((name, words(f"sheets.fit.{how}", angle=abs(each.more_extended_deg)), ""))
    for group in free_joints(data.orthosis):
        if group.arc is not None:
            name = words("sheets.fit.free", joint=group.name(words))
            arc = words("sheets.fit.range", low=group.arc.from_deg, high=group.arc.to_deg)
            rows.append((name, arc, ""))
    return rows


def _from_checks(paper: Paper, data: SheetData) -> None:
    """What the checks, the estimates and the prescriber's override say about this fitting."""
    words = data.words
    paper.heading(words("sheets.fit.checks"))
    if data.failing:
        paper.items(findings_in_words(words, data.failing), fails)
    else:
        paper.items([words("sheets.fit.all_hold", n=len(data.findings))], holds)
    if data.watched:
        paper.paragraph(words("sheets.fit.watch"))
        paper.items(findings_in_words(words, data.watched), warning)
    if data.case.override is not None:
        names, reason = ", ".join(data.case.override.allow), data.case.override.reason
        paper.items([words("sheets.fit.override", names=names, reason=reason)], fails)
    for key, told in (("again", data.warned), ("remarks", data.remarked), ("estimated", data.own_estimates)):
        if told:
            paper.heading(words(f"sheets.fit.{key}"))
            if len(told) > MOST_LISTED:
                paper.paragraph("; ".join(told) + ".", NOTE)
            else:
                paper.items(list(told), dot)
