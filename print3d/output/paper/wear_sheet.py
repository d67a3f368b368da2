"""Wear and care, in plain words for the wearer; the wear plan is left for the therapist to fill in."""

from pathlib import Path

from print3d.built import Built
from print3d.forms.orthosis import AngleDifference, Stop
from print3d.kinds.registry import KINDS
from print3d.language.catalogue import lines
from print3d.limb.joint_id import JointId
from print3d.output.paper.drawing import LARGE
from print3d.output.paper.paper import Paper
from print3d.output.paper.sheet import begin, cautions, save, words_of
from print3d.output.paper.signs import dot, warning
from print3d.output.paper.words import Words, free_joints, held_joints, stopped_joints

NEARLY_STRAIGHT_DEG = 0.5
"""Angles below this are called straight; own choice."""


def write_wear_sheet(path: Path, built: Built) -> None:
    """Write the sheet for the wearer."""
    paper, words, kind = begin(built, "sheets.wear.title"), words_of(built), KINDS[built.case.orthosis.kind]

    def listed(key: str) -> tuple[str, ...]:
        return lines(f"sheets.wear.{key}", words.language)

    paper.heading(words("sheets.wear.what"))
    for sentence in _purpose(built):
        paper.paragraph(sentence, LARGE)
    _section(paper, words, "special", lines(f"kinds.{kind.name}.wear", words.language))
    paper.heading(words("sheets.wear.plan"))
    paper.blanks(listed("plan_rows"), LARGE, label_share=0.27)
    paper.heading(words("sheets.wear.stop"))
    paper.items(listed("stop_rows"), warning, LARGE)
    urgent = "stop_protected" if kind.protects_healing else "stop_ring"
    paper.paragraph(words(f"sheets.wear.{urgent}"), LARGE)
    _section(paper, words, "skin", listed("skin_rows"))
    heat = built.case.material.heat_ceiling_c.value
    _section(paper, words, "care", lines("sheets.wear.care_rows", words.language, heat=heat))
    paper.heading(words("sheets.wear.call"))
    paper.blanks(listed("call_rows"), LARGE, label_share=0.3)
    cautions(paper)
    save(paper, built, path)


def _section(paper: Paper, words: Words, key: str, rows: tuple[str, ...]) -> None:
    paper.heading(words(f"sheets.wear.{key}"))
    paper.items(rows, dot, LARGE)


def _purpose(built: Built) -> list[str]:
    """What the orthosis holds, stops and leaves free, in plain sentences."""
    words, orthosis = words_of(built), built.modelled
    held = [_held(words, joint, angle) for joint, angle in held_joints(orthosis)]
    sentences = [words("sheets.wear.holds", joints=words.listed(held))] if held else []
    sentences += [
        _stopped(words, group.stop, group.name(words, plain=True))
        for group in stopped_joints(orthosis)
        if group.stop is not None
    ]
    sentences += [_difference(words, each) for each in orthosis.differences]
    free = [group.name(words, plain=True) for group in free_joints(orthosis)]
    if free:
        names = words.listed(list(dict.fromkeys(free)))
        sentences.append(words("sheets.wear.frees", joints=names))
    return sentences


def _held(words: Words, joint: JointId, angle: float) -> str:
    name = words(f"sheets.wear.joint.{joint.word}")
    if abs(angle) < NEARLY_STRAIGHT_DEG:
        return words("sheets.wear.held_straight", joint=name)
    ways = ("ulnar", "radial") if joint.joint == "deviation" else ("flexed", "extended")
    return words(f"sheets.wear.held_{ways[angle < 0.0]}", joint=name, angle=abs(angle))


def _stopped(words: Words, stop: Stop, joint: str) -> str:
    if stop.blocked == "extension" and stop.at_deg < NEARLY_STRAIGHT_DEG:
        return words("sheets.wear.stop_extension_straight", joint=joint)
    return words(f"sheets.wear.stop_{stop.blocked}", joint=joint, angle=stop.at_deg)


def _difference(words: Words, each: AngleDifference) -> str:
    how = "extended" if each.more_extended_deg > 0 else "flexed"
    finger = words.named("finger", each.joint.ray)
    return words(f"sheets.wear.difference_{how}", finger=finger, angle=abs(each.more_extended_deg))
