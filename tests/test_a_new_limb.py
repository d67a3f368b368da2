"""A limb that the program has never seen: a toy with the protocol's members alone, in the folder of its toy kind.

It goes through shape, every check and every export; each check measures, does not apply, or says why it could not be measured.
"""

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from print3d.checks.suite import CHECKS
from tests.inputs.bad_cases import case_text

HOME = Path(__file__).parents[1]
TOY = Path(__file__).parent / "toys" / "toy_gutter"
PLAIN = {
    "orthosis.kind": '"toy_gutter"', "orthosis.vents.grid": '"none"', "orthosis.marking.style": '"none"',
}  # fmt: skip
ALWAYS = {"flare", "integrity", "wall", "openings", "slots", "rims", "gap", "joints", "printability"}
"""Checks that know all they need of any limb with such a gutter."""


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the program with the toy's folder; nothing in it is edited."""
    folder = tmp_path_factory.mktemp("toy")
    hidden = shutil.ignore_patterns("__pycache__", "node_modules")
    shutil.copytree(HOME / "print3d", folder / "print3d", ignore=hidden)
    shutil.copytree(TOY, folder / "print3d" / "kinds" / "toy_gutter", ignore=hidden)
    return folder


def built(home: Path, options: dict[str, str], formats: str) -> tuple[dict[str, set[str]], set[str]]:
    """Return the rows that each check answered with, and the names of the files."""
    case = home / "case.toml"
    case.write_text(case_text({**PLAIN, **options}), encoding="utf-8")
    command = [
        sys.executable,
        "-m",
        "print3d",
        "build",
        case,
        "--out",
        home / "out",
        "--formats",
        formats,
        "--json",
    ]
    ended = subprocess.run(
        list(map(str, command)),
        cwd=home,
        env={**os.environ, "PYTHONPATH": str(home)},
        capture_output=True,
        text=True,
    )
    assert ended.returncode in (0, 1), ended.stderr
    (report,) = json.loads(ended.stdout)["cases"]
    rows: dict[str, set[str]] = {}
    for each in report["findings"]:
        rows.setdefault(each["check"], set()).add(each["key"].partition(".")[2])
    is_silent = all(each["holds"] for each in report["findings"] if each["key"].endswith("not_measured"))
    assert is_silent == all("not_measured" not in found for found in rows.values())
    assert ended.returncode == int(not all(each["holds"] for each in report["findings"]))
    return rows, {Path(file).name for file in report["files"]}


@pytest.mark.slow(in_ci=True)
@pytest.mark.parametrize(
    ("options", "unmeasured", "left_out"),
    [
        ({}, set(), {"trough"}),
        ({"orthosis.joint": '"thumb.ip"'}, {"pressure", "stiffness"}, {"trough"}),
        ({"orthosis.lacks": '"tube"'}, set(), {"donning"}),
        ({"orthosis.lacks": '"all"'}, {"trough"}, {"donning"}),
    ],
    ids=["all that is asked", "a joint of which no load is known", "no sections", "neither sections nor sheets"],
)  # fmt: skip
def test_every_check_answers(
    home: Path, options: dict[str, str], unmeasured: set[str], left_out: set[str]
) -> None:
    rows, _ = built(home, options, "json")
    silent = {"stops", "motion", "relative_motion", "reach", "laps", "ribs", "marking", "fit", "nail", "palm"}
    assert {each.name for each in CHECKS} - set(rows) == silent | left_out
    assert {name for name, found in rows.items() if found == {"not_measured"}} == unmeasured
    assert set(rows) >= ALWAYS


@pytest.mark.slow(in_ci=True)
@pytest.mark.parametrize("language", ["en", "de"])
def test_everything_is_written(home: Path, language: str) -> None:
    formats = "stl,3mf,step,png,json,html,pattern,sheets,record"
    _, names = built(home, {"case.language": f'"{language}"'}, formats)
    suffixes = {Path(name).suffix for name in names}
    assert suffixes >= {".stl", ".3mf", ".step", ".png", ".json", ".html", ".pdf", ".dxf"}


def test_the_toy_has_the_protocols_members_and_no_others() -> None:
    """Read from its text: what is public is a member of `Chain` or `Tube`, or a field that says what the toy is."""
    from print3d.limb.limb import Chain, Tube

    text = (TOY / "limb.py").read_text(encoding="utf-8")
    body = text[text.index("class ToyLimb") :]
    public = {
        line.split("def ")[1].split("(")[0] for line in body.splitlines() if line.startswith("    def ")
    }
    public = {name for name in public if not name.startswith("_")}
    members = {name for each in (Chain, Tube) for base in each.__mro__ for name in vars(base)}
    assert public <= members
    promised = {name for name in members if not name.startswith("_")}
    assert promised - public == {"landmarks", "exponent"}  # plain attributes of the toy
