"""What a reader has to know first: what is held, stopped and free, straps, print, and what to change."""

from collections import Counter
from collections.abc import Iterator

from print3d.built import Built
from print3d.forms.orthosis import AngleDifference, Orthosis
from print3d.language.catalogue import Language, text
from print3d.limb.joint_id import JointId
from print3d.output.page.html import Html, bullets, tag
from print3d.output.page.report_findings import by_urgency, change_in_words, with_value
from print3d.output.paper.words import Words, free_joints, held_joints, stopped_joints

MOST_TOLD = 2
"""Changes and findings that stand beside the first picture; all stand below; own choice."""
NO_ANGLE_DEG = 0.5
"""An angle below this is none in whole degrees."""
BEYOND_STRAIGHT = ("mcp", "pip", "dip")
"""Joints that are extended beyond straight; a wrist is simply extended."""


def glance_part(built: Built) -> Html:
    """Return the rows as a list of names and what is said of each."""
    language = built.case.header.language
    rows = [
        ("holds", list(_held(built.modelled, language))),
        ("stops", list(_stopped(built.modelled, language))),
        ("frees", list(_freed(built.modelled, language))),
        ("straps", [_straps(built, language)]),
        ("print", [_printing(built, language)]),
        *_to_do(built, language),
    ]
    told = [
        tag(
            "div",
            tag("dt", text(f"report.glance.{name}", language)),
            tag("dd", _said(items)),
            class_=f"row-{name}",
        )
        for name, items in rows
        if items
    ]
    return tag("dl", *told, class_="glance")


def _said(items: list[str]) -> str:
    return items[0] if len(items) == 1 else bullets(items)


def _held(orthosis: Orthosis, language: Language) -> Iterator[str]:
    words = Words(language)
    for joint, degrees in held_joints(orthosis):
        yield _at_angle(joint, degrees, words)
    seen = dict.fromkeys((each.joint, each.more_extended_deg) for each in orthosis.differences)
    for each in orthosis.differences:
        if seen.pop((each.joint, each.more_extended_deg), "told") is None:
            yield _apart(each, words)


def _at_angle(joint: JointId, degrees: float, words: Words) -> str:
    name = words.named("joint", joint.word)
    if abs(degrees) < NO_ANGLE_DEG:
        return words("report.glance.straight", joint=name)
    if joint.joint == "deviation":
        return words("report.glance.at", joint=name, degrees=degrees)
    way = "flexed" if degrees > 0.0 else "beyond" if joint.joint in BEYOND_STRAIGHT else "extended"
    return words(f"report.glance.{way}", joint=name, degrees=abs(degrees))


def _apart(difference: AngleDifference, words: Words) -> str:
    way = "more_extended" if difference.more_extended_deg > 0.0 else "more_flexed"
    joint = difference.joint.message.said(words.language)
    return words(f"report.glance.{way}", joint=joint, degrees=abs(difference.more_extended_deg))


def _stopped(orthosis: Orthosis, language: Language) -> Iterator[str]:
    words = Words(language)
    for group in stopped_joints(orthosis):
        if group.stop is not None:
            joint, degrees = group.name(words), group.stop.at_deg
            yield words(f"report.glance.stop_{group.stop.blocked}", joint=joint, degrees=degrees)


def _freed(orthosis: Orthosis, language: Language) -> Iterator[str]:
    words = Words(language)
    arcs = [
        words("report.glance.arc", joint=group.name(words), low=group.arc.from_deg, high=group.arc.to_deg)
        for group in free_joints(orthosis)
        if group.arc is not None
    ]
    if arcs:
        yield ", ".join(arcs)


def _straps(built: Built, language: Language) -> str:
    counts = Counter((strap.closure, strap.width_mm) for strap in built.straps)
    if not counts:
        return text("report.glance.no_straps", language)
    return ", ".join(
        text(f"report.glance.strap_{closure}", language, count=count, width_mm=width)
        for (closure, width), count in sorted(counts.items(), key=lambda each: -each[0][1])
    )


def _printing(built: Built, language: Language) -> str:
    material = built.case.material_name.said(language)
    mass_g = sum(plan.mass_g + plan.support_mass_g for plan in built.plans)
    times = [plan.seconds for plan in built.plans]
    seconds = [each for each in times if each is not None]
    if len(seconds) < len(times) or not times:
        return text("report.glance.mass", language, material=material, mass_g=mass_g)
    hours, minutes = divmod(round(sum(seconds) / 60.0), 60)
    key = "hours" if hours else "minutes"
    return text(
        f"report.glance.{key}", language, hours=hours, minutes=minutes, material=material, mass_g=mass_g
    )


def _to_do(built: Built, language: Language) -> Iterator[tuple[str, list[str]]]:
    """Yield what to change, what fails without a change that helps, and what is to be watched."""
    ordered = by_urgency(built.findings)
    advised = {each.finding.row for each in built.advice}
    changes: list[str] = [change_in_words(each, language, briefly=True) for each in built.advice]
    failing = [with_value(each, language) for each in ordered if not each.holds and each.row not in advised]
    watched = [with_value(each, language) for each in ordered if each.is_watched]
    for name, items in (
        ("change", changes),
        ("failing", failing),
        ("watch", [] if changes or failing else watched),
    ):
        more = len(items) - MOST_TOLD
        yield (
            name,
            [*items[:MOST_TOLD], *([text("report.glance.more", language, count=more)] if more > 0 else [])],
        )
