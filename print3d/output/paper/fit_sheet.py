"""The check list of the fitting: what the design says, and room for what is found on the hand."""

from collections.abc import Iterator
from pathlib import Path
from typing import cast

from print3d.built import Built
from print3d.forms.orthosis import Stop
from print3d.language.catalogue import lines, text
from print3d.limb.joint_id import JointId
from print3d.output.paper.drawing import NOTE
from print3d.output.paper.findings import findings_in_words
from print3d.output.paper.paper import Columns, Paper
from print3d.output.paper.sheet import (
    cautions,
    confirmed_in_words,
    own_estimates_in_words,
    remarks_in_words,
    warnings_in_words,
    words_of,
    write_on_one_page,
)
from print3d.output.paper.signs import dot, fails, holds, tick_box, warning
from print3d.output.paper.wearing import Wearing
from print3d.output.paper.which_hand import draw_which_hand
from print3d.output.paper.words import NO_ANGLE_DEG, Words, free_joints, held_joints, stopped_joints

HAND_MM = 6.5
"""A row that is written into by hand."""
MOST_LISTED = 6
"""Findings that are listed at most, so that the sheet stays one page; own choice."""

WAYS = {"wrist_flexion": ("flexion", "extension"), "wrist_deviation": ("ulnar", "radial")}
FINGER_WAYS = ("flexion", "hyperextension")
"""What a positive and what a negative angle of a joint is called."""


def write_fit_sheet(path: Path, built: Built) -> None:
    """Write the sheet for the therapist."""
    write_on_one_page(path, built, "sheets.fit.title", _fill)


def _fill(paper: Paper, built: Built) -> None:
    words, head = words_of(built), built.case.header
    side, finger = words.named("side", head.side), words.named("finger", head.finger)
    wearing = Wearing(built, words)
    draw_which_hand(paper, built, words("sheets.fit.lead"))
    paper.paragraph(words("sheets.fit.hours", hours=wearing.hours_per_day))
    _ticks(paper, "before", code=str(built.case.mark), side=side, finger=finger)
    paper.heading(words("sheets.fit.on"))
    columns = [words(f"sheets.fit.{name}") for name in ("what", "design", "found")]
    paper.table(angles(built), Columns((42, 33, 25), head=columns, least_mm=HAND_MM))
    _ticks(paper, "contact")
    paper.items([each.said(paper.language) for each in wearing.contact()], tick_box)
    _ticks(paper, "wearer")
    paper.items([wearing.handling().said(paper.language)], tick_box)
    _from_checks(paper, built)
    paper.heading(words("sheets.fit.change"))
    paper.table([("",)] * 2, Columns((1,), least_mm=8.0))
    paper.blanks(lines("sheets.fit.review", words.language), label_share=0.5)
    cautions(paper)


def _ticks(paper: Paper, key: str, **values: object) -> None:
    paper.heading(text(f"sheets.fit.{key}", paper.language))
    paper.items(lines(f"sheets.fit.{key}_rows", paper.language, **values), tick_box)


def angle_in_words(words: Words, angle: float, joint: JointId) -> str:
    """Return an angle as flexion, extension or deviation of the wrist, or hyperextension of another joint."""
    if abs(angle) < NO_ANGLE_DEG:
        return words("sheets.fit.zero")
    return words(f"sheets.fit.{WAYS.get(joint.word, FINGER_WAYS)[angle < 0.0]}", angle=abs(angle))


def angles(built: Built) -> list[tuple[str, str, str]]:
    """Every angle that is held, stopped or free, as the design has it."""
    words, rows = words_of(built), list[tuple[str, str, str]]()
    for joint, angle in held_joints(built.modelled):
        name = words("sheets.fit.held", joint=words.named("joint", joint.word))
        rows.append((name, angle_in_words(words, angle, joint), ""))
    for group in stopped_joints(built.modelled):
        if group.stop is not None:
            name = words(f"sheets.fit.stops_{group.stop.blocked}", joint=group.name(words))
            design = angle_in_words(words, group.stop.at_deg, group.joint)
            rows.append((name, " ".join([design, *_over_skin(built, group.stop)]), ""))
    for each in built.modelled.differences:
        how = "more_extended" if each.more_extended_deg > 0 else "more_flexed"
        name = words("sheets.fit.difference", finger=words.named("finger", each.joint.ray))
        rows.append((name, words(f"sheets.fit.{how}", angle=abs(each.more_extended_deg)), ""))
    for group in free_joints(built.modelled):
        if group.arc is not None:
            name = words("sheets.fit.free", joint=group.name(words))
            arc = words("sheets.fit.range", low=group.arc.from_deg, high=group.arc.to_deg)
            rows.append((name, arc, ""))
    return rows


def _over_skin(built: Built, stop: Stop) -> Iterator[str]:
    """Where a stop lies by how far skin yields, which nobody measured: it is found on the hand."""
    alike = {
        str(each.joint)
        for each in built.modelled.stops
        if (each.joint.joint, each.at_deg) == (stop.joint.joint, stop.at_deg)
    }
    found = [
        dict(each.values)
        for each in built.findings
        if each.key == f"stops.{stop.blocked}" and each.about.joint in alike
    ]
    if found:
        ends = [cast("float", each[name]) for each in found for name in ("low_deg", "high_deg")]
        yield words_of(built)("sheets.fit.over_skin", low=min(ends), high=max(ends))


def _from_checks(paper: Paper, built: Built) -> None:
    """What the checks, the estimates and the prescriber's override say about this fitting."""
    words = words_of(built)
    paper.heading(words("sheets.fit.checks"))
    if built.failing:
        paper.items(findings_in_words(words, built.failing), fails)
    else:
        paper.items([words("sheets.fit.all_hold", n=len(built.findings))], holds)
    if built.watched:
        paper.paragraph(words("sheets.fit.watch"))
        paper.items(findings_in_words(words, built.watched), warning)
    if built.case.override is not None:
        names, reason = ", ".join(built.case.override.allow), built.case.override.reason
        paper.items([words("sheets.fit.override", names=names, reason=reason)], fails)
    notes = {
        "again": warnings_in_words(built),
        "confirmed": confirmed_in_words(built),
        "remarks": remarks_in_words(built),
        "estimated": own_estimates_in_words(built),
    }
    for key, texts in notes.items():
        if not texts:
            continue
        paper.heading(words(f"sheets.fit.{key}"))
        if len(texts) > MOST_LISTED:
            paper.paragraph("; ".join(texts) + ".", NOTE)
        else:
            paper.items(texts, dot)
