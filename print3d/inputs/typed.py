"""Numbers as people type them: with a decimal point, or with a decimal comma where it can be nothing else."""

import re

_DECIMAL_COMMA = re.compile(r"\s*[+-]?\d+,\d+\s*")


def number_typed(text: str) -> float:
    """Return the number. Raises ValueError if it is none."""
    return float(text.replace(",", ".") if _DECIMAL_COMMA.fullmatch(text) else text)
