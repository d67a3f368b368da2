"""The formats that a build can write, by the names of `--formats`."""

from collections.abc import Collection

from print3d.errors import InputError
from print3d.inputs.problems import Problem
from print3d.language.message import message

ALL = ("stl", "3mf", "step", "png", "json", "html", "pattern", "sheets", "record")
"""In the order in which they are listed; a record is written last, as it holds the hashes of all others."""
FORMATS = frozenset(ALL)
OF_FINDINGS = frozenset(("json", "html", "sheets", "record"))
"""Those that say whether the checks hold."""


def formats_among(
    asked: Collection[str], known: Collection[str] = ALL, key: str = "formats", typed: str | None = None
) -> frozenset[str]:
    """Return formats as a set.

    key, typed : how they were asked for, for a refusal

    Raises InputError if one is unknown or none is given.
    """
    # guard: formats
    if not asked or not set(known).issuperset(asked):
        wanted = message("refusals.cli.formats", known=", ".join(known), one_of=tuple(known))
        raise InputError(Problem(key, ",".join(asked) if typed is None else typed, wanted))
    return frozenset(asked)
