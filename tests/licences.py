"""Licences of everything that is installed for print3d, from the packages' own metadata. `python -m tests.licences` writes LICENCES.md."""

import re
import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, distribution
from pathlib import Path

from packaging.requirements import Requirement

HOME = Path(__file__).parents[1]
TABLE = HOME / "print3d" / "LICENCES.md"
NOT_IN_METADATA = {
    "embreex": "BSD",  # its LICENSE file; the library Embree in it is Apache-2.0
    "axe-playwright-python": "MIT",  # its repository; the rules axe-core in it are MPL-2.0
}
FAMILIES = (
    ("LGPL", r"LGPL|Lesser General Public"),
    ("MPL", r"\bMPL|Mozilla"),
    ("GPL", r"\b(A?GPL)|General Public License"),
    ("Apache", r"Apache"),
    ("BSD", r"BSD"),
    ("MIT", r"\bMIT\b"),
    ("PSF", r"PSF|Python Software Foundation|matplotlib versions"),
    ("ISC", r"\bISC"),
)
"""Family -> how metadata says it; the first that fits, so that the stricter words go first."""
# guard: licences: no GPL at run time
AT_RUN_TIME = {"LGPL", "MPL", "Apache", "BSD", "MIT", "PSF", "ISC"}
"""Permissive, or libraries that are used unchanged and can be exchanged (LGPL, MPL). GPL only in tests."""


@dataclass(frozen=True)
class Licence:
    """One package: what it says of its licence, and the family."""

    package: str
    words: str
    use: str

    @property
    def family(self) -> str:
        return next((name for name, words in FAMILIES if re.search(words, self.words)), "unknown")


def declared() -> dict[str, list[Requirement]]:
    """Return what pyproject.toml asks for: at run time, for clusters, for tests."""
    project = tomllib.loads((HOME / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    extras = project["optional-dependencies"]
    needs = {"run time": project["dependencies"], "cluster": extras["cluster"], "tests": extras["test"]}
    return {use: [Requirement(each) for each in found] for use, found in needs.items()}


def licences() -> list[Licence]:
    """Return every package that is installed for print3d, each with its first use, what the packages need in turn included."""
    found: dict[str, Licence] = {}
    for use, needs in declared().items():
        for need in needs:
            for package in _closure(need, set(found)):
                found[package] = Licence(package, _words(package), use)
    return sorted(found.values(), key=lambda each: each.package)


def _closure(need: Requirement, known: set[str]) -> Iterator[str]:
    package = re.sub(r"[-_.]+", "-", need.name).lower()
    if package in known or not _is_wanted(need, ()):
        return
    try:
        needs = [Requirement(each) for each in distribution(package).requires or []]
    except PackageNotFoundError:
        return
    known.add(package)
    yield package
    for each in needs:
        if _is_wanted(each, tuple(need.extras)):
            yield from _closure(Requirement(re.sub(r";.*", "", str(each))), known)


def _is_wanted(need: Requirement, extras: Sequence[str]) -> bool:
    return need.marker is None or any(need.marker.evaluate({"extra": extra}) for extra in ("", *extras))


def _words(package: str) -> str:
    if package in NOT_IN_METADATA:
        return NOT_IN_METADATA[package]
    metadata = distribution(package).metadata
    listed = [
        each.split(" :: ")[-1]
        for each in metadata.get_all("Classifier") or []
        if each.startswith("License ::")
    ]
    said = metadata.get("License-Expression") or ", ".join(each for each in listed if each != "OSI Approved")
    return said or (metadata.get("License") or "").strip().split("\n")[0][:60]


def table() -> str:
    """Return LICENCES.md."""
    rows = [f"| {each.package} | {each.words} | {each.use} |" for each in licences()]
    return "\n".join([HEAD, *rows, ""])


HEAD = """# Licences

print3d is under the MIT licence. It needs what is listed here, as pip installs it on Linux with Python 3.11; the words are those of each
package's own metadata. At run time all are permissive, or LGPL and MPL libraries that are used unchanged and can be exchanged; anything
under the GPL may be used in tests only. `python -m tests.licences` writes this page, `tests/test_licences.py` holds the rule.

The viewer in the report holds three.js and three-mesh-bvh (both MIT). The font of letters and sheets, DejaVu Sans, ships with matplotlib (Bitstream Vera licence).

| package | licence | used |
| --- | --- | --- |"""

if __name__ == "__main__":
    TABLE.write_text(table(), encoding="utf-8")
