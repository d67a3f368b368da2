"""Ring sizes against ISO 8653:2016: the size is the inner circumference in whole mm, 41 to 76 on the ring stick."""

import numpy as np
import pytest

from print3d.checks.donning import ring_size
from print3d.mechanics.passing import closed_length

# size: inner diameter in mm; ISO 8653: a ring's size is its inner girth in mm, so the diameter is size / pi
DIAMETERS = {
    41: 13.05, 42: 13.37, 43: 13.69, 44: 14.01, 45: 14.32, 46: 14.64,
    47: 14.96, 48: 15.28, 49: 15.60, 50: 15.92, 51: 16.23, 52: 16.55,
    53: 16.87, 54: 17.19, 55: 17.51, 56: 17.83, 57: 18.14, 58: 18.46,
    59: 18.78, 60: 19.10, 61: 19.42, 62: 19.74, 63: 20.05, 64: 20.37,
    65: 20.69, 66: 21.01, 67: 21.33, 68: 21.65, 69: 21.96, 70: 22.28,
    71: 22.60, 72: 22.92, 73: 23.24, 74: 23.55, 75: 23.87, 76: 24.19,
}  # fmt: skip

# sizes 49 to 72 in an encyclopaedia's table of ISO 8653:2016, to 0.1 mm
PUBLISHED = dict(
    zip(
        range(49, 73),
        [15.6, 15.9, 16.2, 16.6, 16.9, 17.2, 17.5, 17.8, 18.1, 18.5, 18.8, 19.1,
         19.4, 19.7, 20.1, 20.4, 20.7, 21.0, 21.3, 21.6, 22.0, 22.3, 22.6, 22.9],
        strict=True,
    )
)  # fmt: skip


def circle(diameter_mm: float) -> np.ndarray:
    angle = np.linspace(0.0, 2.0 * np.pi, 720, endpoint=False)
    return diameter_mm / 2.0 * np.column_stack([np.zeros(720), np.sin(angle), np.cos(angle)])


def test_the_table_is_the_whole_ring_stick() -> None:
    assert list(DIAMETERS) == list(range(41, 77))


@pytest.mark.parametrize(("size", "diameter"), DIAMETERS.items())
def test_a_ring_of_the_tables_diameter_has_the_tables_size(size: int, diameter: float) -> None:
    assert ring_size(closed_length(circle(diameter))).said("en") == f"ISO 8653 size {size}"


@pytest.mark.parametrize(("size", "diameter"), PUBLISHED.items())
def test_the_published_table_agrees(size: int, diameter: float) -> None:
    """Its diameters are rounded to 0.1 mm, 0.16 mm of circumference, so that the size is still the nearest one."""
    assert ring_size(np.pi * diameter).said("en") == f"ISO 8653 size {size}"
    assert DIAMETERS[size] == pytest.approx(diameter, abs=0.0501)


@pytest.mark.parametrize(
    ("girth", "size"), [(61.49, 61), (61.51, 62), (62.0, 62), (62.49, 62), (40.5, 41), (76.49, 76)]
)
def test_sizes_are_rounded_to_the_nearest(girth: float, size: int) -> None:
    assert ring_size(girth).said("en") == f"ISO 8653 size {size}"


@pytest.mark.parametrize("girth", [30.0, 40.49, 76.5, 90.0])
def test_beyond_the_stick_no_size_is_named(girth: float) -> None:
    assert ring_size(girth).said("en") == "outside the sizes 41 to 76 of ISO 8653"
