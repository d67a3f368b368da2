"""No run-time dependency, however deep, is under a licence that would bind a clinic's own program; the page names every declared one."""

import re

import pytest

from tests.licences import AT_RUN_TIME, TABLE, Licence, declared, licences


def test_at_run_time_all_are_permissive_or_exchangeable() -> None:
    found = licences()
    assert len(found) > 30
    assert not [
        each for each in found if each.family not in AT_RUN_TIME | ({"GPL"} if each.use == "tests" else set())
    ]


def test_the_page_names_every_declared_package_with_its_licence() -> None:
    rows = dict(
        re.findall(r"^\| ([a-z0-9-]+) \| ([^|]+) \|", TABLE.read_text(encoding="utf-8"), re.MULTILINE)
    )
    installed = {each.package: each for each in licences()}
    asked = {re.sub(r"[-_.]+", "-", need.name).lower() for needs in declared().values() for need in needs}
    for package in asked & installed.keys():
        assert package in rows, "write the page again: python -m tests.licences"
        assert Licence(package, rows[package], "").family == installed[package].family


@pytest.mark.parametrize(
    ("words", "family"),
    [
        ("GNU General Public License v3 (GPLv3)", "GPL"), ("GPL-2.0-or-later", "GPL"), ("AGPL-3.0", "GPL"),
        ("LGPL-2.1-only", "LGPL"), ("GNU Lesser General Public License v3 or later (LGPLv3+)", "LGPL"),
        ("MIT AND GPL-3.0-only", "GPL"), ("BSD License", "BSD"), ("Proprietary", "unknown"), ("", "unknown"),
    ],
)  # fmt: skip
def test_a_planted_licence_is_told_apart(words: str, family: str) -> None:
    licence = Licence("planted", words, "run time")
    assert licence.family == family
    assert (licence.family in AT_RUN_TIME) == (family in ("LGPL", "BSD"))
