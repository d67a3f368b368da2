"""What DEVELOPERS.md says about adding a kind and a check, done on a copy of the program: the steps named there, and no others."""

import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.inputs.bad_cases import case_text

HOME = Path(__file__).parents[1]
KIND = '''
"""A toy: a mallet orthosis on the back of the finger whose straight DIP may not be changed."""

from typing import Any, Literal

from print3d.inputs.case import Case
from print3d.inputs.options import OrthosisOptions
from print3d.forms.orthosis import FreeArc, Orthosis
from print3d.forms.gutter import build_part
from print3d.kinds.kind import Kind
from print3d.forms.limb_of_case import finger_of_case, free_flexion_deg, joints_of_case
from print3d.forms.fingertip_gutter import distal_of_pip, mallet_plan


class FingertipCoverOptions(OrthosisOptions):
    """Options of the fingertip cover."""

    kind: Literal["fingertip_cover"] = "fingertip_cover"


def build(case: Case, _options: FingertipCoverOptions) -> Orthosis:
    """Build the orthosis of a case."""
    limb = finger_of_case(case)
    _, pip, dip = joints_of_case(case)
    freed = (FreeArc(pip, 0.0, free_flexion_deg(case, pip)),)
    part = build_part(mallet_plan(case, limb, "dorsal", distal_of_pip(case, limb)))
    return Orthosis("fingertip_cover", limb, (part,), "middle", {dip: 0.0}, freed)


KIND = Kind("fingertip_cover", FingertipCoverOptions, build)
'''
CHECK = '''
"""A toy: how heavy the printed parts are."""

from print3d.checks.finding import Finding, values
from print3d.checks.limits import CheckLimits
from print3d.forms.orthosis import Orthosis
from print3d.language.message import message

ORDER = 75
HEAVIEST_CM3 = {heaviest}


def check_heft(orthosis: Orthosis, limits: CheckLimits) -> list[Finding]:
    """Check that the parts together are not too bulky to forget."""
    volume = sum(part.shell.mesh.volume_mm3() for part in orthosis.parts) / 1000.0
    source = message("checks.heft.source")
    return [
        Finding("heft.volume", volume, HEAVIEST_CM3, "cm3", "at most", source, values=values(n=len(orthosis.parts)))
    ]
'''  # fmt: skip
WORDS = {
    "en": ("own choice, a toy", "volume of all parts", "tetrahedra from the origin"),
    "de": ("eigene Wahl, ein Spielzeug", "Volumen aller Teile", "Tetraeder vom Ursprung aus"),
}
"""In each language: the source of the toy's limit, what it measured of how many parts, and how."""


def extended(folder: Path, heaviest_cm3: float) -> Path:
    """Return a copy of the program with a toy kind and a toy check, made by the steps of DEVELOPERS.md."""
    package = folder / "print3d"
    shutil.copytree(HOME / "print3d", package, ignore=shutil.ignore_patterns("__pycache__", "node_modules"))
    (package / "kinds" / "fingertip_cover").mkdir()
    (package / "kinds" / "fingertip_cover" / "__init__.py").write_text("", encoding="utf-8")
    (package / "kinds" / "fingertip_cover" / "kind.py").write_text(KIND.lstrip(), encoding="utf-8")
    (package / "kinds" / "fingertip_cover" / "measures.toml").write_text(
        'dip_girth_mm = "needed"\n', encoding="utf-8"
    )
    for language, name, wear in (
        ("en", "fingertip cover", "Keep it on."),
        ("de", "Fingerkuppenschale", "Anbehalten."),
    ):
        words = f'name = "{name}"\nwear = ["{wear}"]\n'
        (package / "kinds" / "fingertip_cover" / f"words.{language}.toml").write_text(words, encoding="utf-8")
    check = CHECK.lstrip().format(heaviest=heaviest_cm3)
    (package / "checks" / "heft.py").write_text(check, encoding="utf-8")
    for language, (source, what, how) in WORDS.items():
        words = f'source = "{source}"\n\n[volume]\nwhat = "{what} ({{n}})"\nhow = "{how}"\n'
        (package / "checks" / f"heft.{language}.toml").write_text(words, encoding="utf-8")
    return package


def run(folder: Path, *arguments: object) -> "subprocess.CompletedProcess[str]":
    environment = {**os.environ, "PYTHONPATH": str(folder)}
    command = [sys.executable, "-m", "print3d", *map(str, arguments)]
    return subprocess.run(command, cwd=folder, env=environment, capture_output=True, text=True, timeout=300)


@pytest.mark.slow(in_ci=True)
def test_the_steps_are_enough(tmp_path: Path) -> None:
    """The toy kind is read, built, checked, drawn and written in two languages; the toy check finds what is planted."""
    extended(tmp_path, heaviest_cm3=1.0)
    case = tmp_path / "case.toml"
    toy = {"orthosis.kind": '"fingertip_cover"', "case.language": '"de"'}
    case.write_text(case_text(toy), encoding="utf-8")
    built = run(tmp_path, "build", case, "--out", tmp_path / "out", "--formats", "stl,json,sheets", "--json")
    assert built.returncode == 1, built.stderr
    (report,) = json.loads(built.stdout)["cases"]
    assert not report.get("error")
    failing = {each["key"]: each["words"]["what"] for each in report["findings"] if not each["holds"]}
    assert failing == {"heft.volume": "Volumen aller Teile (1)"}  # what was planted, and only it
    names = {Path(file).name for file in report["files"]}
    assert {"fingertip_cover.stl", "findings.json", "wear_and_care.pdf"} <= names
    assert '"fingertip_cover"' in run(tmp_path, "schema").stdout
    form = run(tmp_path, "sheet", "fingertip_cover", "--out", tmp_path / "out")
    assert form.returncode == 0, form.stderr


def test_the_toys_keep_to_the_floors(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from tests import test_floors as floors

    monkeypatch.setattr(floors, "ROOT", extended(tmp_path, heaviest_cm3=1.0))
    imports = floors.all_imports.__wrapped__()
    assert any(each.file == "checks/heft.py" for each in imports)
    assert not [str(each) for each in imports for rule in floors.RULES if rule(each)]


def test_developers_md_names_every_file_that_is_added_and_none_is_edited(tmp_path: Path) -> None:
    """The other way round: a step that is needed and not written down is found here."""
    text = (HOME / "DEVELOPERS.md").read_text(encoding="utf-8")
    steps = text[text.index("## How to add a kind") : text.index("## How to add guidance")]
    package = extended(tmp_path, heaviest_cm3=1.0)
    added = set[str]()
    for path in (each for each in package.rglob("*") if each.is_file()):
        name = path.relative_to(package).as_posix()
        before = HOME / "print3d" / name
        if before.is_file():
            assert before.read_bytes() == path.read_bytes(), name
        else:
            name = re.sub("fingertip_cover|heft", "<name>", name)
            added.add(re.sub(r"\.(en|de)\.", ".<language>.", name))
    assert {each for each in added if not each.endswith("__init__.py") and f"`{each}`" not in steps} == set()
