"""What DEVELOPERS.md says about adding a kind and a check, done on a copy of the program: the steps named there, and no others."""

import json
import os
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
from print3d.forms.limb_of_case import finger_of_case, free_flexion_deg
from print3d.forms.fingertip_gutter import distal_of_pip, mallet_plan


class FingertipCoverOptions(OrthosisOptions):
    """Options of the fingertip cover."""

    kind: Literal["fingertip_cover"] = "fingertip_cover"


def build(case: Case, _options: FingertipCoverOptions) -> Orthosis:
    """Build the orthosis of a case."""
    limb = finger_of_case(case)
    freed = (FreeArc("pip", 0.0, free_flexion_deg(case, "pip")),)
    part = build_part(mallet_plan(case, limb, "dorsal", distal_of_pip(case, limb)))
    return Orthosis("fingertip_cover", limb, (part,), "middle", {"dip": 0.0}, freed)


KIND = Kind("fingertip_cover", FingertipCoverOptions, build)
'''
CHECK = '''
"""A toy: how heavy the printed parts are."""

from print3d.checks.finding import Finding
from print3d.checks.limits import HEAVIEST, CheckLimits
from print3d.forms.orthosis import Orthosis

ORDER = 75


def check_heft(orthosis: Orthosis, limits: CheckLimits) -> list[Finding]:
    """Check that the parts together are not too bulky to forget."""
    volume = sum(part.shell.mesh.volume_mm3() for part in orthosis.parts)
    return [
        Finding("heft", "volume of all parts", volume / 1000.0, HEAVIEST.value, "cm3", "at most",
                "tetrahedra from the origin", HEAVIEST.source)
    ]
'''  # fmt: skip
EDITS = [  # file, the line after which it is put, what is put
    ("checks/limits.py", "CONTINUOUS_HOURS = 8.0\n", '\n\nHEAVIEST = Limit({heaviest}, "own choice, a toy")\n'),
]  # fmt: skip


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
    (package / "checks" / "heft.py").write_text(CHECK.lstrip(), encoding="utf-8")
    for name, after, put in EDITS:
        path = package / name
        text = path.read_text(encoding="utf-8")
        assert after in text, (name, after)
        path.write_text(text.replace(after, after + put.format(heaviest=heaviest_cm3), 1), encoding="utf-8")
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
    failing = {each["what"] for each in report["findings"] if not each["holds"]}
    assert failing == {"volume of all parts"}  # what was planted, and only it
    names = {Path(file).name for file in report["files"]}
    assert {"fingertip_cover.stl", "findings.json", "wear_and_care.pdf"} <= names
    assert '"fingertip_cover"' in run(tmp_path, "schema").stdout
    form = run(tmp_path, "sheet", "fingertip_cover", "--out", tmp_path / "out")
    assert form.returncode == 0, form.stderr


def test_the_toys_keep_to_the_floors(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from tests import test_floors as floors

    monkeypatch.setattr(floors, "ROOT", extended(tmp_path, heaviest_cm3=1.0))
    imports = floors.all_imports()
    assert any(each.file == "checks/heft.py" for each in imports)
    assert not [str(each) for each in imports for rule in floors.RULES if rule(each)]


def test_developers_md_names_every_file_that_was_touched() -> None:
    """The other way round: a step that is needed and not written down is found here."""
    text = (HOME / "DEVELOPERS.md").read_text(encoding="utf-8")
    steps = text[text.index("## How to add a kind") : text.index("## How to add guidance")]
    for name in {name for name, _, _ in EDITS}:
        stem = Path(name).name
        assert stem in steps or (name.startswith("language/") and stem.removesuffix(".toml") in steps), name
