"""Every kind, by the name a case file uses: each folder of this package with a `kind.py` is one, found by itself."""

import pkgutil
from collections.abc import Iterator, Mapping
from importlib import import_module

from print3d import kinds
from print3d.kinds.kind import Kind


def _found() -> Iterator[Kind]:
    for module in pkgutil.iter_modules(kinds.__path__):
        if module.ispkg:
            yield import_module(f"{kinds.__name__}.{module.name}.kind").KIND


KINDS: Mapping[str, Kind] = {kind.name: kind for kind in _found()}
