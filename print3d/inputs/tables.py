"""What a file holds before any of it is known to be sound."""

from typing import Any

Tables = dict[str, Any]
"""Keys with their values, tables inside tables; what they may be is said by the models that validate them."""
