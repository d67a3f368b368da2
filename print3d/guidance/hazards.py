"""Every way in which a part, a sheet or a study can hurt, and what the program does against it.

The table is `hazards.toml`. What of it was asked of one design, and how that ended, goes into its record.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Literal, get_args

from print3d.checks.finding import Finding
from print3d.inputs.toml_file import read_toml
from print3d.language.message import Message, message

FILE = Path(__file__).with_name("hazards.toml")
Sort = Literal["finding", "refusal", "text", "question"]
SORTS: tuple[Sort, ...] = get_args(Sort)


@dataclass(frozen=True)
class Control:
    """One thing that the program does against a hazard.

    key : of the finding, or of the words that refuse, say or ask
    test : file below tests/ and name of the test that shows it
    """

    sort: Sort
    key: str
    test: str

    def done(self, findings: Sequence[Finding]) -> Message:
        """Return what it did in a design with these findings."""
        if self.sort != "finding":
            topic, name, *_ = self.key.split(".")
            where = message(f"hazards.where.{name if topic == 'sheets' else topic}")
            return message(f"hazards.done.{self.sort}", where=where)
        rows = [each for each in findings if each.key == self.key]
        failing = sum(each.verdict == "fails" for each in rows)
        ends = "not_asked" if not rows else "fails" if failing else "holds"
        check = message(f"checks.{self.key.split('.')[0]}.title")
        return message(f"hazards.done.{ends}", check=check, n=len(rows), failing=failing)


@dataclass(frozen=True)
class Hazard:
    """One way to get hurt; without controls, people alone prevent it."""

    name: str
    controls: tuple[Control, ...]

    @property
    def what(self) -> Message:
        """Return what can happen."""
        return message(f"hazards.what.{self.name}")

    @property
    def left(self) -> Message:
        """Return what is left to people."""
        return message(f"hazards.left.{self.name}")

    def done(self, findings: Sequence[Finding]) -> tuple[Message, ...]:
        """Return what was done against it in a design with these findings."""
        if not self.controls:
            return (message("hazards.done.nothing"),)
        return tuple(control.done(findings) for control in self.controls)


@cache
def hazards() -> tuple[Hazard, ...]:
    """Return the whole table."""
    return tuple(
        Hazard(name, tuple(map(_control, table["controls"]))) for name, table in read_toml(FILE).items()
    )


def _control(table: Mapping[str, str]) -> Control:
    ((sort, key),) = ((sort, table[sort]) for sort in SORTS if sort in table)
    return Control(sort, key, table["test"])
