"""Cases of fingers of average size: what nobody measured is taped at just what would have been estimated, so that no shape changes."""

from collections.abc import Mapping
from typing import Any

from print3d.inputs.measured import FINGERS
from print3d.limb.estimates import estimate_finger, estimate_hand


def taped(measured: Mapping[str, Any]) -> dict[str, Any]:
    """Return a table [measured] with a PIP girth of every finger of which there is neither girth nor length."""
    hand = estimate_hand(
        {key: value for key, value in measured.items() if isinstance(value, float | int)}, measured.get("sex")
    )
    tables = dict(measured)
    for name in FINGERS:
        table = tables.get(name, {})
        if not any(key.endswith("_mm") for key in table):
            tables[name] = {**table, "pip_girth_mm": estimate_finger(name, {}, hand).pip_girth_mm.value}
    return tables
