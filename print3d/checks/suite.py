"""All checks, in the order in which they are read.

Each file of this package with a `check_<its name>` is one, found by itself.
"""

import pkgutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from importlib import import_module

from print3d import checks
from print3d.checks.finding import Finding, not_measured
from print3d.checks.limits import CheckLimits
from print3d.errors import NotMeasurableError
from print3d.forms.orthosis import Orthosis
from print3d.language.message import message

Check = Callable[[Orthosis, CheckLimits], list[Finding]]
Applies = Callable[[Orthosis, CheckLimits], bool]


@dataclass(frozen=True)
class CheckFile:
    """One check: its name, what it does, and which orthoses it is for."""

    order: int
    name: str
    check: Check
    applies_to: Applies

    def answer(self, orthosis: Orthosis, limits: CheckLimits) -> list[Finding]:
        """Return what is found.

        That is nothing where the check does not apply, and a finding that fails where nothing could be measured.
        """
        if not self.applies_to(orthosis, limits):
            return []
        try:
            findings = self.check(orthosis, limits)
        except NotMeasurableError as lacks:
            return [not_measured(self.name, lacks.args[0])]
        return findings or [not_measured(self.name, message("common.lacks.nothing"))]


def _to_every_orthosis(_orthosis: Orthosis, _limits: CheckLimits) -> bool:
    return True


def _found() -> Iterator[CheckFile]:
    """Yield each check, with `ORDER` and `applies_to` of its file; without that it is for every orthosis."""
    for file in pkgutil.iter_modules(checks.__path__):
        module = import_module(f"{checks.__name__}.{file.name}")
        check = getattr(module, f"check_{file.name}", None)
        # guard: toys: the check is found
        if check is not None:
            applies_to = getattr(module, "applies_to", _to_every_orthosis)
            yield CheckFile(module.ORDER, file.name, check, applies_to)


CHECKS: tuple[CheckFile, ...] = tuple(sorted(_found(), key=lambda each: (each.order, each.name)))


def run_suite(orthosis: Orthosis, limits: CheckLimits) -> Iterator[Finding]:
    """Run the checks that apply one by one and yield each finding as it is made.

    Each check measures, or says why it could not.
    """
    for each in CHECKS:
        yield from each.answer(orthosis, limits)
