"""Print time by a stated model.

Material extrusion, every layer filled solid: the outlines of a layer are drawn at one speed, what is left of its area, as
lines of one width, at another; each contour costs a way to it and each layer a step upward. A layer takes no less than
its cooling time. Supports are lines too, in a share of the volume they fill. Powder bed and resin: one time a layer,
whatever is in it. Every constant is a figure of the printer with its source.
"""

import numpy as np

from print3d.inputs.materials import Printer
from print3d.printing.layers import Layers


def print_seconds(layers: Layers, support_mm3: float, printer: Printer) -> float | None:
    """Return the time (s) to print a part with its supports.

    None if the printer's file does not say how fast it is.
    """
    if printer.layer_s is None or printer.start_s is None:
        return None
    if printer.pace is None:
        return printer.start_s.value + layers.count * printer.layer_s.value
    pace = printer.pace
    filled_mm = np.maximum(layers.area_mm2 / pace.line_mm.value - layers.outline_mm, 0.0)
    seconds = (
        layers.outline_mm / pace.outline_mm_per_s.value
        + filled_mm / pace.fill_mm_per_s.value
        + layers.contours * pace.contour_s.value
        + printer.layer_s.value
    )
    support_lines_mm = support_mm3 / (pace.line_mm.value * layers.height_mm)
    support_s = support_lines_mm / pace.support_mm_per_s.value / layers.count
    cooled = np.maximum(seconds + support_s, pace.cooling_s.value)
    return float(printer.start_s.value + cooled.mean() * layers.count)
