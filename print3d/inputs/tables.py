"""What a file holds before any of it is known to be sound."""

from collections.abc import Iterator, Mapping
from typing import Any

Tables = dict[str, Any]
"""Keys with their values, tables inside tables; what they may be is said by the models that validate them."""


def dotted_values(table: Mapping[str, object], before: str = "") -> Iterator[tuple[str, object]]:
    """Yield every value with its dotted key."""
    for key, value in table.items():
        if isinstance(value, Mapping):
            yield from dotted_values(value, f"{before}{key}.")
        else:
            yield f"{before}{key}", value
