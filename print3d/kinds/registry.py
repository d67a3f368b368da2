"""Every kind, by the name a case file uses.

Each folder of this package with a `kind.py` is one, found by itself.
"""

import pkgutil
from collections.abc import Iterator, Mapping
from importlib import import_module
from typing import Any

from print3d import kinds
from print3d.kinds.kind import Kind

AnyKind = Kind[Any]
"""A kind whose own options only itself knows."""


def _found() -> Iterator[AnyKind]:
    for module in pkgutil.iter_modules(kinds.__path__):
        if module.ispkg:
            yield import_module(f"{kinds.__name__}.{module.name}.kind").KIND


KINDS: Mapping[str, AnyKind] = {kind.name: kind for kind in _found()}
"""One folder for each kind of orthosis."""
