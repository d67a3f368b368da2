"""Measures: each goes with its fellows, or somebody took it again and says that it is true.

An orthosis is as good as the numbers it is built from. Two lines swapped, or another finger's number, make one that passes every other
check on a finger that nobody has.
"""

from collections.abc import Iterator
from operator import attrgetter

from print3d.checks.finding import Finding, about, values
from print3d.checks.limits import CheckLimits
from print3d.forms.orthosis import Orthosis
from print3d.language.message import Message, message
from print3d.limb.fellows import ODD_Z, Compared, Reversed, compared, name_of, reversed_girths

ORDER = 5
"""Its place among the findings: before all that hangs on the numbers."""

SD = "SD"
"""Unit of a distance in standard deviations."""
SOURCE = message("sources.own_odd_measure")


def check_measures(_orthosis: Orthosis, limits: CheckLimits) -> list[Finding]:
    """Check what is furthest off, and all that is too far off; what was confirmed is named."""
    found = sorted(compared(limits.measured), key=attrgetter("off_sd"), reverse=True)
    off = [each for each in found if each.off_sd > ODD_Z]
    turned = reversed_girths(limits.measured)
    given = {each.key: each.value_mm for each in off} | {each.key: each.value_mm for each in turned}
    confirmed = {key: value for key, value in given.items() if key in limits.confirmed}
    rest = [each for each in found if each.key not in confirmed]
    return [
        *(_turned(each) for each in turned if each.key not in confirmed),
        *(_off(each) for each in off if each.key not in confirmed),
        *_furthest(rest if not set(off) & set(rest) else []),
        *(_confirmed(key, value) for key, value in confirmed.items()),
    ]


def applies_to(_orthosis: Orthosis, limits: CheckLimits) -> bool:
    """Whether any measure has fellows."""
    return bool(compared(limits.measured))


def _furthest(found: list[Compared]) -> Iterator[Finding]:
    """Yield the measure that is furthest off, where none is too far off."""
    if found:
        yield _off(found[0])


def _off(each: Compared) -> Finding:
    expected = each.expected
    how = [
        message(
            "checks.measures.how.against",
            value_mm=each.value_mm,
            expected_mm=expected.value,
            sd_mm=each.sd_mm,
            method=expected.method,
        )
    ]
    if each.off_sd > ODD_Z:
        how.append(message("checks.measures.how.confirm", key=each.key))
    return Finding("measures.fellows", each.off_sd, ODD_Z, SD, "at most", SOURCE, about(measure=each.key),
                   values(measure=name_of(each.key)), tuple(how))  # fmt: skip


def _turned(each: Reversed) -> Finding:
    said = values(measure=name_of(each.key), larger=name_of(each.larger), confirm=each.key)
    source = message("sources.own_falling_girths")
    return Finding(
        "measures.order",
        each.value_mm,
        each.larger_mm,
        "mm",
        "at most",
        source,
        about(measure=each.key),
        said,
    )


def _confirmed(key: str, value_mm: float) -> Finding:
    said: Message = name_of(key)
    source = message("sources.of_case", option="measured.confirmed")
    return Finding("measures.confirmed", 1.0, 1.0, "", "at least", source, about(measure=key),
                   values(measure=said, value_mm=value_mm))  # fmt: skip
