"""What a reader of German sees of findings, with the catalogue's own words marked: whatever stands outside the marks came from elsewhere.

python -m tests.language.in_german 500    of so many bodies of the sweep
"""

import re
import sys
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from string import Formatter

from print3d.checks.finding import Finding
from print3d.checks.limits import limits_of_case
from print3d.checks.suite import run_suite
from print3d.errors import InputError, LimbError, ShapingError
from print3d.kinds.registry import KINDS
from print3d.language import catalogue as module
from print3d.language.catalogue import Language, Template, catalogue
from tests.sweep.examine import case_of, random_body

OPEN, CLOSE = "\u27e6", "\u27e7"
FROM_CATALOGUE = re.compile(f"{OPEN}[^{OPEN}{CLOSE}]*{CLOSE}")
SAME_EVERYWHERE = re.compile(
    r"\b(?:orthosis|measured)\.[a-z_.]+|\b[a-z0-9_.]+_mm\b|\bISO 8653\b|--[a-z-]+|\bT[1-9]\b"
)
"""Keys of a case file, a standard's number and options of the command line."""
SEED = 18


def marked(template: Template) -> Template:
    """Return a template whose own words are in marks; what is filled in is not."""
    if not isinstance(template, str):
        return tuple(str(marked(each)) for each in template)
    rows = []
    for fixed, name, form, _ in Formatter().parse(template):
        rows.append(f"{OPEN}{fixed}{CLOSE}" if fixed else "")
        if name is not None:
            rows.append("{" + name + (f":{form}" if form else "") + "}")
    return "".join(rows)


@contextmanager
def other_words(language: Language, words: Mapping[str, Template]) -> Iterator[None]:
    """Let a language say other words while the block runs."""

    def told(asked: Language) -> Mapping[str, Template]:
        return words if asked == language else catalogue(asked)

    module.catalogue = told  # type: ignore[assignment]
    try:
        yield
    finally:
        module.catalogue = catalogue


def from_elsewhere(findings: Sequence[Finding]) -> list[str]:
    """Return the German sentences of findings in which letters stand that are not the German catalogue's."""
    with other_words("de", {key: marked(each) for key, each in catalogue("de").items()}):
        said = [
            sentence
            for each in findings
            for sentence in (
                each.said("de"),
                each.brief.said("de"),
                each.method("de"),
                each.source.said("de"),
            )
        ]
    return [each for each in said if re.search(r"[^\W\d_]", _outside(each))]


def _outside(sentence: str) -> str:
    return SAME_EVERYWHERE.sub("", FROM_CATALOGUE.sub(" ", sentence))


def findings_of_body(number: int) -> list[Finding]:
    """Return the findings of one body of the sweep; none where it is refused."""
    try:
        case = case_of(random_body(SEED, number))
        return list(run_suite(KINDS[case.orthosis.kind].build(case), limits_of_case(case)))
    except (InputError, LimbError, ShapingError):
        return []


def main() -> None:
    """Look at as many bodies as asked for, and end with 1 if anything came from elsewhere."""
    n_findings, keys, wrong = 0, set[str](), list[str]()
    for number in range(int(sys.argv[1])):
        findings = findings_of_body(number)
        n_findings += len(findings)
        keys |= {each.key for each in findings}
        wrong += from_elsewhere(findings)
        if number % 25 == 24:
            sys.stdout.write(
                f"{number + 1} bodies, {n_findings} findings, {len(keys)} keys, {len(wrong)} from elsewhere\n"
            )
            sys.stdout.flush()
    sys.stdout.write("\n".join(sorted(set(wrong))) + "\n")
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main()
