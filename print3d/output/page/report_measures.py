"""Measured and estimated dimensions on the page: short tables, fingers side by side."""

from collections.abc import Sequence

from print3d.forms.orthosis import Orthosis
from print3d.inputs.case import Case
from print3d.language.catalogue import Language, number, text
from print3d.language.message import Message
from print3d.limb.norms import survey_source
from print3d.output.measures import MeasureRow, given_rows, limb_rows, of_a_child
from print3d.output.page.html import Html, bullets, joined, table, tag


def measures_part(case: Case, orthosis: Orthosis, language: Language) -> Html:
    """Return what was measured, what was estimated, and how to read the columns."""
    given, limb = given_rows(case), limb_rows(case, orthosis)
    pieces = [_given(case, given, language), tag("h3", text("report.measure.estimated", language))]
    hand = [row for row in limb if not row.finger]
    fingers = [row for row in limb if row.finger]
    if hand:
        columns = [text(f"report.measure.{each}", language) for each in ("what", "value", "sd", "percentile")]
        rows = [
            (_name(row, language), _value(row, language), number(row.sd or 0.0, language), percentile_in_words(row, language))
            for row in hand
        ]  # fmt: skip
        pieces.append(table(text("report.measure.hand", language), columns, rows, class_="numbers"))
    if any(row.sd is not None for row in fingers):
        pieces.append(_side_by_side(fingers, language))
    if not any(row.sd is not None for row in limb):
        pieces.append(tag("p", text("report.measure.estimated_none", language)))
    pieces += [_methods(limb, language), tag("p", _note(case, language), class_="small")]
    return joined(pieces)


def _given(case: Case, rows: Sequence[MeasureRow], language: Language) -> Html:
    head = tag("h3", text("report.measure.given", language))
    told = []
    if case.measured.sex is not None:
        told.append((text("report.measure.sex", language), text(f"report.measure.{case.measured.sex}", language), ""))  # fmt: skip
    told += [(_name(row, language), _value(row, language), _place(row, language)) for row in rows]
    if not told:
        return joined([head, tag("p", text("report.measure.given_none", language))])
    columns = [text(f"report.measure.{each}", language) for each in ("what", "value", "percentile")]
    return joined(
        [head, table(text("report.measure.given", language), columns, told, class_="numbers unnamed")]
    )


def _side_by_side(rows: Sequence[MeasureRow], language: Language) -> Html:
    """A column for each finger, a row for each dimension: value, SD and percentile, or that it was measured."""
    fingers = list(dict.fromkeys(row.finger for row in rows))
    keys = list(dict.fromkeys(row.key for row in rows))
    at = {(row.finger, row.key): row for row in rows}
    body = [
        (_dimension(at[fingers[0], key], language), *(_cell(at[finger, key], language) for finger in fingers))
        for key in keys
    ]
    columns = [text("report.measure.what", language), *(_finger(each, language) for each in fingers)]
    return table(text("report.measure.by_finger", language), columns, body, class_="numbers")


def _cell(row: MeasureRow, language: Language) -> Html:
    place = percentile_in_words(row, language)
    if row.sd is None:
        return joined([_value(row, language), tag("span", f"{text('report.measure.measured_cell', language)}, {place}", class_="small")])  # fmt: skip
    sd = f"{text('report.measure.sd', language)} {number(row.sd, language)}, {place}"
    return joined([_value(row, language), tag("span", sd, class_="small")])


def _methods(rows: Sequence[MeasureRow], language: Language) -> Html:
    """How the estimates were found, dimensions with the same way together, finger by finger."""
    ways: dict[Message, dict[str, list[str]]] = {}
    for row in rows:
        if row.sd is not None and row.method is not None:
            ways.setdefault(row.method, {}).setdefault(row.finger, []).append(_dimension(row, language))
    if not ways:
        return Html("")
    items = []
    for way, fingers in ways.items():
        alike: dict[tuple[str, ...], list[str]] = {}
        for name, those in fingers.items():
            alike.setdefault(tuple(those), []).append(_finger(name, language) if name else "")
        told = [
            f"{', '.join(names)}: {', '.join(those)}".removeprefix(": ") for those, names in alike.items()
        ]
        items.append(
            joined(
                [
                    tag("strong", way.said(language)),
                    f". {'; '.join(told)}",
                ]
            )
        )
    return tag("details", tag("summary", text("report.measure.methods", language)), bullets(items), open=True)


def _dimension(row: MeasureRow, language: Language) -> str:
    """What was measured, without whose finger it is."""
    place = row.key.removeprefix("forearm_girth_at_").removesuffix("_mm")
    if place.isdigit():
        return text("report.measure.forearm_at", language, place=float(place))
    return text(f"report.dimension.{row.key}", language)


def _finger(name: str, language: Language) -> str:
    words = text(f"common.finger.{name}", language)
    return words[:1].upper() + words[1:]


def _name(row: MeasureRow, language: Language) -> str:
    dimension = _dimension(row, language)
    return f"{_finger(row.finger, language)}: {dimension}" if row.finger else dimension


def _value(row: MeasureRow, language: Language) -> str:
    if row.key.endswith("_deg"):
        return text("report.measure.degrees", language, value=row.value)
    if row.key.endswith("_years"):
        return text("report.measure.years", language, years=row.value)
    return text("report.measure.mm", language, value=row.value)


def _place(row: MeasureRow, language: Language) -> str:
    return percentile_in_words(row, language) if row.key.endswith("_mm") else ""


def percentile_in_words(row: MeasureRow, language: Language) -> str:
    """Return "P62", "below P1", "above P99", or that there is no norm."""
    if row.percentile is None:
        return text("report.measure.percentile_none", language)
    if row.percentile < 1.0:
        return text("report.measure.percentile_low", language)
    if row.percentile > 99.0:
        return text("report.measure.percentile_high", language)
    return text("report.measure.percentile_cell", language, percentile=row.percentile)


def _note(case: Case, language: Language) -> str:
    people = text(f"report.measure.people_{case.measured.sex or 'adult'}", language)
    note = text("report.measure.note", language, people=people, source=survey_source())
    return f"{note} {text('report.measure.note_child', language)}" if of_a_child(case) else note
