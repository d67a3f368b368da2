"""The unit that a key's ending stands for."""

from print3d.language.message import Message

UNITS = (
    "nmm",
    "n",
    "mm_per_s",
    "s",
    "mm",
    "hours_per_day",
    "hours_at_once",
    "deg",
    "years",
    "mpa",
    "percent",
    "g_per_cm3",
    "c",
    "per_kg",
)
"""Endings of keys; their words are `common.unit.<ending>`."""


def ending_of(key: str) -> str | None:
    """Return the ending of a key that stands for a unit, or None for a number without one."""
    return next((each for each in UNITS if key.endswith(f"_{each}")), None)


def unit_of(key: str) -> Message | None:
    """Return the unit of a key, or None for a number without one."""
    ending = ending_of(key)
    return None if ending is None else Message(f"common.unit.{ending}")
