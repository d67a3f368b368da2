"""How wide the straps of a finger orthosis are where nobody says: as usual, or as there is room."""

from collections.abc import Callable, Iterator
from typing import TypeVar

from print3d.errors import Print3dError
from print3d.inputs.options import USUAL_FINGER_STRAP_MM, OrthosisOptions
from print3d.language.message import Message, message

Own = TypeVar("Own", bound=OrthosisOptions)

NARROWEST_MM = 10.0
"""No narrower strap is sold (`STRAP_WIDTHS_MM`)."""


def with_fitting_straps(options: Own, has_room: Callable[[Own], bool]) -> Own:
    """Return the options with straps of the usual width, or of the narrowest where that has no room.

    Only where the file leaves it open; the build says why if even those do not fit.
    """
    straps = options.straps
    if straps.style != "slots" or "width_mm" in straps.model_fields_set or fits(options, has_room):
        return options
    return _of_width(options, NARROWEST_MM)


def strap_remarks(options: Own, has_room: Callable[[Own], bool]) -> Iterator[Message]:
    """Yield a remark on straps narrower than usual, which says whether there is room for usual ones."""
    if options.straps.style == "none" or options.straps.width_mm >= USUAL_FINGER_STRAP_MM:
        return
    usual = _of_width(options, USUAL_FINGER_STRAP_MM)
    why = "asked" if options.straps.style == "wrap" or fits(usual, has_room) else "no_room"
    yield message(f"straps.remark.{why}", width_mm=options.straps.width_mm, usual_mm=USUAL_FINGER_STRAP_MM)


def fits(options: Own, has_room: Callable[[Own], bool]) -> bool:
    """Whether there is room for the straps of some options; a finger that the build refuses has none."""
    try:
        return has_room(options)
    except Print3dError:
        return False


def _of_width(options: Own, width_mm: float) -> Own:
    return options.model_copy(update={"straps": options.straps.model_copy(update={"width_mm": width_mm})})
