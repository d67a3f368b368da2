"""What is worked out once about an object is kept in that object, and goes when it goes."""

from collections.abc import Callable
from functools import update_wrapper
from typing import Any, Concatenate, Generic, ParamSpec, TypeVar

Owner = TypeVar("Owner")
Asked = ParamSpec("Asked")
Found = TypeVar("Found")

MOST = 64
"""Results of one function that one object keeps; the oldest gives way. A sweep asks a finger for no more poses than this at a time."""
SHELF = "_kept"


class _Shelf(dict[object, Any]):
    """Where an object keeps results; a copy for another process starts with an empty one."""

    def __reduce__(self) -> tuple[type["_Shelf"], tuple[()]]:
        return _Shelf, ()


class Kept(Generic[Owner, Asked, Found]):
    """A function whose results are kept in its first argument, one for each set of the others."""

    def __init__(self, make: Callable[Concatenate[Owner, Asked], Found]) -> None:
        self._make = make
        update_wrapper(self, make)

    def __call__(self, owner: Owner, *asked: Asked.args, **named: Asked.kwargs) -> Found:
        """Return the kept result, or work it out."""
        mine = self._of(owner)
        key = (asked, tuple(sorted(named.items())))
        if key in mine:
            return mine[key]
        found = self._make(owner, *asked, **named)
        if len(mine) >= MOST:
            mine.pop(next(iter(mine)), None)
        mine[key] = found
        return found

    def forget(self, owner: Owner) -> None:
        """Drop what is kept in an object: for what is large and no longer needed while the object is."""
        self._of(owner).clear()

    def _of(self, owner: Owner) -> dict[object, Found]:
        shelf: _Shelf = vars(owner).setdefault(SHELF, _Shelf())
        mine: dict[object, Found] = shelf.setdefault(self, {})
        return mine


def kept(make: Callable[Concatenate[Owner, Asked], Found]) -> Kept[Owner, Asked, Found]:
    """Keep what a function returns in the object that is its first argument; all other arguments must be hashable."""
    return Kept(make)
