"""What was not measured, as lines to read: each dimension for itself, or all of a finger together."""

from collections.abc import Iterator, Mapping

from print3d.built import Estimates
from print3d.language.message import Message, in_a_row, message
from print3d.limb.estimates import Estimate, dimension


def one_by_one(estimates: Estimates) -> list[Message]:
    """Return a line for each dimension, hand first, then finger by finger."""
    return [line for finger, found in estimates.items() for line in lines_of(finger, found)]


def together(estimates: Estimates) -> list[Message]:
    """Return a line for the hand and one for each finger, where anything is estimated."""
    return [line_of(finger, found) for finger, found in estimates.items() if found]


def lines_of(finger: str, found: Mapping[str, Estimate]) -> Iterator[Message]:
    """Yield a line for each dimension of one finger, or of the hand ("")."""
    for key, each in found.items():
        values = {
            "dimension": dimension(key),
            "value_mm": each.value,
            "sd_mm": each.sd,
            "method": each.method,
        }
        if finger:
            yield message("estimates.line_of_finger", finger=message(f"common.finger.{finger}"), **values)
        else:
            yield message("estimates.line", **values)


def line_of(finger: str, found: Mapping[str, Estimate]) -> Message:
    """Return one line, each way of estimating once.

    "index finger, in mm (SD): PIP girth 66.1 (2.2), ... estimated from hand length"
    """
    by_method: dict[Message, list[Message]] = {}
    for key, each in found.items():
        entry = message("estimates.short", dimension=dimension(key), value_mm=each.value, sd_mm=each.sd)
        by_method.setdefault(each.method, []).append(entry)
    listed = [
        message("estimates.alike", dimensions=in_a_row(entries), method=method)
        for method, entries in by_method.items()
    ]
    if not finger:
        return message("estimates.together", listed=listed)
    return message("estimates.together_of_finger", finger=message(f"common.finger.{finger}"), listed=listed)
