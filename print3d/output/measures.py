"""What was measured and what was estimated, as rows for a reader: value, percentile, standard deviation, how it was found."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from print3d.forms.orthosis import Orthosis
from print3d.inputs.case import Case
from print3d.inputs.measured import FINGERS, FingerName
from print3d.language.message import Message, message
from print3d.limb.estimates import Estimate, FingerMeasures
from print3d.limb.fellows import name_of
from print3d.limb.hand_estimates import CREASE_ENDS, HAND_KEYS
from print3d.limb.norms import Sex, is_child
from print3d.limb.placing import finger_percentile, hand_percentile


@dataclass(frozen=True)
class MeasureRow:
    """One dimension.

    finger : whose, or "" for hand and forearm
    key : as in a case file, or a distance from the wrist (mm) for a forearm girth
    value : mm, degrees or years
    sd : mm, None for what the tape gave
    percentile : None where no norm says it
    method : how an estimate was found
    """

    finger: str
    key: str
    value: float
    sd: float | None = None
    percentile: float | None = None
    method: Message | None = None


def given_rows(case: Case) -> list[MeasureRow]:
    """Return what tape and goniometer gave, hand first, then finger by finger."""
    measured = case.measured
    given, sex = measured.hand_measures(), measured.sex
    rows = [
        MeasureRow("", key, value, None, hand_percentile(key, value, given, sex))
        for key, value in given.items()
    ]
    for finger in FINGERS:
        for key, value in measured.finger(finger):
            if value is not None:
                is_length = key.endswith("_mm")
                place = finger_percentile(finger, key, value, given, sex) if is_length else None
                rows.append(MeasureRow(finger, key, value, None, place))
    return rows


def confirmed_lines(case: Case) -> list[Message]:
    """Return each measure that does not go with the others, was taken again and confirmed."""
    given = {row.key if not row.finger else f"{row.finger}.{row.key}": row.value for row in given_rows(case)}
    return [
        message("estimates.confirmed", what=name_of(key), value_mm=given[key])
        for key in sorted(case.confirmed)
    ]


def limb_rows(case: Case, orthosis: Orthosis) -> list[MeasureRow]:
    """Return every dimension that the limb of the orthosis is made from, estimated or from the tape (sd None)."""
    given, sex = case.measured.hand_measures(), case.measured.sex
    rows = []
    measures = orthosis.limb.measures.hand
    if measures is not None:
        for key in HAND_KEYS:
            each = measures.hand[key]
            rows.append(_row("", key, each, hand_percentile(key, each.value, given, sex)))
        creases = ((f"palmar_crease_{name}_mm", measures.palmar_creases[name]) for name in CREASE_ENDS)
        rows += [_row("", key, each, None) for key, each in creases]
        rows += [_row("", f"{place:.0f}", each, None) for place, each in measures.forearm_girths_mm.items()]
        rows = [row for row in rows if row.sd is not None]
    for finger, measures_of_finger in orthosis.limb.measures.fingers.items():
        rows += _finger_rows(finger, measures_of_finger, given, sex)
    return rows


def _finger_rows(
    finger: FingerName, measures: FingerMeasures, given: Mapping[str, float], sex: Sex | None
) -> Iterator[MeasureRow]:
    for key, each in vars(measures).items():
        yield _row(finger, key, each, finger_percentile(finger, key, each.value, given, sex))


def _row(finger: str, key: str, each: Estimate, place: float | None) -> MeasureRow:
    is_taped = each.is_measured and each.sd == 0.0
    return MeasureRow(finger, key, each.value, None if is_taped else each.sd, place, each.method)


def of_a_child(case: Case) -> bool:
    """Whether the measurements are a child's."""
    return is_child(case.measured.hand_measures())
