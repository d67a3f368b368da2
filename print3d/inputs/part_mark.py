"""What tells a part from all others of its code.

    PY-014        of the first visit
    PY-014.2      of the second visit
    PY-014.1b     revision b of the first visit: a shape that took the place of another
    PY-014.2/9    orthosis 9 of a series of the second visit

No code holds a dot or a slash, so that no two of them are alike.
"""

from dataclasses import dataclass

FIRST_VISIT = 1
"""It stands nowhere: most codes have one visit, and letters on a finger have little room."""
LAST_VISIT = 99
"""Two digits; a therapist who sees a wearer every week for two years; own choice."""
FIRST_REVISION = "first"
"""Folder of a set that had no revision when another took its place."""


@dataclass(frozen=True)
class PartMark:
    """What stands on a part, on every page of it and in its record.

    revision : empty until a shape took the place of another
    step : number of an orthosis in its series
    """

    code: str
    visit: int = FIRST_VISIT
    revision: str = ""
    step: int | None = None

    def __str__(self) -> str:
        return f"{self._of_visit}{'' if self.step is None else f'/{self.step}'}"

    @property
    def _of_visit(self) -> str:
        if self.visit == FIRST_VISIT and not self.revision:
            return self.code
        return f"{self.code}.{self.visit}{self.revision}"

    @property
    def place(self) -> str:
        """Name of the folder of the visit: in it one revision takes the place of another, and series lie."""
        return self.code if self.visit == FIRST_VISIT else f"{self.code}.{self.visit}"

    @property
    def folder(self) -> str:
        """Name of a folder of this part alone."""
        return self._of_visit if self.step is None else f"{self.code}.{self.visit}{self.revision}-{self.step}"


def revision_after(revision: str) -> str:
    """Return a after none, b after a, aa after z."""
    if not revision:
        return "a"
    if revision.endswith("z"):
        return revision_after(revision[:-1]) + "a"
    return revision[:-1] + chr(ord(revision[-1]) + 1)


def by_age(revision: str) -> tuple[int, str]:
    """Return what puts revisions in their order."""
    return len(revision), revision
