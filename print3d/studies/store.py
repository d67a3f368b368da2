"""Results that outlive a stopped run: one small file each, named by what it was computed from.

The name is a hash of the case with all defaults and whatever a clinic's own files answer, of the figures of its material and printer, of
the program and of the libraries that compute; so a result is found again only while all of them are the same.
"""

import hashlib
import json
import os
from contextlib import suppress
from functools import cache
from importlib.metadata import version
from pathlib import Path
from typing import Any

from print3d import __version__
from print3d.errors import ExportError, InputError
from print3d.inputs.case import Case, canonical_text
from print3d.kinds.registry import KINDS
from print3d.language.message import message

LAYOUT = 2
"""Of a kept result; one of another layout counts as missing."""
PROGRAM = Path(__file__).parents[1]
READ_AT_RUN = {".py", ".toml"}
LIBRARIES = ("numpy", "scipy", "shapely", "libigl", "highspy", "ngsolve")
"""Those whose arithmetic a result depends on."""


@cache
def program_text_hash() -> str:
    """Return a hash of the versions of program and libraries, and of every file that results depend on."""
    versions = [__version__, *map(version, LIBRARIES)]
    digest = hashlib.sha256(" ".join(versions).encode())
    for folder, inner, names in os.walk(PROGRAM):
        inner[:] = sorted(set(inner) - {"__pycache__", "node_modules"})
        for name in sorted(names):
            path = Path(folder) / name
            if path.suffix in READ_AT_RUN:
                digest.update(path.relative_to(PROGRAM).as_posix().encode() + b"\0" + path.read_bytes())
    return digest.hexdigest()


def key_of(case: Case) -> str:
    """Return the name under which the result of a case is kept."""
    figures = [each.model_dump(mode="json") for each in (case.material, case.printer)]
    answered = case
    with suppress(InputError):  # a clinic's file that cannot be read makes no shape either
        # guard: a clinic's own figures
        answered = KINDS[case.orthosis.kind].explicit(case)
    text = canonical_text(answered) + json.dumps(figures, sort_keys=True) + program_text_hash()
    return hashlib.sha256(text.encode()).hexdigest()[:32]


Kept = dict[str, Any]
"""A result as JSON keeps it; whoever kept it knows its keys."""


class Store:
    """A folder of results."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def read(self, key: str) -> Kept | None:
        """Return a kept result, or None if there is none, its file is damaged or of another layout."""
        try:
            found = json.loads(self._path(key).read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return None
        return found if isinstance(found, dict) and found.get("layout") == LAYOUT else None

    def write(self, key: str, result: Kept) -> None:
        """Keep a result: its file is there in full or not at all.

        Raises ExportError if the folder cannot be written.
        """
        path = self._path(key)
        unfinished = path.with_name(f".{path.name}.{os.getpid()}")
        try:
            self._folder.mkdir(parents=True, exist_ok=True)
            unfinished.write_text(json.dumps({**result, "layout": LAYOUT}), encoding="utf-8")
            os.replace(unfinished, path)
        except OSError as error:
            with suppress(OSError):
                # guard: full disk: kept results
                unfinished.unlink(missing_ok=True)
            reason = str(error.strerror or error)
            raise ExportError(
                message("refusals.output.unwritable_out", file=str(path), reason=reason)
            ) from error

    def _path(self, key: str) -> Path:
        return self._folder / f"{key}.json"
