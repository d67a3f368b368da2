"""All checks, in the order in which they are read: each file of this package with a `check_<its name>` is one, found by itself."""

import pkgutil
from collections.abc import Callable, Iterator
from importlib import import_module

from print3d import checks
from print3d.checks.finding import Finding
from print3d.checks.limits import CheckLimits
from print3d.forms.orthosis import Orthosis

Check = Callable[[Orthosis, CheckLimits], list[Finding]]


def _found() -> Iterator[tuple[int, str, Check]]:
    """Yield each check with its place: `ORDER` of its file, then the file's name."""
    for file in pkgutil.iter_modules(checks.__path__):
        module = import_module(f"{checks.__name__}.{file.name}")
        check = getattr(module, f"check_{file.name}", None)
        # guard: toys: the check is found
        if check is not None:
            yield module.ORDER, file.name, check


CHECKS: tuple[Check, ...] = tuple(check for _, _, check in sorted(_found()))


def run_suite(orthosis: Orthosis, limits: CheckLimits) -> Iterator[Finding]:
    """Run the checks one by one and yield each finding as it is made."""
    for check in CHECKS:
        yield from check(orthosis, limits)
