"""The colours of maps: viridis, even in lightness and told apart with any colour vision.

Nunez, Anderton and Renslow 2018 (PLoS ONE 13(7), doi 10.1371/journal.pone.0199239) on why such scales; the colours are
matplotlib's (CC0), every sixteenth of the way.
"""

import numpy as np

from print3d.geometry.types import Floats

HEX = (
    "440154", "481a6c", "472f7d", "414487", "39568c", "31688e", "2a788e", "23888e", "1f988b",
    "22a884", "35b779", "54c568", "7ad151", "a5db36", "d2e21b", "fde725",
)  # fmt: skip
NO_VALUE = np.array([0.72, 0.72, 0.72])
"""Grey where nothing is measured: rims and letters."""
ROUND = (1.0, 1.2, 1.6, 2.0, 2.4, 3.2, 4.0, 6.0, 8.0, 10.0)
"""First digits of the ends of a scale; own choice."""
LEAST_TOP = 0.004
"""A scale from zero reaches at least this far."""
RGB = np.array([[int(each[k : k + 2], 16) for k in (0, 2, 4)] for each in HEX]) / 255.0


def colours(values: Floats, low: float, high: float, otherwise: Floats = NO_VALUE) -> Floats:
    """Return colours (n, 3), 0 to 1, of values (n,) on a scale from `low` to `high`.

    otherwise : the colour where they are not numbers
    """
    share = np.clip((values - low) / (high - low), 0.0, 1.0) * (len(RGB) - 1)
    known = np.isfinite(share)
    found = np.tile(otherwise, (len(values), 1))
    for channel in range(3):
        found[known, channel] = np.interp(share[known], np.arange(len(RGB)), RGB[:, channel])
    return found


def range_from_nought(values: Floats, reported: float = 0.0) -> tuple[float, float]:
    """Return the ends of a scale from 0 to a round number whose quarters are round too.

    It holds all but the top 0.2 percent of values, and what is reported of them.
    """
    known = values[np.isfinite(values)]
    return range_to(max(float(np.percentile(known, 99.8)), reported) if len(known) else 1.0)


def range_to(most: float) -> tuple[float, float]:
    """Return the ends of a scale from 0 to a round number, `most` or more, whose quarters are round too."""
    top = max(most, LEAST_TOP)
    power = 10.0 ** np.floor(np.log10(top))
    return 0.0, float(round(power * next(each for each in ROUND if each * power >= top), 6))


def even_range(
    values: Floats, *, least_span: float, anchor: float | None = None, reported: float | None = None
) -> tuple[float, float]:
    """Return the ends of a scale, on tenths.

    It holds all but the outermost hundredth of the values at either end, and what is reported of them.

    anchor : a value that lies on the scale in any case; without one a scale wider than the values is centred on them
    """
    known = values[np.isfinite(values)]
    if not len(known):
        return 0.0, least_span
    low, high = np.percentile(known, [1.0, 99.0])
    if reported is not None:
        low, high = min(low, reported), max(high, reported)
    low = min(low, (low + high - least_span) / 2 if anchor is None else anchor)
    low = float(np.floor(10.0 * low + 1e-9) / 10.0)
    return low, float(np.ceil(10.0 * max(high, low + least_span) - 1e-9) / 10.0)
