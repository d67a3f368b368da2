"""A finding as one line: what was measured, the number, the limit, where the limit comes from."""

from collections.abc import Sequence

from print3d.checks.finding import Finding
from print3d.language.catalogue import number
from print3d.output.page.options_in_words import unit_sign
from print3d.output.paper.words import Words

PLACES = 2
"""Decimals of a measured number on paper; own choice."""


def measured_in_words(words: Words, finding: Finding) -> str:
    """Return the measured number with its unit."""
    is_count = not finding.unit and float(finding.measured).is_integer()
    found = number(_short(finding.measured), words.language, decimals=0 if is_count else PLACES)
    return f"{found} {unit_sign(finding.unit)}".strip()


def limit_in_words(words: Words, finding: Finding) -> str:
    """Return the limit with its sense and unit."""
    if isinstance(finding.limit, tuple):
        low, high = (_short(end) for end in finding.limit)
        return words("common.finding.between", low=low, high=high, unit=unit_sign(finding.unit)).strip()
    key = {"at least": "at_least", "at most": "at_most"}[finding.sense]
    return words(f"common.finding.{key}", limit=_short(finding.limit), unit=unit_sign(finding.unit)).strip()


def findings_in_words(words: Words, findings: Sequence[Finding]) -> list[str]:
    """Return each finding as one sentence; a source that is the one before is not said again."""
    return [
        f"{finding.said(words.language)}: {measured_in_words(words, finding)}, {limit_in_words(words, finding)} ({source})"
        for finding, source in zip(findings, sources_in_words(words, findings), strict=True)
    ]


def sources_in_words(words: Words, findings: Sequence[Finding]) -> list[str]:
    """Return where each limit comes from; "as above" where it is the same place as before."""
    said = [finding.source.said(words.language) for finding in findings]
    return [
        words("common.finding.as_above") if number and source == said[number - 1] else source
        for number, source in enumerate(said)
    ]


def _short(value: float) -> float:
    """A number rounded to what is shown, never minus zero."""
    return round(float(value), PLACES) + 0.0
