"""What was not measured, in lines to read."""

from collections.abc import Iterator, Mapping

from print3d.built import Estimates
from print3d.limb.estimates import Estimate, dimension_in_words


def one_by_one(estimates: Estimates) -> list[str]:
    """Return a line for each dimension, hand first, then finger by finger."""
    return [line for finger, found in estimates.items() for line in lines_of(finger, found)]


def together(estimates: Estimates) -> list[str]:
    """Return a line for the hand and one for each finger, where anything is estimated."""
    return [line_of(finger, found) for finger, found in estimates.items() if found]


def lines_of(finger: str, found: Mapping[str, Estimate]) -> Iterator[str]:
    """Yield a line for each dimension of one finger, or of the hand ("")."""
    for key, each in found.items():
        what = f"{finger} {dimension_in_words(key)}".strip()
        yield f"{what} {each.value:.1f} mm, SD {each.sd:.1f} ({each.method})"


def line_of(finger: str, found: Mapping[str, Estimate]) -> str:
    """Return one line, each way of estimating once: "index, mm (SD): PIP girth 66.1 (2.2), ... estimated from hand length"."""
    by_method: dict[str, list[str]] = {}
    for key, each in found.items():
        entry = f"{dimension_in_words(key)} {each.value:.1f} ({each.sd:.1f})"
        by_method.setdefault(each.method, []).append(entry)
    listed = "; ".join(f"{', '.join(entries)} {method}" for method, entries in by_method.items())
    return f"{finger}, in mm (SD): {listed}".removeprefix(", ")
