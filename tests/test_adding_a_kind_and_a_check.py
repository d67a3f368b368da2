"""A kind is one folder, a check one file and its words: both are laid into a copy of the program, in which nothing is edited.

`tests/toys/` is what is added; it is also an example of each.
"""

import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pypdfium2 as pdfium
import pytest

HOME = Path(__file__).parents[1]
TOYS = Path(__file__).parent / "toys"
COVER, TROUGH = (TOYS / "cases" / f"{name}.toml" for name in ("fingertip_cover", "wrist_trough"))
LANGUAGE = {"en": "", "de": 'language = "de"\n'}
CHECK, SHEET = ("check",), ("sheet", "fingertip_cover", "--language", "de")
FILES = {
    *(f"fingertip_cover.{ending}" for ending in ("stl", "3mf", "step")),
    *(f"{name}.png" for name in ("views", "wall", "gap", "stress", "pressure", "free_end")),
    *("findings.json", "report.html", "pattern.pdf", "pattern.svg", "pattern.dxf"),
    *("print_sheet.pdf", "wear_and_care.pdf", "fit_check.pdf", "record.json", "record.pdf"),
}
SHEETS = {"measuring_form_fingertip_cover.pdf", "girth_strips.pdf", "ring_gauges.pdf"}


@pytest.fixture(scope="module")
def program(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with a copy of the program and the toys in their rooms."""
    folder = tmp_path_factory.mktemp("program")
    return extended(folder)


def extended(folder: Path) -> Path:
    """Copy the program and lay the toys into it. No file of the program is changed."""
    leave = shutil.ignore_patterns("__pycache__", "node_modules", "src")
    shutil.copytree(HOME / "print3d", folder / "print3d", ignore=leave)
    for room in ("kinds", "checks"):
        for toy in sorted((TOYS / room).iterdir()):
            placed = folder / "print3d" / room / toy.name
            assert not placed.exists()
            if toy.is_dir():
                shutil.copytree(toy, placed, ignore=leave)
            else:
                shutil.copy(toy, placed)
    return folder


def run(program: Path, *arguments: object, module: str = "print3d") -> "subprocess.CompletedProcess[str]":
    """Run a module; the copy of the program goes before the program."""
    environment = {**os.environ, "PYTHONPATH": f"{program}{os.pathsep}{HOME}"}
    command = [sys.executable, "-m", module, *map(str, arguments)]
    return subprocess.run(command, cwd=program, env=environment, capture_output=True, text=True, timeout=600)


def case_in(folder: Path, language: str, case: Path = COVER) -> Path:
    """Return a toy's case in a language."""
    words = case.read_text(encoding="utf-8").replace("[case]\n", f"[case]\n{LANGUAGE[language]}")
    path = folder / f"{case.stem}_{language}.toml"
    path.write_text(words, encoding="utf-8")
    return path


def words_of(path: Path) -> str:
    """Return what a PDF says, in one line."""
    pages = pdfium.PdfDocument(path)
    return " ".join(" ".join(page.get_textpage().get_text_range() for page in pages).split())


# --- at once ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("language", "name"), [("en", "fingertip cover"), ("de", "Fingerkuppenschale")])
def test_the_measuring_form_knows_the_kind(program: Path, tmp_path: Path, language: str, name: str) -> None:
    form = run(program, "sheet", "fingertip_cover", "--language", language, "--out", tmp_path)
    assert form.returncode == 0, form.stderr
    folder = tmp_path / "measuring_fingertip_cover"
    assert {path.name for path in folder.glob("*.pdf")} == SHEETS
    assert name in words_of(folder / "measuring_form_fingertip_cover.pdf")


def test_the_schema_knows_the_kind(program: Path) -> None:
    schema = json.loads(run(program, "schema").stdout)
    assert "fingertip_cover" in schema["properties"]["orthosis"]["discriminator"]["mapping"]
    assert schema["$defs"]["FingertipCoverOptions"]["properties"]["sturdiness"]["enum"] == ["light", "sturdy"]


def test_the_kind_is_suggested_and_a_case_started(program: Path, tmp_path: Path) -> None:
    """Its needed measures stand there as 0; the others, and no more, as comments."""
    path = tmp_path / "PY-901.toml"
    asked = (
        "mallet",
        "--stage",
        "chronic",
        "--finger",
        "ring",
        "--side",
        "left",
        "--write",
        path,
        "--choose",
    )
    listed = json.loads(run(program, "suggest", "mallet", "--stage", "chronic", "--json").stdout)["orthoses"]
    number = [each["kind"] for each in listed].index("fingertip_cover") + 1
    assert run(program, "suggest", *asked, number).returncode == 0
    started = path.read_text(encoding="utf-8")
    assert 'sturdiness = "sturdy"' in started
    assert re.findall(r"^(\w+) = 0  #", started, re.M) == ["pip_girth_mm", "middle_girth_mm", "dip_girth_mm"]
    rest = {"hand_length_mm", "dip_crease_to_tip_mm", "pip_max_flexion_deg"}
    assert set(re.findall(r"^# (\w+) = 0  #", started, re.M)) == rest


@pytest.mark.parametrize(
    ("command", "file", "word", "key"),
    [
        (SHEET, "kinds/fingertip_cover/words.de.toml", "name", "kinds.fingertip_cover.name"),
        (CHECK, "checks/heft.de.toml", "what", "checks.heft.volume.what"),
    ],
)
def test_a_missing_word_is_one_error_with_file_and_key(
    tmp_path: Path, command: tuple[str, ...], file: str, word: str, key: str
) -> None:
    program = extended(tmp_path)
    path = program / "print3d" / file
    path.write_text(
        re.sub(rf"^{word} = .*\n", "", path.read_text(encoding="utf-8"), flags=re.M), encoding="utf-8"
    )
    refused = run(program, *command, *([case_in(tmp_path, "de")] if command == CHECK else []))
    assert refused.returncode == 2
    assert f"{file}: there is no {key}" in " ".join(refused.stderr.split())
    assert "Traceback" not in refused.stderr
    assert not list(tmp_path.glob("outputs/[!.]*"))


def test_the_toys_keep_to_the_floors(program: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from tests import test_floors as floors

    monkeypatch.setattr(floors, "ROOT", program / "print3d")
    imports = floors.all_imports.__wrapped__()
    assert {"checks/heft.py", "kinds/fingertip_cover/kind.py"} <= {each.file for each in imports}
    assert not [str(each) for each in imports for rule in floors.RULES if rule(each)]


def test_developers_md_names_every_file_that_is_added_and_none_is_edited(program: Path) -> None:
    """The other way round: a step that is needed and not written down is found here."""
    text = (HOME / "DEVELOPERS.md").read_text(encoding="utf-8")
    steps = text[text.index("## How to add a kind") : text.index("## How to add guidance")]
    added = set[str]()
    for path in (each for each in (program / "print3d").rglob("*") if each.is_file()):
        name = path.relative_to(program / "print3d").as_posix()
        before = HOME / "print3d" / name
        if before.is_file():
            assert before.read_bytes() == path.read_bytes(), name
        elif path.suffix in (".py", ".toml"):
            name = re.sub("fingertip_cover|wrist_trough|heft", "<name>", name)
            added.add(re.sub(r"\.(en|de)\.", ".<language>.", name))
    assert len(added) == 8
    assert {each for each in added if not each.endswith("__init__.py") and f"`{each}`" not in steps} == set()


# --- a minute at most each --------------------------------------------------------------------------------------------


@pytest.mark.slow(in_ci=True)
@pytest.mark.parametrize(("language", "part"), [("en", "cover"), ("de", "Kuppenschale")])
def test_everything_is_built(program: Path, tmp_path: Path, language: str, part: str) -> None:
    """All formats, every sheet; the toy check finds what is planted, and only it."""
    built = run(program, "build", case_in(tmp_path, language), "--out", tmp_path / "out", "--json")
    assert built.returncode == 1, built.stderr
    (report,) = json.loads(built.stdout)["cases"]
    assert {each["key"] for each in report["findings"] if not each["holds"]} == {"heft.volume"}
    assert {Path(file).name for file in report["files"]} == FILES
    page = (tmp_path / "out" / "PY-900" / "report.html").read_text(encoding="utf-8")
    assert part in page


@pytest.mark.slow(in_ci=True)
def test_a_kind_of_another_limb_needs_no_more(program: Path, tmp_path: Path) -> None:
    """A wrist that is held, on hand and forearm: no check fails it, no sheet takes it for something else."""
    case = case_in(tmp_path, "de", TROUGH)
    built = run(
        program, "build", case, "--formats", "stl,json,html,sheets", "--out", tmp_path / "out", "--json"
    )
    assert built.returncode == 1, built.stderr
    (report,) = json.loads(built.stdout)["cases"]
    assert {each["key"] for each in report["findings"] if not each["holds"]} == {"heft.volume"}
    about = {each["joint"] for each in report["findings"]}
    assert {"wrist.flexion", "wrist.deviation", "middle.pip"} <= about
    worn = words_of(tmp_path / "out" / "PY-910" / "wear_and_care.pdf")
    assert "Handgelenk" in worn
    assert "Nicht darauf stützen." in worn
    form = run(program, "sheet", "wrist_trough", "--out", tmp_path)
    assert form.returncode == 0, form.stderr
    rows = words_of(tmp_path / "measuring_wrist_trough" / "measuring_form_wrist_trough.pdf")
    assert "forearm_length_mm" in rows
    assert "pip_girth_mm" not in rows


@pytest.mark.slow(in_ci=True)
def test_variants_are_compared(program: Path, tmp_path: Path) -> None:
    vary = ("--vary", "orthosis.sturdiness=light,sturdy", "--workers", 1)
    compared = run(program, "compare", case_in(tmp_path, "de"), *vary, "--out", tmp_path)
    assert compared.returncode == 1, compared.stderr
    page = (tmp_path / "compare-PY-900" / "compare.html").read_text(encoding="utf-8")
    assert all(words in page for words in ("Festigkeit", "für leichte Arbeit", "für schwere Arbeit"))


@pytest.mark.slow(in_ci=True)
def test_measuring_errors_are_studied(program: Path, tmp_path: Path) -> None:
    draws = ("--draws", 16, "--clearances", "none", "--workers", 1)
    studied = run(program, "sensitivity", case_in(tmp_path, "de"), *draws, "--out", tmp_path)
    assert studied.returncode in (0, 1), studied.stderr
    assert (tmp_path / "sensitivity-PY-900" / "sensitivity.html").exists()


@pytest.mark.slow(in_ci=True)
def test_random_bodies_are_swept(program: Path, tmp_path: Path) -> None:
    """A hundred in a hundred and one are covers."""
    swept = run(program, "--bodies", 3, "--jobs", 1, "--folder", tmp_path, module="tests.sweep.population")
    assert swept.returncode == 0, swept.stdout + swept.stderr
    rows = [json.loads(line) for line in (tmp_path / "seed-1.jsonl").read_text(encoding="utf-8").splitlines()]
    assert [row["kind"] for row in rows].count("fingertip_cover") >= 2
    assert not any(row["faults"] for row in rows)
